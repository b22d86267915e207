"""A boss pattern that a person placed: how many bosses there are, and where the faces of some of them lie.

Half-way between its two faces a boss has its centreline, and the centrelines of all bosses meet in the hub's
axis, evenly spaced. So the faces of three bosses, on all sides of the hub, make the pattern.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from hubsight.measure.adjust.placed_rim import NO_MATCHES, placed_rim, places, rim_blocks, spread_mm
from hubsight.model.arrays import Array
from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading
from hubsight.scene.boss_shape import BossShape, Face
from hubsight.scene.bosses import CentrelineBlock, RimBlock
from hubsight.scene.pattern_pose import PatternPose
from hubsight.see.bosses.sighting import FACES_ABOVE_GAUGE_MM, LEAST_TANGENT_MM, BossSighting
from hubsight.see.gauge.sighting import GaugeSighting
from hubsight.see.marks import Mark, Marks

LEAST_PLACED_BOSSES = 3
"""Fewest bosses with both faces placed that make a pattern."""
WIDEST_GAP_RAD = np.radians(200.0)
"""Bosses placed on one side of the hub alone leave its axis open."""
FACES_U_MM = 1.5
"""Standard uncertainty of the faces' height above the gauge's axis (common practice, no source)."""
RADIUS_SLACK_MM = 2.5
"""How far apart from the axis marks on faces are placed, boss by boss."""
MISFIT_MM, MISFIT_SIGMAS = 0.6, 5.0
"""A boss whose middle lies further from an even pattern is none of it."""


def placed_bosses(
    marks: Marks, gauges: Sequence[GaugeSighting], faces: Reading | None
) -> BossSighting | Refusal:
    """Make a boss pattern of what was placed.

    Parameters
    ----------
    marks
        With the number of bosses.
    gauges
        That sit in the bosses.
    faces
        Height of the bosses' upper faces, if stated.

    Returns
    -------
    BossSighting or Refusal
        Without matches: nothing of it was seen. A refusal says what is still to be placed, or that the marks
        make no even pattern.
    """
    count, pairs, middles = marks.corrections.bosses, marks.face_pairs(), marks.halfway()
    if count is None:
        raise ValueError("no pattern was placed")
    if not pairs and marks.edge("rim"):
        return placed_rim(marks, gauges[0], faces)
    if len(middles) < LEAST_PLACED_BOSSES:
        return _too_few(len(middles))
    above = float(np.mean(FACES_ABOVE_GAUGE_MM))
    pose = _fit(middles, count, faces or Reading(float(gauges[0].start[2]) + above, FACES_U_MM))
    if isinstance(pose, Refusal):
        return pose
    for trouble in (_uneven(middles, pose), _radial(gauges[0], pose)):
        if trouble is not None:
            return trouble
    widths = [np.linalg.norm(np.subtract(*p.view.at_height(p.pixels, pose.height))) for p in pairs]
    left, right = (Face(side, float(np.mean(widths)) / 2, 0.0, 0.0) for side in (1, -1))
    shape = BossShape(left, right, (0.0,))
    return BossSighting("paired", pose, NO_MATCHES, shape, None, 1.0, by_hand=True)


def _too_few(placed: int) -> Refusal:
    were = "boss was" if placed == 1 else "bosses were"
    return Refusal(
        reason=f"{placed} {were} placed by hand, too few for a pattern",
        remedy=f"Place both faces of {LEAST_PLACED_BOSSES} bosses or more, on all sides of the hub, best of "
        "all in two photos",
    )


def _fit(middles: Sequence[Mark], count: int, height: Reading) -> PatternPose | Refusal:
    """Fit axis, height and phase; the distances from the axis are all but free."""
    centre, radius = _circle(places(middles, height.value))
    offset = places(middles, height.value) - centre
    angle = np.arctan2(offset[:, 1], offset[:, 0])
    phase = float(np.angle(np.mean(np.exp(1j * count * angle)))) / count
    bosses = np.unique(_boss_at(offset, phase, count) % count)
    if len(bosses) < LEAST_PLACED_BOSSES:
        return _too_few(len(bosses))
    if np.diff(np.append(bosses, bosses[0] + count)).max() * 2 * np.pi / count > WIDEST_GAP_RAD:
        return Refusal(
            reason="the bosses placed by hand lie on one side of the hub only",
            remedy="Place both faces of a boss on the other side too",
        )
    u = spread_mm(middles, height.value)

    def misfit(p: Array) -> Array:
        rho, off = _polar(places(middles, p[2]), p[:2], p[3], count)
        return np.concatenate([off / u, (rho - p[4]) / RADIUS_SLACK_MM, [(p[2] - height.value) / height.u]])

    x = least_squares(misfit, [*centre, height.value, phase, radius], x_scale=[1, 1, 1, 0.02, 1]).x
    return PatternPose(x[:2], float(x[2]), np.zeros(2), float(x[3]), count, float(x[4]))


def _boss_at(offset: Array, phase: float, count: int) -> NDArray[np.intp]:
    """Return which boss is nearest to points (N, 2) from the axis."""
    angle = np.arctan2(offset[:, 1], offset[:, 0]) - phase
    return np.asarray(np.rint(angle * count / (2 * np.pi)), dtype=np.intp)


def _circle(points: Array) -> tuple[Array, float]:
    """Centre (2,) and radius of the circle through points (N, 2), by algebraic least squares."""
    design = np.column_stack([2 * points, np.ones(len(points))])
    a, b, c = np.linalg.lstsq(design, np.sum(points**2, axis=1), rcond=None)[0]
    return np.array([a, b]), float(np.sqrt(max(c + a * a + b * b, 1.0)))


def _polar(points: Array, centre: Array, phase: float, count: int) -> tuple[Array, Array]:
    """Distances of points (N, 2) from the axis, and from the nearest centreline to its left, mm."""
    offset = points - centre
    rho = np.hypot(offset[:, 0], offset[:, 1])
    nearest = phase + _boss_at(offset, phase, count) * 2 * np.pi / count
    return rho, rho * np.sin(np.arctan2(offset[:, 1], offset[:, 0]) - nearest)


def _uneven(middles: Sequence[Mark], pose: PatternPose) -> Refusal | None:
    """Refuse marks that do not repeat evenly: a wrong number, or a mark on something else."""
    rho, off = _polar(places(middles, pose.height), pose.centre, pose.phase, pose.count)
    limit = np.maximum(MISFIT_MM, MISFIT_SIGMAS * spread_mm(middles, pose.height))
    if np.all(np.abs(off) < limit) and np.ptp(rho) < 2 * RADIUS_SLACK_MM:
        return None
    return Refusal(
        reason=f"what was placed on the bosses does not repeat evenly for {pose.count} of them",
        remedy="Count the bosses of this flange again, and look at the marks: both faces of one boss, beside "
        "where a spoke passes its middle",
    )


def _radial(gauge: GaugeSighting, pose: PatternPose) -> Refusal | None:
    direction = gauge.line.direction
    across = np.array([-direction[1], direction[0]]) / np.hypot(*direction[:2])
    miss = abs(float((gauge.end[:2] - pose.centre) @ across))
    if miss > LEAST_TANGENT_MM:
        return None
    return Refusal(
        reason=f"the gauge passes the axis of the placed bosses at {miss:.0f} mm, as on a radial hub",
        remedy="Look at the marks on gauge and bosses; on a radial hub place the flange's rim instead",
    )


def pattern_blocks(marks: Marks, bosses: BossSighting) -> list[CentrelineBlock | RimBlock]:
    """Return a placed pattern's marks as observations, one block per photo; none for one that was seen."""
    if marks.corrections.bosses is None:
        return []
    if bosses.kind == "radial":
        return rim_blocks(marks, bosses)
    pose, out = bosses.pose, list[CentrelineBlock | RimBlock]()
    for photo in sorted({m.photo for m in marks.centrelines()}):
        view, own = marks.views[photo], [m for m in marks.centrelines() if m.photo == photo]
        offset = places(own, pose.height) - pose.centre
        boss = _boss_at(offset, pose.phase, pose.count)
        rho, angle = np.hypot(offset[:, 0], offset[:, 1]), pose.phase + boss * 2 * np.pi / pose.count
        outward = np.column_stack([np.cos(angle), np.sin(angle)])
        inner, outer = (
            view.project(np.column_stack([pose.centre + r[:, None] * outward, np.full(len(r), pose.height)]))
            for r in (rho - 1.0, rho + 1.0)
        )
        along = (outer - inner) / np.linalg.norm(outer - inner, axis=1, keepdims=True)
        normals = np.column_stack([-along[:, 1], along[:, 0]])
        pixels, sigma = np.concatenate([m.pixels for m in own]), np.array([m.u_px for m in own])
        out.append(CentrelineBlock(photo, boss, pose.count, rho - pose.radius, pixels, normals, sigma))
    return out
