"""See a rod that lies free above the sheet: its axis, and both of its ends.

The same eyes as for a gauge spoke: the rough line on which the photos agree, the wire's two edges along it,
and the end by a vote of all photos, here once in each direction. An end is a cut, or a spoke's head seen from
its back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hubsight.camera import View
from hubsight.model.arrays import Array, Picture
from hubsight.model.refusal import Refusal
from hubsight.photo.at_once import at_once
from hubsight.see.gauge.axis import SeenLine, track_axis
from hubsight.see.gauge.end import EndSighting, see_ends
from hubsight.see.gauge.end_odds import EndKind
from hubsight.see.gauge.find import HEIGHT_RANGE_MM, find_lines, segments

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
LEAST_SEEN, BLOCK_MM = 0.4, 3.0
"""Smallest share of the stated length along which both edges of the wire are seen, in the mean of the photos,
for a line without ends to be the rod; and the length of one axis point. Edges of sheet and blocks show
less."""

_SHOW_IT = (
    "Use a straight rod as thick as a spoke (1.5 to 2.6 mm), blacken it with a felt pen if it is bright, and "
    "show both ends in every photo with white paper round them"
)
"""What to do where the rod is not seen."""


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
    pictures: Sequence[NDArray[np.uint8]], views: Sequence[View], length: float, *, head: bool = False
) -> RodSighting | Refusal:
    """Find the rod above the sheet.

    Parameters
    ----------
    pictures, views
        Per photo the grey picture, camera and pose; two or more.
    length
        As stated, mm. It only tells the rod from other things: what is seen may differ by `LENGTH_SLACK`.
    head
        Whether one end is a spoke's head; the length then ends at its back.

    Returns
    -------
    RodSighting or Refusal
        A refusal says whether nothing was seen, an end, or a rod of another length or with another end, or
        one that lies low.
    """
    photos = _Photos(list(at_once(segments, pictures)), pictures, views, length)
    lines = photos.lines(HEIGHT_RANGE_MM)
    rods = [rod for line in lines for rod in photos.rods(line, head=head)]
    fitting = [rod for rod in rods if photos.fits(rod)]
    if fitting:
        return max(fitting, key=_axis_points)
    if any(photos.fits(rod) for line in lines for rod in photos.rods(line, head=not head)):
        return _other_end(head=head)
    low = (rod for line in photos.lines(LOW_RANGE_MM) for rod in photos.rods(line, head=head))
    if any(photos.fits(rod) for rod in low):
        return lies_low()
    if rods:
        seen = max(rods, key=_axis_points).length
        return Refusal(
            reason=f"what lies above the sheet is {seen:.1f} mm long, the stated rod {length:.1f} mm",
            remedy="Measure the rod from end to end with the caliper, and show both of its ends over the "
            "white field in every photo",
        )
    wire = next((line for line in lines if line.seen_mm > LEAST_SEEN * length), None)
    if wire is not None:
        return photos.no_end(wire)
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


def _other_end(*, head: bool) -> Refusal:
    if head:
        return Refusal(
            reason="a head is stated at one end of the rod, and both ends are plain",
            remedy="Leave out --head, and give the length from end to end",
        )
    return Refusal(
        reason="one end of the rod is thicker than its wire, as a spoke's head is",
        remedy="Add --head, and give the length over all as the caliper reads it, head included; a plain rod "
        "with two square ends proves more",
    )


@dataclass(frozen=True)
class _Line:
    """A line along which a wire runs, and how much of it, mm, was seen at first."""

    seen: SeenLine
    stretch: float

    @property
    def seen_mm(self) -> float:
        """Length along which its edges are seen, in the mean of the photos, mm."""
        return BLOCK_MM * float(np.mean([len(axis.back) for axis in self.seen.axes]))


@dataclass(frozen=True)
class _Photos:
    """What is looked at, per photo, and how long the rod should be."""

    found: Sequence[Array]
    pictures: Sequence[Picture]
    views: Sequence[View]
    length: float

    def lines(self, heights: tuple[float, float]) -> list[_Line]:
        """Return the lines between two heights along which both edges of a wire are seen."""
        out = []
        for rough in find_lines(self.found, self.views, MIDDLE, CANDIDATES, heights=heights):
            end, stretch = rough.point + rough.high * rough.direction, rough.high - rough.low
            seen = track_axis(self.pictures, self.views, end, rough.direction, stretch)
            if seen is not None:
                out.append(_Line(seen, stretch))
        return out

    def rods(self, line: _Line, *, head: bool) -> list[RodSighting]:
        """Return the rods along a line: one with two cut ends, or those with a head at either end."""
        kinds: tuple[tuple[EndKind, EndKind], ...] = (
            (("head", "flat"), ("flat", "head")) if head else (("flat", "flat"),)
        )
        rods = (self._rod(line, *pair) for pair in kinds)
        return [rod for rod in rods if rod is not None]

    def fits(self, rod: RodSighting) -> bool:
        """Tell whether a rod is about as long as stated."""
        return abs(rod.length / self.length - 1) < LENGTH_SLACK

    def _rod(self, line: _Line, at_far: EndKind, at_near: EndKind) -> RodSighting | None:
        """Look for an end in either direction, then track the axis once more between the two."""
        end, out, width = line.seen.end, line.seen.direction, line.seen.width
        both: tuple[EndKind, ...] = ("flat", "head")
        far = see_ends(self.pictures, self.views, end, out, width=width, tip=at_far, kinds=both)
        other = end - line.stretch * out
        near = see_ends(self.pictures, self.views, other, -out, width=width, tip=at_near, kinds=both)
        if far is None or near is None or not any(far.ends) or not any(near.ends):
            return None
        ends = end + far.shift * out, other - near.shift * out
        for seen, kind in ((far, at_far), (near, at_near)):
            if seen.odds is not None and seen.odds.kind != kind:
                return None
        length = float(np.linalg.norm(ends[0] - ends[1]))
        whole = track_axis(self.pictures, self.views, ends[0], out, length - 1.5) or line.seen
        return RodSighting(whole, *ends, far.ends, near.ends)

    def no_end(self, line: _Line) -> Refusal:
        """Say why an end was not found: out of the pictures, or covered."""
        sizes = [np.array([picture.shape[1], picture.shape[0]]) for picture in self.pictures]
        for beyond in (END_MARGIN_MM, -self.length - END_MARGIN_MM):
            point = line.seen.end + beyond * line.seen.direction
            places = [view.project(point[None])[0] for view in self.views]
            inside = [np.all((p > 0) & (p < size - 1)) for p, size in zip(places, sizes, strict=True)]
            if sum(inside) < 2:
                return Refusal(
                    reason="an end of the rod is outside the picture",
                    remedy="Keep the whole rod in every photo, with a finger's breadth of paper beyond both "
                    "ends",
                )
        return Refusal(
            reason="an end of the rod was not found: it is covered, not sharp, or not over white paper",
            remedy="Let both ends stand out beyond the blocks by 30 mm or more, over white paper, and show "
            "them sharp in every photo",
        )
