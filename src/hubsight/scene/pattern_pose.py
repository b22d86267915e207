"""Where a flange's bosses are: a pattern of equal bosses about a leaning axis."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from hubsight.model.arrays import Array, Indices

TILT_PRIOR = np.radians(0.3)
"""A standing hub's axis against the vertical, standard uncertainty."""


def hub_frame(pattern: Array, angle: float) -> tuple[Array, Array, Array, Array]:
    """Return a point of the hub axis, and unit vectors: up it, out along ``angle``, to the left of that."""
    point = np.array([pattern[0], pattern[1], pattern[2]])
    axis = np.array([-pattern[3], -pattern[4], 1.0])
    axis /= np.linalg.norm(axis)
    out = np.array([np.cos(angle), np.sin(angle), 0.0])
    out = out - (out @ axis) * axis
    out /= np.linalg.norm(out)
    return point, axis, out, np.cross(axis, out)


@dataclass(frozen=True)
class PatternPose:
    """Where the pattern is.

    Attributes
    ----------
    centre
        (2,) hub axis at ``height``, target frame, mm.
    height
        Of the bosses' matched edges above the paper, mm.
    tilt
        (2,) slopes of the bosses' plane in x and y.
    phase
        Angle of boss 0's frame, rad.
    count
        Number of bosses.
    radius
        Of the windows' origin, mm.
    """

    centre: Array
    height: float
    tilt: Array
    phase: float
    count: int
    radius: float

    @classmethod
    def of_unknowns(cls, values: Array, count: int) -> PatternPose:
        """Return the pose that the adjustment's seven unknowns of the pattern describe."""
        return cls(values[:2], float(values[2]), values[3:5], float(values[6]), count, float(values[5]))

    def scaled(self, by: float) -> PatternPose:
        """Return the pose with all lengths multiplied."""
        return replace(self, centre=self.centre * by, height=self.height * by, radius=self.radius * by)

    def frame(self, boss: int) -> tuple[Array, Array]:
        """Return the (3,) point of the hub's axis at ``height``, and (3, 3) a boss' unit vectors in rows."""
        pattern = np.array([*self.centre, self.height, *self.tilt])
        point, axis, out, left = hub_frame(pattern, self.phase + 2 * np.pi * boss / self.count)
        return point, np.stack([out, left, axis])

    def to_target(self, boss: int, x: Array, y: Array, lift: float = 0.0) -> Array:
        """Return boss-frame coordinates in the target frame (..., 3), ``lift`` mm above the faces."""
        a = self.phase + 2 * np.pi * boss / self.count
        r = self.radius + x
        px, py = r * np.cos(a) - y * np.sin(a), r * np.sin(a) + y * np.cos(a)
        z = self.height + lift + self.tilt[0] * px + self.tilt[1] * py
        return np.stack([self.centre[0] + px, self.centre[1] + py, z], -1)


@dataclass(frozen=True)
class Matches:
    """How far each boss in each photo lies off the mean boss.

    Attributes
    ----------
    photo, boss
        (M,) which.
    shift
        (M, 2) in X and y, mm.
    quality
        (M,) correlation with the mean boss.
    """

    photo: Indices
    boss: Indices
    shift: Array
    quality: Array

    def only_photos(self, keep: Sequence[int]) -> Matches:
        """Return those of some of the photos, numbered anew."""
        own = np.isin(self.photo, keep)
        photo = np.searchsorted(np.array(keep), self.photo[own])
        return Matches(photo, self.boss[own], self.shift[own], self.quality[own])
