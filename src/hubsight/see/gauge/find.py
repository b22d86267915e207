"""Find the gauge spoke roughly: a long straight thing above the paper, on which several photos agree.

Straight segments of all photos span planes through the lenses; two planes from two photos meet in a line in
space. The gauge is the line at hub height that most photos support over the greatest length. Its shadow, the
sheet's edges and the tools on the bench lie low and fall out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import cv2
import numpy as np

from hubsight.camera import View
from hubsight.model.arrays import Array, Flags, Indices, Picture

SEARCH_LONG_SIDE_PX = 1400
"""Long side of the copy in which straight edges are looked for, px; raising it is slower and finds fainter
ones."""
LEAST_SEGMENT_MM = 14.0
"""Shortest edge that counts, mm; raising it loses gauges in pieces."""
HEIGHT_RANGE_MM = (20.0, 190.0)
"""Heights of a gauge above the paper, mm; a wider range takes in shadows and edges of the sheet (common
practice, no source)."""
MAX_SLOPE = 0.25
"""Sine of the steepest gauge against the paper, towards the rim or drooping in its bore; raising it takes in
chance lines, for edges of different things in two photos meet in steep ones (common practice, no source)."""
SUPPORT = (1.8, 0.045)
"""Distance (mm) and angle (rad) within which an edge supports a line, of which it is half a wire away;
raising them lets more lines win by chance."""
SAMPLE_MM = 2.0
"""Step along a line at which its support is counted, mm; raising it is faster."""
KEEP_CANDIDATES = 400
"""Lines that are looked at again; raising it is slower."""
LEAST_SUPPORT_MM = 40.0
"""Shortest supported length of a gauge, mm; raising it loses short or half hidden ones."""
SAME_LINE_MM, SAME_HEIGHT_MM = 9.0, 25.0
"""Distances sideways and in height within which two lines are one thing, mm; raising them hides a second
gauge near the first."""
LONGEST_MM = 130.0
"""Longest gauge, mm; raising it takes in edges of the bench and of the sheet."""
LARGEST_MISS_MM = 65.0
"""Farthest that a gauge passes the places for hubs, mm; raising it takes in things beside the hub."""
USUAL_PROTRUSION_MM = 93.0
"""What sticks out of a boss of a gauge about 100 mm long, mm; it turns heights at both ends into a slope."""


@dataclass(frozen=True)
class RoughLine:
    """A gauge as first seen: mid point and unit direction (3,), and the supported stretch along it, mm."""

    point: Array
    direction: Array
    low: float
    high: float
    support: float
    """Supported length, mm, summed over photos; less where the line is steep."""


def segments(picture: Picture) -> Array:
    """Return (N, 4) straight edge segments x0 y0 x1 y1 of a grey picture, in its full-size pixels."""
    shrink = max(1.0, max(picture.shape) / SEARCH_LONG_SIDE_PX)
    size = (round(picture.shape[1] / shrink), round(picture.shape[0] / shrink))
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    found = cv2.createLineSegmentDetector(0).detect(small)[0]
    if found is None:
        return np.empty((0, 4))
    scale = np.array([picture.shape[1] / size[0], picture.shape[0] / size[1]] * 2)
    return np.asarray((found.reshape(-1, 4) + 0.5) * scale - 0.5, dtype=np.float64)


def long_segments(found: Array, view: View) -> Array:
    """Return the segments that would be `LEAST_SEGMENT_MM` long half-way up to the lens' height."""
    px_per_mm = view.focal / max(view.position[2] - 80.0, 80.0)
    length = np.hypot(found[:, 2] - found[:, 0], found[:, 3] - found[:, 1])
    return np.asarray(found[length > LEAST_SEGMENT_MM * px_per_mm])


def find_lines(
    found: Sequence[Array],
    views: Sequence[View],
    anchors: Array,
    count: int = 2,
    *,
    heights: tuple[float, float] = HEIGHT_RANGE_MM,
) -> list[RoughLine]:
    """Return up to ``count`` gauge-like lines, best supported first, directed away from the hub.

    Parameters
    ----------
    found
        Per photo (N, 4) segments, px.
    views
        Per photo camera and pose.
    anchors
        (A, 2) where a hub may stand, target frame; lines that pass far from all of them are no gauge.
    count
        How many different lines are wanted.
    heights
        Lowest and highest place of the line above the sheet's middle, mm.
    """
    found = [long_segments(s, v) for s, v in zip(found, views, strict=True)]
    rays = [
        (v.rays(s[:, :2]), v.rays(s[:, 2:])) if len(s) else (np.empty((0, 3)), np.empty((0, 3)))
        for s, v in zip(found, views, strict=True)
    ]
    point, direction = _meeting_lines(rays, [v.position for v in views], anchors.mean(0), heights)
    if len(point) == 0:
        return []
    covered = _support(point, direction, found, views)
    score = np.sum(np.minimum(covered.sum(2), 60) * SAMPLE_MM, axis=0) * (1 - np.abs(direction[:, 2]))
    return [_outward(line, anchors) for line in _distinct(point, direction, covered, score, count)]


