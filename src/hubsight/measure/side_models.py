"""The figures of one flange with their budgets, as models of the adjusted unknowns."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from hubsight.measure.adjust.centreline import Centreline
from hubsight.measure.boss_figures import boss_figures
from hubsight.measure.flange import (
    APPEARANCE_U_MM,
    END_SHAPE_U_MM,
    RIM_INSET_U_MM,
    SEATING_U_MM,
    SEEN_SHARE,
    GaugeGeometry,
    Model,
    SideGeometry,
    figure,
    gauge_of,
    gradient,
)
from hubsight.measure.gauge_lift import droop_deg, droop_u, play_u
from hubsight.measure.heights import Upright, height_figures
from hubsight.measure.sightings import Sightings
from hubsight.model.arrays import Array
from hubsight.model.corrections import PLACED
from hubsight.model.figure import Figure
from hubsight.model.side import FigureName
from hubsight.model.stated import ZERO
from hubsight.scene.pattern_pose import hub_frame
from hubsight.target.lift import sheet_lift

ONE_PHOTO_LOOK_U_MM = 0.08
"""Light and shade on the bosses shift the pattern's centre in one photo (found on rendered hubs)."""
USUAL_MATCH = 0.6
"""Correlation of a boss with the mean boss on well-lit hubs."""
LEAST_WIRE_MM = 1.8
"""Thinnest usual spoke end (common practice, no source)."""


def flange_figures(
    seen: Sightings,
    geometry: SideGeometry,
    line: Centreline,
    *,
    centreline_warnings: list[str],
    end_warnings: list[str],
) -> dict[FigureName, Figure]:
    """Return the side's figures; the warnings go with those that rest on centreline or end."""
    offset_warnings = [*centreline_warnings, *end_warnings]
    solution, gauges = seen.solution, seen.side.gauges
    names = [f"gauge{k}" for k in range(len(gauges))] + ["pattern"]
    length = float(np.mean([g.length.value for g in gauges]))
    length_u = float(np.sqrt(np.sum([g.length.u**2 for g in gauges])) / len(gauges))
    n = len(gauges)
    how = f"{len(seen.files)} photo{'s' if len(seen.files) > 1 else ''}"

    def mean(pick: Callable[[GaugeGeometry], float]) -> Callable[[Array], float]:
        return lambda x: float(np.mean([pick(g) for g in geometry.gauges(x)]))

    def turned(pick: Callable[[GaugeGeometry], float]) -> float:
        """Share of the centreline's uncertainty in a figure."""
        a, b = (
            np.mean([pick(g) for g in geometry.gauges(solution.x, line.angle + e)]) for e in (-0.01, 0.01)
        )
        return float(abs(b - a) / 0.02 * line.u)

    radial = seen.bosses.kind == "radial"
    end = ("gauge end's shape", float(np.linalg.norm([END_SHAPE_U_MM[g.tip] for g in gauges])) / n)
    quality = seen.bosses.matches.quality if len(seen.bosses.matches.quality) else np.array([USUAL_MATCH])
    look = APPEARANCE_U_MM * (USUAL_MATCH / max(float(np.median(quality)), 0.2)) ** 3
    if len(seen.files) == 1:
        look = ONE_PHOTO_LOOK_U_MM
    centre = ("look of the bosses", look)
    rim = ("rounding of the rim", RIM_INSET_U_MM if radial else 0.0)
    rim_placed = [(PLACED, seen.placed.rim_mm)] if seen.placed.rim_mm else []
    seating = ("seating", SEATING_U_MM / np.sqrt(n))
    play = ("play in the bore", float(np.linalg.norm([play_u(g) for g in gauges])) / n)
    droop = ("drooping gauge", float(np.linalg.norm([droop_u(one) for one in droops(seen)])) / n)
    axis = "boss centreline"
    reach = Model(
        mean(lambda g: g.reach), (end, centre, rim, *rim_placed, (axis, turned(lambda g: g.reach))), how
    )
    offset = Model(
        lambda x: length - reach.function(x),
        (*reach.extra, ("gauge length", length_u), seating, play, droop),
        how,
    )
    diameter = Model(
        mean(lambda g: 2 * g.radius),
        (
            ("look of the bosses", 2 * look),
            ("rounding of the rim", 2 * rim[1]),
            *((source, 2 * u) for source, u in rim_placed),
            (axis, turned(lambda g: 2 * g.radius)),
            ("outline of the wire", 2 * _lost_outline(seen)),
        ),
        how,
    )
    if radial:
        diameter = Model(lambda x: 2 * geometry.rim(x), diameter.extra, how)
    out: dict[FigureName, Figure] = {
        "flange_diameter": figure(diameter, solution, names),
        "spoke_offset": figure(offset, solution, names, offset_warnings),
        "reach": figure(reach, solution, names, offset_warnings),
        **_heights(seen, geometry, names),
    }
    if radial:
        out["protrusion"] = out["reach"]
    else:
        out.update(
            boss_figures(
                seen, geometry, reach, doubt=line.doubt, length=length, length_u=length_u, names=names
            )
        )
        out["protrusion"] = out["protrusion"].warned(*end_warnings)
    return out


