"""Grey levels of a photo at places in space, and photos softened beforehand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from hubsight.camera import View
from hubsight.model.arrays import Array, Light, Picture

REACH_SIGMAS = 4
"""Reach of a Gaussian blur, standard deviations; raising it is slower and changes nothing more."""


def softened(picture: Picture | Light, blur_px: float) -> Light:
    """Return a grey picture blurred by a Gaussian of this standard deviation."""
    kernel = cv2.getGaussianKernel(round(2 * REACH_SIGMAS * blur_px + 1) | 1, blur_px)
    return np.asarray(cv2.sepFilter2D(picture, cv2.CV_32F, kernel, kernel), dtype=np.float32)


@dataclass(frozen=True)
class SoftPart:
    """A blurred part of a grey picture, and its first pixel (2,)."""

    light: Light
    first: Array

    def sampled(self, at: Light) -> Array:
        """Return its values at pixels (A, B, 2) of the picture, beyond its border those of the border."""
        return sampled(self.light, (at - self.first).astype(np.float32))


def softened_round(picture: Picture, at: Sequence[Light], blur_px: float) -> SoftPart:
    """Return a picture blurred where it shows pixels (..., 2), as by `softened`, which takes longer."""
    pixels = np.concatenate([one.reshape(-1, 2) for one in at])
    beside = round(REACH_SIGMAS * blur_px) + 2
    size = np.array([picture.shape[1], picture.shape[0]])
    low = np.clip(np.floor(pixels.min(0)) - beside, 0, size - 1).astype(int)
    high = np.clip(np.ceil(pixels.max(0)) + beside, low + 1, size).astype(int)
    part = picture[low[1] : high[1], low[0] : high[0]]
    return SoftPart(softened(np.ascontiguousarray(part), blur_px), low)


def pixels_of(view: View, points: Array) -> Light:
    """Return the pixels (..., 2) of points (..., 3)."""
    return view.project(points.reshape(-1, 3)).astype(np.float32).reshape(*points.shape[:-1], 2)


def sampled(picture: Picture | Light, at: Light) -> Array:
    """Return a picture's values at pixels (A, B, 2); beyond its border those of the border."""
    grey = cv2.remap(picture, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(grey, dtype=np.float64)
