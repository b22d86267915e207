"""The boss pattern in the adjustment: its place, seen boss by boss in every photo."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hubsight.camera.observe import across, chain, pairs
from hubsight.estimate.problem import Layout, Linearised
from hubsight.model.arrays import Array, Indices
from hubsight.model.corrections import PLACED


def boss_points(x: Array, bosses: Indices, count: int) -> tuple[Array, Array]:
    """Return reference points (M, 3) of bosses and their (M, 3, 7) derivatives by the unknowns ``x``.

    These are the hub axis (2,) and height of the faces there, mm, the slopes (2,) of their plane, the radius,
    mm, and the phase, rad.
    """
    a = x[6] + 2 * np.pi * bosses / count
    cos, sin = np.cos(a), np.sin(a)
    px, py = x[5] * cos, x[5] * sin
    points = np.stack([x[0] + px, x[1] + py, x[2] + x[3] * px + x[4] * py], -1)
    d = np.zeros((len(bosses), 3, 7))
    d[:, 0, 0] = d[:, 1, 1] = d[:, 2, 2] = 1.0
    d[:, 2, 3], d[:, 2, 4] = px, py
    d[:, 0, 5], d[:, 1, 5], d[:, 2, 5] = cos, sin, x[3] * cos + x[4] * sin
    d[:, 0, 6], d[:, 1, 6], d[:, 2, 6] = -py, px, -x[3] * py + x[4] * px
    return points, d


@dataclass(frozen=True)
class CentrelineBlock:
    """Points on bosses' centrelines that were placed in one photo, each known only across its centreline.

    Attributes
    ----------
    bosses
        (M,) which.
    count
        Number of bosses on the flange.
    ahead
        (M,) distance outward from the pattern's radius, mm: which point is compared; uncritical.
    pixels, normals
        (M, 2) placed points, and unit normals of the centrelines in the picture.
    sigma
        (M,) standard uncertainty across, px.
    """

    photo: int
    bosses: Indices
    count: int
    ahead: Array
    pixels: Array
    normals: Array
    sigma: Array
    kind: str = PLACED

    def linearise(self, layout: Layout, x: Array) -> Linearised:
        """See `Block`."""
        where = layout["pattern"]
        at = [
            boss_points(x[where] + np.array([0, 0, 0, 0, 0, ahead, 0]), np.array([boss]), self.count)
            for boss, ahead in zip(self.bosses, self.ahead, strict=True)
        ]
        points, derivative = (np.concatenate(parts) for parts in zip(*at, strict=True))
        pixels, jac = chain(layout, x, self.photo, points, [(where, derivative)])
        return across(pixels - self.pixels, jac, self.normals, self.sigma)


@dataclass(frozen=True)
class RimBlock:
    """Points on a radial flange's rim that were placed in one photo, each known only square to the rim.

    Attributes
    ----------
    angles
        (M,) directions of the points from the axis, rad.
    pixels, normals
        (M, 2) placed points, and unit normals of the rim in the picture.
    sigma
        (M,) standard uncertainty square to it, px.
    """

    photo: int
    angles: Array
    pixels: Array
    normals: Array
    sigma: Array
    kind: str = PLACED

    def linearise(self, layout: Layout, x: Array) -> Linearised:
        """See `Block`."""
        where, first = layout["pattern"], np.zeros(1, np.intp)
        at = [boss_points(np.append(x[where][:6], angle), first, 1) for angle in self.angles]
        points, derivative = (np.concatenate(parts) for parts in zip(*at, strict=True))
        derivative[:, :, 6] = 0.0  # a rim is alike in all directions
        pixels, jac = chain(layout, x, self.photo, points, [(where, derivative)])
        return across(pixels - self.pixels, jac, self.normals, self.sigma)


@dataclass(frozen=True)
class PatternBlock:
    """Bosses seen in one photo.

    Attributes
    ----------
    bosses
        (M,) which.
    count
        Number of bosses on the flange.
    pixels
        (M, 2) where the mean boss' reference point lies for each.
    sigma
        (M,) standard uncertainty of a coordinate, px.
    """

    photo: int
    bosses: Indices
    count: int
    pixels: Array
    sigma: Array
    kind: str = "boss pattern"

    def linearise(self, layout: Layout, x: Array) -> Linearised:
        """See `Block`."""
        where = layout["pattern"]
        points, derivative = boss_points(x[where], self.bosses, self.count)
        pixels, jac = chain(layout, x, self.photo, points, [(where, derivative)])
        return pairs(pixels - self.pixels, jac, self.sigma)