def lines_at_heights(
    found: Array, view: View, boss_height: float, end_height: float, anchors: Array, *, count: int = 2
) -> list[RoughLine]:
    """Return gauge-like lines in one photo, by the wire's heights at the boss and at its far end.

    Parameters
    ----------
    found
        (N, 4) segments, px.
    view
        Camera and pose.
    boss_height, end_height
        Above the paper, mm.
    anchors
        (A, 2) where a hub may stand.
    count
        How many different lines are wanted.
    """
    seg = long_segments(found, view)
    if len(seg) == 0:
        return []
    level = (boss_height + end_height) / 2
    first, second = view.at_height(seg[:, :2], level), view.at_height(seg[:, 2:], level)
    near = [np.linalg.norm(p[:, None, :2] - anchors, axis=2).min(1) for p in (first, second)]
    away = np.where((near[0] <= near[1])[:, None], second - first, first - second)
    direction = _unit(away)
    direction[:, 2] = (end_height - boss_height) / USUAL_PROTRUSION_MM
    direction = _unit(direction)
    point = (first + second) / 2
    middle = anchors.mean(0)
    point = point - np.sum((point - np.append(middle, level)) * direction, 1, keepdims=True) * direction
    point[:, 2] = level + direction[:, 2] * np.sum((point - np.append(middle, level)) * direction, 1)
    close = np.hypot(point[:, 0] - middle[0], point[:, 1] - middle[1]) < LARGEST_MISS_MM
    point, direction = point[close], direction[close]
    covered = _support(point, direction, [seg], [view])
    score = covered.sum(2)[0] * SAMPLE_MM
    lines = [_outward(line, anchors) for line in _distinct(point, direction, covered, score, count)]
    return [line for line in lines if line.high - line.low < LONGEST_MM]


def _meeting_lines(
    rays: list[tuple[Array, Array]], eyes: list[Array], centre: Array, heights: tuple[float, float]
) -> tuple[Array, Array]:
    """Return the gauge-like lines in which planes of segment pairs from different photos meet."""
    points, directions = [], []
    normals = [_unit(np.cross(a, b)) for a, b in rays]
    for i, j in combinations(range(len(rays)), 2):
        n1, n2 = normals[i][:, None], normals[j][None]
        d = np.cross(n1, n2)
        size = np.linalg.norm(d, axis=2)
        safe = np.where(size > 0.05, size, 1.0)
        d = d / safe[..., None]
        c1, c2 = n1 @ eyes[i], n2 @ eyes[j]
        p = (c1[..., None] * np.cross(n2, d) + c2[..., None] * np.cross(d, n1)) / safe[..., None]
        p = p - np.sum((p - np.append(centre, 80.0)) * d, 2, keepdims=True) * d
        good = (size > 0.05) & (np.abs(d[..., 2]) < MAX_SLOPE)
        good &= (p[..., 2] > heights[0]) & (p[..., 2] < heights[1])
        good &= np.hypot(p[..., 0] - centre[0], p[..., 1] - centre[1]) < LARGEST_MISS_MM
        good &= _overlap(p, d, (rays[i], eyes[i]), (rays[j], eyes[j])) > 0.5 * LEAST_SEGMENT_MM
        points.append(p[good])
        directions.append(d[good])
    return np.concatenate(points), np.concatenate(directions)


def _overlap(
    p: Array, d: Array, first: tuple[tuple[Array, Array], Array], second: tuple[tuple[Array, Array], Array]
) -> Array:
    """Return the common length, mm, along lines p + t d (I, J, 3) of segments (rays, eye) of two photos."""
    (a, eye_a), (b, eye_b) = first, second
    t = [
        along_line(p, d, eye_a, a[0][:, None]),
        along_line(p, d, eye_a, a[1][:, None]),
        along_line(p, d, eye_b, b[0][None]),
        along_line(p, d, eye_b, b[1][None]),
    ]
    low = np.maximum(np.minimum(t[0], t[1]), np.minimum(t[2], t[3]))
    high = np.minimum(np.maximum(t[0], t[1]), np.maximum(t[2], t[3]))
    return np.asarray(high - low)


