"""Make the tour's pictures of the bench page from the sample job, with the program as it is now.

python docs/tour_pictures.py [--from FOLDER]

Needs chromium and its driver. ``--from`` takes the pictures that ``tests/page/screens.py`` left in a folder.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image

DOCS = Path(__file__).resolve().parent
SHOWN = {"jobs": 937, "sheet": 1120, "photos": 1040, "look": 1040, "figures": 1330, "wheel": 1180}
"""Screens of the tour, and how much of each is shown from its top, px."""
KIND = "wide-light"
WIDTH, QUALITY = 900, 80


def main() -> None:
    """Write ``tour-*.jpg``."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--from", dest="taken", type=Path)
    taken = parser.parse_args().taken
    with tempfile.TemporaryDirectory(prefix="hubsight-tour-") as scratch:
        if taken is None:
            taken = Path(scratch)
            take = [sys.executable, str(DOCS.parent / "tests" / "page" / "screens.py"), str(taken)]
            subprocess.run([*take, "--sets", KIND, "--only", ",".join(SHOWN)], check=True)
        for screen, height in SHOWN.items():
            with Image.open(taken / f"{screen}-{KIND}.png") as picture:
                _write(picture.convert("RGB"), height, DOCS / f"tour-{screen}.jpg")


def _write(picture: Image.Image, height: int, file: Path) -> None:
    top = picture.crop((0, 0, picture.width, min(height, picture.height)))
    small = top.resize((WIDTH, round(top.height * WIDTH / top.width)), Image.Resampling.LANCZOS)
    small.save(file, quality=QUALITY, optimize=True)


if __name__ == "__main__":
    main()
