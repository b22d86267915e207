"""What the gauges' directions say: of their boss' centreline, of the crosses, of the row of rim holes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hubsight.measure.adjust.centreline import DRILLING_RAD, PLAY_RAD, Centreline, Drilled, Opinion
from hubsight.measure.flange import GaugeGeometry
from hubsight.model.stated import Reading, SideName, StatedWheel
from hubsight.model.verdict import Reason
from hubsight.wheel.crosses import USUAL_ERD
from hubsight.wheel.rows import ROW_WORDS, BoreDirection, RowName, bore_directions, possible_rows

DOUBTED_ROW = 0.1
"""Probability of another row of rim holes than the stated one (even drilling where none is stated) from which
on the row is doubted. Raising it leaves more wheels on unusual rims unsaid, lowering it doubts more lopsided
bosses on usual ones."""
OPEN_FIRST_HOLE = 0.02
"""Probability of the less likely first hole from which on the gauge's direction does not settle it."""


@dataclass(frozen=True)
class DrilledFor:
    """What the gauges' directions say that a side was drilled for.

    Attributes
    ----------
    crosses
        By the likeliest direction; None if the row is none of the usual ones.
    first_holes
        Which first holes of a stated row are possible, likeliest first; empty where that is no question.
    off_expected, off_usual
        Angle, rad, from the outline's centreline to that by the nearest direction of the expected row (the
        stated one, or the likeliest), and of any usual row. None on radial hubs.
    doubts
        About the row and its first hole.
    """

    crosses: int | None
    first_holes: tuple[int, ...] = ()
    off_expected: float | None = None
    off_usual: float | None = None
    doubts: tuple[Reason, ...] = ()


def possible_directions(wheel: StatedWheel, bosses: int, radius: float) -> tuple[BoreDirection, ...]:
    """Return the directions that the bores of a side's bosses may have, by what is stated of the wheel.

    Parameters
    ----------
    wheel
        As stated.
    bosses
        Their number on this side.
    radius
        Of the crossing point, mm.
    """
    return bore_directions(possible_rows(wheel, bosses), bosses, 2 * radius, _erd(wheel).value)


def direction_opinions(
    directions: Sequence[BoreDirection],
    gauges: Sequence[GaugeGeometry],
    wheel: StatedWheel,
    bosses: int,
    angle: float,
) -> list[Drilled]:
    """Return the centrelines on which the gauges would point at their rim holes, for each direction.

    Parameters
    ----------
    directions
        Of `possible_directions`.
    gauges
        Against the centreline ``angle``.
    wheel
        As stated.
    bosses
        Their number on this side.
    angle
        Of the boss' centreline as adjusted, rad.

    Notes
    -----
    On a row that is none of the usual ones a bore may point anywhere from one number of crosses to the next,
    whatever the centreline: such an opinion lies where ``angle`` does and does not pull it.
    """
    anywhere = Opinion(angle, float(np.pi / bosses / np.sqrt(12)))
    return [
        Drilled(tuple(_opinion(d, g, wheel, angle) if d.betas else anywhere for g in gauges), d.prior)
        for d in directions
    ]


def _opinion(direction: BoreDirection, gauge: GaugeGeometry, wheel: StatedWheel, angle: float) -> Opinion:
    """Return the centreline on which a gauge would point as given; ``angle`` is that of its geometry."""
    beta = float(np.arctan2(abs(gauge.sideways), gauge.outward))
    degrees, by_erd = direction.nearest(float(np.degrees(beta)))
    excess = (beta - np.radians(degrees)) * np.sign(gauge.sideways)
    # The expected angle itself moves with the centreline only through the radius: negligible.
    u = np.sqrt(PLAY_RAD**2 + DRILLING_RAD**2 + np.radians(by_erd * _erd(wheel).u) ** 2)
    return Opinion(float(angle + excess), float(u))


