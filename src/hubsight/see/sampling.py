"""Grey levels of a photo at places in space, and photos softened beforehand."""

from __future__ import annotations

import cv2
import numpy as np

from hubsight.camera import View
from hubsight.model.arrays import Array, Light, Picture


def softened(picture: Picture | Light | Array, blur_px: float) -> Light:
    """Return a grey picture blurred by a Gaussian of this standard deviation."""
    return np.asarray(cv2.GaussianBlur(picture.astype(np.float32), (0, 0), blur_px), dtype=np.float32)


def pixels_of(view: View, points: Array) -> Light:
    """Return the pixels (..., 2) of points (..., 3)."""
    return view.project(points.reshape(-1, 3)).astype(np.float32).reshape(*points.shape[:-1], 2)


def sampled(picture: Picture | Light, at: Light) -> Array:
    """Return a picture's values at pixels (A, B, 2); beyond its border those of the border."""
    grey = cv2.remap(picture, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(grey, dtype=np.float64)
