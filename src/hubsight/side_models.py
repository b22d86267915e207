"""The figures of one flange with their budgets, as models of the adjusted unknowns."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hubsight.adjust.centreline import Centreline
from hubsight.corrections import PLACED
from hubsight.end_figures import Upright, height_figures
from hubsight.figures import Figure
from hubsight.flange import (
    APPEARANCE_U_MM,
    END_SHAPE_U_MM,
    FACE_U_MM,
    ONE_PHOTO_WIDTH_U_MM,
    PLAY_U_MM,
    RIM_INSET_MM,
    RIM_INSET_U_MM,
    SEATING_U_MM,
    WIDTH_U_MM,
    GaugeGeometry,
    Model,
    figure,
    gradient,
)
from hubsight.hub.boss_shape import BossShape, width_along
from hubsight.measurement import FigureName
from hubsight.side_seen import SideGeometry, SideSeen

Array = NDArray[np.float64]

ONE_PHOTO_LOOK_U_MM = 0.08
"""Light and shade on the bosses shift the pattern's centre in one photo (found on rendered hubs)."""
USUAL_MATCH = 0.6
"""Correlation of a boss with the mean boss on well-lit hubs."""
LEAST_WIRE_MM, SEEN_SHARE = 1.8, 0.93
"""Thinnest usual spoke end, and the share of a wire's width that is seen before paper (found on rendered
gauges)."""
SHAPE_DOUBT_U_MM = 0.3
"""How far a lopsided boss' face at the bore lies from its upper edge (found on rendered hubs)."""


def flange_figures(
    seen: SideSeen,
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
    end = ("gauge end's shape", END_SHAPE_U_MM / np.sqrt(n))
    quality = seen.bosses.matches.quality if len(seen.bosses.matches.quality) else np.array([USUAL_MATCH])
    look = APPEARANCE_U_MM * (USUAL_MATCH / max(float(np.median(quality)), 0.2)) ** 3
    if len(seen.files) == 1:
        look = ONE_PHOTO_LOOK_U_MM
    centre = ("look of the bosses", look)
    rim = ("rounding of the rim", RIM_INSET_U_MM if radial else 0.0)
    seating = ("seating", SEATING_U_MM / np.sqrt(n))
    play = ("play in the bore", PLAY_U_MM / np.sqrt(n))
    axis = "boss centreline"
    reach = Model(mean(lambda g: g.reach), (end, centre, rim, (axis, turned(lambda g: g.reach))), how)
    offset = Model(
        lambda x: length - reach.function(x), (*reach.extra, ("gauge length", length_u), seating, play), how
    )
    diameter = Model(
        mean(lambda g: 2 * g.radius),
        (
            ("look of the bosses", 2 * look),
            ("rounding of the rim", 2 * rim[1]),
            (axis, turned(lambda g: 2 * g.radius)),
            ("outline of the wire", 2 * _lost_outline(seen)),
        ),
        how,
    )
    if radial:
        diameter = Model(lambda _: 2 * ((seen.bosses.rim_radius or 0.0) + RIM_INSET_MM), diameter.extra, how)
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
            _width_figures(
                seen, geometry, reach, doubt=line.doubt, length=length, length_u=length_u, names=names
            )
        )
        out["protrusion"] = out["protrusion"].warned(*end_warnings)
    return out


def _lost_outline(seen: SideSeen) -> float:
    """How far an axis may be off, mm, because a bright ground swallows part of the wire's outline."""
    known = seen.side.gauges[0].diameter
    expected = SEEN_SHARE * (known.value if known is not None else LEAST_WIRE_MM)
    return max(0.0, expected - min(g.line.width for g in seen.gauges)) / 2


def _heights(seen: SideSeen, geometry: SideGeometry, names: list[str]) -> dict[FigureName, Figure]:
    return height_figures(
        Upright(
            solution=seen.solution,
            names=names,
            photos=len(seen.files),
            radial=seen.bosses.kind == "radial",
            bores=lambda x: [float(g.crossing[2]) for g in geometry.gauges(x)],
            ends=seen.ends,
            block=seen.side.block_thickness,
        )
    )


