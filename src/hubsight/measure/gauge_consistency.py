"""What can be wrong with a gauge, each trouble with its own sentence: bent, too short, another tip."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hubsight.estimate.problem import Solution
from hubsight.estimate.robust import Threshold
from hubsight.measure.adjust.motion import HubBlock, gauge_bow
from hubsight.model.agreement import FIGURES_ON
from hubsight.model.arrays import Array
from hubsight.model.figure import Figure
from hubsight.model.refusal import Refusal
from hubsight.model.side import FigureName
from hubsight.model.stated import StatedGauge
from hubsight.see.gauge.sighting import GaugeSighting

BENT_MM, BENT_UP_MM = Threshold(5.0, 0.15), Threshold(5.0, 0.4)
"""Bow of a gauge sideways and upwards, by its uncertainty, that is worth a warning; rendered straight gauges
reach 0.06 and 0.24 mm: light from the paper lifts the lower edge."""
STRAIGHT_SHARE, BLOCK_MM = 0.62, 3.0
"""Least share of a gauge that some photo should show straight, and the length of one axis point."""
TOO_BENT_MM = 0.5
"""Bow of a gauge from which there are no figures, mm: it puts the flange diameter off by more than a
millimetre."""
TWO_GAUGES_MM = 3.5
"""Difference of two gauges' offsets in one boss above which one of them was taken for something else, mm:
twice the centreline's error, which is below 4°."""


def gauge_warnings(
    solution: Solution,
    blocks: Sequence[HubBlock],
    references: Sequence[Array],
    gauges: Sequence[GaugeSighting],
) -> list[str]:
    """Warn of gauges that are bent, or straight along too short a part of them."""
    out = []
    for k, gauge in enumerate(gauges):
        name = "the gauge" if len(gauges) == 1 else f"gauge {k + 1}"
        size = _bow(solution, blocks, references, k)
        if _straight(gauge) is not None:
            out.append(f"{name} {_straight(gauge)}")
        elif size > 0:
            out.append(f"{name} is bent: its middle lies {size:.1f} mm off the chord; use a straight one")
    return out


def bent_gauge(
    solution: Solution,
    blocks: Sequence[HubBlock],
    references: Sequence[Array],
    gauges: Sequence[GaugeSighting],
) -> Refusal | None:
    """Refuse a gauge so bent that its line says nothing of the boss, or that is straight hardly anywhere."""
    sizes = [_bow(solution, blocks, references, k) for k in range(len(gauges))]
    if max(sizes) > TOO_BENT_MM:
        return Refusal(
            reason=f"the gauge is bent: its middle lies {max(sizes):.1f} mm off the line between its ends",
            remedy="Use a straight gauge spoke",
        )
    return None


def short_gauge(gauges: Sequence[GaugeSighting]) -> Refusal | None:
    """Refuse gauges that are straight along too short a part of them, when nothing more was found."""
    why = next((w for w in map(_straight, gauges) if w is not None), None)
    if why is None:
        return None
    return Refusal(
        reason=f"the gauge {why}", remedy="Use a straight gauge spoke, and show it against the paper"
    )


def _straight(gauge: GaugeSighting) -> str | None:
    """Say along how little of it a gauge is straight, in the photo that shows it best."""
    length = float(np.linalg.norm(gauge.end - gauge.start))
    longest = max(len(a.back) for a in gauge.line.axes) * BLOCK_MM
    if longest == 0 or longest >= STRAIGHT_SHARE * length:  # nothing is seen of a gauge placed by hand
        return None
    return f"is seen straight along {longest:.0f} of {length:.0f} mm only: it is bent or partly covered"


def _bow(solution: Solution, blocks: Sequence[HubBlock], references: Sequence[Array], gauge: int) -> float:
    """How far a gauge is bent, mm; 0 where it may well be straight."""
    bow = gauge_bow(solution, blocks, references, gauge)
    parts = (
        (abs(bow.sideways), BENT_MM.of(bow.u_sideways)),
        (abs(bow.upwards), BENT_UP_MM.of(bow.u_upwards)),
    )
    return float(np.linalg.norm([size if size > limit else 0.0 for size, limit in parts]))


def wrong_tip(stated: Sequence[StatedGauge], gauges: Sequence[GaugeSighting]) -> Refusal | None:
    """Refuse what rests on the gauge's end when something else than stated is on it."""
    for gauge, seen in zip(stated, gauges, strict=True):
        if gauge.tip == seen.tip:
            continue
        if seen.tip == "nipple":
            return Refusal(
                reason="there is a nipple on the gauge's end, which is not stated",
                remedy='State tip = "nipple" for the gauge, and the length to its end; or take it off',
            )
        return Refusal(
            reason="a nipple is stated on the gauge's end, but a bare end is seen",
            remedy='State tip = "flat" for the gauge, and its length to the bare end',
        )
    return None


def gauges_disagree(offsets: Sequence[float]) -> Refusal | None:
    """Refuse what rests on the gauges' ends where two gauges in one boss cannot both be right."""
    apart = max(offsets) - min(offsets)
    if apart < TWO_GAUGES_MM:
        return None
    return Refusal(
        reason=f"the two gauges make offsets that lie {apart:.1f} mm apart: the end of one was misread, or "
        "covered, or the stated lengths are not theirs",
        remedy="Keep both ends in every photo with paper beyond them, and state the gauge that points to the "
        "right first; or measure one gauge at a time",
    )


def without_end(figures: dict[FigureName, Figure]) -> dict[FigureName, Figure]:
    """Leave out the figures that rest on the gauge's end."""
    return {name: f for name, f in figures.items() if name not in FIGURES_ON["gauge_end"]}


def gauge_length_trouble(length: float, protrusion: float) -> Refusal | None:
    """Refuse a gauge that would end outside the boss."""
    if protrusion < length:
        return None
    return Refusal(
        reason=f"the gauge sticks out of the boss by {protrusion:.1f} mm, more than its stated length of "
        f"{length:.1f} mm",
        remedy="Measure the gauge again, from under its head to its far end, and state that length",
    )
