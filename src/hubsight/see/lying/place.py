"""Where a lying hub is: its axis and end faces, from both end caps and from what its flanges let expect."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hubsight.model.arrays import Array
from hubsight.scene.usual import RESTING_SHARE
from hubsight.see.lying.axis import LEVEL_MM, Course
from hubsight.see.lying.cap_find import Scored, find_caps
from hubsight.see.lying.cap_fit import Fit, height_covariance, outline_scores
from hubsight.see.lying.caps import SoftPhoto
from hubsight.see.lying.flanges import PLACES_MM, FlangeSeen, aside, find_flanges
from hubsight.see.lying.frame import FAR_MM, LyingFrame, frame_of

HEIGHT_SIGMA_MM = (4.0, 3.0)
"""Standard deviations of the axis' height near the end faces, as flanges at rest let expect it, in several
photos and in one, mm; raising them follows the end caps more."""
ASIDE_SHARE = 1.22
"""Radius of a flange over what is seen of it beside the axis on both sides, at most; raising it expects the
axis higher."""
FROM_END_MM, RADIUS_PERCENT, FLANGE_MM = 8.0, 95, 2.0
"""Stretch at the hub's ends without flanges, mm, percentile of the radii seen that is a flange's, and how
much less radius still is, mm."""
SIDE_WEIGHT = 0.5
"""Weight of the caps' sides when the axis' uncertainty is reckoned; raising it makes the uncertainty
smaller."""
RIVAL_SCORE = 0.01
"""Score drop that reduces a rival's weight to 1/e; raising it widens the uncertainties (found on rendered
hubs)."""
GOOD_FIT, FAINT_FIT = 0.9, 0.78
"""Scores of end caps that fit well and poorly: of dark metal, and of bright, whose edges are faint before
paper; raising them widens the uncertainties (found on rendered hubs)."""
FAINT_U = (0.5, 0.010)
"""Uncertainties of height (mm) and slope that a faint fit adds (found on rendered hubs)."""
LEAST_U = (0.2, 0.002)
"""Least uncertainties of height (mm) and slope (found on rendered hubs)."""


@dataclass(frozen=True)
class Placed:
    """A lying hub's axis and end faces.

    Attributes
    ----------
    frame
        Of the axis, its origin half way between the end faces' edges.
    ends, radii
        Places of both end faces' edges along it, and their radii, mm.
    fit, worst
        How well the end caps fit in all photos, from 0 to about 1, and how well one does in one at worst.
    outside
        How far the end faces lie outside of where the hub's edges begin and end, mm, each.
    length_u, height_u, slope_u
        Standard uncertainties of the distance between the edges, of the axis' height, mm, and of its rise per
        mm: as the photos let fits differ.
    """

    frame: LyingFrame
    ends: tuple[float, float]
    radii: tuple[float, float]
    fit: float
    worst: float
    outside: tuple[float, float]
    length_u: float
    height_u: float
    slope_u: float

    @property
    def length(self) -> float:
        """From edge to edge, mm."""
        return self.ends[1] - self.ends[0]

    @property
    def middle(self) -> float:
        """Half way between the end faces, mm along the axis."""
        return (self.ends[0] + self.ends[1]) / 2


Flanges = tuple[FlangeSeen, FlangeSeen]


def place(
    photos: Sequence[SoftPhoto], course: Course, field: tuple[float, float]
) -> tuple[Placed, Flanges | None]:
    """Return axis, end faces and flanges of a lying hub.

    Parameters
    ----------
    photos
        The most vertical one first.
    course
        The axis as it is seen in that one.
    field
        Half length and half width of the target's blank field, mm.
    """
    level, expected = frame_of(course, photos[0].view, LEVEL_MM, 0.0), _expected(photos[0], course, field)
    sigma = HEIGHT_SIGMA_MM[len(photos) == 1]
    extent = (course.start, course.end)
    placed = _placed(photos, course, find_caps(photos, (level, expected), extent, sigma, field))
    flanges = find_flanges(photos, placed.frame, placed.ends, field)
    if len(photos) > 1 or flanges is None:
        return placed, flanges
    lying = _lying_on(placed.frame, [f.middle for f in flanges], [f.radius for f in flanges])
    placed = _placed(photos, course, find_caps(photos, (level, lying), extent, sigma, field))
    return placed, find_flanges(photos, placed.frame, placed.ends, field)


def _placed(photos: Sequence[SoftPhoto], course: Course, tried: Sequence[Scored]) -> Placed:
    best = tried[0].fit
    ends = [float(best.frame.at(cap.place)[:2] @ course.along) for cap in best.caps]
    first, last = height_covariance(photos, best, SIDE_WEIGHT)
    faint = float(np.clip((GOOD_FIT - tried[0].score) / (GOOD_FIT - FAINT_FIT), 0.0, 1.0))
    rivals = [np.abs(_shape(other.fit) - _shape(best)) * _doubt(tried[0], other) for other in tried]
    length, height, slope = np.max(rivals, axis=0)
    height_u = np.sqrt(first[0] + 2 * first[1] + last[1]) / 2
    slope_u = np.sqrt(first[0] - 2 * first[1] + last[1]) / (2 * FAR_MM)
    return Placed(
        frame=best.frame,
        ends=(best.caps[0].place, best.caps[1].place),
        radii=(best.caps[0].radius, best.caps[1].radius),
        fit=tried[0].score,
        worst=float(outline_scores(photos, best).min()),
        outside=(course.start - min(ends), max(ends) - course.end),
        length_u=float(length),
        height_u=math.hypot(height_u, height, faint * FAINT_U[0], LEAST_U[0]),
        slope_u=math.hypot(slope_u, slope, faint * FAINT_U[1], LEAST_U[1]),
    )


def _shape(fit: Fit) -> Array:
    """Return (3,) distance between the end faces, the axis' height between them, mm, and its slope."""
    first, last = (cap.place for cap in fit.caps)
    return np.array([last - first, fit.frame.at((first + last) / 2)[2], fit.frame.along[2]])


