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
    SeenEdge,
)
from hubsight.scene.bosses import PatternBlock
from hubsight.scene.gauge import GaugeEndBlock
from hubsight.scene.pattern_pose import PatternPose
from hubsight.see.bosses.sighting import BossSighting
from hubsight.see.turned.end_face import EndFace
from hubsight.see.turned.rings import Ring
from hubsight.target.find import TargetSighting

LINE_POINTS = 24
"""Points of a drawn line."""
OUTER_EDGE_MM, INNER_EDGE_MM = 3.2, -2.0
"""Outer and inner end of the drawn boss outline from the crossing point's radius."""
AROUND = np.radians(np.arange(0.0, 360.0, 3.0))
"""Directions about the axis in which a turned edge is asked for, rad; more are slower."""
EVERY = 2
"""Of the directions in which an end face's edge was looked for, those whose points are kept."""
ON_EDGE = 0.6
"""Farthest that an edge was seen from a point of its circle, as a share of the points' distance; raising it
calls more of the circle seen."""


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
    end_face: EndFace | None = None,
    blocks: Sequence[object] = (),
    beside: Sequence[Array] = (),
) -> tuple[PhotoEvidence, ...]:
    """Project the adjusted sheet, gauges, bosses and end face into every photo.

    ``rims`` are per gauge and photo the vectors from the end's centre to the rim point that makes its
    outline; ``blocks`` are what the photos themselves show; ``beside`` are start and end of gauges that
    nobody stated.
    """
    p = solution["pattern"]
    pose = PatternPose.of_unknowns(p, bosses.pose.count)
    out = []
    for k, (file, size, sighting) in enumerate(zip(files, sizes, sightings, strict=True)):
        view = view_in(solution, k)
        corners = saddles(solution, view, sighting)
        seats = np.array([e - length * d for (e, d), length in zip(gauges, lengths, strict=True)])
        out.append(
            PhotoEvidence(
                file=file,
                width=size[0],
                height=size[1],
                used=True,
                focal_px=view.focal,
                residual_px=float(np.sqrt(np.mean([np.square(s.residual) for s in corners if s.used]))),
                saddles=corners,
                gauges=tuple(
                    pixels(view, end - np.linspace(length, 0, LINE_POINTS)[:, None] * d)
                    for (end, d), length in zip(gauges, lengths, strict=True)
                ),
                other_gauges=tuple(pixels(view, _along(*other)) for other in beside),
                gauge_ends=pixels(view, np.array([end for end, _ in gauges])),
                gauge_end_outlines=pixels(
                    view,
                    np.array([_outline(end, rim[k]) for (end, _), rim in zip(gauges, rims, strict=True)]),
                ),
                seats=pixels(view, seats),
                crossing_points=pixels(view, np.array([g.crossing for g in geometry])),
                boss_outlines=tuple(pixels(view, o) for o in _outlines(pose, bosses)),
                centrelines=_centrelines(view, pose, centreline) if bosses.kind == "paired" else (),
                axis=pixels(view, np.array([[p[0], p[1], p[2]]]))[0],
                ends_seen=tuple(_end_seen(blocks, f"gauge{g}", k) for g in range(len(gauges))),
                bosses_seen=_bosses_seen(blocks, bosses, k),
                edges=() if end_face is None else tuple(_ring_edge(view, r, k) for r in end_face.rings),
            )
        )
    return tuple(out)


def _along(start: Array, end: Array) -> Array:
    """Return points (N, 3) from a gauge's start to its end."""
    return start + np.linspace(0.0, 1.0, LINE_POINTS)[:, None] * (end - start)


def _end_seen(blocks: Sequence[object], gauge: str, photo: int) -> Pixel | None:
    """Return where a photo shows a gauge's end; a mark by hand counts before what was seen."""
    own = [b for b in blocks if isinstance(b, GaugeEndBlock) and (b.gauge, b.photo) == (gauge, photo)]
    return (float(own[-1].pixel[0]), float(own[-1].pixel[1])) if own else None


def _bosses_seen(blocks: Sequence[object], bosses: BossSighting, photo: int) -> tuple[int, ...] | None:
    """Return which bosses were found in a photo; None where they are not found one by one."""
    if bosses.shape is None or bosses.by_hand:
        return None
    own = [b.bosses for b in blocks if isinstance(b, PatternBlock) and b.photo == photo]
    return tuple(sorted({int(boss) for found in own for boss in found}))


def _ring_edge(view: View, ring: Ring, photo: int) -> SeenEdge:
    """Return a turned edge in a photo: its whole circle, and where on it the edge was found there."""
    circle = view.project(ring.points(AROUND))
    step = np.median(np.linalg.norm(np.diff(circle, axis=0), axis=1))
    found = ring.pixels[photo] if photo < len(ring.pixels) else np.empty((0, 2))
    off = np.linalg.norm(circle[:, None] - found[None], axis=2).min(1, initial=np.inf)
    kept = [*range(0, len(circle), EVERY), 0]
    return SeenEdge(
        kind="end_face",
        points=tuple((float(u), float(v)) for u, v in circle[kept]),
        seen=tuple(bool(miss < ON_EDGE * step) for miss in off[kept]),
    )


def _outline(end: Array, rim: Array | None) -> Array:
    return end if rim is None else end + rim


def pixels(view: View, points: Array) -> tuple[Pixel, ...]:
    """Return where points (N, 3) of the target frame lie in a photo."""
    return tuple((float(u), float(v)) for u, v in view.project(points))


def saddles(solution: Solution, view: View, sighting: TargetSighting) -> tuple[SaddleEvidence, ...]:
    """Return a photo's target corners with what the adjustment leaves of them."""
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
        a, b = pixels(view, pose.to_target(k, rho * np.cos(angle) - pose.radius, rho * np.sin(angle)))
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