@dataclass(frozen=True)
class _Faces:
    """Where the gauges meet the mean boss' faces; ``radius`` is that at which the boss was read, mm."""

    shape: BossShape
    geometry: SideGeometry
    radius: float

    def along(self, x: Array) -> tuple[float, float]:
        """Return the mean distances along the gauges to the face ahead and the face behind."""
        mean = np.mean([self._cut(g, g.outward, g.sideways) for g in self.geometry.gauges(x)], axis=0)
        return float(mean[0]), float(mean[1])

    def across(self, x: Array) -> float:
        """Return the mean distance from face to face square to the centreline."""
        return float(np.mean([sum(self._cut(g, 0.0, 1.0)) for g in self.geometry.gauges(x)]))

    def _cut(self, g: GaugeGeometry, outward: float, sideways: float) -> tuple[float, float]:
        """Return the distances from the crossing point to the face ahead and the face behind.

        The faces are read in the pattern's frame, the direction is in the centreline's.
        """
        c, s = np.cos(self.geometry.angle), np.sin(self.geometry.angle)
        out, side = outward * c - sideways * s, outward * s + sideways * c
        x0, y0 = g.radius * c - self.radius, g.radius * s
        t = y0 / side
        ahead, behind = width_along(self.shape, x0 - t * out, out, side)
        return ahead - t, behind + t


def _width_figures(
    seen: SideSeen,
    geometry: SideGeometry,
    reach: Model,
    *,
    doubt: float,
    length: float,
    length_u: float,
    names: list[str],
) -> dict[FigureName, Figure]:
    shape = seen.bosses.shape
    if shape is None:
        return {}
    solution, boss = seen.solution, _Faces(shape, geometry, seen.bosses.pose.radius)
    faces = boss.along
    placed = seen.placed.along([g.sideways for g in geometry.gauges(solution.x)])
    inset = ("rounding of the faces", FACE_U_MM)
    lopsided = ("lopsided bosses", SHAPE_DOUBT_U_MM * doubt)
    both_in_doubt = shape.left.doubt + shape.right.doubt
    in_doubt = ("views of the faces", both_in_doubt / 2)
    both_faces = (
        ("rounding of the faces", WIDTH_U_MM if len(seen.files) > 1 else ONE_PHOTO_WIDTH_U_MM),
        ("lopsided bosses", SHAPE_DOUBT_U_MM / 2 * doubt),
        ("views of the faces", both_in_doubt),
    )
    width = Model(lambda x: sum(faces(x)), (*both_faces, (PLACED, placed.width)), "faces of the mean boss")
    placed_across = (PLACED, float(np.hypot(seen.placed.left_mm, seen.placed.right_mm)))
    width_across = Model(
        boss.across, (*both_faces, placed_across), "faces of the mean boss, square to the centreline"
    )
    protrusion = Model(
        lambda x: reach.function(x) - faces(x)[0],
        (*reach.extra[:2], inset, in_doubt, lopsided, (PLACED, placed.ahead)),
        "end and face of the boss",
    )
    by_width = Model(
        lambda x: length - reach.function(x) + (faces(x)[0] - faces(x)[1]) / 2,
        (*reach.extra[:2], inset, in_doubt, lopsided, ("gauge length", length_u), (PLACED, placed.width / 2)),
        "gauge length minus protrusion minus half the boss width",
    )
    return {
        "boss_width": figure(width, solution, names),
        "boss_width_across": figure(width_across, solution, names),
        "protrusion": figure(protrusion, solution, names),
        "spoke_offset_by_width": figure(by_width, solution, names),
    }


def diameter_offset_correlation(
    seen: SideSeen, geometry: SideGeometry, figures: dict[FigureName, Figure]
) -> float | None:
    """Correlation of flange diameter and offset, which come from the same adjustment."""
    solution = seen.solution
    sigma = np.sqrt(np.maximum(np.diag(solution.covariance), 0.0))
    mask = np.zeros_like(sigma)
    for name in [f"gauge{k}" for k in range(len(seen.gauges))] + ["pattern"]:
        mask[solution.layout[name]] = sigma[solution.layout[name]]
    d, o = figures["flange_diameter"], figures["spoke_offset"]
    if seen.bosses.kind == "radial":
        # The rim's place moves half the diameter and the reach alike.
        shared = 2 * RIM_INSET_U_MM**2
        return float(np.clip(shared / (d.u * o.u), -1, 1))
    by_d = gradient(lambda x: float(np.mean([2 * g.radius for g in geometry.gauges(x)])), solution.x, mask)
    by_o = gradient(lambda x: -float(np.mean([g.reach for g in geometry.gauges(x)])), solution.x, mask)
    return float(np.clip(by_d @ solution.covariance @ by_o / (d.u * o.u), -1, 1))
