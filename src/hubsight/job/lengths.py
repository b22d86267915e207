"""From a side's figures and the stated wheel to its spoke lengths: the bridge to ``hubsight.wheel``."""

from __future__ import annotations

import math

from hubsight.model.figure import Figure, confidence_word
from hubsight.model.refusal import Refusal
from hubsight.model.side import SideMeasurement
from hubsight.model.stated import Reading, SideName, StatedSide, StatedWheel
from hubsight.model.uncertainty import COVERAGE_FACTOR
from hubsight.model.verdict import Reason
from hubsight.wheel import SideGeometry, SpokeLength
from hubsight.wheel.geometry import ORDINARY, Drilling


def photo_geometry(
    side: SideMeasurement, stated: StatedSide, wheel: StatedWheel, drilling: Drilling = ORDINARY
) -> SideGeometry | Refusal:
    """Return what the lengths of a measured side are computed from, or what is missing.

    Parameters
    ----------
    side
        The measurement.
    stated, wheel
        What the job states of this side and of the wheel; the crosses and the centre to flange may be missing
        where the photos give them.
    drilling
        Of rim and flange, where it is not the ordinary one.
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
    centre = centre_to_flange(side, stated)
    if isinstance(centre, Refusal):
        return centre
    return SideGeometry(
        name=stated.name,
        kind=side.kind,
        count=side.boss_count,
        crosses=crosses,
        flange_diameter=diameter.reading,
        centre_to_flange=centre,
        spoke_offset=offset.reading,
        stagger=drilling.stagger,
        covariance=_covariance(side),
        boss_half_height=drilling.boss_half_height,
    )


def crosses_doubt(side: SideName, seen: int | None, stated: int | None) -> tuple[Reason, ...]:
    """Return a reason if the stated crosses are not those that the hub was drilled for, or nothing."""
    if seen is None or stated is None or seen == stated:
        return ()
    words = "cross is" if stated == 1 else "crosses are"
    sentence = (
        f"{stated} {words} stated, but the gauge's direction says that the hub was drilled for {seen}: "
        "the lengths are for the stated ones"
    )
    remedy = "Settle the crosses before ordering; the crossing inside the boss does not count"
    return (Reason(sentence=sentence, remedy=remedy, about=f"sides.{side}.crosses", severity="check"),)


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


def centre_to_flange(side: SideMeasurement, stated: StatedSide) -> Reading | Refusal:
    """Return w: as stated, else as the photos show it."""
    if stated.centre_to_flange is not None:
        return stated.centre_to_flange
    seen = side.figures.get("centre_to_flange")
    return (
        seen.reading
        if seen is not None
        else Refusal(
            reason="centre to flange is not stated and does not follow from the rest",
            remedy=f"State centre_to_flange in [sides.{stated.name}], or over_locknut in [hub]",
        )
    )


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
        confidence=min(offset.confidence, own, key=("poor", "fair", "good").index),
        reasons=tuple(dict.fromkeys((*offset.reasons, *diameter.reasons))),
        warnings=warnings,
    )
