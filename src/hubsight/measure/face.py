"""The adjusted side as it is drawn and recorded: the flange seen along its axis, the camera, the print."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from hubsight.estimate.problem import Solution
from hubsight.measure.evidence import INNER_EDGE_MM, LINE_POINTS, OUTER_EDGE_MM
from hubsight.measure.flange import GaugeGeometry
from hubsight.model.side import AdjustedCamera, FaceGauge, FaceGeometry, PrintScale
from hubsight.see.bosses.sighting import BossSighting

Array = NDArray[np.float64]


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
        boss_outline=_outline(bosses, radius, centreline),
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


def _outline(bosses: BossSighting, radius: float, centreline: float) -> tuple[tuple[float, float], ...]:
    """Return the mean boss' outline as `hubsight.evidence` shows it; empty on radial hubs."""
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
