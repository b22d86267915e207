"""A boss in its own frame: two faces, a centreline, and where a spoke's axis cuts them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from hubsight.model.arrays import Array


@dataclass(frozen=True)
class Face:
    """One face: y = side * (offset + slope X + bend X^2), mm; ``doubt`` is how badly views of it agree."""

    side: int
    offset: float
    slope: float
    bend: float
    doubt: float = 0.0

    def y(self, x: Array | float) -> Array:
        """Return the place of the face at X, mm."""
        return np.asarray(self.side * (self.offset + self.slope * x + self.bend * np.square(x)))

    def slope_at(self, x: float) -> float:
        """Return how far the face moves away from the centreline per mm outward, at X."""
        return self.slope + 2 * self.bend * x


@dataclass(frozen=True)
class BossShape:
    """The mean boss.

    Attributes
    ----------
    left, right
        Faces towards +y and -y.
    mirror
        Per band of `BANDS_MM` the angle about which the outline mirrors itself, rad, in the pattern's frame;
        one value only where a person placed the faces.
    """

    left: Face
    right: Face
    mirror: tuple[float, ...]

    def scaled(self, by: float) -> BossShape:
        """Return the boss with all lengths multiplied."""
        left, right = (
            replace(f, offset=f.offset * by, bend=f.bend / by, doubt=f.doubt * by)
            for f in (self.left, self.right)
        )
        return replace(self, left=left, right=right)

    @property
    def middle(self) -> float:
        """Middle between the faces at the crossing point's radius, mm to the left."""
        return (self.left.offset - self.right.offset) / 2


def width_along(shape: BossShape, start: float, cosine: float, sine: float) -> tuple[float, float]:
    """Return the distances from the crossing point to the face ahead and the face behind, along a spoke, mm.

    Parameters
    ----------
    shape
        Of the boss.
    start
        X of the crossing point.
    cosine, sine
        Direction of the spoke in the boss frame (outward, left); the sign of ``sine`` says which face it
        leaves by.
    """
    ahead, behind = (shape.left, shape.right) if sine > 0 else (shape.right, shape.left)
    return _cut(ahead, start, cosine, sine), _cut(behind, start, -cosine, -sine)


def _cut(face: Face, start: float, cosine: float, sine: float) -> float:
    t = abs(face.offset / sine)
    for _ in range(20):
        t = float(face.y(start + t * cosine)) / sine
    return t
