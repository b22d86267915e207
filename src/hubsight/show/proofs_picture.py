"""A picture of a kit's proofs over time: photos less caliper, with the interval that is stated."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

from hubsight.kit.proofs import Proof, ProofsTogether, sum_up
from hubsight.model.uncertainty import COVERAGE_FACTOR

WIDTH_PX, HEIGHT_PX = 1200, 520
LEFT_PX, RIGHT_PX, TOP_PX, BASE_PX = 90, 40, 110, 440
FINER = 2
"""Drawn this many times larger, then reduced, for smooth lines."""
LEAST_RANGE_MM = 0.2
"""The scale shows at least this much on both sides of zero, so that small scatter looks small."""
STEPS_MM = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0)
MOST_STEPS = 4
INK, PALE, BAND = (38, 44, 52), (206, 212, 220), (205, 220, 238)
AGREES, CONTRADICTS = (52, 104, 160), (178, 64, 36)

Colour = tuple[int, int, int]
Place = tuple[float, float]


class _Pen:
    """Draws in the pixels of the finished picture."""

    def __init__(self, picture: Image.Image) -> None:
        self._pen = ImageDraw.Draw(picture)

    def words(self, place: Place, text: str, size: int, colour: Colour = INK, anchor: str = "la") -> None:
        font = ImageFont.load_default(size * FINER)
        self._pen.text(_finer(place), text, fill=colour, font=font, anchor=anchor)

    def line(self, first: Place, last: Place, colour: Colour, width: float) -> None:
        self._pen.line([_finer(first), _finer(last)], fill=colour, width=round(width * FINER))

    def box(self, first: Place, last: Place, colour: Colour) -> None:
        self._pen.rectangle([_finer(first), _finer(last)], fill=colour)

    def dot(self, place: Place, radius: float, colour: Colour) -> None:
        x, y = place
        corners = _finer((x - radius, y - radius)), _finer((x + radius, y + radius))
        self._pen.ellipse([*corners], fill=colour)


def _finer(place: Place) -> Place:
    return place[0] * FINER, place[1] * FINER


def proofs_picture(proofs: Sequence[Proof]) -> Image.Image:
    """Return a picture of proofs, the oldest first: one dot each, with its 95 % interval, over the days.

    The zero line is the caliper. The pale band is the mean of all and its scatter. Red: photos and caliper
    differ by more than is stated.
    """
    picture = Image.new("RGB", (WIDTH_PX * FINER, HEIGHT_PX * FINER), (255, 255, 255))
    pen = _Pen(picture)
    limit = max([LEAST_RANGE_MM, *(abs(p.difference) + COVERAGE_FACTOR * p.u_difference for p in proofs)])
    together = sum_up(proofs)

    def y(mm: float) -> float:
        return (TOP_PX + BASE_PX) / 2 - mm / limit * (BASE_PX - TOP_PX) / 2

    pen.words((LEFT_PX, 16), _title(proofs), 22)
    if isinstance(together, ProofsTogether):
        bias, scatter = together.bias.value, together.scatter
        pen.box((LEFT_PX, y(bias + scatter)), (WIDTH_PX - RIGHT_PX, y(bias - scatter)), BAND)
        said = f"mean {bias:+.2f} mm, scatter {scatter:.2f} mm, stated {together.stated:.2f} mm"
        pen.words((LEFT_PX, 50), said, 16, AGREES)
    step = next((one for one in STEPS_MM if limit / one <= MOST_STEPS), STEPS_MM[-1])
    for number in range(-MOST_STEPS, MOST_STEPS + 1):
        mm = number * step
        if abs(mm) <= limit:
            pen.line((LEFT_PX, y(mm)), (WIDTH_PX - RIGHT_PX, y(mm)), INK if number == 0 else PALE, 1)
            pen.words((LEFT_PX - 10, y(mm)), f"{mm:+.2f}" if number else "0", 14, anchor="rm")
    pen.words((LEFT_PX, TOP_PX - 28), "photos less caliper, mm; bars: 95 %", 14)
    for proof, x in zip(proofs, _places(proofs), strict=True):
        colour = AGREES if abs(proof.e_n) <= 1.0 else CONTRADICTS
        reach = COVERAGE_FACTOR * proof.u_difference
        pen.line((x, y(proof.difference - reach)), (x, y(proof.difference + reach)), colour, 2)
        pen.dot((x, y(proof.difference)), 5, colour)
    for day, x, anchor in _days(proofs):
        pen.words((x, BASE_PX + 18), day.isoformat(), 14, anchor=anchor)
    return picture.resize((WIDTH_PX, HEIGHT_PX), Image.Resampling.LANCZOS)


def write_proofs_picture(proofs: Sequence[Proof], file: Path) -> None:
    """Write `proofs_picture` as PNG; raises OSError where that cannot be done."""
    proofs_picture(proofs).save(file, format="PNG")


def _title(proofs: Sequence[Proof]) -> str:
    count = len(proofs)
    return f"{count} proof{'s' * (count != 1)}: rods above the sheet, by photos and by caliper"


def _places(proofs: Sequence[Proof]) -> list[float]:
    """Return the columns: by the day, and those of one day side by side."""
    first, last = proofs[0].date, proofs[-1].date
    span = max((last - first).days, 1)
    width = WIDTH_PX - LEFT_PX - RIGHT_PX - 120
    out, seen = [], dict[datetime.date, int]()
    for proof in proofs:
        seen[proof.date] = seen.get(proof.date, 0) + 1
        out.append(LEFT_PX + 40 + (proof.date - first).days / span * width + 12 * (seen[proof.date] - 1))
    return out


def _days(proofs: Sequence[Proof]) -> list[tuple[datetime.date, float, str]]:
    """Return the first and the last day with their columns and anchors."""
    columns = _places(proofs)
    first = (proofs[0].date, columns[0], "lm")
    return [first] if proofs[-1].date == proofs[0].date else [first, (proofs[-1].date, columns[-1], "mm")]
