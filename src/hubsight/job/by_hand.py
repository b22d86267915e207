"""A side's figures from readings by hand alone, with the arithmetic redone. Lengths in mm."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from hubsight.job.file.load import JobSide
from hubsight.model.lengths import UsedFigure
from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading
from hubsight.wheel.geometry import POSSIBLE_DIAMETERS_MM, POSSIBLE_OFFSETS_MM, USUAL_OFFSETS_MM
from hubsight.wheel.manual import (
    Redone,
    centre_to_flange_from_end,
    diameter_from_reference,
    offset_by_width,
    offset_radial,
)

BY_HAND = "by hand"
"""Source of a figure that was stated as such."""


@dataclass(frozen=True)
class HandFigures:
    """What the readings by hand give.

    Attributes
    ----------
    diameter, offset, centre
        Flange diameter, spoke offset, centre to flange; None where the readings do not give them.
    redone
        Results of arithmetic, computed again.
    """

    diameter: UsedFigure | None
    offset: UsedFigure | None
    centre: UsedFigure | None
    redone: tuple[Redone, ...]

    def missing(self) -> Refusal:
        """Return which figure the readings do not give, and what to read for it."""
        if self.offset is None:
            name, remedy = (
                "spoke offset",
                "State the gauge's length, protrusion and boss_width, or spoke_offset",
            )
        elif self.diameter is None:
            name, remedy = "flange diameter", "State flange_diameter, or reference_diameter and boss_depth"
        else:
            name = "centre to flange"
            remedy = "State centre_to_flange, or end_to_flange and the hub's over_locknut"
        return Refusal(reason=f"neither photos nor readings by hand give the {name}", remedy=remedy)

    def impossible(self) -> Refusal | None:
        """Refuse readings that make what no straight-pull hub has: one of them is a slip."""
        limits = ((self.offset, POSSIBLE_OFFSETS_MM), (self.diameter, POSSIBLE_DIAMETERS_MM))
        for figure, (low, high) in limits:
            if figure is not None and not low < figure.value < high:
                what = figure.name.replace("_", " ")
                return Refusal(
                    reason=f"the readings by hand make the {what} {figure.value:.2f} mm, which no hub has",
                    remedy=f"{self._slip(figure.name)}Measure again what it is made of",
                )
        return None

    def warnings(self) -> tuple[str, ...]:
        """Return what is doubtful in figures that lengths are computed from."""
        said = [
            f"the lengths are by the readings, not by the {one.quantity.replace('_', ' ')} of "
            f"{one.stated:.2f} mm that was worked out from them: settle that before ordering"
            for one in self.redone
            if one.stated is not None and not one.agrees
        ]
        low, high = USUAL_OFFSETS_MM
        if self.offset is not None and not low < self.offset.value < high:
            said.append(
                f"a spoke offset of {self.offset.value:.1f} mm is unusual: check the gauge's length, the "
                "protrusion and the boss width for a slip"
            )
        return tuple(said)

    def _slip(self, name: str) -> str:
        slips = [one.slip for one in self.redone if one.quantity == name and one.slip is not None]
        return f"By what you worked out, {slips[0]}. " if slips else ""


def hand_figures(side: JobSide, *, radial: bool) -> HandFigures:
    """Return what the readings by hand of a side give.

    Parameters
    ----------
    side
        With its caliper readings; the gauge is the first of the side's.
    radial
        Whether the spokes leave along the radius: the protrusion then begins at the outside diameter.
    """
    readings = side.stated.caliper
    gauge = side.stated.gauges[0].length if side.stated.gauges else None
    offset, redone_offset = _offset(readings, gauge, radial=radial)
    diameter, redone_diameter = _diameter(readings)
    centre, redone_centre = _centre(side, readings)
    redone = (redone_offset, redone_diameter, redone_centre)
    return HandFigures(diameter, offset, centre, tuple(one for one in redone if one is not None))


def worked_out(side: JobSide) -> dict[str, Reading]:
    """Return the figures that follow from raw readings of which the photos show none, to be compared."""
    raw = side.stated.caliper
    found = []
    if "reference_diameter" in raw and "boss_depth" in raw:
        found.append(_diameter(raw)[0])
    if "end_to_flange" in raw and side.wheel.over_locknut is not None:
        found.append(_centre(side, raw)[0])
    return {figure.name: Reading(figure.value, figure.u) for figure in found if figure is not None}


def used(name: str, reading: Reading, source: str) -> UsedFigure:
    """Return a reading as a figure that went into the lengths."""
    return UsedFigure(name=name, value=reading.value, u=reading.u, source=source)


def _offset(
    readings: Mapping[str, Reading], gauge: Reading | None, *, radial: bool
) -> tuple[UsedFigure | None, Redone | None]:
    name = "spoke_offset"
    stated = readings.get(name) or readings.get("spoke_offset_by_width")
    protrusion, width, reach = (readings.get(key) for key in ("protrusion", "boss_width", "reach"))
    result = None if stated is None else stated.value
    if gauge is not None and protrusion is not None and (radial or width is not None):
        across = readings.get("boss_width_across")
        if radial or width is None:
            redone = offset_radial(gauge, protrusion, result)
            how = "by hand: gauge length less protrusion"
        else:
            redone = offset_by_width(gauge, protrusion, width, result, across.value if across else None)
            how = "by hand: gauge length less protrusion and half the boss width"
        return used(name, redone.value, how), redone
    if gauge is not None and reach is not None:
        value = Reading(gauge.value - reach.value, math.hypot(gauge.u, reach.u))
        return used(name, value, "by hand: gauge length less reach"), None
    return (None if stated is None else used(name, stated, BY_HAND)), None


def _diameter(readings: Mapping[str, Reading]) -> tuple[UsedFigure | None, Redone | None]:
    name = "flange_diameter"
    stated = readings.get(name)
    reference, depth = readings.get("reference_diameter"), readings.get("boss_depth")
    if reference is not None and depth is not None:
        redone = diameter_from_reference(reference, depth, None if stated is None else stated.value)
        return used(name, redone.value, "by hand: reference diameter and twice the boss depth"), redone
    return (None if stated is None else used(name, stated, BY_HAND)), None


def _centre(side: JobSide, readings: Mapping[str, Reading]) -> tuple[UsedFigure | None, Redone | None]:
    name = "centre_to_flange"
    stated = readings.get(name)
    old, inward = side.wheel.over_locknut, readings.get("end_to_flange")
    if old is not None and inward is not None:
        redone = centre_to_flange_from_end(old, inward, None if stated is None else stated.value)
        return used(name, redone.value, "by hand: half the over-locknut less the way in"), redone
    if stated is not None:
        return used(name, stated, BY_HAND), None
    height = side.stated.flange_height or readings.get("flange_height")
    if old is None or height is None:
        return None, None
    block = side.stated.block_thickness
    value = Reading(
        height.value - block - old.value / 2.0,
        math.hypot(height.u, old.u / 2.0 if block else 0.0),
    )
    return used(name, value, "by hand: flange height less half the over-locknut"), None
