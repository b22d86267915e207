"""What is drawn over a photo: one list of marks, which pictures and pages draw alike.

Solid is what this photo shows; dashed is what the other photos, or the model, put there.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from hubsight.model.side import PhotoEvidence, Pixel, SeenEdge

MarkKind = Literal[
    "corner",
    "unused",
    "outline",
    "centreline",
    "gauge",
    "other-gauge",
    "end",
    "end-seen",
    "seat",
    "crossing",
    "axis",
    "end_face",
    "flange",
    "hub_axis",
]
HANGS_ON: dict[str, tuple[MarkKind, ...]] = {
    "spoke_offset": ("end", "end-seen", "gauge", "seat", "crossing", "centreline"),
    "flange_diameter": ("crossing", "outline", "axis"),
    "reach": ("end", "end-seen", "gauge", "crossing"),
    "protrusion": ("end", "end-seen", "gauge", "outline"),
    "boss_width": ("outline",),
    "boss_width_across": ("outline",),
    "spoke_offset_by_width": ("end", "end-seen", "outline"),
    "flange_height": ("outline", "gauge"),
    "over_locknut": ("end_face",),
    "centre_to_flange": ("end_face", "flange", "outline"),
    "centre_to_flange_ds": ("end_face", "flange", "outline"),
    "centre_to_flange_nds": ("end_face", "flange", "outline"),
}
"""Marks whose place a figure rests on, by the figure's name."""


@dataclass(frozen=True)
class Mark:
    """One mark over a photo, in pixels of the picture.

    Attributes
    ----------
    points
        Of a line; one point else.
    dashed
        Whether it is inferred or hidden here.
    closed
        Whether the line returns to its beginning.
    along
        Of a gauge's end a point of its axis before it, to which the mark is square.
    """

    kind: MarkKind
    points: tuple[Pixel, ...]
    dashed: bool = False
    closed: bool = False
    along: Pixel | None = None


def marks_of(evidence: PhotoEvidence) -> tuple[Mark, ...]:
    """Return everything of hub and gauge that is drawn over a photo, lines first."""
    return (*_edges(evidence.edges), *_bosses(evidence), *_gauges(evidence), *_points(evidence))


def corner_marks(evidence: PhotoEvidence) -> tuple[Mark, ...]:
    """Return the target's corners."""
    return tuple(Mark("corner" if s.used else "unused", (s.pixel,)) for s in evidence.saddles)


def _edges(edges: Sequence[SeenEdge]) -> Iterable[Mark]:
    for edge in edges:
        for points, seen in stretches(edge):
            yield Mark(edge.kind, points, dashed=not seen)


def stretches(edge: SeenEdge) -> Iterable[tuple[tuple[Pixel, ...], bool]]:
    """Yield the pieces of an edge that are seen throughout, and those that are not, in order."""
    links = [a and b for a, b in pairwise(edge.seen)]
    start = 0
    for k in range(1, len(links) + 1):
        if k == len(links) or links[k] != links[start]:
            yield edge.points[start : k + 1], links[start]
            start = k


def _bosses(evidence: PhotoEvidence) -> Iterable[Mark]:
    for boss, outline in enumerate(evidence.boss_outlines):
        yield Mark("outline", outline, dashed=not evidence.shows_boss(boss), closed=True)
    for line in evidence.centrelines:
        yield Mark("centreline", line, dashed=True)


def _gauges(evidence: PhotoEvidence) -> Iterable[Mark]:
    for gauge in evidence.gauges:
        yield Mark("gauge", gauge)
    for other in evidence.other_gauges:
        yield Mark("other-gauge", other, dashed=True)
    taken = evidence.gauge_end_outlines or evidence.gauge_ends
    for k, end in enumerate(taken):
        own = evidence.ends_seen[k] if k < len(evidence.ends_seen) else None
        inferred = own is None and k < len(evidence.ends_seen)
        before = _before(evidence.gauges[k] if k < len(evidence.gauges) else (), end)
        yield Mark("end", (end,), dashed=inferred, along=before)
        if own is not None:
            yield Mark("end-seen", (own,), along=before)


def _before(gauge: Sequence[Pixel], end: Pixel) -> Pixel:
    """Return a point of the axis well before its end."""
    return gauge[len(gauge) // 2] if len(gauge) > 2 else (end[0] - 1.0, end[1])


def _points(evidence: PhotoEvidence) -> Iterable[Mark]:
    for seat in evidence.seats:
        yield Mark("seat", (seat,), dashed=True)
    for crossing in evidence.crossing_points:
        yield Mark("crossing", (crossing,))
    if evidence.axis is not None:
        yield Mark("axis", (evidence.axis,))
