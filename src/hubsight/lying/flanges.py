"""Flanges of a lying hub: pairs of edges square to its axis, a flange's thickness apart, far from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, maximum_filter1d, median_filter

from hubsight.camera import View
from hubsight.lying.ends import PLACES_MM, STEP_MM, Ends
from hubsight.lying.frame import LyingFrame, Picture, before_paper, grey_at

Array = NDArray[np.float64]

AROUND = np.radians(np.arange(-84.0, 84.1, 2.0))
THICKNESSES_MM = np.arange(6.0, 9.6, 0.2)
USUAL_THICKNESS_MM, THICKNESS_SIGMA_MM = 7.8, 0.8
"""Visible thickness of flanges at their bosses or rim (common practice, no source)."""
RADII_MM = np.arange(19.0, 36.1, 0.5)
"""Outer radii of flanges (common practice, no source)."""
LEAST_ASIDE_MM = 18.5
"""Only flanges reach this far aside on both sides (common practice, no source)."""
ASIDE_MM = np.arange(8.0, 38.0, 0.2)
SMOOTH_STEPS, SLACK_STEPS = 1.5, 3
MOST_CHANGE = 8.0
"""Grey levels per step; what is stronger counts no more."""
LEAST_CHANGE, SHARP = 1.5, 1.6
"""Outlines against paper are that strong, and that much steeper than shadows."""
FROM_END_MM = 12.0
APART_MM = 22.0
"""Flanges lie this far from the end faces, and from each other (common practice, no source)."""
ASIDE_SHARE = 1.22
"""A flange's outer radius over what is seen of it beside the axis, at most."""
SHARPNESS = 16.0
"""Weighs how well places fit: weight = exp(`SHARPNESS` * (strength / greatest strength - 1))."""
NEAR_MM = 1.2


@dataclass(frozen=True)
class FlangeSeen:
    """One flange: its middle along the axis and its scatter, outer radius and visible thickness, mm.

    ``strength`` tells how strongly its edges are seen.
    """

    middle: float
    scatter: float
    radius: float
    thickness: float
    strength: float


def aside(picture: Picture, view: View, frame: LyingFrame, field: tuple[float, float]) -> Array:
    """Return (2, places) how far the hub's sharp outline reaches aside, left and right, at `PLACES_MM`."""
    every = 4
    places = PLACES_MM[::every]
    out = []
    for sign in (1.0, -1.0):
        points = frame.points(places, sign * ASIDE_MM, np.zeros_like(ASIDE_MM))
        grey = gaussian_filter1d(grey_at(picture, view, points), 1.0, axis=0)
        fine = np.abs(gaussian_filter1d(grey, SMOOTH_STEPS, axis=1, order=1))
        soft = np.abs(gaussian_filter1d(grey, 4 * SMOOTH_STEPS, axis=1, order=1))
        edge = (fine > LEAST_CHANGE) & (fine > SHARP * soft) & before_paper(view, points, field)
        last = ASIDE_MM[len(ASIDE_MM) - 1 - np.argmax(edge[:, ::-1], axis=1)]
        out.append(median_filter(np.where(edge.any(1), last, 0.0), 5))
    return np.array([np.interp(PLACES_MM, places, row) for row in out])


def rough_radius(reach: Array, middle: float) -> float:
    """Return roughly a flange's outer radius from how far the outline reaches aside near it, mm."""
    near = np.abs(PLACES_MM - middle) < 2.5
    left, right = (float(np.median(row[near])) for row in reach)
    return min(max(left, right), ASIDE_SHARE * min(left, right))


def find_flanges(
    photos: Sequence[tuple[Picture, View]], frame: LyingFrame, reach: Array, ends: Ends
) -> tuple[FlangeSeen, FlangeSeen] | None:
    """Find both flanges, the first one first.

    Parameters
    ----------
    photos
        Pictures with their cameras; all are used.
    frame
        Of the hub.
    reach
        As `aside` gives it, from the most vertical photo.
    ends
        Of the hub.
    """
    fits = np.sum([[_pairs(p, v, frame, r) for r in RADII_MM] for p, v in photos], axis=0) / len(photos)
    fits *= np.exp(-0.5 * ((THICKNESSES_MM - USUAL_THICKNESS_MM) / THICKNESS_SIGMA_MM) ** 2)
    fits *= _possible(frame, reach, ends)[:, :, None]
    best = fits.max((0, 2))
    first = int(np.argmax(best))
    others = np.where(np.abs(PLACES_MM - PLACES_MM[first]) < APART_MM, 0.0, best)
    second = int(np.argmax(others))
    if best[first] <= 0 or others[second] <= 0:
        return None
    a, b = sorted((first, second))
    return _flange(fits, a), _flange(fits, b)


def _pairs(picture: Picture, view: View, frame: LyingFrame, radius: float) -> Array:
    """How strongly two edges at one angle are seen, (places, thicknesses), about each place."""
    grey = grey_at(picture, view, frame.round(PLACES_MM, radius, AROUND))
    change = np.minimum(np.abs(gaussian_filter1d(grey, SMOOTH_STEPS, axis=0, order=1)), MOST_CHANGE)
    change = maximum_filter1d(change, SLACK_STEPS, axis=0)
    out = np.zeros((len(PLACES_MM), len(THICKNESSES_MM)))
    for j, thickness in enumerate(THICKNESSES_MM):
        k = round(thickness / 2 / STEP_MM)
        out[k:-k, j] = np.sqrt(change[: -2 * k] * change[2 * k :]).mean(1)
    return out


def _possible(frame: LyingFrame, reach: Array, ends: Ends) -> NDArray[np.bool_]:
    """Tell which radii (R, places) a flange may have: as far as it reaches aside, and not below the paper."""
    less = reach.min(0)
    both = median_filter((less > LEAST_ASIDE_MM).astype(float), 25) > 0.5
    inside = (ends.first + FROM_END_MM < PLACES_MM) & (ends.last - FROM_END_MM > PLACES_MM)
    seen = median_filter(less, 41)
    heights = frame.origin[2] + PLACES_MM * frame.along[2]
    low = np.maximum(seen - 1.0, heights - 0.5)
    high = np.maximum(np.maximum(ASIDE_SHARE * seen, seen + 1.5), low + 2.0)
    radii = RADII_MM[:, None]
    return np.asarray((radii >= low) & (radii <= high) & both & inside)


def _flange(fits: Array, place: int) -> FlangeSeen:
    """Weigh the places near the best one by how well they fit."""
    near = np.abs(PLACES_MM - PLACES_MM[place]) < NEAR_MM
    part = fits[:, near, :]
    weight = np.exp(SHARPNESS * (part / part.max() - 1))
    weight = np.where(part > 0, weight, 0.0) / np.sum(weight, where=part > 0)
    by_place, by_radius, by_thickness = weight.sum((0, 2)), weight.sum((1, 2)), weight.sum((0, 1))
    middle = float(by_place @ PLACES_MM[near])
    return FlangeSeen(
        middle,
        float(np.sqrt(by_place @ (PLACES_MM[near] - middle) ** 2)),
        float(by_radius @ RADII_MM),
        float(by_thickness @ THICKNESSES_MM),
        float(part.max()),
    )
