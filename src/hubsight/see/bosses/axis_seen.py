"""Where the hub's axis stands, by the turned edges round it: the normals of a circle meet on the axis.

In the plane of the upper end face, whose height follows from the over-locknut dimension, the edges of end
cap, bore and freehub are circles round the axis. Those of turned parts further down show there too, moved
towards the point below the lens by their parallax, never beyond.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from scipy.ndimage import gaussian_filter, maximum_filter

from hubsight.camera import View
from hubsight.model.arrays import Array, Picture
from hubsight.scene.usual import TURNED_RADII_MM
from hubsight.see.bosses.find import LARGEST_EDGE, LEAST_UNREST
from hubsight.see.sampling import pixels_of, sampled, softened

STEP_MM = 0.25
"""Step of the square that is looked at, mm; raising it is faster and blurs the axis' place."""
HALF_MM = 62.0
"""Half side of that square, mm; raising it is slower and lets things beside the hub in."""
BLURS = (1.2, 1.5)
"""Blur of the edges and of the crossings of their normals, steps; raising it bears worse poses and streaks,
and parts near circles less."""
UNREST_WINDOW = 41
"""Side of the window over which an edge is compared with its surroundings, steps; raising it lets strong
edges outweigh fainter ones farther away. An edge counts when it is stronger than the unrest there."""
APART = 9
"""Steps within which only the best crossing counts; raising it leaves fewer places."""
WORTH = 0.6
"""Share of the most votes down to which a crossing may be the end face's; raising it leaves fewer places."""
LEAST_SHARE = 0.15
"""Share of a turn, summed over circles, below which nothing round was seen; raising it finds fewer axes
(found on rendered hubs: chance makes 0.1, an axis 0.18 and more)."""
OFF_SIGMAS_MM = np.array([2.0, 1.2])
"""Standard deviations of the axis from the crossing, towards the lens and across, mm; raising them trusts the
turned edges less. Which circle it was, how upright the hub stands and the photo's pose make them."""
UNLIKELY = 0.3
"""Weight of a pattern round another place; raising it lets chance patterns win more often."""


@dataclass(frozen=True)
class AxisSeen:
    """Places (K, 2) at one of which the axis stands, and the (K, 2) unit directions of parallax there."""

    places: Array
    along: Array

    def likely(self, at: Array) -> float:
        """Return a weight, at most 1, for an axis at a place (2,)."""
        off = at - self.places
        along = np.sum(off * self.along, 1)
        across = off[:, 1] * self.along[:, 0] - off[:, 0] * self.along[:, 1]
        squares = np.sum((np.column_stack([along, across]) / OFF_SIGMAS_MM) ** 2, axis=1)
        return float(UNLIKELY + (1 - UNLIKELY) * np.exp(-0.5 * squares.min()))


def see_axis(picture: Picture, view: View, near: Array, height: float) -> AxisSeen | None:
    """Return the places at one of which the axis stands, as one photo shows them.

    Parameters
    ----------
    picture, view
        Grey photo, camera and pose.
    near
        (2,) middle of the square in which it stands.
    height
        Of the upper end face above the paper, mm.

    Returns
    -------
    AxisSeen or None
        None where nothing round is seen.
    """
    grid = np.arange(-HALF_MM, HALF_MM + STEP_MM / 2, STEP_MM)
    votes = _votes(*_edges(picture, view, near + grid[:, None], height))
    top = float(votes.max())
    if top < LEAST_SHARE:
        return None
    rows, columns = np.nonzero((votes == maximum_filter(votes, APART)) & (votes >= WORTH * top))
    places = near + np.column_stack([grid[columns], grid[rows]])
    along = places - view.position[:2]
    return AxisSeen(places, along / np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9))


def _edges(picture: Picture, view: View, grid: Array, height: float) -> tuple[Array, Array, Array]:
    """Return edge points (M, 2) in steps, unit normals (M, 2), strengths (M,) on a square ``grid`` (G, 2)."""
    x, y = np.meshgrid(grid[:, 0], grid[:, 1])
    at = pixels_of(view, np.stack([x, y, np.full_like(x, height)], -1))
    light = softened(np.sqrt(sampled(picture, at)).astype(np.float32), BLURS[0])
    gx, gy = cv2.Sobel(light, cv2.CV_32F, 1, 0), cv2.Sobel(light, cv2.CV_32F, 0, 1)
    size = cv2.magnitude(gx, gy) + 1e-6
    strength = size / (np.sqrt(cv2.blur(size * size, (UNREST_WINDOW, UNREST_WINDOW))) + LEAST_UNREST)
    ux, uy = gx / size, gy / size
    row, column = np.mgrid[: len(grid), : len(grid)].astype(np.float32)
    beside = [cv2.remap(size, column + s * ux, row + s * uy, cv2.INTER_LINEAR) for s in (-1, 1)]
    crest = (size >= beside[0]) & (size >= beside[1]) & (strength > 1.0)
    r, c = np.nonzero(crest)
    normals = np.column_stack([ux[crest], uy[crest]])
    return np.column_stack([c, r]), normals, np.minimum(strength[crest], LARGEST_EDGE) / LARGEST_EDGE


def _votes(points: Array, normals: Array, strengths: Array) -> Array:
    """Return the share of a turn whose normals pass each place of the square, summed over circles, (G, G)."""
    n = round(2 * HALF_MM / STEP_MM) + 1
    votes = np.zeros(n * n)
    for radius in np.arange(*TURNED_RADII_MM, STEP_MM) / STEP_MM:
        for sign in (-1, 1):
            column, row = np.rint(points + sign * radius * normals).astype(int).T
            inside = (column >= 0) & (column < n) & (row >= 0) & (row < n)
            votes += np.bincount(
                row[inside] * n + column[inside], strengths[inside] / (2 * np.pi * radius), n * n
            )
    return np.asarray(gaussian_filter(votes.reshape(n, n), BLURS[1]))
