"""From a side's figures and the stated wheel to its spoke lengths: the bridge to ``hubsight.wheel``."""

from __future__ import annotations

import math

from hubsight.job.document import DirectionLength, SpokeLengths
from hubsight.job.first_hole import drilled
from hubsight.model.figure import BudgetItem, Confidence, Figure, confidence_word
from hubsight.model.refusal import Refusal
from hubsight.model.side import SideMeasurement
from hubsight.model.stated import Reading, StatedSide, StatedWheel
from hubsight.model.uncertainty import COVERAGE_FACTOR
from hubsight.wheel import SideGeometry, SpokeLength, side_length
from hubsight.wheel.geometry import ORDINARY, Drilling

BLOCK_THICKNESS_U_MM = 0.05
"""Standard uncertainty of a stated block thickness (common practice, no source)."""

_WORST: tuple[Confidence, ...] = ("poor", "fair", "good")


def spoke_lengths(
    side: SideMeasurement, stated: StatedSide, wheel: StatedWheel, drilling: Drilling = ORDINARY
) -> SpokeLengths | Refusal | None:
    """Return the spoke lengths of a measured side.

    Parameters
    ----------
    side
        The measurement.
    stated, wheel
        What the job states of this side and of the wheel; the number of spokes, the crosses and the centre
        to flange may be missing where the photos give them.
    drilling
        Of rim and flange, where it is not the ordinary one.

    Returns
    -------
    SpokeLengths, Refusal or None
        None when no rim is stated: nobody asked for a length.
    """
    if wheel.erd is None:
        return None
    geometry = photo_geometry(side, stated, wheel, drilling)
    if isinstance(geometry, Refusal):
        return geometry
    first = drilled(geometry, wheel, drilling, side)
    rim = first.drilling.rim(wheel.erd, wheel.spokes or 2 * geometry.spokes, wheel.rim_offset)
    result = side_length(geometry, rim)
    if isinstance(result, Refusal):
        return result
    centre = centre_to_flange(side, stated, wheel)
    if isinstance(centre, Refusal):
        return centre
    covariance = geometry.covariance
    return SpokeLengths(
        length=length_figure(result.mean, side, covariance),
        directions=tuple(
            DirectionLength(bore=spoke.bore, count=spoke.count, length=length_figure(spoke, side, covariance))
            for spoke in result.spokes
        ),
        spokes=rim.spokes,
        crosses=geometry.crosses,
        crosses_stated=wheel.crosses is not None,
        centre_to_flange=centre,
        warnings=(
            *crosses_warning(side.crosses, wheel.crosses),
            *(() if first.doubt is None else (f"{first.doubt.sentence}. {first.doubt.remedy}",)),
            *result.warnings,
        ),
    )


def photo_geometry(
    side: SideMeasurement, stated: StatedSide, wheel: StatedWheel, drilling: Drilling = ORDINARY
) -> SideGeometry | Refusal:
    """Return what the lengths of a measured side are computed from, or what is missing.

    Arguments as in `spoke_lengths`.
    """
    diameter, offset = side.figures.get("flange_diameter"), side.figures.get("spoke_offset")
    if diameter is None or offset is None:
        missing = "flange diameter" if diameter is None else "spoke offset"
        return Refusal(
            reason=f"without the {missing} there is no spoke length",
            remedy=f"See above why the {missing} could not be measured",
        )
    crosses = side.crosses if wheel.crosses is None else wheel.crosses
    if crosses is None:
        return Refusal(
            reason="the crosses are neither stated nor to be read off the gauge's direction",
            remedy="State crosses in [wheel], not counting the crossing inside the boss",
        )
    centre = centre_to_flange(side, stated, wheel)
    if isinstance(centre, Refusal):
        return centre
    return SideGeometry(
        name=stated.name,
        kind=side.kind,
        count=side.boss_count,
        crosses=crosses,
        flange_diameter=_reading(diameter),
        centre_to_flange=_reading(centre),
        spoke_offset=_reading(offset),
        stagger=drilling.stagger,
        covariance=_covariance(side),
        boss_half_height=drilling.boss_half_height,
    )


