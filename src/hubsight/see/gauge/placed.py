"""Gauges whose axes a person placed in the photos: the line in space, and what the photos show along it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from hubsight.camera import View
from hubsight.model.arrays import Array, Picture
from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading, StatedGauge
from hubsight.scene.usual import WIRE_RADIUS_MM
from hubsight.see.gauge.axis import AxisSighting, SeenLine, track_axis
from hubsight.see.gauge.end import EndsFound
from hubsight.see.gauge.find import LONGEST_MM, RoughLine, along_line, find_lines, same_line, segments
from hubsight.see.gauge.sighting import (
    ANCHORS,
    EXTRA_CANDIDATES,
    LEAST_AXIS_POINTS,
    GaugeSighting,
    gauge_sighting,
    see_gauge_end,
)
from hubsight.see.marks import Mark, Marks

LEAST_APART = 0.05
"""Sine of the angle between the planes of two placed axes below which they make no line in space; raising it
asks for photos taken farther apart."""
SHORTEST_MM = 15.0
"""Shortest placed gauge, mm; raising it refuses more marks."""
ASTRAY_SIGMAS, ASTRAY_PX = 4.0, 3.0
"""Distance from a mark from which a seen line is another one than that placed, in the mark's uncertainties
and px on top; raising them trusts the photos more."""
END_ASTRAY_MM = 1.0
"""Distance from the placed end from which a seen end is another one, mm; raising it trusts the photos
more."""
NO_AXIS = AxisSighting(np.empty(0), np.empty((0, 2)), np.empty((0, 2)), np.empty(0), np.empty(0))
"""The axis of a gauge that a photo does not show."""


@dataclass(frozen=True)
class WireHeights:
    """Stated heights of the wire above the paper, without which one photo alone makes no line in space."""

    at_boss: Reading | None = None
    at_end: Reading | None = None


def placed_lines(marks: Marks, gauges: int, heights: WireHeights) -> dict[int, RoughLine]:
    """Return lines in space of the placed axes.

    Parameters
    ----------
    marks
        What was placed.
    gauges
        How many are stated.
    heights
        As stated; asked only where there is one photo.

    Returns
    -------
    dict
        By gauge its line, from where it comes out of the hub to its far end; a gauge whose axis was placed in
        one of several photos, or from one direction only, makes none.
    """
    out = {}
    for gauge in range(gauges):
        axes, ends = marks.axes(gauge), marks.ends(gauge)
        through = _through_planes(axes) if len(marks.files) > 1 else _at_heights(axes, heights)
        if through is not None:
            line = _stretch(*through, axes, ends)
            if line.high - line.low > SHORTEST_MM:
                out[gauge] = line
    return out


def _through_planes(axes: Sequence[Mark]) -> tuple[Array, Array] | None:
    """Return the point and direction of the line in which the planes through the placed axes meet."""
    if len(axes) < 2:
        return None
    rays = [axis.view.rays(axis.pixels) for axis in axes]
    normals = np.array([np.cross(*r) / np.linalg.norm(np.cross(*r)) for r in rays])
    _, size, rows = np.linalg.svd(normals)
    if size[1] < LEAST_APART:
        return None
    at = np.sum(normals * np.array([axis.view.position for axis in axes]), axis=1)
    direction = rows[2]
    point = np.linalg.lstsq(np.vstack([normals, direction]), np.append(at, 0.0), rcond=None)[0]
    return point, direction


def _at_heights(axes: Sequence[Mark], heights: WireHeights) -> tuple[Array, Array] | None:
    """Return the point and direction of a placed axis in a single photo, at the wire's stated heights."""
    if not axes or heights.at_boss is None or heights.at_end is None:
        return None
    levels = np.array([heights.at_boss.value, heights.at_end.value])
    first, last = axes[0].view.at_height(axes[0].pixels, levels)
    return first, (last - first) / np.linalg.norm(last - first)


def _stretch(point: Array, direction: Array, axes: Sequence[Mark], ends: Sequence[Mark]) -> RoughLine:
    """Return the line with its beginning and end where the marks are, directed to the far end."""

    def along(marks: Sequence[Mark], which: int) -> float:
        return float(np.median([_along(m, point, direction)[which] for m in marks]))

    low, high = along(axes, 0), along(ends, 0) if ends else along(axes, 1)
    sign = np.sign(high - low) or 1.0
    return RoughLine(point, sign * direction, sign * low, sign * high, 0.0)


