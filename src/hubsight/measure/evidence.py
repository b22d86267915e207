"""The adjusted side as it is drawn and recorded: what each photo shows, the flange, the camera, the print."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hubsight.camera import View
from hubsight.camera.observe import view_in
from hubsight.estimate.problem import Solution
from hubsight.measure.flange import GaugeGeometry
from hubsight.model.arrays import Array
from hubsight.model.side import (
    AdjustedCamera,
    FaceGauge,
    FaceGeometry,
    PhotoEvidence,
    Pixel,
    PrintScale,
    SaddleEvidence,
)
from hubsight.scene.pattern_pose import PatternPose
from hubsight.see.bosses.sighting import BossSighting
from hubsight.target.find import TargetSighting

LINE_POINTS = 24
OUTER_EDGE_MM, INNER_EDGE_MM = 3.2, -2.0
"""Outer and inner end of the drawn boss outline from the crossing point's radius."""


def photo_evidence(
    solution: Solution,
    *,
    files: Sequence[str],
    sizes: Sequence[tuple[int, int]],
    sightings: Sequence[TargetSighting],
    bosses: BossSighting,
    geometry: Sequence[GaugeGeometry],
    gauges: Sequence[tuple[Array, Array]],
    rims: Sequence[Sequence[Array | None]],
    lengths: Sequence[float],
    centreline: float,
) -> tuple[PhotoEvidence, ...]:
    """Project the adjusted sheet, gauges and bosses into every photo.

    ``rims`` are per gauge and photo the vectors from the end's centre to the rim point that makes its
    outline.
    """
    p = solution["pattern"]
    pose = PatternPose.of_unknowns(p, bosses.pose.count)
    out = []
    for k, (file, size, sighting) in enumerate(zip(files, sizes, sightings, strict=True)):
        view = view_in(solution, k)
        saddles = _saddles(solution, view, sighting)
        seats = np.array([e - length * d for (e, d), length in zip(gauges, lengths, strict=True)])
        out.append(
            PhotoEvidence(
                file=file,
                width=size[0],
                height=size[1],
                used=True,
                focal_px=view.focal,
                residual_px=float(np.sqrt(np.mean([np.square(s.residual) for s in saddles if s.used]))),
                saddles=saddles,
                gauges=tuple(
                    _pixels(view, end - np.linspace(length, 0, LINE_POINTS)[:, None] * d)
                    for (end, d), length in zip(gauges, lengths, strict=True)
                ),
                gauge_ends=_pixels(view, np.array([end for end, _ in gauges])),
                gauge_end_outlines=_pixels(
                    view,
                    np.array([_outline(end, rim[k]) for (end, _), rim in zip(gauges, rims, strict=True)]),
                ),
                seats=_pixels(view, seats),
                crossing_points=_pixels(view, np.array([g.crossing for g in geometry])),
                boss_outlines=tuple(_pixels(view, o) for o in _outlines(pose, bosses)),
                centrelines=_centrelines(view, pose, centreline) if bosses.kind == "paired" else (),
                axis=_pixels(view, np.array([[p[0], p[1], p[2]]]))[0],
            )
        )
    return tuple(out)


def _outline(end: Array, rim: Array | None) -> Array:
    return end if rim is None else end + rim


def _pixels(view: View, points: Array) -> tuple[Pixel, ...]:
    return tuple((float(u), float(v)) for u, v in view.project(points))


def _saddles(solution: Solution, view: View, sighting: TargetSighting) -> tuple[SaddleEvidence, ...]:
    points = np.column_stack([sighting.nominal * solution["scale"], solution["paper"][sighting.index]])
    residual = sighting.pixels - view.project(points)
    size = np.linalg.norm(residual, axis=1)
    used = size < max(6 * float(np.median(size)), 0.3)
    return tuple(
        SaddleEvidence(pixel=(float(p[0]), float(p[1])), residual=(float(r[0]), float(r[1])), used=bool(u))
        for p, r, u in zip(sighting.pixels, residual, used, strict=True)
    )


