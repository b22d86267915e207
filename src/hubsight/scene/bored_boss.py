"""A boss with its two bores in space: where lines of sight meet its side faces, and how far off its bores.

All lengths in mm, in the frame of a boss: origin on the hub's axis at the height of the pattern, x outward
along the frame, y to its left, z up the axis. The two bores mirror each other about the centreline, seen
along the axis, and lie one above the other.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hubsight.model.arrays import Array
from hubsight.scene.boss_shape import Face

MIDDLE_MM = -4.5
"""Height of the flange's middle, from which a face leans, over the bosses' upper edges, mm; uncritical
(common practice, no source)."""
REACH_MM = 8.0
"""Farthest that a face bends, from the crossing point, mm; uncritical."""
FIRST, SECOND = 0, 1
"""Numbers of a boss' bores: that of the gauge, and the other one."""


@dataclass(frozen=True)
class SideFace:
    """A side face: y = side (offset + slope X + bend X^2 + lean (z - `MIDDLE_MM`)), X from ``radius`` on."""

    side: int
    radius: float
    offset: float
    slope: float
    bend: float
    lean: float = 0.0

    def beyond(self, points: Array) -> Array:
        """Return how far (...) points (..., 3) lie outside the face, mm along y."""
        x, z = points[..., 0] - self.radius, points[..., 2] - MIDDLE_MM
        bent = self.bend * np.clip(x, -REACH_MM, REACH_MM) ** 2
        return np.asarray(self.side * points[..., 1] - (self.offset + self.slope * x + bent + self.lean * z))

    def met(self, start: Array, along: Array) -> Array:
        """Return the (..., 3) points at which lines from ``start`` along ``along`` (..., 3) meet the face."""
        points = np.broadcast_to(start, along.shape)
        for _ in range(3):  # Newton's steps; the first lands within a millimetre
            x = points[..., 0] - self.radius
            slope = self.slope + np.where(np.abs(x) < REACH_MM, 2 * self.bend * x, 0.0)
            nearing = self.side * along[..., 1] - slope * along[..., 0] - self.lean * along[..., 2]
            points = points - (self.beyond(points) / nearing)[..., None] * along
        return points

    def seen_at(self, height: float) -> Face:
        """Return the face as a line seen along the axis, at a height."""
        return Face(self.side, self.offset + self.lean * (height - MIDDLE_MM), self.slope, self.bend)


@dataclass(frozen=True)
class Bore:
    """A bore: (3,) the point of its axis nearest to the hub's, seen along that, and (3,) unit direction."""

    foot: Array
    along: Array

    def off(self, points: Array) -> Array:
        """Return the distance (...) of points (..., 3) from the axis."""
        w = points - self.foot
        return np.asarray(np.linalg.norm(w - (w @ self.along)[..., None] * self.along, axis=-1))

    def across(self) -> tuple[Array, Array]:
        """Return unit vectors (3,) square to the bore: level, and upward."""
        level = np.array([-self.along[1], self.along[0], 0.0]) / np.hypot(*self.along[:2])
        return level, np.cross(self.along, level)


@dataclass(frozen=True)
class BoredBoss:
    """A boss with two side faces and two bores.

    Attributes
    ----------
    centreline
        Angle of the centreline, rad.
    direction, miss
        Of the first bore, seen along the axis: its angle, rad, and by how far the hub's axis lies to its
        left.
    heights
        Of the bores' feet.
    rise
        Of both bores towards their exits, per mm seen along the axis.
    radii
        Of the bores, and of their wide parts for the spokes' heads.
    left, right
        Side faces.
    shift
        Of the hub's axis from where the pattern has it, in the target's frame.
    """

    centreline: float
    direction: float
    miss: float
    heights: tuple[float, float]
    rise: float
    radii: tuple[float, float]
    left: SideFace
    right: SideFace
    shift: tuple[float, float] = (0.0, 0.0)

    def bore(self, which: int) -> Bore:
        """Return the first bore, or the second: the first one's mirror image at its own height."""
        turned = which == SECOND
        angle = 2 * self.centreline - self.direction if turned else self.direction
        cos, sin, miss = np.cos(angle), np.sin(angle), -self.miss if turned else self.miss
        along = np.array([cos, sin, self.rise]) / np.hypot(1.0, self.rise)
        return Bore(np.array([miss * sin, -miss * cos, self.heights[which]]), along)

    def exits(self, which: int) -> int:
        """Return the side, 1 left or -1 right, by which a bore leaves the boss."""
        return 1 if self.bore(which).along[1] > 0 else -1

    def face(self, side: int) -> SideFace:
        """Return the face of a side."""
        return self.left if side > 0 else self.right

    def mouth(self, which: int, side: int) -> tuple[Bore, float]:
        """Return a bore and its radius where it opens on a side: narrow at its exit, wide behind."""
        return self.bore(which), self.radii[0 if side == self.exits(which) else 1]

    def rim(self, which: int, side: int, around: Array) -> Array:
        """Return (N, 3) points of a mouth's rim on a side, in directions (N,) about the bore, rad."""
        bore, radius = self.mouth(which, side)
        level, up = bore.across()
        edge = bore.foot + radius * (np.cos(around)[:, None] * level + np.sin(around)[:, None] * up)
        return self.face(side).met(edge, np.broadcast_to(bore.along, edge.shape))

    def unknowns(self) -> Array:
        """Return (18,) values, in the order of the fields; each face as offset, slope, bend and lean."""
        faces = [[f.offset, f.slope, f.bend, f.lean] for f in (self.left, self.right)]
        own = [self.centreline, self.direction, self.miss, *self.heights, self.rise, *self.radii]
        return np.array([*own, *faces[0], *faces[1], *self.shift])

    def with_unknowns(self, values: Array) -> BoredBoss:
        """Return the boss that (18,) values describe, see `unknowns`."""
        v = [float(value) for value in values]
        left, right = (
            SideFace(f.side, f.radius, *own) for f, own in ((self.left, v[8:12]), (self.right, v[12:16]))
        )
        return BoredBoss(v[0], v[1], v[2], (v[3], v[4]), v[5], (v[6], v[7]), left, right, (v[16], v[17]))