def droops(seen: Sightings) -> list[float]:
    """Return by how much each gauge points down more steeply than any bore, degrees."""
    solution = seen.solution
    _, axis, _, _ = hub_frame(solution["pattern"], 0.0)
    return [
        droop_deg(gauge_of(solution, solution.x, f"gauge{k}", reference)[1], axis)
        for k, reference in enumerate(seen.adjusted.references)
    ]


def _lost_outline(seen: Sightings) -> float:
    """How far an axis may be off, mm, because a bright ground swallows part of the wire's outline."""
    known = seen.side.gauges[0].diameter
    expected = SEEN_SHARE * (known.value if known is not None else LEAST_WIRE_MM)
    return max(0.0, expected - min(g.line.width for g in seen.gauges)) / 2


def _heights(seen: Sightings, geometry: SideGeometry, names: list[str]) -> dict[FigureName, Figure]:
    def bore(k: int) -> Callable[[Array], float]:
        return lambda x: float(geometry.gauges(x)[k].crossing[2])

    bores = [bore(k) for k in range(len(seen.gauges))]
    solution = seen.solution
    return height_figures(
        Upright(
            solution=solution,
            names=names,
            photos=len(seen.files),
            radial=seen.bosses.kind == "radial",
            bores=lambda x: [height(x) for height in bores],
            bores_u=[figure(Model(height), solution, names).u for height in bores],
            ends=seen.marked_ends,
            block=seen.side.block_thickness,
            # The heights on which one photo rests were measured from the table.
            lift=ZERO
            if len(seen.files) == 1
            else sheet_lift(solution, seen.targets[0].geometry.saddles, solution["pattern"][:2]),
        )
    )


def diameter_offset_correlation(
    seen: Sightings, geometry: SideGeometry, figures: dict[FigureName, Figure]
) -> float | None:
    """Correlation of flange diameter and offset, which come from the same adjustment."""
    solution = seen.solution
    sigma = np.sqrt(np.maximum(np.diag(solution.covariance), 0.0))
    mask = np.zeros_like(sigma)
    for name in [f"gauge{k}" for k in range(len(seen.gauges))] + ["pattern"]:
        mask[solution.layout[name]] = sigma[solution.layout[name]]
    d, o = figures["flange_diameter"], figures["spoke_offset"]
    # A radial rim's place on its rounding moves half the diameter and the offset alike.
    shared = 2 * RIM_INSET_U_MM**2 if seen.bosses.kind == "radial" else 0.0
    by_d = gradient(lambda x: float(np.mean([2 * g.radius for g in geometry.gauges(x)])), solution.x, mask)
    by_o = gradient(lambda x: -float(np.mean([g.reach for g in geometry.gauges(x)])), solution.x, mask)
    return float(np.clip((by_d @ solution.covariance @ by_o + shared) / (d.u * o.u), -1, 1))