def _outlines(pose: PatternPose, bosses: BossSighting) -> list[Array]:
    """Return the closed outline of every boss' upper face; for radial hubs the flange's rim."""
    if bosses.shape is None:
        a = np.linspace(0, 2 * np.pi, 4 * LINE_POINTS)
        r = bosses.rim_radius or pose.radius
        ring = np.stack(
            [pose.centre[0] + r * np.cos(a), pose.centre[1] + r * np.sin(a), np.full(len(a), pose.height)], -1
        )
        return [ring]
    x = np.linspace(INNER_EDGE_MM, OUTER_EDGE_MM, LINE_POINTS // 2)
    xs = np.concatenate([x, x[::-1], x[:1]])
    ys = np.concatenate([bosses.shape.left.y(x), bosses.shape.right.y(x[::-1]), bosses.shape.left.y(x[:1])])
    return [pose.to_target(k, xs, ys) for k in range(pose.count)]


def _centrelines(view: View, pose: PatternPose, angle: float) -> tuple[tuple[Pixel, Pixel], ...]:
    rho = np.array([pose.radius - 8.0, pose.radius + 6.0])
    out = []
    for k in range(pose.count):
        a, b = _pixels(view, pose.to_target(k, rho * np.cos(angle) - pose.radius, rho * np.sin(angle)))
        out.append((a, b))
    return tuple(out)


def face_geometry(
    solution: Solution,
    bosses: BossSighting,
    gauges: Sequence[GaugeGeometry],
    *,
    at_boss: Sequence[int],
    lengths: Sequence[float],
    centreline: float,
) -> FaceGeometry:
    """Return the flange with its gauges, seen from above along the hub axis.

    Parameters
    ----------
    solution, bosses, gauges
        As adjusted.
    at_boss
        Number of the boss that each gauge is in.
    lengths
        Of the gauges, mm.
    centreline
        Angle of a boss' centreline in the pattern's frame, rad.
    """
    radius = float(solution["pattern"][5])
    return FaceGeometry(
        boss_outline=_mean_outline(bosses, radius, centreline),
        rim_radius=bosses.rim_radius,
        gauges=tuple(
            FaceGauge(
                boss=(boss - at_boss[0]) % bosses.pose.count,
                radius=gauge.radius,
                outward=gauge.outward,
                sideways=gauge.sideways,
                reach=gauge.reach,
                length=length,
            )
            for gauge, boss, length in zip(gauges, at_boss, lengths, strict=True)
        ),
    )


def _mean_outline(bosses: BossSighting, radius: float, centreline: float) -> tuple[tuple[float, float], ...]:
    """Return the mean boss' outline as the overlays show it; empty on radial hubs."""
    if bosses.shape is None:
        return ()
    x = np.linspace(INNER_EDGE_MM, OUTER_EDGE_MM, LINE_POINTS // 2)
    left, right = bosses.shape.left.y(x), bosses.shape.right.y(x[::-1])
    out, across = radius + np.concatenate([x, x[::-1]]), np.concatenate([left, right])
    cos, sin = np.cos(centreline), np.sin(centreline)
    return tuple(
        (float(a), float(b)) for a, b in zip(cos * out + sin * across, cos * across - sin * out, strict=True)
    )


def adjusted_camera(solution: Solution) -> AdjustedCamera:
    """Return the camera that the photos share, as adjusted."""
    where = solution.layout["camera"]
    camera = solution.x[where]
    u = np.sqrt(np.diag(solution.covariance)[where])
    return AdjustedCamera(
        focal_px=float(camera[0]),
        focal_u_px=float(u[0]),
        principal_point_px=(float(camera[1]), float(camera[2])),
        distortion=tuple(float(value) for value in camera[3:8]),
    )


def adjusted_print_scale(solution: Solution) -> PrintScale:
    """Return the print's scale, as adjusted."""
    where = solution.layout["scale"]
    (x, y), (x_u, y_u) = solution.x[where], np.sqrt(np.diag(solution.covariance)[where])
    return PrintScale(x=float(x), x_u=float(x_u), y=float(y), y_u=float(y_u))
