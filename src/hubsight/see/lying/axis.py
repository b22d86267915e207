"""Where the axis of a lying hub runs, seen in one photo: by the direction of its edges and their symmetry."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import gaussian_filter, gaussian_filter1d, map_coordinates

from hubsight.camera import View
from hubsight.estimate.robust import Threshold
from hubsight.model.arrays import Array, Picture
from hubsight.see.sampling import pixels_of, sampled

STEP_MM = 0.25
"""Step of the level plane that is looked at, mm; raising it is faster and less exact."""
HALF_MM = (112.0, 70.0)
"""Half length and half width of that plane, mm; raising them is slower."""
LEVEL_MM = 25.0
"""Height of that plane, mm: where axes of lying hubs are (common practice, no source)."""
EDGE_BLURS = (1.2, 5.0)
"""Blur before edges are taken, and before those of shadows are, steps; raising the first drops fine edges."""
SHARP = 1.6
"""Steepness of an edge over that after a larger blur from which it is sharp; raising it drops blurred edges
with the shadows."""
EDGE = Threshold(0.5, 2.0)
"""Strength from which an edge counts, by the upper tenth's, grey levels per step; raising it drops faint
edges."""
ALONG = 0.97
"""Cosine within which an edge runs along or across a direction; raising it leaves fewer edges."""
TURN_STEPS_RAD = np.radians([1.0, 0.2])
"""Steps at which directions are tried, first and near the best, rad; raising them is faster."""
TURNS_RAD = np.radians(np.arange(-1.5, 1.51, 0.25))
"""Departures from that direction that are tried by the edges' symmetry, rad; more are slower."""
BIN_MM = 0.5
"""Width within which edges are on one line, mm; raising it bears bent outlines."""
SIDEWAYS_MM, SIDEWAYS_STEP_MM = 16.0, 0.1
"""Farthest shift of the axis from the edges' middle that is tried, and its step, mm."""
RADII_MM = np.arange(3.0, 36.0, 0.1)
"""Radii of turned parts that mirror themselves about the axis, mm."""
SMOOTH_MM = 1.5
"""Length along the axis over which edges are averaged, mm; raising it bears noise and blurs short parts."""
LENGTHS_MM = (60.0, 175.0)
"""Lengths of hubs, mm; a wider range takes other things for hubs (common practice, no source)."""
OUTERMOST = (2.5, 97.5)
"""Percentiles of the edges' places between which the hub is; a narrower pair bears more other things."""
LEAST_SLENDER = 1.15
"""Length over width of a hub at least; raising it refuses stout hubs (common practice, no source)."""


@dataclass(frozen=True)
class Course:
    """The axis of a lying hub seen from above.

    Attributes
    ----------
    angle
        Of its direction in the paper's plane, rad.
    sideways
        Its distance to the left of the sheet's middle, mm, at the height at which it was looked for.
    start, end
        Where the hub begins and ends along it, mm, roughly.
    """

    angle: float
    sideways: float
    start: float
    end: float

    @property
    def along(self) -> Array:
        """(2,) unit direction."""
        return np.array([np.cos(self.angle), np.sin(self.angle)])

    @property
    def left(self) -> Array:
        """(2,) unit direction to the left of it."""
        return np.array([-np.sin(self.angle), np.cos(self.angle)])


@dataclass(frozen=True)
class _Edges:
    """Edges of the level picture: places (N, 2), unit normals (N, 2), strengths (N,); and both gradients."""

    place: Array
    normal: Array
    strength: Array
    gradient: tuple[Array, Array]


def see_course(picture: Picture, view: View, field: tuple[float, float]) -> Course | None:
    """Return the axis of the hub in one photo.

    Parameters
    ----------
    picture, view
        Grey photo with its camera.
    field
        Half length and half width of the target's blank field, mm.

    Returns
    -------
    Course or None
        None where nothing long and straight lies on the field.
    """
    edges = _edges(picture, view, field)
    if edges is None:
        return None
    angle = _direction(edges)
    lengths = [_spread(edges, a) for a in (angle, angle + np.pi / 2)]
    if lengths[1][1] - lengths[1][0] > lengths[0][1] - lengths[0][0]:
        # What was along is now across, the other way round.
        angle, lengths = angle + np.pi / 2, [lengths[1], (-lengths[0][1], -lengths[0][0])]
    (start, end), (low, high) = lengths
    length = end - start
    if not LENGTHS_MM[0] < length < LENGTHS_MM[1] or length < LEAST_SLENDER * (high - low):
        return None
    course = Course(float(angle), (low + high) / 2, float(start), float(end))
    turned = [replace(course, angle=course.angle + a) for a in TURNS_RAD]
    return max((_sideways(edges, view, c) for c in turned), key=lambda found: found[0])[1]


def level_points() -> Array:
    """Return (rows, columns, 3) points of the level plane."""
    x = np.arange(-HALF_MM[0], HALF_MM[0], STEP_MM)
    y = np.arange(-HALF_MM[1], HALF_MM[1], STEP_MM)
    across, up = np.meshgrid(x, y)
    return np.stack([across, up, np.full_like(across, LEVEL_MM)], -1)


