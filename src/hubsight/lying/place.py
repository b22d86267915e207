"""How high a lying hub's axis lies: where its edges agree in all photos, or where its flanges let it lie."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, uniform_filter1d
from scipy.optimize import minimize

from hubsight.camera import View
from hubsight.hub.peak import sub_step
from hubsight.lying.axis import LEVEL_MM, Course
from hubsight.lying.ends import RADIUS_MM, Ends
from hubsight.lying.frame import LyingFrame, Picture, frame_of, grey_at

Array = NDArray[np.float64]

LIES_SHARE, LIES_SIGMA_MM = 0.95, 1.5
"""Height of the axis at a flange over the flange's outer radius, which rests on one boss or on two, and how
well that is known, mm (common practice, no source)."""
CONTACT_SLOPE_SIGMA = 0.05
"""The same of the axis' slope (found on rendered hubs)."""
STEEPEST, SLOPE_STEP, ALIGNED_SLOPE_SIGMA = 0.2, 0.02, 0.05
"""Slopes that are tried, and how well turned edges of one photo tell it (found on rendered hubs)."""
TURNED_MM, TURNED = np.arange(5.0, 31.0, 2.5), np.radians(np.arange(-64.0, 65.0, 4.0))
"""Radii and angles at which turned edges are looked for."""
TURNED_STEP_MM, TURNED_SMOOTH, TURNED_UNREST = 0.2, 1.3, 21
HEIGHTS_MM, SLOPES = np.arange(-4.5, 4.6, 0.75), np.arange(-0.1, 0.101, 0.02)
"""Departures from that which are tried."""
AGREEMENT_SCALE = 0.08
"""How much worse agreement may be at the true place (found on rendered hubs)."""
COURSE_SIGMAS = (0.4, np.radians(0.6))
"""Of the course as it was seen: sideways, mm, and its direction, rad."""
STEP_MM, SMOOTH_STEPS, MOST_CHANGE = 0.15, 2.5, 6.0
ON_CAP, ON_FLANGE = np.radians(np.arange(-60.0, 61.0, 4.0)), np.radians(np.arange(-76.0, 77.0, 4.0))
CAP_MM, OUTSIDE_MM, FLANGE_MM = 12.0, 1.5, 7.0
LEAST_HEIGHT_U_MM, LEAST_SLOPE_U = 0.5, 0.004


@dataclass(frozen=True)
class Placed:
    """A lying hub's frame, with standard uncertainties of its height, mm, and of its slope."""

    frame: LyingFrame
    course: Course
    height: float
    slope: float
    height_u: float
    slope_u: float


@dataclass(frozen=True)
class Flanks:
    """Rough middles and outer radii of both flanges, mm."""

    places: tuple[float, float]
    radii: tuple[float, float]


def by_contact(picture: Picture, view: View, course: Course, flanks: Flanks) -> Placed:
    """Return where the hub lies if its flanges rest on the paper."""
    (a, b), heights = flanks.places, [LIES_SHARE * r for r in flanks.radii]
    by_radii = (heights[1] - heights[0]) / (b - a)
    by_edges = _aligned_slope(picture, view, course)
    weights = CONTACT_SLOPE_SIGMA**-2, ALIGNED_SLOPE_SIGMA**-2
    slope = float(np.average([by_radii, by_edges], weights=weights))
    height = float(np.mean(heights)) - slope * (a + b) / 2
    frame = frame_of(course, view, height, slope)
    return Placed(frame, course, height, slope, LIES_SIGMA_MM, float(np.sum(weights) ** -0.5))


def _aligned_slope(picture: Picture, view: View, course: Course) -> float:
    """Slope of the axis at which turned edges stand at one place along it all the way round."""
    slopes = np.arange(-STEEPEST, STEEPEST + 1e-9, SLOPE_STEP)
    middle = (course.start + course.end) / 2
    found = [
        _aligned(picture, view, frame_of(course, view, LEVEL_MM - slope * middle, slope), course)
        for slope in slopes
    ]
    k = int(np.clip(np.argmax(found), 1, len(slopes) - 2))
    return float(slopes[k] + SLOPE_STEP * sub_step(np.array(found[k - 1 : k + 2])))