def _doubt(best: Scored, other: Scored) -> float:
    return float(np.exp((other.score - best.score) / RIVAL_SCORE))


def _expected(photo: SoftPhoto, course: Course, field: tuple[float, float]) -> LyingFrame:
    """Return where the axis should be if each half of the hub rests on what reaches farthest aside there."""
    frame = frame_of(course, photo.view, LEVEL_MM, 0.0)
    middle = (course.start + course.end) / 2
    for _ in range(2):
        reach = aside(photo, frame, field)
        radius = np.minimum(reach.max(0), ASIDE_SHARE * reach.min(0))
        places, radii = [], []
        for low, high in ((course.start + FROM_END_MM, middle), (middle, course.end - FROM_END_MM)):
            half = (low < PLACES_MM) & (high > PLACES_MM)
            radii.append(float(np.percentile(radius[half], RADIUS_PERCENT)))
            places.append(float(np.median(PLACES_MM[half & (radius >= radii[-1] - FLANGE_MM)])))
        (a, b), (first, last) = places, (RESTING_SHARE * r for r in radii)
        slope = (last - first) / (b - a)
        frame = frame_of(course, photo.view, first - slope * a, slope)
    return frame


def _lying_on(frame: LyingFrame, places: Sequence[float], radii: Sequence[float]) -> LyingFrame:
    """Return the frame raised or lowered to where flanges of these radii let it lie."""
    now = [frame.at(s)[2] for s in places]
    rise = [RESTING_SHARE * r - z for r, z in zip(radii, now, strict=True)]
    slope = (rise[1] - rise[0]) / (places[1] - places[0])
    up = [rise[0] + slope * (s - places[0]) for s in (-FAR_MM, FAR_MM)]
    return frame.moved(np.array([0.0, 0.0, *up]))
