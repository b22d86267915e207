"""The upper end face: the highest turned edge that can be one, told from an axle that stands out of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from hubsight.camera import View
from hubsight.model.arrays import Picture
from hubsight.photo.at_once import at_once
from hubsight.see.turned.rings import Circle, HubAxis, Photo, Ring, find_rings, fit_ring, smooth

ABOVE_FLANGE_MM = (3.0, 78.0)
"""Heights of an end face above the bosses' faces, mm; a wider range is slower (common practice, no
source)."""
STUB_RADIUS_MM = 5.7
"""Radius below which a turned end is an axle that stands out of a locknut, mm; raising it drops small
locknuts (axles of 9 or 10 mm; common practice, no source)."""
OUTER_RADII_MM = (6.5, 13.5)
"""Radii of the outer edges of end caps and locknuts, mm; a wider range takes in freehub bodies (common
practice, no source)."""
SURELY_OUTER_MM = 8.0
"""Radius from which no edge is an axle's bore, mm; raising it doubts more end faces (15 mm axles at most;
common practice, no source)."""
RECESS_MM = 2.6
"""Deepest that an axle's tube ends in its end cap, mm; raising it takes shoulders for end faces (common
practice, no source)."""
LEAST_STRENGTH = 0.7
"""Strength from which a ring counts; raising it drops faint edges. One of twice that is clear."""
LEAST_SEEN = 0.3
"""Mean share of the way round on which a ring that counts is seen, half of it in all photos but one; raising
it drops faint edges."""
OFF_AXIS_MM = 0.45
"""Farthest that turned edges lie from the hub's axis, mm; raising it takes in other circles. The axis is
taken anew from two clear edges, found within twice that."""
STRONG = 0.4
"""Share of the way round from which a ring is clear; raising it leaves fewer clear edges."""
SAME_FACE_MM = 0.75
"""Farthest that edges of one face lie apart in height, mm; raising it mixes a cap's face and its shoulder."""
PARTNER_SEEN = 0.22
"""Share of the way round from which a face's second edge counts, looked for at its place; raising it leaves
more faces with one edge."""
PAIR_SEEN, PAIR_SCATTER_MM, PAIR_APART_MM = 0.25, 0.072, 0.5
"""Share of the way round, scatter and distance in height at which two edges confirm each other, mm; raising
the share or lowering the others leaves fewer pairs (found on rendered hubs)."""
LEAST_GAP_MM = 0.7
"""Least difference between the radii of a face's two edges, mm; raising it takes two edges of a thin face for
one."""


@dataclass(frozen=True)
class EndFace:
    """The upper end face as seen.

    Attributes
    ----------
    rings
        Its edges, the outer one first.
    both_edges
        Whether outer and inner edge were seen at one height.
    stub
        Whether an axle stands out of the face.
    """

    rings: tuple[Ring, ...]
    both_edges: bool
    stub: bool

    @property
    def doubtful(self) -> bool:
        """Whether all that was seen may be the end of an axle's tube inside the end cap."""
        return not self.both_edges and self.rings[0].radius < SURELY_OUTER_MM

    def inner(self, ring: Ring) -> bool:
        """Tell whether a ring is the face's inner edge."""
        return self.doubtful or self.rings[0].radius - ring.radius > LEAST_GAP_MM

    def only_photos(self, keep: Sequence[int]) -> EndFace:
        """Return the same face as some of the photos show it."""
        return EndFace(tuple(r.only_photos(keep) for r in self.rings), self.both_edges, self.stub)


