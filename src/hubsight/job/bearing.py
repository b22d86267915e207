"""How errors of a side's figures bear on its order: by the wheel, and by readings that set limits.

Lengths in mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from hubsight.job.checks import figures_seen
from hubsight.job.joint.observe import LOPSIDED_U_MM, lopsided_u
from hubsight.model.catalogue import entry_of
from hubsight.model.figure import Figure
from hubsight.model.result import HandResult, MeasuredSide
from hubsight.model.uncertainty import AGREES_E_N, COVERAGE_FACTOR, normalised_error
from hubsight.model.verdict import Severity

LEAST_ROOM_MM = 0.25
"""Distance of a spoke's end outside of the nipple's window that still does not matter, mm: the window's
limits are no sharper; raising it lets more doubts pass as notes (common practice, no source)."""

TYPICAL_ROOM_MM = 0.6
"""Distance of a spoke's end from the nearer limit of its window where no length was chosen yet, mm: a window
2.5 wide, stock in steps of 2; raising it lets more doubts pass (common practice, no source)."""

TYPICAL_SLOPES = {"spoke_offset": 1.0, "flange_diameter": 0.3, "centre_to_flange": 0.1}
"""Change of a spoke length per change of a figure, 1, where none was computed: the largest of usual
wheels."""


@dataclass(frozen=True)
class Bearing:
    """How errors of a side's figures bear on its order.

    Attributes
    ----------
    slopes
        By how much the length changes with each figure that it rests on.
    room
        How far the spoke's end may move before it leaves the nipple's window; on close calls what the end is
        known to, if that is more, up to the usual: an error within it has been asked about already.
    """

    slopes: dict[str, float]
    room: float

    def severity(self, name: str, error: float, beyond: Severity = "check") -> Severity:
        """Return how an error of a figure bears: ``beyond`` if it takes the end out of the window."""
        return beyond if abs(self.slopes.get(name, 0.0) * error) > self.room else "note"


def bearing(side: MeasuredSide) -> Bearing:
    """Return how errors of a side's figures bear on its order."""
    lengths = side.spoke_lengths
    if lengths is None:
        return Bearing(_with_parts(TYPICAL_SLOPES), TYPICAL_ROOM_MM)
    slopes = {
        one.name: TYPICAL_SLOPES.get(one.name, 0.0) if one.per_mm is None else one.per_mm
        for one in lengths.origin.figures
        if one.source == "photos"
    }
    room = TYPICAL_ROOM_MM
    if lengths.order is not None:
        low, high = lengths.order.window
        ends = [choice.proposed.end for choice in lengths.order.choices]
        room = max(min(min(ends) - low, high - max(ends)), LEAST_ROOM_MM)
        close = [choice.u_end for choice in lengths.order.choices if choice.close_call]
        room = max(room, min(COVERAGE_FACTOR * max(close, default=0.0), TYPICAL_ROOM_MM))
    return Bearing(_with_parts(slopes), room)


def _with_parts(slopes: dict[str, float]) -> dict[str, float]:
    """Add the figures that others follow from: the gauge's end makes the offset, heights the centre."""
    offset, centre = slopes.get("spoke_offset", 0.0), slopes.get("centre_to_flange", 0.0)
    return {
        **slopes,
        "reach": offset,
        "protrusion": offset,
        "flange_height": centre,
        "over_locknut": centre / 2,
    }


def half_width(figure: Figure) -> float:
    """Return the larger half of a figure's interval."""
    return max(figure.high - figure.value, figure.value - figure.low)


def how_far_astray(side: MeasuredSide, name: str, figure: Figure) -> float:
    """Return how far a warned figure may be off; readings by hand that agree with it set a limit."""
    half = half_width(figure)
    bounds = [max(entry_of(name).astray, half)]
    if name in ("spoke_offset", "reach", "protrusion") and offset_confirmed(side):
        seen, by_hand = figures_seen(side)["spoke_offset"], offset_by_hand(side)
        if by_hand is not None:
            u = math.hypot(by_hand.u, LOPSIDED_U_MM)
            bounds.append(abs(by_hand.value - seen.value) + COVERAGE_FACTOR * u)
    for check in side.caliper_checks:
        if check.reading == name and 0.0 < abs(check.e_n) <= AGREES_E_N:
            apart_by = abs(check.stated - check.photo)
            expanded = math.sqrt(max((apart_by / check.e_n) ** 2 - half**2, 0.0))  # the reading's own
            bounds.append(apart_by + expanded)
    return min(bounds)


def offset_by_hand(side: MeasuredSide) -> HandResult | None:
    """Return the spoke offset that the readings by hand make."""
    return next((one for one in side.arithmetic if one.quantity == "spoke_offset"), None)


def u_by_hand(one: HandResult, side: MeasuredSide) -> float:
    """Return the standard uncertainty of an offset or length by hand against the photos'.

    By hand the offset goes by the boss' middle: a boss that may be lopsided puts it off besides.
    """
    seen = side.measurement
    by_width = seen is not None and seen.kind == "paired" and offset_by_hand(side) is not None
    return math.hypot(one.u, lopsided_u(seen)) if by_width else one.u


def offset_confirmed(side: MeasuredSide) -> bool:
    """Tell whether the readings by hand make the offset that the photos show."""
    seen, by_hand = figures_seen(side).get("spoke_offset"), offset_by_hand(side)
    if seen is None or by_hand is None:
        return False
    e_n = normalised_error(by_hand.value, COVERAGE_FACTOR * by_hand.u, seen.value, half_width(seen))
    return abs(e_n) <= AGREES_E_N
