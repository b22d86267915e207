"""Turned edges of a hub: circles about its axis, where a posed photo shows them, and what hides them.

All lengths in mm. The axis may lean; a turned edge lies square to it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from hubsight.model.arrays import Array, Flags


@dataclass(frozen=True)
class HubAxis:
    """The hub's axis: (2,) where it passes ``height``, and its (2,) shift per mm upwards."""

    point: Array
    height: float
    slope: Array

    def at(self, height: Array | float) -> Array:
        """Return (..., 2) where the axis passes heights (...)."""
        return np.asarray(self.point + self.slope * np.asarray(height - self.height)[..., None])


@dataclass(frozen=True)
class Circle:
    """A turned edge: (2,) centre, its height, the radius, and (2,) the slope of the axis, square to it."""

    centre: Array
    height: float
    radius: float
    slope: Array

    def raised(self, by: float) -> Circle:
        """Return the circle moved up along the axis by some height."""
        return Circle(self.centre + by * self.slope, self.height + by, self.radius, self.slope)

    def points(self, around: Array, radii: Array | float | None = None) -> Array:
        """Return (N, 3) points in directions (N,), rad, ``radii`` from its centre; its own radius if None."""
        far = self.radius if radii is None else radii
        flat = np.asarray(far)[..., None] * np.stack([np.cos(around), np.sin(around)], -1)
        return np.column_stack([self.centre + flat, self.height - flat @ self.slope])


def hidden(eye: Array, points: Array, above: Iterable[Circle]) -> Flags:
    """Return which points (N, 3) are not seen because they lie behind turned ends above them.

    Parameters
    ----------
    eye
        (3,) the lens.
    points
        On the hub.
    above
        Outer edges of turned ends; each is taken for a full disc, so a point seen through a bore counts as
        hidden.

    Notes
    -----
    A line of sight is blocked where it passes a disc's plane, above the point, within the disc's radius.
    """
    out = np.zeros(len(points), dtype=bool)
    sight = eye - points
    for disc in above:
        normal = np.append(disc.slope, 1.0)
        centre = np.append(disc.centre, disc.height)
        along = sight @ normal
        share = ((centre - points) @ normal) / np.where(np.abs(along) < 1e-9, 1e-9, along)
        off = points + share[:, None] * sight - centre
        out |= (share > 1e-6) & (share < 1.0) & (np.linalg.norm(off, axis=1) < disc.radius)
    return out