def drilled_for(
    side: SideName,
    directions: Sequence[BoreDirection],
    opinions: Sequence[Drilled],
    line: Centreline,
    *,
    outline: float,
    wheel: StatedWheel,
) -> DrilledFor:
    """Return what the weighed directions say that a side was drilled for.

    Parameters
    ----------
    side
        Which, for the doubts.
    directions, opinions
        As they were weighed, in the same order.
    line
        The centreline, with the odds of each direction.
    outline
        Centreline by the boss' outline, rad.
    wheel
        As stated.
    """
    odds = dict(zip(directions, line.odds, strict=True))
    expected = directions[0].row
    off = [
        (d.row, max(abs(outline - opinion.angle) for opinion in drilled.opinions))
        for d, drilled in zip(directions, opinions, strict=True)
        if d.betas
    ]
    firsts = _first_holes({d: p for d, p in odds.items() if d.row == "stated"}, wheel)
    doubts = _row_doubts(side, odds, expected)
    if len(firsts) > 1 and sum(p for d, p in odds.items() if d.row == "stated") > 0.5:
        doubts.append(_open_first_hole(side, firsts))
    return DrilledFor(
        crosses=max(directions, key=lambda d: odds[d]).crosses,
        first_holes=firsts,
        off_expected=min(angle for row, angle in off if row == expected),
        off_usual=min(angle for _, angle in off),
        doubts=tuple(doubts),
    )


def _row_doubts(side: SideName, odds: dict[BoreDirection, float], expected: RowName) -> list[Reason]:
    """Doubt the row where another one explains the gauge's direction, and ask for a row that is not even."""
    rivals = {d: p for d, p in odds.items() if d.row != expected}
    share = sum(rivals.values())
    if share < DOUBTED_ROW:
        return [] if expected in ("stated", "even") else [_unstated(expected)]
    rival = max(rivals, key=lambda d: rivals[d])
    words = ROW_WORDS[rival.row]
    how = f", {rival.crosses} crosses" if rival.crosses is not None else ""
    if expected == "stated":
        sentence = f"the gauge points as on {words}{how}, not as on the stated row of rim holes"
        remedy = "Check the row of rim holes, which of this side's holes comes first, and the crosses"
        if rival.row == "other":
            sentence = "the gauge points at no hole of the stated row of rim holes"
        return [_reason(side, sentence, remedy, share)]
    if rival.row == "other":
        sentence = f"the gauge points at no hole of {ROW_WORDS[expected]}, nor of another usual one"
    else:
        sentence = f"the gauge points as on {words}{how}, not as on {ROW_WORDS[expected]}"
    remedy = 'State the row of rim holes: holes = "DND" in [rim] where the sides share the holes two to one'
    return [_reason(side, sentence, remedy, share)]


def _reason(side: SideName, sentence: str, remedy: str, share: float) -> Reason:
    return Reason(
        sentence=f"{sentence} ({100 * share:.0f} % likely)",
        remedy=remedy,
        about=f"{side}.spoke_offset",
        severity="check",
    )


def _unstated(row: RowName) -> Reason:
    return Reason(
        sentence=f"spokes and bosses go with {ROW_WORDS[row]}, whose row of holes is not stated",
        remedy='State the row of rim holes, as holes = "DND" in [rim]',
        about="rim.holes",
        severity="check",
    )


def _first_holes(odds: dict[BoreDirection, float], wheel: StatedWheel) -> tuple[int, ...]:
    """Return which first holes of the stated row the gauge leaves open, likeliest first."""
    total = sum(odds.values())
    if len(wheel.rim_holes) < 2 or total <= 0:
        return ()
    shares = dict.fromkeys(range(len(wheel.rim_holes)), 0.0)
    for direction, p in odds.items():
        shares[direction.first] += p / total
    return tuple(k for k in sorted(shares, key=lambda k: -shares[k]) if shares[k] > OPEN_FIRST_HOLE)


def _open_first_hole(side: SideName, firsts: tuple[int, ...]) -> Reason:
    which = " or ".join(f"first_hole = {k}" for k in firsts)
    return Reason(
        sentence=f"the gauge's direction does not tell which of this side's rim holes comes first: {which}",
        remedy=f"Look at the rim, and state first_hole in [sides.{side}]",
        about=f"sides.{side}.first_hole",
        severity="check",
    )


def _erd(wheel: StatedWheel) -> Reading:
    return wheel.erd or USUAL_ERD


def wrong_spokes(wheel: StatedWheel, own: int) -> str:
    """Return how the number of spokes on a side contradicts what is stated of the wheel, or nothing."""
    if wheel.rim_holes:
        holes = len(wheel.rim_holes[0].all_angles())
        if holes == own:
            return ""
        return f"which take {own} spokes, but the stated row of rim holes gives this side {holes}"
    if wheel.spokes in (None, 2 * own):
        return ""
    said = f"which makes {2 * own} spokes, but {wheel.spokes} are stated"
    if 3 * own in (wheel.spokes, 2 * (wheel.spokes or 0)):
        said += "; if the sides share the rim's holes two to one, state their row"
    return said
