"""From light to a file: mosaic, noise, a plain camera's tone curve, JPEG and EXIF."""

from __future__ import annotations

import io
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt
import piexif
from PIL import Image

from render.design import Processing
from render.optics import Tags

Picture = npt.NDArray[Any]
"""Linear values, (height, width) or (height, width, 3), in single precision."""
Rgb = npt.NDArray[np.uint8]

LUMA = np.array([0.3, 0.6, 0.1], np.float32)

BLACK, WHITE = 2000, 40000
"""Levels of the 16-bit raw picture: of no light, and added by a full pixel."""


def sensed(picture: Picture, how: Processing, generator: np.random.Generator) -> Picture:
    """Return what a sensor with a colour mosaic and noise makes of a linear picture, white balanced.

    Parameters
    ----------
    picture
        (height, width, 3), linear; the paper is at about 0.8.
    """
    height, width = picture.shape[:2]
    gains = np.array(how.white_balance, np.float32)
    light = picture * gains
    raw = np.empty((height, width), np.float32)
    raw[0::2, 0::2], raw[0::2, 1::2] = light[0::2, 0::2, 0], light[0::2, 1::2, 1]
    raw[1::2, 0::2], raw[1::2, 1::2] = light[1::2, 0::2, 1], light[1::2, 1::2, 2]
    electrons = np.maximum(raw, 0) * how.full_well
    noise = generator.standard_normal((height, width), np.float32)
    electrons = electrons + noise * np.sqrt(electrons + how.read_noise**2)
    raw16 = np.clip(electrons / how.full_well * WHITE + BLACK, 0, 65535).astype(np.uint16)
    rgb = cv2.cvtColor(raw16, cv2.COLOR_BayerBG2RGB_EA).astype(np.float32)  # first pixel red
    out: Picture = np.clip((rgb - BLACK) / WHITE, 0, None) / gains * np.array(how.cast, np.float32)
    return out


def encoded(linear: Picture) -> Picture:
    """Return the sRGB curve of linear values."""
    curved = 1.055 * np.power(np.maximum(linear, 1e-6), 1 / 2.4) - 0.055
    out: Picture = np.where(linear < 0.0031308, linear * 12.92, curved)
    return out


def contrast(picture: Picture, strength: float) -> Picture:
    """Return a picture with an S of contrast."""
    out: Picture = picture + strength * (picture - 0.5) * picture * (1 - picture) * 2
    return out


def to_bytes(picture: Picture) -> Rgb:
    """Return values 0..1 as 0..255."""
    return np.asarray(np.clip(picture, 0, 1) * 255 + 0.5).astype(np.uint8)


def develop(linear: Picture, paper: float, how: Processing, seed: int) -> Rgb:
    """Return the picture of a camera with little processing.

    Parameters
    ----------
    linear
        (height, width, 3).
    paper
        The paper's level in it.
    """
    generator = np.random.default_rng(seed)
    height, width = linear.shape[:2]
    picture = linear * (how.exposure / paper)
    y, x = np.mgrid[:height, :width].astype(np.float32)
    r2 = ((x - width / 2) ** 2 + (y - height / 2) ** 2) / (width * width + height * height) * 4
    picture = picture * (1 - how.vignette * r2)[..., None].astype(np.float32)
    rgb = sensed(picture, how, generator)
    if how.denoise:
        rgb = _denoised(rgb, how.denoise)
    grey = rgb @ LUMA
    rgb = grey[..., None] + (rgb - grey[..., None]) * how.saturation
    value = np.clip(rgb, 0, None)
    value = value * (1 + value / 2.2) / (1 + value)  # soft shoulder
    value = contrast(encoded(value), how.curve)
    if how.sharpen:
        value = value + how.sharpen * (value - cv2.GaussianBlur(value, (0, 0), 1.1))
    return to_bytes(value)


def _denoised(rgb: Picture, strength: float) -> Picture:
    value = np.sqrt(np.clip(rgb, 0, 1.5))
    grey = value @ LUMA
    colour = cv2.GaussianBlur(value - grey[..., None], (0, 0), 1.6)
    grey = cv2.bilateralFilter(grey, 5, strength, 1.2)
    out: Picture = np.maximum(grey[..., None] + colour, 0) ** 2
    return out


def jpeg(rgb: Rgb, tags: Tags) -> bytes:
    """Return a JPEG with EXIF."""
    image, shot = piexif.ImageIFD, piexif.ExifIFD
    exif = {
        "0th": {
            image.Make: tags.make,
            image.Model: tags.model,
            image.Orientation: tags.orientation,
            image.Software: "ray traced",
        },
        "Exif": {
            shot.FocalLength: (round(tags.f_mm * 100), 100),
            shot.FocalLengthIn35mmFilm: tags.f35,
            shot.DateTimeOriginal: tags.taken,
            shot.PixelXDimension: rgb.shape[1],
            shot.PixelYDimension: rgb.shape[0],
            shot.ISOSpeedRatings: tags.iso,
            shot.FNumber: (int(tags.f_number * 10), 10),
        },
    }
    file = io.BytesIO()
    Image.fromarray(rgb).save(file, "JPEG", quality=tags.quality, subsampling=2, exif=piexif.dump(exif))
    return file.getvalue()
