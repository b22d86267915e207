"""A picture of a kit's proofs over time: photos less caliper, with the interval that is stated."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from pathlib import Path

from PIL import Image

from hubsight.kit.proofs import Proof, ProofsTogether, sum_up
from hubsight.model.uncertainty import AGREES_E_N, COVERAGE_FACTOR
from hubsight.show.pen import Pen, Tone
from hubsight.show.vector import Frame, round_step

FRAME = Frame(width=1200.0, left=90.0, right=40.0, top=110.0, base=440.0)
"""Room of the picture, px."""
LEAST_RANGE_MM = 0.2
"""Least range of the scale on both sides of zero, mm, so that small scatter looks small."""
MOST_STEPS = 4
"""Lines of the scale on either side of zero."""


def proofs_picture(proofs: Sequence[Proof]) -> Image.Image:
    """Return a picture of proofs, the oldest first: one dot each, with its 95 % interval, over the days.

    The zero line is the caliper. The pale band is the mean of all and its scatter. Red: photos and caliper
    differ by more than is stated.
    """
    pen = Pen(round(FRAME.width), round(FRAME.base) + 80)
    limit = max([LEAST_RANGE_MM, *(abs(p.difference) + COVERAGE_FACTOR * p.u_difference for p in proofs)])
    together = sum_up(proofs)

    def y(mm: float) -> float:
        return (FRAME.top + FRAME.base) / 2 - mm / limit * (FRAME.base - FRAME.top) / 2

    pen.words((FRAME.left, 16), _title(proofs), 22)
    if isinstance(together, ProofsTogether):
        bias, scatter = together.bias.value, together.scatter
        pen.box((FRAME.left, y(bias + scatter)), (FRAME.end, y(bias - scatter)), Tone.BAND)
        said = f"mean {bias:+.2f} mm, scatter {scatter:.2f} mm, stated {together.stated:.2f} mm"
        pen.words((FRAME.left, 50), said, 16, Tone.BLUE)
    step = round_step(limit / MOST_STEPS)
    for number in range(-MOST_STEPS, MOST_STEPS + 1):
        mm = number * step
        if abs(mm) <= limit:
            pen.line([(FRAME.left, y(mm)), (FRAME.end, y(mm))], Tone.PALE if number else Tone.INK, 1)
            pen.words((FRAME.left - 10, y(mm)), f"{mm:+.2f}" if number else "0", 14, anchor="rm")
    pen.words((FRAME.left, FRAME.top - 28), "photos less caliper, mm; bars: 95 %", 14)
    for proof, x in zip(proofs, _places(proofs), strict=True):
        tone = Tone.BLUE if abs(proof.e_n) <= AGREES_E_N else Tone.RED
        reach = COVERAGE_FACTOR * proof.u_difference
        pen.line([(x, y(proof.difference - reach)), (x, y(proof.difference + reach))], tone, 2)
        pen.dot((x, y(proof.difference)), 5, tone)
    for day, x, anchor in _days(proofs):
        pen.words((x, FRAME.base + 18), day.isoformat(), 14, anchor=anchor)
    return pen.picture()


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
    width = FRAME.end - FRAME.left - 120
    out, seen = [], dict[datetime.date, int]()
    for proof in proofs:
        seen[proof.date] = seen.get(proof.date, 0) + 1
        out.append(FRAME.left + 40 + (proof.date - first).days / span * width + 12 * (seen[proof.date] - 1))
    return out


def _days(proofs: Sequence[Proof]) -> list[tuple[datetime.date, float, str]]:
    """Return the first and the last day with their columns and anchors."""
    columns = _places(proofs)
    first = (proofs[0].date, columns[0], "lm")
    return [first] if proofs[-1].date == proofs[0].date else [first, (proofs[-1].date, columns[-1], "mm")]
