"""Whether a picture is sharp anywhere, when nothing in it could be read."""

from __future__ import annotations

import cv2
import numpy as np

from hubsight.model.arrays import Picture

SHRUNK_LONG_SIDE_PX = 2000
"""Long side of the copy whose sharpness is judged, px."""
SHARPEST_QUANTILE = 0.9995
"""Quantile of the gradients that is the sharpest edge's; raising it follows noise."""
SMOOTHING_PX = 1.0
"""Smoothing against the noise, which is steep too, px; raising it sees sharp pictures less exactly."""
BLURRED_PICTURE_PX = 2.4
"""Blur of the sharpest edges from which nothing in a picture is sharp, px of the copy; raising it refuses
fewer (rendered phone photos have 0.8 to 1.3; markers stop being read near 3)."""


def sharpest_edge(picture: Picture) -> float:
    """Return the blur at the sharpest edges of a grey picture: its sigma, px at `SHRUNK_LONG_SIDE_PX`.

    An edge between the picture's darkest and brightest greys, blurred by a Gaussian, is steepest by its step
    over sqrt(2 pi) sigma.
    """
    shrink = max(1.0, max(picture.shape) / SHRUNK_LONG_SIDE_PX)
    size = (round(picture.shape[1] / shrink), round(picture.shape[0] / shrink))
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA).astype(np.float32)
    smooth = cv2.GaussianBlur(small, (0, 0), SMOOTHING_PX)
    gx, gy = (cv2.Sobel(smooth, cv2.CV_32F, dx, 1 - dx, scale=1 / 8) for dx in (1, 0))
    steepest = max(float(np.quantile(cv2.magnitude(gx, gy), SHARPEST_QUANTILE)), 1e-6)
    dark, bright = np.quantile(smooth, (0.01, 0.99))
    sigma = float(bright - dark) / (np.sqrt(2 * np.pi) * steepest)
    return float(np.sqrt(max(sigma**2 - SMOOTHING_PX**2, 0.0)))


def nothing_sharp(picture: Picture) -> bool:
    """Tell whether even the sharpest edges are blurred, as by a shaken or unfocused camera."""
    return sharpest_edge(picture) > BLURRED_PICTURE_PX
