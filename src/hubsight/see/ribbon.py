"""The picture along a line in space, unrolled: a row per step along the line, a column per step across.

Steps across are in millimetres at the line's distance, so that a wire keeps its width over the whole ribbon
whatever the perspective does, and edges of all photos can be compared column by column.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from hubsight.camera import View
from hubsight.model.arrays import Array, Light, Picture

STEP_MM = 0.05
"""Usual step along and across an unrolled line, mm; raising it is faster and less exact."""
END_BLUR_MM = 0.12
"""Blur along a line before a step of light is taken for its end, mm; raising it lessens noise and moves ends
that lie near other edges."""
SRGB_TO_LINEAR = np.where(
    np.arange(256) / 255 <= 0.04045,
    np.arange(256) / 255 / 12.92,
    ((np.arange(256) / 255 + 0.055) / 1.055) ** 2.4,
).astype(np.float32)
"""Inverse of the sRGB transfer function (IEC 61966-2-1): grey level to light."""


def linear_light(picture: Picture) -> Light:
    """Return a grey picture in linear light, 0 to 1: edges of blurred things keep their place there."""
    return np.asarray(SRGB_TO_LINEAR[picture])


@dataclass(frozen=True)
class Ribbon:
    """An unrolled line.

    Attributes
    ----------
    back
        (S,) distance of each row before the line's end point, mm; negative beyond it.
    across
        (U,) offset of each column, mm; positive to the right when looking along the line in the picture.
    light
        (S, U) linear light; NaN outside the picture.
    pixels, normals
        (S, 2) axis pixels and unit normals towards positive offsets.
    px_per_mm
        (S,) picture scale across the line.
    """

    back: Array
    across: Array
    light: Array
    pixels: Array
    normals: Array
    px_per_mm: Array


def unroll(
    picture: Picture, view: View, end: Array, direction: Array, *, back: Array, across: Array
) -> Ribbon:
    """Return a picture's linear light along a line.

    Parameters
    ----------
    picture
        (H, W) grey picture.
    view
        Camera and pose.
    end, direction
        (3,) point and unit direction of the line, mm; ``back`` runs against the direction.
    back, across
        (S,) and (U,) sampling, mm.
    """
    points = end - back[:, None] * direction
    pixels = view.project(points)
    tangent = np.gradient(pixels, axis=0) * -np.sign(np.gradient(back))[:, None]
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    normals = np.stack([-tangent[:, 1], tangent[:, 0]], -1)
    depth = (points - view.position) @ view.rotation[2]
    scale = view.focal / depth
    at = pixels[:, None] + (scale[:, None] * across)[..., None] * normals[:, None]
    light, first = _light_round(picture, at)
    at = (at - first).astype(np.float32)
    sampled = cv2.remap(
        light,
        at[..., 0],
        at[..., 1],
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=float("nan"),
    )
    return Ribbon(back, across, np.asarray(sampled, dtype=np.float64), pixels, normals, scale)


def _light_round(picture: Picture, at: Array) -> tuple[Light, Array]:
    """Return the linear light of the part of a picture that shows pixels (A, B, 2), and its first pixel."""
    size = np.array([picture.shape[1], picture.shape[0]])
    low = np.clip(np.floor(at.min((0, 1))), 0, size - 1).astype(int)
    high = np.clip(np.floor(at.max((0, 1))) + 2, low + 1, size).astype(int)
    return linear_light(picture[low[1] : high[1], low[0] : high[0]]), low
