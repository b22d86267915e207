"""A picture of the choice: the needed length's distribution, the nipple's window, the stock lengths."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image

from hubsight.model.catalogue import SIDE_WORDS
from hubsight.model.lengths import LengthChoice, SideOrder
from hubsight.model.result import JobResult
from hubsight.show.pen import Pen, Tone
from hubsight.show.vector import Frame
from hubsight.show.view import choice_sentence

FRAME = Frame(width=1200.0, left=60.0, right=60.0, top=84.0, base=258.0)
"""Room of the curve in its panel, px."""
PANEL_PX = 340
"""Height of a panel."""


@dataclass(frozen=True)
class _Axis:
    """Millimetres of spoke length along the panel."""

    low: float
    high: float

    def x(self, length: float) -> float:
        """Return the column of a length."""
        return FRAME.x((length - self.low) / (self.high - self.low))


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
    picture = Image.new("RGB", (round(FRAME.width), PANEL_PX * max(len(panels), 1)), (255, 255, 255))
    for number, (name, side, choice) in enumerate(panels):
        picture.paste(_panel(SIDE_WORDS[name], side, choice), (0, number * PANEL_PX))
    return picture


def write_lengths_picture(result: JobResult, file: Path) -> None:
    """Write the picture, in the format that the file's name says.

    Raises
    ------
    OSError, ValueError
        If it cannot be written, or the name says no format.
    """
    lengths_picture(result).save(file)


def _panel(title: str, side: SideOrder, choice: LengthChoice) -> Image.Image:
    panel = Pen(round(FRAME.width), PANEL_PX)
    u = max(choice.u_end, 0.02)
    level = choice.proposed.length - choice.proposed.end
    window = (level + side.window[0], level + side.window[1])
    lengths = [candidate.length for candidate in choice.candidates]
    axis = _Axis(min(window[0], level - 4 * u, *lengths) - 0.4, max(window[1], level + 4 * u, *lengths) + 0.4)
    panel.words(
        (FRAME.left, 12),
        f"{title}, {choice.count} spokes: {choice.proposed.length:g} mm; {choice_sentence(choice)}",
        20,
    )
    panel.box((axis.x(window[0]), FRAME.top), (axis.x(window[1]), FRAME.base), Tone.GOOD)
    left = choice.proposed.length > sum(window) / 2.0
    corner, anchor = (axis.x(window[0]) + 6, "la") if left else (axis.x(window[1]) - 6, "ra")
    panel.words((corner, FRAME.top + 4), "the end lies in the nipple's window", 13, anchor=anchor)
    _draw_curve(panel, axis, (level, u), side.zero)
    panel.line([(FRAME.left, FRAME.base), (FRAME.end, FRAME.base)], Tone.INK, 1.5)
    for candidate in choice.candidates:
        own = candidate.length == choice.proposed.length
        x, tone = axis.x(candidate.length), Tone.RED if own else Tone.INK
        panel.line(
            [(x, FRAME.top - 16 if own else FRAME.top + 60), (x, FRAME.base + 8)], tone, 4 if own else 2
        )
        risk = f"{100 * candidate.p_too_short:.1f} % short, {100 * candidate.p_too_long:.1f} % long"
        rounded = " (rounded up)" if candidate.length == choice.rounded_up.length else ""
        panel.words((x, FRAME.base + 12), f"{candidate.length:g} mm{rounded}", 17, tone, anchor="ma")
        panel.words((x, FRAME.base + 36), risk, 13, tone, anchor="ma")
    panel.line([(0, PANEL_PX - 1), (FRAME.width, PANEL_PX - 1)], Tone.PALE, 1)
    return panel.picture()


def _draw_curve(panel: Pen, axis: _Axis, known: tuple[float, float], zero: str) -> None:
    """Draw the density of the length that ends level with where the ends count from."""
    level, u = known
    at = np.linspace(level - 4 * u, level + 4 * u, 161)
    height = np.exp(-0.5 * ((at - level) / u) ** 2) * (FRAME.base - FRAME.top - 30)
    points = [(axis.x(float(x)), FRAME.base - float(y)) for x, y in zip(at, height, strict=True)]
    panel.area([*points, (points[-1][0], FRAME.base), (points[0][0], FRAME.base)], Tone.BAND)
    panel.line(points, Tone.BLUE, 2.5)
    said = f"level with {zero}: {level:.2f} ± {u:.2f} mm"
    panel.words((axis.x(level), FRAME.top - 36), said, 14, Tone.BLUE, anchor="ma")
