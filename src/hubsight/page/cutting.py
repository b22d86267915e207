"""What the looking child does for the wall: cut the close-ups out of one photo, upright."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image

from hubsight.model.files import write_atomically
from hubsight.model.refusal import Refusal
from hubsight.page.looking import LOOK_PIXELS, jpeg
from hubsight.photo import load_photo, upright
from hubsight.show.canvas import Window

CUT_PX = 360
"""Width of a close-up as cut; it is shown half as wide, so that dense screens show it sharp."""


def cut(path: Path, windows: tuple[tuple[str, Window], ...], cache: Path) -> None:
    """Write each window of a photo as ``NAME.jpg`` into the cache; nothing where it cannot be read."""
    read = load_photo(path, most_pixels=LOOK_PIXELS)
    if isinstance(read, Refusal):
        return
    shown = upright(read.pixels, read.orientation)
    for name, window in windows:
        picture = Image.fromarray(np.ascontiguousarray(window.show(shown)))
        write_atomically(cache / f"{name}.jpg", jpeg(picture, quality=84))
