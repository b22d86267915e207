"""Make the documentation's pictures from the sample job, with the program as it is now.

python docs/pictures.py [--spoiled-only]

Bad photographs are good ones of the sample, spoiled here.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import numpy as np
from PIL import Image, ImageEnhance, ImageFilter

from hubsight import find_sample_job, load_job, measure_job, write_overlays
from hubsight.photo import load_photo, upright

DOCS = Path(__file__).resolve().parent
SHOWN = "IMG_7509"
"""The photo that is shown: one from the side, in which hub, gauge and sheet are all seen."""
WIDTH = 1100
"""Width of the pictures, px."""
QUALITY = 82


SMALL = 420
"""Width of the good and bad photos, px."""


def main() -> None:
    """Write ``set-up.jpg``, the photo as it is, ``overlay.jpg``, with what was seen, and the spoiled ones."""
    sample = find_sample_job()
    _write_spoiled(sample)
    if "--spoiled-only" in sys.argv[1:]:
        return
    measured = measure_job(load_job(sample))
    with tempfile.TemporaryDirectory(prefix="hubsight-docs-") as folder:
        marked = next(p for p in write_overlays(measured, sample, Path(folder)) if SHOWN in p.name)
        _write(Image.open(marked), "overlay.jpg")
    photo = load_photo(next(sample.glob(f"*/{SHOWN}.jpg")))
    if photo:
        _write(Image.fromarray(upright(photo.pixels, photo.orientation)), "set-up.jpg")


def _write_spoiled(sample: Path) -> None:
    """Write one good photo, and what goes wrong with it most often."""
    photo = load_photo(next(sample.glob(f"*/{SHOWN}.jpg")))
    if not photo:
        return
    good = Image.fromarray(upright(photo.pixels, photo.orientation))
    wide, high = good.size
    dark = ImageEnhance.Brightness(good).enhance(0.22)
    spoiled = {
        "good": good,
        "cut": good.crop((round(0.12 * wide), round(0.28 * high), round(0.84 * wide), round(0.82 * high))),
        "shaken": _shaken(good.resize((SMALL * 2, SMALL * 2 * high // wide))),
        "dark": dark,
        "glare": _glare(good),
        "far": _far(good),
    }
    for name, picture in spoiled.items():
        _write(picture, f"photo-{name}.jpg", SMALL)


def _shaken(picture: Image.Image) -> Image.Image:
    """Return a picture as a hand makes it that moves while the shutter is open."""
    steps = [np.roll(np.asarray(picture, dtype=float), k, axis=1) for k in range(-9, 10)]
    return Image.fromarray(np.mean(steps, axis=0).astype(np.uint8))


def _glare(picture: Image.Image) -> Image.Image:
    """Return a picture with a lamp's reflection on the sheet's near right corner."""
    rows, columns = np.mgrid[0 : picture.height, 0 : picture.width]
    off = np.hypot(columns - 0.8 * picture.width, rows - 0.72 * picture.height) / (0.24 * picture.width)
    light = np.clip(1.6 * np.exp(-(off**2)), 0.0, 1.0)[..., None]
    pixels = np.asarray(picture.convert("RGB"), dtype=float)
    return Image.fromarray((pixels * (1.0 - light) + 255.0 * light).astype(np.uint8))


def _far(picture: Image.Image) -> Image.Image:
    """Return a picture taken from far away: a bench, and the sheet small in its middle."""
    small = picture.convert("RGB").resize((SMALL * 2 // 5, SMALL * 2 // 5 * picture.height // picture.width))
    across, along = (SMALL - small.width) // 2, (SMALL * picture.height // picture.width - small.height) // 2
    bench = np.pad(np.asarray(small), ((along, along), (across, across), (0, 0)), mode="edge")
    around = Image.fromarray(bench).filter(ImageFilter.GaussianBlur(6))
    around.paste(small, (across, along))
    return around


def _write(picture: Image.Image, name: str, width: int = WIDTH) -> None:
    height = round(picture.height * width / picture.width)
    small = picture.convert("RGB").resize((width, height), Image.Resampling.LANCZOS)
    small.save(DOCS / name, quality=QUALITY, optimize=True)


if __name__ == "__main__":
    main()
