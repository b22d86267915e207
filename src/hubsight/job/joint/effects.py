"""What errors of readings and figures do to the spoke lengths, by the figures that the lengths rest on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from hubsight.job.centre import BY_HEIGHT
from hubsight.job.file.load import JobSide
from hubsight.job.joint.gauss import System
from hubsight.job.joint.observe import mean_gauge
from hubsight.job.lengths import centre_to_flange
from hubsight.model.refusal import Refusal
from hubsight.model.result import MeasuredSide
from hubsight.model.side import SideMeasurement
from hubsight.model.stated import SideName
from hubsight.wheel.crosses import USUAL_ERD
from hubsight.wheel.lacing import even_alpha
from hubsight.wheel.length import Sensitivities, sensitivities

Array = NDArray[np.float64]


def length_errors(system: System, sides: Sequence[tuple[JobSide, MeasuredSide]]) -> dict[SideName, Array]:
    """Return per side the derivatives (n,) of its spoke length by the errors of the observations."""
    out: dict[SideName, Array] = {}
    for stated, side in sides:
        if side.measurement is not None and "flange_diameter" in side.measurement.figures:
            out[side.name] = _of_side(system, stated, side.measurement)
    return out


def slopes_of(stated: JobSide, seen: SideMeasurement) -> Sensitivities:
    """Return the derivatives of a side's spoke length; a usual rim and crosses where none are known."""
    crosses = stated.wheel.crosses if stated.wheel.crosses is not None else seen.crosses
    alpha = even_alpha(seen.kind, seen.boss_count, 2 if crosses is None else crosses)
    erd = USUAL_ERD.value if stated.wheel.erd is None else stated.wheel.erd.value
    centre = centre_to_flange(seen, stated.stated)
    w = 0.0 if isinstance(centre, Refusal) else centre.value
    return sensitivities(erd, seen.figures["flange_diameter"].value, w, alpha)


def exchanged(
    stated: Mapping[SideName, JobSide], seen: Mapping[SideName, SideMeasurement]
) -> dict[SideName, float]:
    """Return what exchanging the photos of both sides adds to the length of each."""
    out: dict[SideName, float] = {}
    for name, own in seen.items():
        other = next((one for side, one in seen.items() if side != name), None)
        if other is None or "flange_diameter" not in own.figures:
            continue
        slopes = slopes_of(stated[name], own)
        parts = (
            (slopes.flange_diameter, "flange_diameter"),
            (slopes.spoke_offset, "spoke_offset"),
            (slopes.centre_to_flange, "centre_to_flange"),
        )
        out[name] = sum(
            slope * (other.figures[key].value - own.figures[key].value)
            for slope, key in parts
            if key in own.figures and key in other.figures
        )
    return out


def _of_side(system: System, stated: JobSide, seen: SideMeasurement) -> Array:
    """Length error: d's, that of the gauge less the reach, and that of centre to flange as it is used."""
    slopes, name = slopes_of(stated, seen), stated.stated.name
    photos = f"{name}.photos."
    parts = {
        photos + "flange_diameter": slopes.flange_diameter,
        photos + "reach": -slopes.spoke_offset,
        **{gauge: slope * slopes.spoke_offset for gauge, slope in mean_gauge(stated.stated.gauges).items()},
        **{key: slope * slopes.centre_to_flange for key, slope in _centre(stated, seen).items()},
    }
    out = np.zeros(len(system.observations))
    for key, slope in parts.items():
        if key in system.index:
            out[system.index[key]] += slope
    return out


def _centre(stated: JobSide, seen: SideMeasurement) -> dict[str, float]:
    """Return on which observations the centre to flange rests that a side's lengths are computed with."""
    name = stated.stated.name
    if stated.stated.centre_to_flange is not None:
        return {f"{name}.caliper.centre_to_flange": 1.0}
    height, block = f"{name}.photos.flange_height", f"{name}.block_thickness"
    used = seen.figures.get("centre_to_flange")
    if used is not None and used.seen == BY_HEIGHT:
        return {height: 1.0, block: -1.0, "hub.over_locknut": -0.5}
    return {height: 1.0, block: -0.5, f"{name}.photos.end_face": -0.5}
