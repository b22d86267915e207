"""A radial flange that a person placed: points of its rim, and how many bores it has."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.optimize import least_squares

from hubsight.model.arrays import Array
from hubsight.model.corrections import LEAST_BORES
from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading
from hubsight.scene.bosses import CentrelineBlock, RimBlock
from hubsight.scene.pattern_pose import Matches, PatternPose
from hubsight.see.bosses.sighting import FACES_ABOVE_GAUGE_MM, LEAST_TANGENT_MM, BossSighting
from hubsight.see.gauge.sighting import GaugeSighting
from hubsight.see.marks import Mark, Marks

LEAST_RIM_POINTS = 4
"""Points of a rim that make a circle; raising it asks for more."""
WIDEST_GAP_RAD = np.radians(170.0)
"""Gap between neighbouring points from which they lie on one side of the hub; raising it bears more lopsided
ones."""
RIM_HEIGHT_U_MM = 1.5
"""Standard uncertainty of the rim's height above the gauge's axis, mm (common practice, no source)."""
MISFIT_SIGMAS, MISFIT_MM = 5.0, 0.6
"""Distance from the circle from which a point is on something else; raising them bears more."""
NO_MATCHES = Matches(np.empty(0, np.intp), np.empty(0, np.intp), np.empty((0, 2)), np.empty(0))
"""Of bosses that no photo was searched for."""


def placed_rim(marks: Marks, gauge: GaugeSighting, height: Reading | None) -> BossSighting | Refusal:
    """Return a radial flange made of what was placed.

    Parameters
    ----------
    marks
        With the number of bores.
    gauge
        That sits in one of them.
    height
        Of the flange's upper edges, if stated.

    Returns
    -------
    BossSighting or Refusal
        Without matches: nothing of it was seen. A refusal says what is still to be placed.
    """
    points, count = marks.edge("rim"), marks.corrections.bosses
    if count is None or count < LEAST_BORES:
        return Refusal(
            reason="the flange's rim was placed by hand, but not how many bores it has",
            remedy="Place the rim again, and type the number of bores",
        )
    if len(points) < LEAST_RIM_POINTS:
        return _too_few(len(points))
    level = height or Reading(float(gauge.start[2] + np.mean(FACES_ABOVE_GAUGE_MM)), RIM_HEIGHT_U_MM)
    centre, at, radius = _fit(points, level)
    offset = places(points, at) - centre
    angles = np.sort(np.arctan2(offset[:, 1], offset[:, 0]))
    if np.diff(np.append(angles, angles[0] + 2 * np.pi)).max() > WIDEST_GAP_RAD:
        return Refusal(
            reason="the points of the rim placed by hand lie on one side of the hub only",
            remedy="Place points on the other side too",
        )
    off = np.abs(np.hypot(*offset.T) - radius)
    if np.any(off > np.maximum(MISFIT_MM, MISFIT_SIGMAS * spread_mm(points, at))):
        return Refusal(
            reason="the points of the rim placed by hand lie on no circle",
            remedy="Look at the marks: all of them belong on the upper outer edge of the same flange",
        )
    direction = gauge.line.direction
    across = np.array([-direction[1], direction[0]]) / np.hypot(*direction[:2])
    if abs(float((gauge.end[:2] - centre) @ across)) > LEAST_TANGENT_MM:
        return Refusal(
            reason="the gauge does not point away from the middle of the rim placed by hand",
            remedy="Look at the marks on gauge and rim; on a hub with bosses place those instead",
        )
    phase = float(np.arctan2(direction[1], direction[0]))
    pose = PatternPose(centre, at, np.zeros(2), phase, count, radius)
    return BossSighting("radial", pose, NO_MATCHES, None, radius, 1.0, by_hand=True)


def _too_few(placed: int) -> Refusal:
    were = "point was" if placed == 1 else "points were"
    return Refusal(
        reason=f"{placed} {were} placed on the flange's rim, too few for a circle",
        remedy=f"Place {LEAST_RIM_POINTS} points or more, on all sides of the hub, best of all in two photos",
    )


def _fit(points: Sequence[Mark], height: Reading) -> tuple[Array, float, float]:
    """Return centre, height and radius of the level circle through the points, mm."""
    start = places(points, height.value)
    centre = start.mean(0)
    radius = float(np.mean(np.hypot(*(start - centre).T)))
    u = spread_mm(points, height.value)

    def misfit(p: Array) -> Array:
        far = np.hypot(*(places(points, p[2]) - p[:2]).T)
        return np.append((far - p[3]) / u, (p[2] - height.value) / height.u)

    x = least_squares(misfit, [*centre, height.value, radius]).x
    return x[:2], float(x[2]), float(x[3])


def places(points: Sequence[Mark], height: float) -> Array:
    """Return the points (N, 2) of the sheet's plane above which marks are, at a height."""
    return np.array([m.view.at_height(m.pixels, height)[0, :2] for m in points])


def spread_mm(points: Sequence[Mark], height: float) -> Array:
    """Return the marks' standard uncertainties (N,), mm at a height."""
    at = [m.view.at_height(m.pixels, height)[0] for m in points]
    depth = [(p - m.view.position) @ m.view.rotation[2] for p, m in zip(at, points, strict=True)]
    return np.array([m.u_px * d / m.view.focal for m, d in zip(points, depth, strict=True)])


def rim_blocks(marks: Marks, flange: BossSighting) -> list[CentrelineBlock | RimBlock]:
    """Return a placed rim's points as observations, one block per photo."""
    pose, out = flange.pose, list[CentrelineBlock | RimBlock]()
    points = marks.edge("rim")
    for photo in sorted({m.photo for m in points}):
        view, own = marks.views[photo], [m for m in points if m.photo == photo]
        offset = places(own, pose.height) - pose.centre
        angles = np.arctan2(offset[:, 1], offset[:, 0])
        before, after = (
            view.project(
                np.column_stack(
                    [
                        pose.centre + pose.radius * np.column_stack([np.cos(a), np.sin(a)]),
                        np.full(len(a), pose.height),
                    ]
                )
            )
            for a in (angles - 0.02, angles + 0.02)
        )
        along = (after - before) / np.linalg.norm(after - before, axis=1, keepdims=True)
        normals = np.column_stack([-along[:, 1], along[:, 0]])
        pixels, sigma = np.concatenate([m.pixels for m in own]), np.array([m.u_px for m in own])
        out.append(RimBlock(photo, angles, pixels, normals, sigma))
    return out
