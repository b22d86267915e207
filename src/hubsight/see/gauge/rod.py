"""See a rod that lies free above the sheet: its axis, and both of its ends.

The same eyes as for a gauge spoke: the rough line on which the photos agree, the wire's two edges along it,
and the end by a vote of all photos, here once in each direction.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hubsight.camera import View
from hubsight.model.refusal import Refusal
from hubsight.photo.at_once import at_once
from hubsight.see.gauge.axis import SeenLine, track_axis
from hubsight.see.gauge.end import EndSighting, see_ends
from hubsight.see.gauge.find import HEIGHT_RANGE_MM, find_lines, segments
from hubsight.see.ribbon import linear_light

Array = NDArray[np.float64]

MIDDLE = np.zeros((1, 2))
"""The rod passes near the middle of the sheet."""
CANDIDATES = 4
"""Lines that are looked at as possible rods. More of them cost time; fewer may miss a rod beside longer
edges."""
LOW_RANGE_MM = (-4.0, HEIGHT_RANGE_MM[0])
"""Heights at which a rod lies on the sheet or on something thin: the left edge in one photo and the right
edge in another meet a few millimetres above or below the wire."""
END_MARGIN_MM = 6.0
"""A photo has to show this much beyond an end to know it for the end."""
LENGTH_SLACK = 0.05
"""Largest relative difference between a seen and a stated length. Beyond it something else is seen, or the
reading is a slip."""

_SHOW_IT = (
    "Use a straight rod as thick as a spoke (1.5 to 2.6 mm), dark against the white field, and show both "
    "ends in every photo with white paper round them"
)


@dataclass(frozen=True)
class RodSighting:
    """A rod in all photos.

    Attributes
    ----------
    line
        Axis in space, directed to the far end, with its points in the photos.
    far, near
        (3,) centres of the two ends, mm.
    far_ends, near_ends
        Per photo the end's sighting, or None where it is not seen.
    """

    line: SeenLine
    far: Array
    near: Array
    far_ends: tuple[EndSighting | None, ...]
    near_ends: tuple[EndSighting | None, ...]

    @property
    def length(self) -> float:
        """Distance of the ends by the photos' votes, mm."""
        return float(np.linalg.norm(self.far - self.near))


def see_rod(
    pictures: Sequence[NDArray[np.uint8]], views: Sequence[View], length: float
) -> RodSighting | Refusal:
    """Find the rod above the sheet.

    Parameters
    ----------
    pictures, views
        Per photo the grey picture, camera and pose; two or more.
    length
        As stated, mm. It only tells the rod from other things: what is seen may differ by `LENGTH_SLACK`.

    Returns
    -------
    RodSighting or Refusal
        A refusal says whether nothing was seen, an end, or a rod of another length, or one that lies low.
    """
    found = list(at_once(segments, pictures))
    lights = list(at_once(linear_light, pictures))
    rods, half_seen = _rods(found, lights, views, HEIGHT_RANGE_MM)
    fitting = [rod for rod in rods if abs(rod.length / length - 1) < LENGTH_SLACK]
    if fitting:
        return max(fitting, key=_axis_points)
    low, _ = _rods(found, lights, views, LOW_RANGE_MM)
    if any(abs(rod.length / length - 1) < LENGTH_SLACK for rod in low):
        return lies_low()
    if rods:
        seen = max(rods, key=_axis_points).length
        return Refusal(
            reason=f"what lies above the sheet is {seen:.1f} mm long, the stated rod {length:.1f} mm",
            remedy="Measure the rod from end to end with the caliper, and show both of its ends over the "
            "white field in every photo",
        )
    if half_seen:
        return _no_end(lights, views, half_seen[0], length)
    return Refusal(reason="no rod is seen above the sheet", remedy=_SHOW_IT)


def lies_low() -> Refusal:
    """Refuse a rod on the sheet: there a wrong height or camera does not show."""
    return Refusal(
        reason="the rod lies on the sheet, or little above it: that proves nothing at a hub's height",
        remedy="Lay it over two blocks or across a mug, 50 to 110 mm above the sheet, and photograph it "
        "again",
    )


def _axis_points(rod: RodSighting) -> int:
    return sum(len(axis.back) for axis in rod.line.axes)


def _rods(
    found: Sequence[Array],
    lights: Sequence[NDArray[np.float32]],
    views: Sequence[View],
    heights: tuple[float, float],
) -> tuple[list[RodSighting], list[SeenLine]]:
    """Return the rods with two ends between two heights, and the lines of which an end was not found."""
    rods, half_seen = [], []
    for rough in find_lines(found, views, MIDDLE, CANDIDATES, heights=heights):
        end = rough.point + rough.high * rough.direction
        line = track_axis(lights, views, end, rough.direction, rough.high - rough.low)
        if line is None:
            continue
        rod = _both_ends(lights, views, line, rough.high - rough.low)
        if rod is None:
            half_seen.append(line)
        else:
            rods.append(rod)
    return rods, half_seen


def _both_ends(
    lights: Sequence[NDArray[np.float32]], views: Sequence[View], line: SeenLine, stretch: float
) -> RodSighting | None:
    """Look for an end in either direction, then track the axis once more between the two."""
    out = line.direction
    far = see_ends(lights, views, line.end, out, width=line.width, tip="flat")
    other = line.end - stretch * out
    near = see_ends(lights, views, other, -out, width=line.width, tip="flat")
    if far is None or near is None or not any(far[1]) or not any(near[1]):
        return None
    ends = line.end + far[0] * out, other - near[0] * out
    length = float(np.linalg.norm(ends[0] - ends[1]))
    whole = track_axis(lights, views, ends[0], out, length - 1.5) or line
    return RodSighting(whole, *ends, tuple(far[1]), tuple(near[1]))


def _no_end(
    lights: Sequence[NDArray[np.float32]], views: Sequence[View], line: SeenLine, length: float
) -> Refusal:
    """Say why an end was not found: out of the pictures, or covered."""
    sizes = [np.array([light.shape[1], light.shape[0]]) for light in lights]
    beyond = [line.end + at * line.direction for at in (END_MARGIN_MM, -length - END_MARGIN_MM)]
    for point in beyond:
        places = [view.project(point[None])[0] for view in views]
        inside = [np.all((p > 0) & (p < size - 1)) for p, size in zip(places, sizes, strict=True)]
        if sum(inside) < 2:
            return Refusal(
                reason="an end of the rod is outside the picture",
                remedy="Keep the whole rod in every photo, with a finger's breadth of paper beyond both ends",
            )
    return Refusal(
        reason="an end of the rod was not found: it is covered, not sharp, or not over white paper",
        remedy="Let both ends stand out beyond the blocks by 30 mm or more, over white paper, and show them "
        "sharp in every photo",
    )