def see_end_face(pictures: Sequence[Picture], views: Sequence[View], axis: HubAxis) -> EndFace | None:
    """Return the upper end face of a standing hub.

    Parameters
    ----------
    pictures, views
        Grey photos with their cameras; one photo alone tells no height.
    axis
        Of the hub, at the height of the upper bosses' faces.

    Returns
    -------
    EndFace or None
        None if no turned edge that can be one is seen.
    """
    if len(pictures) < 2:
        return None
    photos = list(zip(at_once(smooth, pictures), views, strict=True))
    low, high = (axis.height + above for above in ABOVE_FLANGE_MM)
    seen = find_rings(photos, axis, (low, high), (STUB_RADIUS_MM, OUTER_RADII_MM[1]))
    own_axis = _through(seen, axis)
    rings = [r for r in seen if _counts(r, own_axis)]
    top = next((r for r in rings if _end_sized(r) and _strong(r)), None)
    pair = _highest_pair(seen, own_axis)
    if pair and (top is None or min(r.height for r in pair) > top.height + SAME_FACE_MM):
        top = pair[0]
        rings = [*(r for r in rings if not any(r is edge for edge in pair)), *pair]
    if top is None:
        return None
    stub = any(
        r.radius < STUB_RADIUS_MM and r.height > top.height + 2 * SAME_FACE_MM and _strong(r) for r in rings
    )
    face = [r for r in rings if _one_face(r, top)]
    if _width(face) < LEAST_GAP_MM:
        face += _partner(photos, axis, top)
        top = max(face, key=lambda r: r.radius)
        face = [r for r in face if _one_face(r, top)]
    if stub:
        face = [r for r in face if r.radius > OUTER_RADII_MM[0]] or [top]
    face = sorted(face, key=lambda r: -r.radius)
    return EndFace(tuple(face), _width(face) > LEAST_GAP_MM, stub)


def _width(face: Sequence[Ring]) -> float:
    radii = [r.radius for r in face]
    return max(radii) - min(radii)


def _one_face(ring: Ring, top: Ring) -> bool:
    return abs(ring.height - top.height) < SAME_FACE_MM and _end_sized(ring)


def _end_sized(ring: Ring) -> bool:
    return STUB_RADIUS_MM < ring.radius < OUTER_RADII_MM[1]


def _through(rings: Sequence[Ring], axis: HubAxis) -> HubAxis:
    """Return the axis shifted to the middle of the clear edges: it comes from the bosses, far below."""
    off = [
        r.centre - axis.at(r.height)
        for r in rings
        if _strong(r) and _counts(r, axis, off_axis=2 * OFF_AXIS_MM)
    ]
    return axis if len(off) < 2 else replace(axis, point=axis.point + np.median(off, axis=0))


def _highest_pair(rings: Sequence[Ring], axis: HubAxis) -> tuple[Ring, ...]:
    """Return the highest two edges, if any, that may be a face's outer and inner one."""
    weak = [
        r
        for r in rings
        if _end_sized(r) and r.scatter < PAIR_SCATTER_MM and _counts(r, axis, least_seen=PAIR_SEEN)
    ]
    pairs = (
        (a, b)
        for a, b in combinations(weak, 2)
        if abs(a.radius - b.radius) > LEAST_GAP_MM and abs(a.height - b.height) < PAIR_APART_MM
    )
    return max(pairs, key=lambda pair: pair[0].height + pair[1].height, default=())


def _counts(
    ring: Ring, axis: HubAxis, *, least_seen: float = LEAST_SEEN, off_axis: float = OFF_AXIS_MM
) -> bool:
    least = np.sort(ring.share)[1] if len(ring.share) > 2 else ring.share.min()
    return bool(
        ring.strength >= LEAST_STRENGTH
        and ring.seen >= least_seen
        and least >= LEAST_SEEN / 2
        and np.linalg.norm(ring.centre - axis.at(ring.height)) < off_axis
    )


def _strong(ring: Ring) -> bool:
    return ring.seen >= STRONG or ring.strength >= 2 * LEAST_STRENGTH


def _partner(photos: Sequence[Photo], axis: HubAxis, top: Ring) -> list[Ring]:
    """Return the face's other edge, looked for nearer; an axle's tube may end a little below the face."""
    best: Ring | None = None
    for radius in np.arange(STUB_RADIUS_MM, OUTER_RADII_MM[1], 0.5):
        for above in (0.0, RECESS_MM / 2) if radius > top.radius else (0.0,):
            if abs(radius - top.radius) < LEAST_GAP_MM:
                continue
            height = top.height + above
            ring = fit_ring(photos, Circle(axis.at(height), height, float(radius)), LEAST_STRENGTH)
            if ring is None or not _counts(ring, axis, least_seen=PARTNER_SEEN) or not _goes_with(ring, top):
                continue
            if best is None or ring.seen > best.seen:
                best = ring
    return [] if best is None else [best]


def _goes_with(ring: Ring, top: Ring) -> bool:
    """Tell whether a ring may be the other edge of the face of which ``top`` is one."""
    above = ring.height - top.height
    highest = RECESS_MM if ring.radius > top.radius else SAME_FACE_MM
    return abs(ring.radius - top.radius) > LEAST_GAP_MM and -SAME_FACE_MM < above < highest
