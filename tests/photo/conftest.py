"""A small picture whose four quarters differ, and photos of it as files."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

EXIF_IFD = 0x8769
TAGS = {
    "focal": 0x920A,
    "f35": 0xA405,
    "zoom": 0xA404,
    "lens": 0xA434,
    "width": 0xA002,
    "height": 0xA003,
    "plane": 0xA20E,
    "unit": 0xA210,
}


@pytest.fixture
def scene() -> Callable[..., np.ndarray]:
    """Red, green over blue, grey: no turn or mirror leaves it as it is."""

    def _scene(width: int = 160, height: int = 96) -> np.ndarray:
        pixels = np.empty((height, width, 3), np.uint8)
        pixels[: height // 2, : width // 2] = (200, 30, 30)
        pixels[: height // 2, width // 2 :] = (30, 200, 30)
        pixels[height // 2 :, : width // 2] = (30, 30, 200)
        pixels[height // 2 :, width // 2 :] = (220, 220, 220)
        return pixels

    return _scene


@pytest.fixture
def phone_exif() -> Callable[..., Image.Exif]:
    """Tags as a phone writes them, with the stated ones in the Exif directory."""

    def _exif(orientation: int = 1, make: str = "Acme\0\0", **tags: object) -> Image.Exif:
        exif = Image.Exif()
        exif[0x010F], exif[0x0110], exif[0x0112] = make, "One", orientation
        exif.get_ifd(EXIF_IFD).update({TAGS[name]: value for name, value in tags.items()})
        return exif

    return _exif


@pytest.fixture
def save(tmp_path, scene) -> Callable[..., Path]:
    """Save a picture under a name, with tags if any are given."""

    def _save(name: str, pixels: np.ndarray | None = None, exif: Image.Exif | None = None, **options) -> Path:
        path = tmp_path / name
        picture = Image.fromarray(scene() if pixels is None else pixels)
        picture.save(path, **({"exif": exif} if exif is not None else {}), **options)
        return path

    return _save
