"""Which of a side's rim holes comes first: as stated, as the gauge's direction tells, or still open."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from hubsight.model.side import SideMeasurement
from hubsight.model.stated import SideName, StatedWheel
from hubsight.model.verdict import Reason
from hubsight.wheel import LengthResult, SideGeometry, side_length
from hubsight.wheel.geometry import Drilling

SAME_LENGTH_MM = 0.05
"""Difference of lengths that leaves no question, mm: less than any other source of uncertainty."""


@dataclass(frozen=True)
class Drilled:
    """The drilling that a side's lengths are computed with, and the question that it leaves.

    Attributes
    ----------
    drilling
        With the likeliest first hole.
    doubt
        Where the first hole is open, what the lengths would be by each; else None.
    """

    drilling: Drilling
    doubt: Reason | None = None


def drilled(
    geometry: SideGeometry, wheel: StatedWheel, drilling: Drilling, seen: SideMeasurement | None = None
) -> Drilled:
    """Return the drilling to compute a side's lengths with.

    Parameters
    ----------
    geometry
        Of the side.
    wheel, drilling
        As stated.
    seen
        The side as measured, where its photos can tell the first hole.
    """
    possible = _possible(geometry.name, wheel, drilling, seen)
    likeliest = next(iter(possible.values()))
    lengths = {} if len(possible) < 2 else _lengths(geometry, wheel, possible)
    if not lengths or max(lengths.values()) - min(lengths.values()) < SAME_LENGTH_MM:
        return Drilled(likeliest)
    ways = " or ".join(f"{length:.1f} mm with first_hole = {first}" for first, length in lengths.items())
    doubt = Reason(
        sentence=f"it is open which of this side's rim holes comes first: spokes of {ways}",
        remedy=f"Look at the rim, and state first_hole in [sides.{geometry.name}]",
        about=f"sides.{geometry.name}.first_hole",
        severity="check",
    )
    return Drilled(likeliest, doubt)


def _possible(
    name: SideName, wheel: StatedWheel, drilling: Drilling, seen: SideMeasurement | None
) -> dict[int, Drilling]:
    """Return the possible drillings by the first hole, likeliest first."""
    if len(wheel.rim_holes) < 2:
        return {0: drilling}
    firsts = seen.first_holes if seen is not None and seen.first_holes else range(len(wheel.rim_holes))
    return {first: drilling.with_holes(name, wheel.rim_holes[first]) for first in firsts}


def _lengths(
    geometry: SideGeometry, wheel: StatedWheel, possible: Mapping[int, Drilling]
) -> dict[int, float]:
    if wheel.erd is None:
        return {}
    out = {}
    for first, drilling in possible.items():
        rim = drilling.rim(wheel.erd, wheel.spokes or 2 * geometry.spokes, wheel.rim_offset)
        length = side_length(geometry, rim)
        if isinstance(length, LengthResult):
            out[first] = length.mean.value
    return out
