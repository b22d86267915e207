"""See the gauge's axis: both edges of the wire, found together, block by block along it.

A block is a few millimetres of the wire in one photo, averaged along it. Its edges are the pair of steps one
wire's width apart that is strongest; the width is one number for the whole set, and the widest pair that is
nearly as good as the best wins, because streaks of light on bright wire lie inside its outline.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import gaussian_filter1d

from hubsight.camera import View, project_with_derivatives
from hubsight.estimate.robust import CAUCHY_SIGMAS, FromMedian, Known, robust_fit
from hubsight.model.arrays import Array, Indices, Picture
from hubsight.scene.gauge import gauge_line, perpendiculars
from hubsight.see.peak import sub_step
from hubsight.see.ribbon import STEP_MM, Ribbon, unroll

WIDTH_RANGE_MM = (1.5, 2.7)
"""Wire diameters of spokes, with room for blur and for edges that mirror the paper, mm; a lower start takes
in two streaks of light on a bright wire (common practice, no source)."""
EDGE_BLUR_MM = 0.07
"""Blur across the wire before edges are taken, mm; raising it lessens noise and parts near edges less."""
WIDER_SHARES = (0.82, 0.65)
"""Share of the best score at which a wider pair of edges wins, at first and once the axis is known; raising
them takes streaks inside the wire for its edges more often."""
ALIGNED_MM = 0.4
"""Distance of the axis from the rough line from which it counts as known, mm; raising it lets chance pairs
score."""
LEAST_POINTS_PER_PHOTO = 4
"""Axis points that photos show at least, in the mean of two; raising it finds fewer gauges."""
SLACK = (60.0, 0.6)
"""Standard deviations of the line's shift (mm) and turn (rad) from the rough one; lower ones hold it
there."""
ONE_VIEW_SLACK = (0.3, 0.005)
"""The same of its height (mm) and steepness (rad) in one photo alone, which does not show them."""
WHOLE_WIDTH_QUANTILE, WIDTH_SCATTER_MM = 0.9, 0.2
"""Quantile of the widths seen that is the whole wire's, and the scatter of widths where both edges are seen,
mm; raising the second trusts narrow places more."""
LEAST_EDGE = 0.012
"""Step of linear light that counts as an edge, per mm, of a full scale of 1; raising it drops faint wires."""


@dataclass(frozen=True)
class AxisSighting:
    """Axis points in one photo.

    Attributes
    ----------
    back
        (N,) distance before the (rough) end, mm.
    pixels, normals
        (N, 2) axis point and unit normal.
    sigma_px
        (N,) standard uncertainty across the axis.
    width_mm
        (N,) distance of the two edges at the axis' distance.
    """

    back: Array
    pixels: Array
    normals: Array
    sigma_px: Array
    width_mm: Array


@dataclass(frozen=True)
class SeenLine:
    """A line in space with what each photo shows of it."""

    end: Array
    direction: Array
    width: float
    axes: tuple[AxisSighting, ...]


def track_axis(
    pictures: Sequence[Picture], views: Sequence[View], end: Array, direction: Array, length: float
) -> SeenLine | None:
    """Return a rough gauge line refined by its edges in all photos.

    Parameters
    ----------
    pictures
        Per photo the (H, W) grey picture.
    views
        Per photo camera and pose.
    end, direction
        (3,) rough far end and unit direction from the boss to it.
    length
        Visible length before ``end`` to work on, mm.

    Returns
    -------
    SeenLine or None
        None when no pair of edges runs along the line.
    """
    width: float | None = None
    for reach, block, width_slack in ((2.6, 8.0, None), (1.1, 5.0, None), (0.6, 3.0, 0.25)):
        ribbons = _ribbons(pictures, views, end, direction, length=length, half=reach + 1.6)
        profiles = [_block_profiles(r, block) for r in ribbons]
        if width_slack is None:
            share = WIDER_SHARES[width is not None]
            width = _common_width(profiles, ribbons[0].across, reach if width is None else ALIGNED_MM, share)
        if width is None:
            return None
        axes = [_axis_points(r, p, width, reach, width_slack) for r, p in zip(ribbons, profiles, strict=True)]
        axes = [_without_outliers(axis) for axis in axes]
        axes = _unsure_where_narrow(axes, ribbons)
        if sum(len(a.back) for a in axes) < LEAST_POINTS_PER_PHOTO * min(len(views), 2):
            return None
        end, direction = fit_line(axes, views, end, direction)
    return None if width is None else SeenLine(end, direction, width, tuple(axes))


def _ribbons(
    pictures: Sequence[Picture],
    views: Sequence[View],
    end: Array,
    direction: Array,
    *,
    length: float,
    half: float,
) -> list[Ribbon]:
    back = np.arange(1.5, length, 0.3)
    across = np.arange(-half, half + 1e-9, STEP_MM)
    return [
        unroll(picture, view, end, direction, back=back, across=across)
        for picture, view in zip(pictures, views, strict=True)
    ]


@dataclass(frozen=True)
class _Profiles:
    """Per block its mean distance before the end, (B,), and the (B, U) slope of light across, per mm."""

    back: Array
    slope: Array
    rows: Indices


def _block_profiles(ribbon: Ribbon, block: float) -> _Profiles:
    step = ribbon.back[1] - ribbon.back[0]
    size = max(2, round(block / step))
    count = len(ribbon.back) // size
    rows = np.arange(count * size).reshape(count, size)
    with np.errstate(all="ignore"):
        mean = ribbon.light[rows].mean(axis=1)
    smooth = gaussian_filter1d(np.nan_to_num(mean), EDGE_BLUR_MM / STEP_MM, axis=1)
    slope = np.gradient(smooth, STEP_MM, axis=1)
    slope[~np.isfinite(mean).all(1)] = 0.0
    return _Profiles(ribbon.back[rows].mean(1), slope, rows)


def _pair_score(slope: Array, across: Array, width: float, reach: float) -> tuple[Array, Array]:
    """Return per block the best centre offset (B,) of two edges ``width`` apart, and its score (B,)."""
    strength = np.abs(slope)
    half = round(width / 2 / STEP_MM)
    middle = np.flatnonzero(np.abs(across) <= reach)
    left, right = strength[:, middle - half], strength[:, middle + half]
    pair = np.minimum(left, right)
    best = pair.argmax(1)
    return across[middle[best]], pair[np.arange(len(pair)), best]


def _common_width(profiles: Sequence[_Profiles], across: Array, reach: float, share: float) -> float | None:
    """Return the widest pair of edges of all blocks and photos that scores ``share`` of the best."""
    widths = np.arange(WIDTH_RANGE_MM[0], WIDTH_RANGE_MM[1] + 1e-9, 2 * STEP_MM)
    total = np.zeros(len(widths))
    for p in profiles:
        peak = np.maximum(np.abs(p.slope).max(1), LEAST_EDGE)
        for k, width in enumerate(widths):
            total[k] += np.sum(_pair_score(p.slope, across, width, reach)[1] / peak)
    if total.max() <= 0:
        return None
    good = np.flatnonzero(total >= share * total.max())
    k = good[-1]
    while k > 0 and total[k - 1] > total[k]:
        k -= 1
    return float(widths[k])


def _axis_points(
    ribbon: Ribbon, profiles: _Profiles, width: float, reach: float, slack: float | None
) -> AxisSighting:
    """Return the sub-pixel edges of each block and the axis half-way between them."""
    across = ribbon.across
    centre, score = _pair_score(profiles.slope, across, width, reach)
    tolerance = slack or 0.3
    edges = [
        _peak(np.abs(profiles.slope), across, centre + side * width / 2, tolerance) for side in (-1.0, 1.0)
    ]
    noise = np.median(np.abs(profiles.slope), axis=1)
    ok = (score > LEAST_EDGE) & (score > 2.0 * noise) & np.isfinite(edges[0]) & np.isfinite(edges[1])
    middle = (edges[0] + edges[1])[ok] / 2
    rows = profiles.rows[:, profiles.rows.shape[1] // 2][ok]
    scale = ribbon.px_per_mm[rows]
    return AxisSighting(
        ribbon.back[rows],
        ribbon.pixels[rows] + (middle * scale)[:, None] * ribbon.normals[rows],
        ribbon.normals[rows],
        np.full(len(rows), 0.25),
        (edges[1] - edges[0])[ok],
    )


def _unsure_where_narrow(axes: Sequence[AxisSighting], ribbons: Sequence[Ribbon]) -> list[AxisSighting]:
    """Return axes that are less sure where the edges lie closer together than a wire's do.

    There one of them is a streak of light inside the wire, and the axis lies up to half of the difference to
    one side; which one, other places and photos tell.
    """
    widths = np.concatenate([axis.width_mm for axis in axes])
    if len(widths) == 0:
        return list(axes)
    full = float(np.quantile(widths, WHOLE_WIDTH_QUANTILE)) - WIDTH_SCATTER_MM
    out = []
    for axis, ribbon in zip(axes, ribbons, strict=True):
        doubt = (
            np.maximum(full - axis.width_mm, 0.0) / 2 * np.interp(axis.back, ribbon.back, ribbon.px_per_mm)
        )
        out.append(replace(axis, sigma_px=np.hypot(axis.sigma_px, doubt)))
    return out


def _peak(strength: Array, across: Array, near: Array, tolerance: float) -> Array:
    """Return the place (B,) of a strong peak of slope near ``near``; NaN without one in ``tolerance``."""
    out = np.full(len(near), np.nan)
    inner = strength[:, 1:-1]
    top = (inner >= strength[:, :-2]) & (inner > strength[:, 2:])
    for b, place in enumerate(near):
        peaks = np.flatnonzero(top[b] & (np.abs(across[1:-1] - place) <= tolerance)) + 1
        if len(peaks) == 0:
            continue
        fit = strength[b, peaks] * np.exp(-(((across[peaks] - place) / tolerance) ** 2))
        k = peaks[fit.argmax()]
        out[b] = across[k] + sub_step(strength[b, k - 1 : k + 2]) * STEP_MM
    return out


def _without_outliers(axis: AxisSighting) -> AxisSighting:
    """Return an axis without the points off the straight line that most of the photo's points agree on.

    Lines through pairs of points bear half of the points wrong at one end, which robust weights do not.
    """
    if len(axis.back) < 4:
        return axis
    ref = axis.pixels.mean(0)
    normal = axis.normals.mean(0) / np.linalg.norm(axis.normals.mean(0))
    tangent = np.array([normal[1], -normal[0]])
    u, v = (axis.pixels - ref) @ tangent, (axis.pixels - ref) @ normal
    i, j = np.triu_indices(len(u), 1)
    apart = np.abs(u[i] - u[j]) > 0.2 * (u.max() - u.min())
    slope = (v[i] - v[j])[apart] / (u[i] - u[j])[apart]
    offset = v[i][apart] - slope * u[i][apart]
    misfit = np.abs(v - slope[:, None] * u - offset[:, None])
    best = np.minimum(misfit, 2.0).sum(1).argmin()
    keep = misfit[best] < 1.5
    return AxisSighting(
        axis.back[keep], axis.pixels[keep], axis.normals[keep], axis.sigma_px[keep], axis.width_mm[keep]
    )


def fit_line(
    axes: Sequence[AxisSighting], views: Sequence[View], end: Array, direction: Array
) -> tuple[Array, Array]:
    """Return end and direction of the line in space that fits the axis points of all photos.

    The end moves square to the line only. Its covariance is the adjustment's, which fits the line anew.
    """
    square = np.stack(perpendiculars(direction), -1)
    slack = np.repeat(SLACK, 2)
    if len(views) == 1:
        slack[1::2] = ONE_VIEW_SLACK
    moved = np.zeros(4)
    for _ in range(4):
        at = np.concatenate([end + square @ moved[:2], moved[2:]])
        points, unit, by_slope = gauge_line(at, direction)
        rows, off = [], []
        for axis, view in zip(axes, views, strict=True):
            if len(axis.back) == 0:
                continue
            seen = project_with_derivatives(view, points - axis.back[:, None] * unit)
            normals = axis.normals / axis.sigma_px[:, None]
            by_point = np.einsum("nk,nki->ni", normals, seen.point)
            rows.append(np.hstack([by_point @ square, -axis.back[:, None] * (by_point @ by_slope)]))
            off.append(np.sum((axis.pixels - seen.pixels) * normals, 1))
        known = Known.single(-moved, slack, unit=1.0)
        moved += robust_fit(
            np.concatenate(rows),
            np.concatenate(off),
            np.ones(sum(map(len, off))),
            FromMedian(CAUCHY_SIGMAS),
            known,
        ).x
    end, direction, _ = gauge_line(np.concatenate([end + square @ moved[:2], moved[2:]]), direction)
    return end, direction
