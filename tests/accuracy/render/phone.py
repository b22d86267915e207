"""A phone's picture: metering, motion, lateral colour, denoising, local tones, sharpening with halos.

Green stays where the truth says it is; red and blue move apart towards the corners.
"""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from render.design import PhoneProcessing
from render.sensor import LUMA, Picture, Rgb, contrast, encoded, sensed, to_bytes

METERED_PERCENTILE = 95
"""Exposure goes by the brighter part of the paper."""

BRIGHTEST = 40
"""Linear light beyond this is cut before the sensor."""

HALO_LIMIT = 0.25
"""The unsharp mask adds at most this."""


def streak(length: float, degrees: float) -> Picture:
    """Return the kernel of a motion during the exposure, its mean at the pixel that truth names."""
    n = int(np.ceil(length / 2)) + 1
    y, x = np.mgrid[-n : n + 1, -n : n + 1].astype(float)
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    kernel = sum(
        np.clip(1 - np.abs(x - c * at), 0, 1) * np.clip(1 - np.abs(y - s * at), 0, 1)
        for at in np.linspace(-length / 2, length / 2, 101)
    )
    return np.asarray(kernel / np.sum(kernel), np.float32)


def picture(
    linear: Picture,
    how: PhoneProcessing,
    seed: int,
    motion: tuple[float, float] | None = None,
    divisor: int = 1,
) -> Rgb:
    """Return a linear render (height, width, 3) as a phone would show it.

    Parameters
    ----------
    motion
        (px, direction in degrees) of a streak at full size.
    divisor
        How many times larger the pixels are than at full size.
    """
    generator = np.random.default_rng(seed)
    height, width = linear.shape[:2]
    small = cv2.resize(linear @ LUMA, (width // 16, height // 16), interpolation=cv2.INTER_AREA)
    light = linear * np.float32(how.exposure / np.percentile(small, METERED_PERCENTILE))
    if motion:
        kernel = streak(max(motion[0] / divisor, 0.3), motion[1])
        light = cv2.filter2D(light, -1, kernel, borderType=cv2.BORDER_REPLICATE)
    light = through_lens(light, how, divisor)
    rgb = np.minimum(sensed(np.maximum(light, 0), how, generator), np.float32(how.clip))
    rgb = _toned(_denoised(rgb, how), how)
    return to_bytes(_sharpened(contrast(_displayed(rgb, how), how.curve), how))


def through_lens(light: Picture, how: PhoneProcessing, divisor: int) -> Picture:
    """Return the picture darker towards the corners, red and blue apart there."""
    height, width = light.shape[:2]
    y, x = np.mgrid[:height, :width].astype(np.float32)
    dx, dy = x - (width - 1) / 2, y - (height - 1) / 2
    reach = np.hypot(width, height) / 2
    r2 = (dx * dx + dy * dy) / np.float32(reach * reach)
    light = np.minimum(light * (1 - how.vignette * r2)[..., None], BRIGHTEST)
    cubic = how.lateral_cubic
    for channel, share in ((0, 0.5), (2, -0.5)):
        shift = np.float32(share * how.lateral / divisor / reach) * (1 - cubic + cubic * r2)
        plane = np.ascontiguousarray(light[..., channel])
        light[..., channel] = cv2.remap(
            plane, x + dx * shift, y + dy * shift, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
        )
    return light


def _denoised(rgb: Picture, how: PhoneProcessing) -> Picture:
    """Return the picture with colour smoothed coarsely, and brightness between edges."""
    height, width = rgb.shape[:2]
    value = np.sqrt(rgb)
    grey = value @ LUMA
    colour = cv2.resize(value - grey[..., None], (width // 2, height // 2), interpolation=cv2.INTER_AREA)
    colour = cv2.GaussianBlur(colour, (0, 0), how.chroma_blur)
    colour = cv2.resize(colour, (width, height), interpolation=cv2.INTER_LINEAR)
    grey = cv2.bilateralFilter(grey, 7, how.denoise, 2.0)
    out: Picture = np.maximum(grey[..., None] + colour, 0) ** 2
    return out


def _toned(rgb: Picture, how: PhoneProcessing) -> Picture:
    """Return the picture with dark places lifted and bright ones held back, by their surroundings."""
    height, width = rgb.shape[:2]
    level = cv2.resize(np.log2(rgb @ LUMA + 0.012), (width // 8, height // 8), interpolation=cv2.INTER_AREA)
    level = cv2.bilateralFilter(level, 0, 0.9, max(width / 8 / 36, 2))
    level = cv2.resize(level, (width, height), interpolation=cv2.INTER_CUBIC)
    lift = (np.log2(0.5 * np.float32(how.clip)) - level) * (1 - how.tone)
    out: Picture = rgb * np.exp2(np.clip(lift, -0.4, 0.8))[..., None]
    return out


def _displayed(rgb: Picture, how: PhoneProcessing) -> Picture:
    """Return display values: saturation, soft highlights, sRGB curve."""
    grey = rgb @ LUMA
    value = np.clip(grey[..., None] + (rgb - grey[..., None]) * how.saturation, 0, None)
    value = value / np.float32(how.clip)
    value = np.minimum(value * (1 + how.shoulder) / (value + how.shoulder), 1)
    return encoded(value).astype(np.float32)


def _sharpened(value: Picture, how: PhoneProcessing) -> npt.NDArray[np.float32]:
    """Return the picture with a wide, weak unsharp mask and a narrow, strong one."""
    height, width = value.shape[:2]
    grey = value @ LUMA
    small = cv2.resize(grey, (width // 4, height // 4), interpolation=cv2.INTER_AREA)
    smooth = cv2.resize(cv2.GaussianBlur(small, (0, 0), 5), (width, height), interpolation=cv2.INTER_LINEAR)
    wide = grey - smooth
    detail = grey - cv2.GaussianBlur(grey, (0, 0), how.radius)
    detail = how.amount * detail * np.abs(detail) / (np.abs(detail) + how.core)
    out: Picture = value + (np.clip(detail, -HALO_LIMIT, HALO_LIMIT) + how.clarity * wide)[..., None]
    return out