def _aligned(picture: Picture, view: View, frame: LyingFrame, course: Course) -> float:
    s = np.arange(course.start - 5.0, course.end + 5.0, TURNED_STEP_MM)
    change = []
    for radius in TURNED_MM:
        grey = grey_at(picture, view, frame.round(s, radius, TURNED))
        steep = np.abs(gaussian_filter1d(grey, TURNED_SMOOTH, axis=0, order=1))
        change.append(np.minimum(steep, MOST_CHANGE).mean(1))
    excess = np.array(change) - uniform_filter1d(np.array(change), TURNED_UNREST, axis=1)
    best = np.sort(np.maximum(excess, 0.0).max(0) ** 2)
    return float(np.mean(best[-len(s) // 3 :]))


def by_agreement(photos: Sequence[tuple[Picture, View]], start: Placed, flanks: Flanks, ends: Ends) -> Placed:
    """Return where the edges of end caps and flanges agree in all photos.

    Parameters
    ----------
    photos
        The most vertical one first, on whose line of sight the axis stays.
    start
        As the flanges let the hub lie.
    flanks, ends
        As seen in the first photo.
    """
    patches = _patches(flanks, ends)
    view = photos[0][1]

    def value(course: Course, height: float, slope: float) -> float:
        prior = ((height - start.height) / (2 * LIES_SIGMA_MM)) ** 2
        prior += ((slope - start.slope) / (2 * start.slope_u)) ** 2
        agreed = _agreement(photos, frame_of(course, view, height, slope), patches)
        return agreed / AGREEMENT_SCALE - 0.5 * prior

    heights, slopes = start.height + HEIGHTS_MM, start.slope + SLOPES
    grid = np.array([[value(start.course, h, s) for s in slopes] for h in heights])
    i, j = np.unravel_index(int(grid.argmax()), grid.shape)

    def turned(x: Array) -> Course:
        aside, angle = x[:2] * COURSE_SIGMAS
        c = start.course
        return replace(c, sideways=c.sideways + aside, angle=c.angle + angle)

    def loss(x: Array) -> float:
        return 0.5 * float(x[0] ** 2 + x[1] ** 2) - value(turned(x), x[2], x[3])

    first = np.array([0.0, 0.0, heights[i], slopes[j]])
    simplex = first + np.vstack([np.zeros(4), np.diag([0.5, 0.5, 0.4, 0.008])])
    found = minimize(
        loss,
        first,
        method="Nelder-Mead",
        options={"initial_simplex": simplex, "maxfev": 160, "xatol": 0.02, "fatol": 0.02},
    )
    course, height, slope = turned(found.x), float(found.x[2]), float(found.x[3])
    weight = np.exp(grid - grid.max())
    weight /= weight.sum()
    mean = float(weight.sum(1) @ heights)
    height_u = float(np.sqrt(weight.sum(1) @ (heights - mean) ** 2))
    centre = float(weight.sum(0) @ slopes)
    slope_u = float(np.sqrt(weight.sum(0) @ (slopes - centre) ** 2))
    frame = frame_of(course, view, height, slope)
    height_u = float(np.hypot(height_u, LEAST_HEIGHT_U_MM))
    return Placed(frame, course, height, slope, height_u, max(slope_u, LEAST_SLOPE_U))


def _patches(flanks: Flanks, ends: Ends) -> list[tuple[Array, float, Array]]:
    """Stretches along the axis, with radius and angles, whose edges are compared between photos."""
    out = [
        (np.arange(ends.first - OUTSIDE_MM, ends.first + CAP_MM, STEP_MM), RADIUS_MM, ON_CAP),
        (np.arange(ends.last - CAP_MM, ends.last + OUTSIDE_MM, STEP_MM), RADIUS_MM, ON_CAP),
    ]
    for place, radius in zip(flanks.places, flanks.radii, strict=True):
        out.append((np.arange(place - FLANGE_MM, place + FLANGE_MM, STEP_MM), radius, ON_FLANGE))
    return out


def _agreement(
    photos: Sequence[tuple[Picture, View]], frame: LyingFrame, patches: Sequence[tuple[Array, float, Array]]
) -> float:
    """Sum of the correlations of edges between the first photo and each of the others."""
    total = 0.0
    for s, radius, angles in patches:
        points = frame.round(s, radius, angles)
        first, *others = (_edges(grey_at(p, v, points)) for p, v in photos)
        total += sum(_correlation(first, other) for other in others) / len(others)
    return total


def _edges(grey: Array) -> Array:
    change = np.abs(gaussian_filter1d(grey, SMOOTH_STEPS, axis=0, order=1))
    return np.asarray(np.minimum(change, MOST_CHANGE))


def _correlation(a: Array, b: Array) -> float:
    a, b = a - a.mean(), b - b.mean()
    return float(np.sum(a * b) / np.sqrt(np.sum(a * a) * np.sum(b * b) + 1e-9))