def _edges(picture: Picture, view: View, field: tuple[float, float]) -> _Edges | None:
    points = level_points()
    grey = sampled(picture, pixels_of(view, points))
    gx = gaussian_filter(grey, EDGE_BLURS[0], order=(0, 1))
    gy = gaussian_filter(grey, EDGE_BLURS[0], order=(1, 0))
    eye = view.position
    paper = eye + (points - eye) * (eye[2] / (eye[2] - LEVEL_MM))
    inside = (np.abs(paper[..., 0]) < field[0]) & (np.abs(paper[..., 1]) < field[1])
    soft = np.hypot(
        gaussian_filter(grey, EDGE_BLURS[1], order=(0, 1)), gaussian_filter(grey, EDGE_BLURS[1], order=(1, 0))
    )
    inside &= np.hypot(gx, gy) > SHARP * soft
    gx, gy = gx * inside, gy * inside
    strength = np.hypot(gx, gy)
    least = EDGE.of(float(np.percentile(strength, 90)))
    rows, columns = np.nonzero(strength > least)
    if len(rows) < 100:
        return None
    s = strength[rows, columns]
    normal = np.stack([gx[rows, columns], gy[rows, columns]], -1) / s[:, None]
    return _Edges(points[rows, columns, :2], normal, np.minimum(s, np.percentile(s, 90)), (gx, gy))


def _direction(edges: _Edges) -> float:
    """Return the direction along and across which the edges gather in the fewest lines."""
    rough, step = TURN_STEPS_RAD
    coarse = np.arange(0.0, np.pi, rough)
    best = coarse[int(np.argmax([_gathered(edges, a) for a in coarse]))]
    fine = best + np.arange(-rough, rough + 1e-9, step)
    return float(fine[int(np.argmax([_gathered(edges, a) for a in fine]))])


def _gathered(edges: _Edges, angle: float) -> float:
    total = 0.0
    for a in (angle, angle + np.pi / 2):
        direction = np.array([np.cos(a), np.sin(a)])
        facing = np.abs(edges.normal @ direction) > ALONG
        where = ((edges.place[facing] @ direction + 2 * HALF_MM[0]) / BIN_MM).astype(int)
        total += float(np.sum(np.bincount(where, edges.strength[facing]) ** 2))
    return total


def _spread(edges: _Edges, angle: float) -> tuple[float, float]:
    along = edges.place @ np.array([np.cos(angle), np.sin(angle)])
    low, high = np.percentile(along, OUTERMOST)
    return float(low), float(high)


def _sideways(edges: _Edges, view: View, course: Course) -> tuple[float, Course]:
    """Return the course on the line about which edges along it mirror each other, and how much they do."""
    s = np.arange(course.start, course.end, BIN_MM)
    t = np.arange(course.sideways - 3 * SIDEWAYS_MM, course.sideways + 3 * SIDEWAYS_MM, SIDEWAYS_STEP_MM)
    x = s[:, None, None] * course.along + t[None, :, None] * course.left
    rows, columns = (x[..., 1] + HALF_MM[1]) / STEP_MM, (x[..., 0] + HALF_MM[0]) / STEP_MM
    gx, gy = edges.gradient
    across = course.left[0] * gx + course.left[1] * gy
    signed = gaussian_filter1d(map_coordinates(across, [rows, columns], order=1), SMOOTH_MM / BIN_MM, axis=0)
    limit = np.percentile(np.abs(signed), 97)
    signed = np.where(np.abs(signed) < 1.0, 0.0, np.clip(signed, -limit, limit))
    eye_t, eye_h = float(view.position[:2] @ course.left), float(view.position[2] - LEVEL_MM)
    tries = np.arange(course.sideways - SIDEWAYS_MM, course.sideways + SIDEWAYS_MM, SIDEWAYS_STEP_MM)
    value = _mirrored(signed, t, tries, eye_t, eye_h)
    value -= gaussian_filter1d(value, SMOOTH_MM / SIDEWAYS_STEP_MM)
    best = int(np.argmax(value))
    return float(value[best]), replace(course, sideways=float(tries[best]))


def _mirrored(signed: Array, t: Array, centres: Array, eye_t: float, eye_h: float) -> Array:
    """Return (N,) how strongly both outlines of parts turned about ``centres`` are seen, in opposite senses.

    How strongly two lines are seen in opposite senses is the root of their slopes' product, summed along
    them; here once for all pairs of lines.
    """
    aside = eye_t - centres[:, None]
    lean, half = np.arctan2(aside, eye_h), np.arcsin(RADII_MM / np.hypot(aside, eye_h))
    first, second = (eye_t - eye_h * np.tan(lean + sign * half) for sign in (-1, 1))
    i, j = (
        np.clip(np.rint((x - t[0]) / SIDEWAYS_STEP_MM).astype(int), 0, len(t) - 1) for x in (first, second)
    )
    rising, falling = np.sqrt(np.maximum(signed, 0.0)), np.sqrt(np.maximum(-signed, 0.0))
    opposite = rising.T @ falling
    return np.asarray((opposite[i, j] + opposite[j, i]) @ RADII_MM)
