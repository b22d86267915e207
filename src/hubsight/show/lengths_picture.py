"""A picture of the choice: the needed length's distribution, the nipple's window, the stock lengths."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from hubsight.model.catalogue import SIDE_WORDS
from hubsight.model.lengths import LengthChoice, SideOrder
from hubsight.model.result import JobResult
from hubsight.show.view import choice_sentence

WIDTH_PX, PANEL_PX = 1200, 340
LEFT_PX, RIGHT_PX = 60, 60
TOP_PX, BASE_PX = 84, 258
"""Of the curve, in its panel."""
FINER = 2
"""Drawn this many times larger, then reduced, for smooth lines."""

INK, PALE = (38, 44, 52), (206, 212, 220)
WINDOW, CURVE, PROPOSED = (207, 232, 213), (52, 104, 160), (178, 64, 36)

Colour = tuple[int, int, int]


@dataclass(frozen=True)
class _Axis:
    """Millimetres of spoke length along the panel."""

    low: float
    high: float

    def x(self, length: float) -> float:
        """Return the column of a length."""
        share = (length - self.low) / (self.high - self.low)
        return LEFT_PX + share * (WIDTH_PX - LEFT_PX - RIGHT_PX)


class _Panel:
    """Drawing in the pixels of the finished picture."""

    def __init__(self, pen: ImageDraw.ImageDraw, top: float) -> None:
        self._pen, self._top = pen, top

    def _at(self, x: float, y: float) -> tuple[float, float]:
        return x * FINER, (self._top + y) * FINER

    def words(
        self, place: tuple[float, float], text: str, size: int, colour: Colour = INK, anchor: str = "la"
    ) -> None:
        font = ImageFont.load_default(size * FINER)
        self._pen.text(self._at(*place), text, fill=colour, font=font, anchor=anchor)

    def line(self, points: list[tuple[float, float]], colour: Colour, width: float) -> None:
        self._pen.line([self._at(*point) for point in points], fill=colour, width=round(width * FINER))

    def box(self, corner: tuple[float, float], other: tuple[float, float], colour: Colour) -> None:
        self._pen.rectangle([self._at(*corner), self._at(*other)], fill=colour)

    def area(self, points: list[tuple[float, float]], colour: Colour) -> None:
        self._pen.polygon([self._at(*point) for point in points], fill=colour)


def lengths_picture(result: JobResult) -> Image.Image:
    """Return a picture with one panel for each length that is ordered.

    The curve is how likely each length is to end level with the slot's bottom in the tensioned wheel; the
    green band is the nipple's window about its middle; the strokes are the lengths that can be had.
    """
    orders = [
        (side.name, side.spoke_lengths.order)
        for side in result.sides
        if side.spoke_lengths is not None
        and side.spoke_lengths.order is not None
        and side.verdict.word != "stop"
    ]
    panels = [(name, order, choice) for name, order in orders for choice in order.choices]
    size = (WIDTH_PX * FINER, PANEL_PX * FINER * max(len(panels), 1))
    image = Image.new("RGB", size, (255, 255, 255))
    pen = ImageDraw.Draw(image)
    for number, (name, side, choice) in enumerate(panels):
        _draw(_Panel(pen, number * PANEL_PX), SIDE_WORDS[name], side, choice)
    return image.resize((size[0] // FINER, size[1] // FINER), Image.Resampling.LANCZOS)


def write_lengths_picture(result: JobResult, file: Path) -> None:
    """Write the picture, in the format that the file's name says.

    Raises
    ------
    OSError, ValueError
        If it cannot be written, or the name says no format.
    """
    lengths_picture(result).save(file)


def _draw(panel: _Panel, title: str, side: SideOrder, choice: LengthChoice) -> None:
    u = max(choice.u_end, 0.02)
    level = choice.proposed.length - choice.proposed.end
    window = (level + side.window[0], level + side.window[1])
    lengths = [candidate.length for candidate in choice.candidates]
    axis = _Axis(min(window[0], level - 4 * u, *lengths) - 0.4, max(window[1], level + 4 * u, *lengths) + 0.4)
    panel.words(
        (LEFT_PX, 12),
        f"{title}, {choice.count} spokes: {choice.proposed.length:g} mm; {choice_sentence(choice)}",
        20,
    )
    panel.box((axis.x(window[0]), TOP_PX), (axis.x(window[1]), BASE_PX), WINDOW)
    left = choice.proposed.length > sum(window) / 2.0
    corner, anchor = (axis.x(window[0]) + 6, "la") if left else (axis.x(window[1]) - 6, "ra")
    panel.words((corner, TOP_PX + 4), "the end lies in the nipple's window", 13, anchor=anchor)
    _draw_curve(panel, axis, (level, u), side.zero)
    panel.line([(LEFT_PX, BASE_PX), (WIDTH_PX - RIGHT_PX, BASE_PX)], INK, 1.5)
    for candidate in choice.candidates:
        own = candidate.length == choice.proposed.length
        x, colour = axis.x(candidate.length), PROPOSED if own else INK
        panel.line([(x, TOP_PX - 16 if own else TOP_PX + 60), (x, BASE_PX + 8)], colour, 4 if own else 2)
        risk = f"{100 * candidate.p_too_short:.1f} % short, {100 * candidate.p_too_long:.1f} % long"
        rounded = " (rounded up)" if candidate.length == choice.rounded_up.length else ""
        panel.words((x, BASE_PX + 12), f"{candidate.length:g} mm{rounded}", 17, colour, anchor="ma")
        panel.words((x, BASE_PX + 36), risk, 13, colour, anchor="ma")
    panel.line([(0, PANEL_PX - 1), (WIDTH_PX, PANEL_PX - 1)], PALE, 1)


def _draw_curve(panel: _Panel, axis: _Axis, known: tuple[float, float], zero: str) -> None:
    """Draw the density of the length that ends level with where the ends count from."""
    level, u = known
    at = np.linspace(level - 4 * u, level + 4 * u, 161)
    height = np.exp(-0.5 * ((at - level) / u) ** 2) * (BASE_PX - TOP_PX - 30)
    points = [(axis.x(float(x)), BASE_PX - float(y)) for x, y in zip(at, height, strict=True)]
    panel.area([*points, (points[-1][0], BASE_PX), (points[0][0], BASE_PX)], (205, 220, 238))
    panel.line(points, CURVE, 2.5)
    said = f"level with {zero}: {level:.2f} ± {u:.2f} mm"
    panel.words((axis.x(level), TOP_PX - 36), said, 14, CURVE, anchor="ma")
