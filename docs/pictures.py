"""Make the documentation's pictures from the sample job, with the program as it is now.

python docs/pictures.py
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from PIL import Image

from hubsight import find_sample_job, load_job, measure_job, write_overlays
from hubsight.photo import load_photo, upright

DOCS = Path(__file__).resolve().parent
SHOWN = "IMG_7509"
"""The photo that is shown: one from the side, in which hub, gauge and sheet are all seen."""
WIDTH = 1100
"""Width of the pictures, px."""
QUALITY = 82


def main() -> None:
    """Write ``set-up.jpg``, the photo as it is, and ``overlay.jpg``, with what was seen in it."""
    sample = find_sample_job()
    measured = measure_job(load_job(sample))
    with tempfile.TemporaryDirectory(prefix="hubsight-docs-") as folder:
        marked = next(p for p in write_overlays(measured, sample, Path(folder)) if SHOWN in p.name)
        _write(Image.open(marked), "overlay.jpg")
    photo = load_photo(next(sample.glob(f"*/{SHOWN}.jpg")))
    if photo:
        _write(Image.fromarray(upright(photo.pixels, photo.orientation)), "set-up.jpg")


def _write(picture: Image.Image, name: str) -> None:
    height = round(picture.height * WIDTH / picture.width)
    small = picture.convert("RGB").resize((WIDTH, height), Image.Resampling.LANCZOS)
    small.save(DOCS / name, quality=QUALITY, optimize=True)


if __name__ == "__main__":
    main()
