"""A small chart as a raster picture: words, lines and areas in the pixels of the finished picture."""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum

from PIL import Image, ImageDraw, ImageFont

from hubsight.show.vector import Place

_FINER = 2
"""Drawn this many times larger, then reduced, for smooth lines."""


class Tone(Enum):
    """Colours of a chart: words and axes, lines of a scale, areas, what is computed, what stands out."""

    INK = (38, 44, 52)
    PALE = (206, 212, 220)
    BAND = (205, 220, 238)
    GOOD = (207, 232, 213)
    BLUE = (52, 104, 160)
    RED = (178, 64, 36)


class Pen:
    """Draws on a white picture; `picture` gives it in its size."""

    def __init__(self, width: int, height: int) -> None:
        self._size = width, height
        self._image = Image.new("RGB", (width * _FINER, height * _FINER), (255, 255, 255))
        self._pen = ImageDraw.Draw(self._image)

    def words(self, place: Place, text: str, size: int, tone: Tone = Tone.INK, anchor: str = "la") -> None:
        """Write words; ``anchor`` says which of their corners lies at the place, as Pillow names it."""
        font = ImageFont.load_default(size * _FINER)
        self._pen.text(_finer(place), text, fill=tone.value, font=font, anchor=anchor)

    def line(self, places: Sequence[Place], tone: Tone, width: float) -> None:
        """Draw a polyline."""
        self._pen.line([_finer(place) for place in places], fill=tone.value, width=round(width * _FINER))

    def box(self, corner: Place, other: Place, tone: Tone) -> None:
        """Fill a rectangle, given its upper left and lower right corner."""
        self._pen.rectangle([_finer(corner), _finer(other)], fill=tone.value)

    def area(self, places: Sequence[Place], tone: Tone) -> None:
        """Fill a polygon."""
        self._pen.polygon([_finer(place) for place in places], fill=tone.value)

    def dot(self, place: Place, radius: float, tone: Tone) -> None:
        """Fill a circle."""
        x, y = place
        corners = _finer((x - radius, y - radius)), _finer((x + radius, y + radius))
        self._pen.ellipse([*corners], fill=tone.value)

    def picture(self) -> Image.Image:
        """Return the picture."""
        return self._image.resize(self._size, Image.Resampling.LANCZOS)


def _finer(place: Place) -> Place:
    return place[0] * _FINER, place[1] * _FINER