def crosses_warning(seen: int | None, stated: int | None) -> tuple[str, ...]:
    """Return a sentence if the stated crosses are not those that the hub was drilled for, or nothing."""
    if seen is None or stated is None or seen == stated:
        return ()
    return (
        f"{stated} crosses are stated, but the gauge's direction says that the hub was drilled for {seen}: "
        "the lengths are for the stated ones",
    )


def _covariance(side: SideMeasurement) -> float:
    """Return the covariance of flange diameter and spoke offset, mm^2.

    Where the measurement does not state it: on radial hubs the protrusion begins at the outside diameter, so
    a diameter read too large by e makes the offset too large by e / 2; on paired bosses the offset comes from
    the crossing point, along the spoke, which hardly knows the diameter.
    """
    diameter, offset = side.figures["flange_diameter"], side.figures["spoke_offset"]
    limit = diameter.u * offset.u
    stated: float | None = getattr(side, "diameter_offset_correlation", None)
    if stated is not None:
        return stated * limit
    return min(diameter.u**2 / 2.0, limit) if side.kind == "radial" else 0.0


def centre_to_flange(side: SideMeasurement, stated: StatedSide, wheel: StatedWheel) -> Figure | Refusal:
    """Return w: as stated, else as the photos show it."""
    if stated.centre_to_flange is None:
        return centre_to_flange_seen(side, stated, wheel)
    reading = stated.centre_to_flange
    return _figure(reading.value, (BudgetItem(source="stated", u=reading.u),), "stated")


def centre_to_flange_seen(side: SideMeasurement, stated: StatedSide, wheel: StatedWheel) -> Figure | Refusal:
    """Return w as the photos show it.

    Where both are known the surer of: from end face to end face in the photos; the flange's height less half
    the over-locknut that was read with a caliper.
    """
    seen = side.figures.get("centre_to_flange")
    height = side.figures.get("flange_height")
    if height is None or wheel.over_locknut is None:
        return seen or Refusal(
            reason="centre to flange is not stated and does not follow from the rest",
            remedy=f"State centre_to_flange in [sides.{stated.name}], or over_locknut in [hub]",
        )
    value = height.value - stated.block_thickness - wheel.over_locknut.value / 2.0
    budget = (
        BudgetItem(source="flange height", u=height.u),
        BudgetItem(source="over-locknut", u=wheel.over_locknut.u / 2.0),
        BudgetItem(source="block thickness", u=BLOCK_THICKNESS_U_MM if stated.block_thickness else 0.0),
    )
    by_height = _figure(value, budget, "flange height less half the over-locknut")
    return by_height if seen is None or by_height.u <= seen.u else seen


def _reading(figure: Figure) -> Reading:
    return Reading(figure.value, figure.u)


def _figure(value: float, budget: tuple[BudgetItem, ...], seen: str) -> Figure:
    u = math.hypot(*(item.u for item in budget))
    half = COVERAGE_FACTOR * u
    return Figure(value=value, u=u, low=value - half, high=value + half, budget=budget, seen=seen)


def length_figure(length: SpokeLength, side: SideMeasurement, covariance: float) -> Figure:
    """Return a length as a figure; it inherits the offset's interval shape, and both figures' reasons.

    The word of confidence is that of its own uncertainty, and never better than the offset's.
    """
    diameter, offset = side.figures["flange_diameter"], side.figures["spoke_offset"]
    slope = length.sensitivities.flange_diameter
    photographed = (slope * diameter.u) ** 2 + offset.u**2 + 2.0 * slope * covariance
    rest = COVERAGE_FACTOR**2 * max(length.u**2 - photographed, 0.0)

    def half(offset_half: float) -> float:
        factor = offset_half / offset.u if offset.u > 0.0 else COVERAGE_FACTOR
        return math.sqrt(max(factor**2 * photographed, 0.0) + rest)

    warnings = tuple(dict.fromkeys((*offset.warnings, *diameter.warnings)))
    own = confidence_word(length.u, warned=bool(warnings))
    return Figure(
        value=length.value,
        u=length.u,
        low=length.value - half(offset.value - offset.low),
        high=length.value + half(offset.high - offset.value),
        budget=length.budget,
        seen="from the figures and the stated wheel",
        confidence=min(offset.confidence, own, key=_WORST.index),
        reasons=tuple(dict.fromkeys((*offset.reasons, *diameter.reasons))),
        warnings=warnings,
    )