def _along(mark: Mark, point: Array, direction: Array) -> Array:
    return along_line(point, direction, mark.view.position, mark.view.rays(mark.pixels))


def strays(end: Array, direction: Array, marks: Marks, gauge: int) -> bool:
    """Tell whether a line passes a gauge's placed axes too far away to be the same thing."""
    for axis in marks.axes(gauge):
        nearest = axis.view.project(end + _along(axis, end, direction)[:, None] * direction)
        apart = np.linalg.norm(nearest - axis.pixels, axis=1)
        if np.any(apart > ASTRAY_SIGMAS * axis.u_px + ASTRAY_PX):
            return True
    return False


def see_placed_gauges(
    pictures: Sequence[Picture],
    stated: Sequence[StatedGauge],
    lines: Mapping[int, RoughLine],
    marks: Marks,
) -> list[GaugeSighting] | Refusal:
    """Return what is seen along placed gauges, and of others that were not placed beside them.

    Parameters
    ----------
    pictures
        Per photo the grey picture.
    stated
        The gauges that are in the hub.
    lines, marks
        From `placed_lines`, and what they come from.

    Returns
    -------
    list of GaugeSighting or Refusal
        In the order stated. What no photo shows is empty: the marks themselves then carry the figures.
    """
    views = marks.views
    others = iter(_other_lines(pictures, views, lines, len(stated)))
    out = []
    for k, gauge in enumerate(stated):
        line = lines.get(k) or next(others, None)
        if line is None:
            return Refusal(
                reason=f"gauge {k + 1} was not found beside the one placed by hand",
                remedy="Place its axis and its far end by hand too, in two photos or more",
            )
        seen = _seen_along(pictures, views, line, gauge)
        if k in lines and strays(seen.end, seen.direction, marks, k):
            seen = _unseen(line, gauge, len(views))
        end = _end(pictures, views, seen, gauge, placed=bool(marks.ends(k)))
        if isinstance(end, Refusal):
            return end
        out.append(gauge_sighting(line, seen, end, stated=gauge.tip))
    return out


def _other_lines(
    pictures: Sequence[Picture], views: Sequence[View], lines: Mapping[int, RoughLine], count: int
) -> list[RoughLine]:
    """Return lines beside the placed ones, for the gauges that were not placed."""
    if len(lines) >= count or len(views) < 2:
        return []
    found = find_lines([segments(p) for p in pictures], views, ANCHORS, count + EXTRA_CANDIDATES)
    placed = [line.point + np.array([[line.low], [line.high]]) * line.direction for line in lines.values()]
    return [line for line in found if not any(same_line(line.point, line.direction, ends) for ends in placed)]


def _seen_along(
    pictures: Sequence[Picture], views: Sequence[View], line: RoughLine, gauge: StatedGauge
) -> SeenLine:
    end = line.point + line.high * line.direction
    seen = track_axis(pictures, views, end, line.direction, min(line.high - line.low, LONGEST_MM))
    if seen is None or sum(len(a.back) for a in seen.axes) < LEAST_AXIS_POINTS:
        return _unseen(line, gauge, len(views))
    return seen


def _unseen(line: RoughLine, gauge: StatedGauge, photos: int) -> SeenLine:
    width = 2 * WIRE_RADIUS_MM if gauge.diameter is None else gauge.diameter.value
    return SeenLine(line.point + line.high * line.direction, line.direction, width, (NO_AXIS,) * photos)


def _end(
    pictures: Sequence[Picture],
    views: Sequence[View],
    line: SeenLine,
    gauge: StatedGauge,
    *,
    placed: bool,
) -> EndsFound | Refusal:
    """Return the far end, at the line's end where a person placed it and no photo shows it near there."""
    found = see_gauge_end(pictures, views, line, gauge.tip)
    if found is not None and any(found.ends) and not (placed and abs(found.shift) > END_ASTRAY_MM):
        return found
    if placed:
        return EndsFound(0.0, (None,) * len(views))
    return Refusal(
        reason="the far end of the gauge placed by hand was not found",
        remedy="Place its far end by hand too",
    )
