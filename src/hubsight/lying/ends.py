"""End faces of a lying hub: the outermost edges square to its axis beside where a thin axle could be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, maximum_filter1d

from hubsight.camera import View
from hubsight.hub.peak import sub_step
from hubsight.lying.frame import LyingFrame, Picture, before_paper, grey_at

Array = NDArray[np.float64]

STEP_MM = 0.1
PLACES_MM = np.arange(-100.0, 100.0, STEP_MM)
BAND_MM = np.arange(6.0, 7.8, 0.2)
"""Beside the axis: outside an axle that stands out, inside every end cap and locknut (common practice, no
source)."""
RADIUS_MM = 9.0
"""Usual radius of end caps and locknuts (common practice, no source)."""
RADII_MM, INSIDE_MM = (8.1, 12.0), (1.0, 4.0)
"""Radii of end caps and locknuts, and how far inside the end they are measured (common practice, no
source)."""
SMOOTH_STEPS = 2.0
LEAST_SHARE, LEAST_TIMES = 0.13, 4.0
"""An edge stands out against the strongest edges, and against the usual unrest."""
SEEN_TWICE_SHARE = 0.07
"""Against the strongest edges, where all photos show it at the same place."""
SAME_PLACE_MM = 0.7
MOST_OUTSIDE_MM = 9.0
"""How far outside the hub's rough extent its end may lie."""
ROUNDED_MM, ROUNDED_U_MM = 0.2, 0.16
"""An end face lies this far outside its edge as it is seen, rounded off (found on rendered hubs)."""


@dataclass(frozen=True)
class Ends:
    """Where the two end faces' edges are seen along the axis, mm, the first one first."""

    first: float
    last: float

    @property
    def middle(self) -> float:
        """Half way between them."""
        return (self.first + self.last) / 2

    @property
    def length(self) -> float:
        """Over both end faces, the edges' rounding made good."""
        return self.last - self.first + 2 * ROUNDED_MM


def end_profile(
    photo: tuple[Picture, View], frame: LyingFrame, field: tuple[float, float], radius: float
) -> Array:
    """Return how strongly grey changes along the axis, alike on both sides of it, at `PLACES_MM`."""
    picture, view = photo
    sides = []
    for sign in (1.0, -1.0):
        points = frame.points(PLACES_MM, sign * BAND_MM, np.sqrt(radius**2 - BAND_MM**2))
        change = np.abs(gaussian_filter1d(grey_at(picture, view, points).mean(1), SMOOTH_STEPS, order=1))
        sides.append(np.where(before_paper(view, points, field).all(1), change, 0.0))
    return np.asarray(np.sqrt(sides[0] * sides[1]))


def find_ends(
    photos: Sequence[tuple[Picture, View]],
    frame: LyingFrame,
    field: tuple[float, float],
    extent: tuple[float, float],
    *,
    radii: tuple[float, float] = (RADIUS_MM, RADIUS_MM),
) -> Ends | None:
    """Find both end faces.

    Parameters
    ----------
    photos
        The most vertical one first: it gives the places. Others tell edges of the hub from those of shadows
        on the paper, which lie elsewhere for them.
    frame
        Of the hub; with several photos one in which they agree.
    field
        Half length and half width of the target's blank field, mm.
    extent
        Roughly where the hub begins and ends, mm.
    radii
        Of both end faces, mm.
    """
    if radii[0] != radii[1]:
        low, high = (find_ends(photos, frame, field, extent, radii=(r, r)) for r in radii)
        return None if low is None or high is None else Ends(low.first, high.last)
    near = (extent[0] - MOST_OUTSIDE_MM < PLACES_MM) & (extent[1] + MOST_OUTSIDE_MM > PLACES_MM)
    first, *others = (np.where(near, end_profile(photo, frame, field, radii[0]), 0.0) for photo in photos)
    share = SEEN_TWICE_SHARE if others else LEAST_SHARE
    strong = first > _least(first, near, share)
    wide = 2 * round(SAME_PLACE_MM / STEP_MM) + 1
    for other in others:
        strong &= maximum_filter1d(other, wide) > _least(other, near, share)
    tops = [k for k in range(3, len(first) - 3) if strong[k] and first[k] == first[k - 3 : k + 4].max()]
    if len(tops) < 2:
        return None
    outer = (float(PLACES_MM[k] + STEP_MM * sub_step(first[k - 1 : k + 2])) for k in (tops[0], tops[-1]))
    return Ends(*outer)


def _least(profile: Array, near: NDArray[np.bool_], share: float) -> float:
    inside = profile[near]
    return float(max(LEAST_TIMES * np.median(inside), share * np.percentile(inside, 99.5)))


def end_radii(reach: Array, ends: Ends) -> tuple[float, float]:
    """Return the radii of both ends from how far the outline reaches aside just inside them, mm.

    ``reach`` is (2, places), see `hubsight.lying.flanges.aside`. Where it shows no usual radius, the usual
    one is returned.
    """
    low, high = INSIDE_MM
    less = reach.min(0)
    out = []
    for inside in (PLACES_MM - ends.first, ends.last - PLACES_MM):
        radius = float(np.median(less[(inside > low) & (inside < high)]))
        out.append(radius if RADII_MM[0] < radius < RADII_MM[1] else RADIUS_MM)
    return out[0], out[1]
