"""Points at which light changes most steeply, and where their lines of sight pass the hub's axis.

The points of a photo are found once. A line of sight crosses every height at a place that shifts linearly
with the height, so a point's distance from the axis at any height costs a few multiplications.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from hubsight.camera import View
from hubsight.model.arrays import Array, Flags, Light, Picture
from hubsight.scene.turned import HubAxis
from hubsight.see.peak import sub_step
from hubsight.see.ribbon import linear_light
from hubsight.see.sampling import softened

BLUR_PX = 1.5
"""Blur of the photos, px; raising it lessens noise and fine edges."""
DARK_LIGHT = 0.003
"""Light, of 1, at which a picture's own noise no longer falls with it; raising it drops edges in the dark."""
LEAST_UNRESTS = 2.0
"""Steepness from which a point counts, in the photo's median; raising it drops faint edges."""
MARGIN_PX = 6
"""What is cut out around the region, px: more than the blur reaches."""


@dataclass(frozen=True)
class EdgePoints:
    """Edge points of one photo in the region of a hub's end.

    Attributes
    ----------
    pixels
        (N, 2) their places, between the pixels.
    eye
        (3,) the lens.
    shift
        (N, 2) of each line of sight per mm upwards.
    across
        (N, 2) unit direction, in a plane parallel to the paper, in which light grows most steeply.
    px_per_mm
        (N,) picture scale in that direction, at the axis' height.
    """

    pixels: Array
    eye: Array
    shift: Array
    across: Array
    px_per_mm: Array

    def at(self, height: float) -> Array:
        """Return (N, 2) where the lines of sight pass a height."""
        return np.asarray(self.eye[:2] + (height - self.eye[2]) * self.shift)

    def only(self, keep: Flags) -> EdgePoints:
        """Return some of the points."""
        return EdgePoints(
            self.pixels[keep], self.eye, self.shift[keep], self.across[keep], self.px_per_mm[keep]
        )


def edge_points(
    picture: Picture, view: View, axis: HubAxis, heights: tuple[float, float], radius: float
) -> EdgePoints:
    """Return the edge points of a photo within a radius of the hub's axis, between two heights.

    Parameters
    ----------
    picture, view
        Grey photo with its camera.
    axis
        Of the hub.
    heights, radius
        Of the upright cylinder that is looked at, mm.
    """
    (left, top), (right, bottom) = _region(picture, view, axis, heights, radius)
    light = linear_light(picture[top:bottom, left:right])
    pixels, normals = steepest(softened(light, BLUR_PX))
    pixels = pixels + np.array([left, top])
    ray = view.rays(pixels)
    reach = (axis.height - view.position[2]) / ray[:, 2]
    on_plane = view.position + reach[:, None] * ray
    across, scale = _on_plane(view, on_plane, normals)
    return EdgePoints(pixels, view.position, ray[:, :2] / ray[:, 2:], across, scale)


def _region(
    picture: Picture, view: View, axis: HubAxis, heights: tuple[float, float], radius: float
) -> tuple[tuple[int, int], tuple[int, int]]:
    """Return first and last column and row of a cylinder about the axis, at least one pixel."""
    around = np.linspace(0.0, 2 * np.pi, 48, endpoint=False)
    flat = radius * np.stack([np.cos(around), np.sin(around)], -1)
    rims = [np.column_stack([axis.at(h) + flat, np.full(len(flat), h)]) for h in np.linspace(*heights, 4)]
    pixels = view.project(np.concatenate(rims))
    size = np.array(picture.shape[::-1])
    low = np.clip(np.floor(pixels.min(0)).astype(int) - MARGIN_PX, 0, size - 1)
    high = np.clip(np.ceil(pixels.max(0)).astype(int) + MARGIN_PX, low + 1, size)
    return (int(low[0]), int(low[1])), (int(high[0]), int(high[1]))


def steepest(light: Light) -> tuple[Array, Array]:
    """Return (N, 2) places where light's slope peaks, and (N, 2) the slope's unit direction."""
    gx, gy = (cv2.Sobel(light, cv2.CV_32F, *order, ksize=3, scale=1 / 8) for order in ((1, 0), (0, 1)))
    slope = np.hypot(gx, gy)
    nx, ny = gx / np.maximum(slope, 1e-12), gy / np.maximum(slope, 1e-12)
    rows, columns = np.indices(slope.shape, dtype=np.float32)
    ahead, behind = (
        cv2.remap(slope, columns + s * nx, rows + s * ny, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        for s in (1.0, -1.0)
    )
    # The noise of light grows with its root: divided by that, one threshold serves bright and dark.
    unrest = slope / np.sqrt(light + DARK_LIGHT)
    peak = (slope > ahead) & (slope >= behind) & (unrest > LEAST_UNRESTS * np.median(unrest))
    peak[[0, -1]] = False
    peak[:, [0, -1]] = False
    i, j = np.nonzero(peak)
    normals = np.stack([nx[i, j], ny[i, j]], -1).astype(np.float64)
    off = sub_step(np.stack([behind[i, j], slope[i, j], ahead[i, j]]).astype(np.float64))
    return np.stack([j, i], -1) + np.clip(off, -1, 1)[:, None] * normals, normals


def _on_plane(view: View, points: Array, normals: Array) -> tuple[Array, Array]:
    """Return (N, 2) normals in the picture as directions in a level plane, and (N,) px per mm along them."""
    step = 0.05
    columns = [
        (view.project(points + move) - view.project(points - move)) / (2 * step)
        for move in step * np.eye(3)[:2]
    ]
    slope = np.stack([np.sum(column * normals, axis=1) for column in columns], -1)
    size = np.linalg.norm(slope, axis=1)
    return slope / size[:, None], size