def along_line(p: Array, d: Array, eye: Array, ray: Array) -> Array:
    """Return t of the point of line p + t d nearest to the line of sight eye + s ray, unit vectors."""
    w = p - eye
    b = np.sum(d * ray, -1)
    denominator = np.maximum(1 - b * b, 1e-9)
    return np.asarray((b * np.sum(ray * w, -1) - np.sum(d * w, -1)) / denominator)


def _unit(v: Array) -> Array:
    return np.asarray(v / np.maximum(np.linalg.norm(v, axis=-1, keepdims=True), 1e-12))


def _support(point: Array, direction: Array, found: Sequence[Array], views: Sequence[View]) -> Flags:
    """Tell (photo, line, sample) where a segment runs along the line."""
    t = np.arange(-LONGEST_MM, LONGEST_MM + 1e-9, SAMPLE_MM)
    covered = np.zeros((len(found), len(point), len(t)), dtype=bool)
    for k, (seg, view) in enumerate(zip(found, views, strict=True)):
        world = point[:, None] + t[None, :, None] * direction[:, None]
        px = view.project(world.reshape(-1, 3)).reshape(len(point), len(t), 2)
        distance = np.linalg.norm(point - view.position, axis=1)
        radius = SUPPORT[0] * view.focal / distance
        tangent = _unit(np.asarray(np.gradient(px, axis=1))[:, len(t) // 2])
        for x0, y0, x1, y1 in seg:
            length = np.hypot(x1 - x0, y1 - y0)
            u = np.array([x1 - x0, y1 - y0]) / length
            parallel = np.abs(tangent[:, 0] * u[1] - tangent[:, 1] * u[0]) < SUPPORT[1]
            if not parallel.any():
                continue
            rows = np.flatnonzero(parallel)
            rel = px[rows] - np.array([x0, y0])
            along = rel @ u
            across = np.abs(rel[..., 0] * u[1] - rel[..., 1] * u[0])
            covered[k, rows] |= (along > 0) & (along < length) & (across < radius[rows, None])
    return covered


def _distinct(point: Array, direction: Array, covered: Flags, score: Array, count: int) -> list[RoughLine]:
    """Return the best lines that are not the same thing twice."""
    out: list[RoughLine] = []
    t = np.arange(-LONGEST_MM, LONGEST_MM + 1e-9, SAMPLE_MM)
    for k in np.argsort(-score)[:KEEP_CANDIDATES]:
        votes = covered[:, k].sum(0)
        need = 2 if len(covered) > 1 else 1
        on = _within_a_gauge(np.flatnonzero(votes >= need))
        if len(on) * SAMPLE_MM < LEAST_SUPPORT_MM:
            continue
        ends = point[k] + t[[on[0], on[-1]], None] * direction[k]
        if any(same_line(line.point, line.direction, ends) for line in out):
            continue
        out.append(RoughLine(point[k], direction[k], float(t[on[0]]), float(t[on[-1]]), float(score[k])))
        if len(out) == count:
            break
    return out


def _within_a_gauge(on: Indices) -> Indices:
    """Return those of ascending samples (N,) that lie within one gauge's length, as many as can be.

    Behind the hub an edge of something else may run on along the same line.
    """
    if len(on) == 0:
        return on
    past = np.searchsorted(on, on + LONGEST_MM / SAMPLE_MM, side="right")
    first = int((past - np.arange(len(on))).argmax())
    return on[first : past[first]]


def same_line(point: Array, direction: Array, ends: Array) -> bool:
    """Tell whether a stretch of line runs along another line, seen from above, and not far over or under it.

    One wire's edges do so; something else may lie right below a wire.

    Parameters
    ----------
    point, direction
        (3,) of the other line, mm and unit.
    ends
        (2, 3) of the stretch, mm.
    """
    d = direction[:2] / np.linalg.norm(direction[:2])
    rel = ends - point
    off = np.abs(rel[:, 0] * d[1] - rel[:, 1] * d[0])
    steepness = direction[2] / np.linalg.norm(direction[:2])
    higher = rel[:, 2] - steepness * (rel[:, :2] @ d)
    apart = np.all(higher > SAME_HEIGHT_MM) or np.all(higher < -SAME_HEIGHT_MM)
    return bool(off.max() < SAME_LINE_MM and not apart)


def _outward(line: RoughLine, anchors: Array) -> RoughLine:
    """Return a line directed away from the end that is nearer to a place for hubs."""
    ends = line.point + np.array([[line.low], [line.high]]) * line.direction
    miss = np.linalg.norm(ends[:, None, :2] - anchors, axis=2).min(1)
    if miss[0] <= miss[1]:
        return line
    return RoughLine(line.point, -line.direction, -line.high, -line.low, line.support)
