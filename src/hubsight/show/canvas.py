"""A picture to draw marks on: lines with a dark edge, so that they show on any metal and any paper."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw, ImageFont

from hubsight.model.side import Pixel

Picture = npt.NDArray[np.uint8]
Colour = tuple[int, int, int]

EDGE: Colour = (16, 18, 24)
"""Colour of the dark edge along every mark."""

_SHIFT = 4
"""Binary digits of a place after the point: marks lie between pixels."""


@dataclass(frozen=True)
class Window:
    """A rectangle of the photo, as displayed, and the scale at which it is shown.

    Attributes
    ----------
    left, top
        Photo pixels; the window begins at the outer edge of this pixel.
    width, height
        Photo pixels.
    scale
        Picture pixels per photo pixel.
    """

    left: int
    top: int
    width: int
    height: int
    scale: float

    def place(self, point: Pixel) -> Pixel:
        """Return where a photo pixel lies in the shown window; pixel centres are integers in both."""
        return (
            (point[0] - self.left + 0.5) * self.scale - 0.5,
            (point[1] - self.top + 0.5) * self.scale - 0.5,
        )

    def show(self, photo: Picture) -> Picture:
        """Return the window of the photo, scaled; what lies beyond the photo is dark."""
        size = (max(round(self.width * self.scale), 1), max(round(self.height * self.scale), 1))
        x0, y0 = max(self.left, 0), max(self.top, 0)
        x1 = min(self.left + self.width, photo.shape[1])
        y1 = min(self.top + self.height, photo.shape[0])
        part = photo[y0:y1, x0:x1] if x1 > x0 and y1 > y0 else photo[:0, :0]
        if part.shape[:2] != (self.height, self.width):
            inside, part = part, np.full((self.height, self.width, 3), EDGE, np.uint8)
            if inside.size:
                part[y0 - self.top : y1 - self.top, x0 - self.left : x1 - self.left] = inside
        method = cv2.INTER_AREA if self.scale < 1 else cv2.INTER_CUBIC
        return np.asarray(cv2.resize(part, size, interpolation=method), np.uint8)


class Canvas:
    """A shown window; marks are given in photo pixels, their sizes in picture pixels."""

    def __init__(self, picture: Picture, window: Window) -> None:
        self.picture = np.ascontiguousarray(picture)
        self._window = window

    def _lines(self, lines: Sequence[npt.NDArray[np.float64]], colour: Colour, width: int) -> None:
        fixed = [np.round(line * 2**_SHIFT).astype(np.int32).reshape(-1, 1, 2) for line in lines if len(line)]
        for tone, breadth in ((EDGE, width + 3), (colour, width)):
            cv2.polylines(self.picture, fixed, False, tone, breadth, cv2.LINE_AA, _SHIFT)

    def _placed(self, points: Iterable[Pixel]) -> npt.NDArray[np.float64]:
        return np.array([self._window.place(point) for point in points], dtype=np.float64).reshape(-1, 2)

    def line(self, points: Sequence[Pixel], colour: Colour, width: int = 2, *, closed: bool = False) -> None:
        """Draw a polyline."""
        placed = self._placed(points)
        if closed and len(placed):
            placed = np.vstack([placed, placed[:1]])
        self._lines([placed], colour, width)

    def dashed(self, points: Sequence[Pixel], colour: Colour, width: int = 2, dash: float = 9.0) -> None:
        """Draw a dashed polyline; ``dash`` is the length of a dash and of a gap, picture pixels."""
        placed = self._placed(points)
        way = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(placed, axis=0), axis=1))])
        count = max(int(way[-1] / (2 * dash)), 1)
        begins = way[-1] * np.arange(0, 2 * count + 1, 2) / (2 * count + 1)
        step = way[-1] / (2 * count + 1)
        self._lines([_stretch(placed, way, a, a + step) for a in begins], colour, width)

    def ring(self, point: Pixel, radius: float, colour: Colour, width: int = 2) -> None:
        """Draw a circle."""
        centre = tuple(np.round(self._placed([point])[0] * 2**_SHIFT).astype(int).tolist())
        for tone, breadth in ((EDGE, width + 2), (colour, width)):
            cv2.circle(self.picture, centre, round(radius * 2**_SHIFT), tone, breadth, cv2.LINE_AA, _SHIFT)

    def strokes(
        self, point: Pixel, ends: Sequence[tuple[Pixel, Pixel]], colour: Colour, width: int = 2
    ) -> None:
        """Draw straight strokes about a point; their ends are in picture pixels from it."""
        centre = self._placed([point])[0]
        self._lines([centre + np.array(pair, dtype=np.float64) for pair in ends], colour, width)

    def plus(self, point: Pixel, arm: float, colour: Colour, width: int = 2) -> None:
        """Draw an upright cross."""
        self.strokes(point, [((-arm, 0), (arm, 0)), ((0, -arm), (0, arm))], colour, width)

    def cross(self, point: Pixel, arm: float, colour: Colour, width: int = 2) -> None:
        """Draw a slanted cross."""
        self.strokes(point, [((-arm, -arm), (arm, arm)), ((-arm, arm), (arm, -arm))], colour, width)

    def square(self, point: Pixel, half: float, colour: Colour, width: int = 2) -> None:
        """Draw a square."""
        corners = [(-half, -half), (half, -half), (half, half), (-half, half)]
        sides = list(zip(corners, corners[1:] + corners[:1], strict=True))
        self.strokes(point, sides, colour, width)

    def bar(
        self, point: Pixel, along: Pixel, half: float, colour: Colour, *, width: int = 3, gap: float = 0.0
    ) -> None:
        """Draw a short bar square to the direction from ``along`` to ``point``, a ``gap`` in its middle."""
        a, b = self._placed([along, point])
        length = float(np.linalg.norm(b - a))
        direction = (b - a) / length if length > 0 else np.array([1.0, 0.0])
        across = np.array([-direction[1], direction[0]]) * half
        inner = across * (gap / half)
        ends = [(-across, -inner), (inner, across)] if gap else [(-across, across)]
        self.strokes(point, [(_pair(a), _pair(b)) for a, b in ends], colour, width)


def _pair(point: npt.NDArray[np.float64]) -> Pixel:
    return float(point[0]), float(point[1])


def _stretch(
    points: npt.NDArray[np.float64], way: npt.NDArray[np.float64], start: float, end: float
) -> npt.NDArray[np.float64]:
    """Return the part of a polyline between two lengths of the way along it."""
    inner = points[(way > start) & (way < end)]
    ends = [np.array([np.interp(at, way, points[:, k]) for k in (0, 1)]) for at in (start, end)]
    return np.vstack([ends[0], inner, ends[1]])


def write_words(picture: Picture, words: Sequence[tuple[tuple[int, int], str, Colour, int]]) -> Picture:
    """Write texts: each with the place of its upper left corner, its colour and its height in pixels."""
    image = Image.fromarray(picture)
    pen = ImageDraw.Draw(image)
    for place, text, colour, size in words:
        pen.text(place, text, fill=colour, font=ImageFont.load_default(size))
    return np.asarray(image)


def text_width(text: str, size: int) -> int:
    """Return how wide a text comes out, pixels."""
    return int(np.ceil(ImageFont.load_default(size).getlength(text)))
