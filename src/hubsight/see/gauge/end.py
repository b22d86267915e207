"""See the gauge's far end: where the photos together put it, and its outline in each of them.

At the axis the outline of a square-cut end lies not at the end's centre but on its rim, one radius nearer to
or farther from the lens; so the observation is tied to that rim point, whose place follows from the line of
sight. Where the end is and what is on it is weighed in `end_odds`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d

from hubsight.camera import View
from hubsight.model.arrays import Array, Picture
from hubsight.scene.usual import HEAD_RADIUS_MM, NIPPLE_RADIUS_MM, Usual
from hubsight.see.gauge.end_odds import RADIUS_MM, EndKind, EndOdds, end_odds
from hubsight.see.peak import sub_step
from hubsight.see.ribbon import END_BLUR_MM, STEP_MM, Ribbon, unroll

LOOK_MM = (26.0, 22.0)
"""Stretches before and beyond the rough end in which the end is looked for, mm; longer ones take in other
edges."""
RIM_ROUNDING_MM: dict[EndKind, float] = {"flat": 0.08, "nipple": 0.3, "head": 0.3}
"""Rounding of the end's rim, mm: a deburred cut, a nipple's or a spoke's head; raising it moves ends outwards
(common practice, no source)."""
WIDE_ENDS: dict[EndKind, tuple[Usual, tuple[float, float]]] = {
    "nipple": (NIPPLE_RADIUS_MM, (2.0, 9.0)),
    "head": (HEAD_RADIUS_MM, (0.4, 1.2)),
}
"""Ends that are wider than the wire: usual radius, and the stretch before the end in which it is read, mm."""
END_SIGMA_MM = 0.05
"""Standard uncertainty of one photo's end along the axis, mm; raising it trusts ends less."""
FINE_REACH_MM = 0.22
"""Distance within which one photo's end is looked for about the common one, mm; raising it bears worse poses
and takes in other edges."""
LEAST_GROUND = 0.6
"""Share of the ground just beyond the end that has to be in the picture; lowering it takes the picture's
border for an end."""
LEAST_STEP = 2.0
"""Step at the end over the background's unrest; raising it finds fewer ends."""


@dataclass(frozen=True)
class EndSighting:
    """The end as one photo shows it.

    Attributes
    ----------
    pixel
        (2,) where the outline crosses the axis.
    tangent
        (2,) unit direction of the gauge in the picture, away from the boss.
    rim
        (3,) vector from the end's centre to the point of its rim that makes the outline, mm.
    sigma_px
        Standard uncertainty along the tangent.
    beyond
        The end's centre beyond the rough end, mm along the gauge.
    strength
        Step of light at the end over the noise.
    """

    pixel: Array
    tangent: Array
    rim: Array
    sigma_px: float
    beyond: float
    strength: float


@dataclass(frozen=True)
class EndsFound:
    """A gauge's end: ``shift`` of its centre past the rough end, mm, each photo's sighting, and the odds."""

    shift: float
    ends: tuple[EndSighting | None, ...]
    odds: EndOdds | None = None


def rim_vector(view: View, end: Array, direction: Array, radius: float, rounding: float) -> Array:
    """Return the vector from the end's centre to the rim point that makes its outline on the axis in a view.

    For a cylinder of ``radius`` whose rim is rounded by ``rounding``: the outline at the axis is made by the
    upper rim when the lens is on the boss' side of the end and by the lower rim when it is beyond it.
    """
    sight = end - view.position
    sight = sight / np.linalg.norm(sight)
    along = float(sight @ direction)
    up = -(sight - along * direction)
    across = float(np.linalg.norm(up))
    up = up / across
    side = 1.0 if along > 0 else -1.0
    tilt = abs(along)
    return np.asarray(
        direction * rounding * (across - 1.0) + side * up * (radius - rounding + rounding * tilt)
    )


def see_ends(
    pictures: Sequence[Picture],
    views: Sequence[View],
    end: Array,
    direction: Array,
    *,
    width: float,
    tip: EndKind,
    kinds: Sequence[EndKind] = (),
) -> EndsFound | None:
    """Return the gauge's end in all photos.

    Parameters
    ----------
    pictures, views
        Per photo the grey picture, camera and pose.
    end, direction
        (3,) a point of the axis near the far end and the unit direction to it.
    width
        Wire diameter as seen, mm.
    tip
        What is stated to be on the end.
    kinds
        What else may be on it.

    Returns
    -------
    EndsFound or None
        The end's centre, each photo's sighting (None where it is not seen), and the odds of where and what it
        is; None when no end is seen.
    """
    back = np.arange(LOOK_MM[0], -LOOK_MM[1], -STEP_MM)
    across = np.arange(-3.6, 3.61, 0.06)
    ribbons = [
        unroll(picture, view, end, direction, back=back, across=across)
        for picture, view in zip(pictures, views, strict=True)
    ]

    def outlines(kind: EndKind, shift: float, radius: float) -> tuple[list[Array], list[float]]:
        """Return per photo the rim point that makes the outline, and how far beyond the centre it shows."""
        at = end + shift * direction
        rims = [rim_vector(view, at, direction, radius, RIM_ROUNDING_MM[kind]) for view in views]
        pairs = zip(views, rims, strict=True)
        return rims, [_ahead_of(view, end, direction, at + rim) - shift for view, rim in pairs]

    possible = {kind: outlines(kind, 0.0, RADIUS_MM.get(kind, width / 2))[1] for kind in (tip, *kinds)}
    odds = end_odds(ribbons, width, possible, tip)
    if odds is None:
        return None
    shift = odds.chosen
    half = _half_width(ribbons, shift, width, odds.kind)
    rims, offsets = outlines(odds.kind, shift, half)
    sightings = tuple(
        _fine_end(ribbon, _steps(ribbon, half), shift + offset, shift, rim)
        for ribbon, offset, rim in zip(ribbons, offsets, rims, strict=True)
    )
    return EndsFound(shift, sightings, odds)


