"""The upper end face: the highest turned edges that can be one, told from an axle that stands out of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from hubsight.camera import View
from hubsight.model.arrays import Picture
from hubsight.photo.at_once import at_once
from hubsight.scene.turned import HubAxis
from hubsight.see.turned.edge_points import EdgePoints, edge_points
from hubsight.see.turned.placed import PlacedRing
from hubsight.see.turned.rings import OwnHeights, Ring, find_rings, own_heights

ABOVE_FLANGE_MM = (3.0, 78.0)
"""Heights of an end face above the bosses' faces, mm; a wider range is slower (common practice, no
source)."""
STUB_RADIUS_MM = 5.7
"""Radius below which a turned end is an axle that stands out of a locknut, mm; raising it drops small
locknuts (axles of 9 or 10 mm; common practice, no source)."""
LARGEST_RADIUS_MM = 13.5
"""Radius of the largest end caps and locknuts, mm; a wider range takes in freehub bodies (common practice, no
source)."""
LEAST_RADIUS_MM = 2.5
"""Radius of the narrowest axle's bore, mm; a smaller one is slower (common practice, no source)."""
SURELY_OUTER_MM = 8.0
"""Radius from which no edge is an axle's bore, mm; raising it doubts more end faces (15 mm axles at most;
common practice, no source)."""
SAME_FACE_MM = 0.75
"""Farthest that edges of one face lie apart in height, mm; raising it mixes a cap's face and its shoulder."""
LEAST_GAP_MM = 0.7
"""Least difference between the radii of a face's two edges, mm; raising it takes two edges of a thin face for
one."""
NEAR_AS_LIKELY = 0.02
"""Probability from which another face is said and held by the uncertainty; raising it hides rivals."""


@dataclass(frozen=True)
class Rival:
    """A face that may be the end instead: how far above the one that was taken, mm, and its probability."""

    above: float
    probability: float


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
    own
        Where each photo by itself shows it; None where that was not looked for.
    rival
        Another face that may be the end; None if none is near as likely.
    by_hand
        Whether a person placed it, and what was seen does not count.
    placed
        Where a person placed its edge, in agreement with what was seen.
    """

    rings: tuple[Ring, ...]
    both_edges: bool
    stub: bool
    own: OwnHeights | None = None
    rival: Rival | None = None
    by_hand: bool = False
    placed: PlacedRing | None = None

    @property
    def doubtful(self) -> bool:
        """Whether all that was seen may be the end of an axle's tube inside the end cap."""
        return (
            not self.by_hand
            and not self.both_edges
            and not self.stub
            and self.rings[0].radius < SURELY_OUTER_MM
        )

    def inner(self, ring: Ring) -> bool:
        """Tell whether a ring is the face's inner edge."""
        return self.doubtful or self.rings[0].radius - ring.radius > LEAST_GAP_MM

    def only_photos(self, keep: Sequence[int]) -> EndFace:
        """Return the same face as some of the photos show it."""
        own = None if self.own is None else self.own.only_photos(keep)
        placed = None if self.placed is None else self.placed.only_photos(keep)
        return replace(self, rings=tuple(r.only_photos(keep) for r in self.rings), own=own, placed=placed)


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
    low, high = (axis.height + above for above in ABOVE_FLANGE_MM)

    def points_of(k: int) -> EdgePoints:
        return edge_points(pictures[k], views[k], axis, (low, high), LARGEST_RADIUS_MM)

    photos = list(at_once(points_of, range(len(pictures))))
    face = end_face(find_rings(photos, axis, (low, high), (LEAST_RADIUS_MM, LARGEST_RADIUS_MM)))
    return None if face is None else replace(face, own=own_heights(photos, face.rings))


def end_face(rings: Sequence[Ring]) -> EndFace | None:
    """Return the upper end face among the turned edges that were found, or None.

    Notes
    -----
    A face is the end if it is there and none above it is. Its edges lie at one height, and each of them may
    be the one that is there.
    """
    sized = sorted((r for r in rings if r.radius > STUB_RADIUS_MM), key=lambda r: -r.height)
    faces, nothing_above = list[tuple[float, list[Ring]]](), 1.0
    for top in sized:
        face = [r for r in sized if -SAME_FACE_MM < r.height - top.height <= 0]
        there = 1 - float(np.prod([1 - r.evidence.probability for r in face]))
        faces.append((nothing_above * there, face))
        nothing_above *= 1 - top.evidence.probability
    if not faces:
        return None
    likely, best = max(faces, key=lambda one: one[0])
    height = max(ring.height for ring in best)
    stub = any(r.radius < STUB_RADIUS_MM and r.height > height + 2 * SAME_FACE_MM for r in rings)
    outer, inner = (f(best, key=lambda r: r.radius) for f in (max, min))
    # An axle hides the bore: what else is seen of the face is a groove.
    both = not stub and outer.radius - inner.radius > LEAST_GAP_MM
    edges = (outer, inner) if both else (outer,)
    return EndFace(edges, both, stub, rival=_rival(faces, likely, height))


def _rival(faces: Sequence[tuple[float, list[Ring]]], likely: float, height: float) -> Rival | None:
    """Return the likeliest other face, if it is near as likely as the one that was taken."""
    others = [
        (p, face[0].height - height) for p, face in faces if abs(face[0].height - height) > SAME_FACE_MM
    ]
    if not others:
        return None
    probability, above = max(others)
    share = probability / (probability + likely)
    return Rival(above, share) if share > NEAR_AS_LIKELY else None