def _steps(ribbon: Ribbon, half: float) -> Array:
    """Return the strength of the step of light along the middle of the wire, (S,); NaN near the border."""
    core = _strip(ribbon, -1.0, 0.35 * half)
    smooth = gaussian_filter1d(np.nan_to_num(core), END_BLUR_MM / STEP_MM)
    slope = np.abs(np.gradient(smooth, STEP_MM))
    outside = gaussian_filter1d((~np.isfinite(core)).astype(float), 3 * END_BLUR_MM / STEP_MM) > 1e-3
    return np.where(outside, np.nan, slope)


def _strip(ribbon: Ribbon, low: float, high: float) -> Array:
    """Return the mean light over columns low < |offset| <= high, (S,)."""
    columns = (np.abs(ribbon.across) > low) & (np.abs(ribbon.across) <= high)
    return _mean_of_seen(ribbon.light[:, columns], 1)


def _mean_of_seen(values: Array, axis: int) -> Array:
    """Return the mean of what is not NaN; NaN where all is."""
    seen = np.isfinite(values)
    total, count = np.where(seen, values, 0.0).sum(axis), seen.sum(axis)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _half_width(ribbons: Sequence[Ribbon], shift: float, width: float, tip: EndKind) -> float:
    """Return the radius of what ends the gauge, mm."""
    if tip not in WIDE_ENDS:
        return width / 2
    radius, (near, far) = WIDE_ENDS[tip]
    across = ribbons[0].across
    total = np.zeros(len(across))
    for ribbon in ribbons:
        rows = (-ribbon.back < shift - near) & (-ribbon.back > shift - far)
        profile = gaussian_filter1d(np.nan_to_num(ribbon.light[rows].mean(axis=0)), 1.5)
        slope = np.abs(np.gradient(profile))
        total += slope / max(float(slope.max()), 1e-9)
    symmetric = np.minimum(total, total[::-1])
    usual = radius.likely(across)
    return float(across[(symmetric * usual).argmax()])


def _fine_end(ribbon: Ribbon, slope: Array, outline: float, shift: float, rim: Array) -> EndSighting | None:
    """Return the sub-pixel outline of the end on the axis in one photo, near where the vote expects it."""
    ahead = -ribbon.back
    near = np.abs(ahead - outline) < FINE_REACH_MM
    if near.sum() < 5 or not np.isfinite(slope[near]).all():
        return None
    ground = slope[(ahead > outline + 1.0) & (ahead < outline + 6.0)]
    if np.isfinite(ground).mean() < LEAST_GROUND:
        return None
    noise = float(np.nanmedian(ground)) + 1e-4
    inner = np.flatnonzero(near[1:-1]) + 1
    peaks = inner[(slope[inner] >= slope[inner - 1]) & (slope[inner] > slope[inner + 1])]
    if len(peaks) == 0:
        return None
    k = peaks[slope[peaks].argmax()]
    if slope[k] < LEAST_STEP * noise:
        return None
    place = k + float(sub_step(slope[k - 1 : k + 2]))
    rows = np.arange(len(ahead))
    at = np.array([np.interp(place, rows, ribbon.pixels[:, i]) for i in (0, 1)])
    tangent = ribbon.pixels[k + 1] - ribbon.pixels[k - 1]
    tangent = tangent / np.linalg.norm(tangent)
    seen = float(np.interp(place, rows, ahead))
    sigma = END_SIGMA_MM * float(ribbon.px_per_mm[k])
    return EndSighting(at, tangent, rim, sigma, seen - outline + shift, float(slope[k] / noise))


def _ahead_of(view: View, end: Array, direction: Array, point: Array) -> float:
    """Return how far beyond ``end`` along the line the picture shows ``point``, mm."""
    base, step, target = view.project(np.array([end, end + direction, point]))
    tangent = (step - base) / np.linalg.norm(step - base)
    t = 1.0
    for _ in range(4):
        here, ahead = view.project(np.array([end + t * direction, end + (t + 0.5) * direction]))
        t += 0.5 * float((target - here) @ tangent) / float((ahead - here) @ tangent)
    return t
