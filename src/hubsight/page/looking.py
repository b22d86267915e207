"""What the looking child does: decode one upload, make its pictures for the screen, and look at it.

It runs under a limit of memory; a picture that needs more is refused.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path

import cv2
from PIL import Image
from PIL.ExifTags import Base

from hubsight.measure.first_look import FirstLook, look_at
from hubsight.model.files import write_atomically
from hubsight.model.frozen import Frozen
from hubsight.model.refusal import Refusal
from hubsight.model.stated import PaperName, TipKind
from hubsight.photo import Photo, load_photo, upright
from hubsight.photo.header import read_header

LOOK_MEMORY = 2_500_000_000
"""Bytes of address space: a photo of 50 megapixels needs 1.7."""
LOOK_PIXELS = 64_000_000
"""Pixels of a picture that the page looks at; raising it asks for more of `LOOK_MEMORY` and holds a looker
for longer. Larger ones are told before they are decoded: a small file may hold a huge picture."""
LOOKERS = 2
"""Pictures that are looked at side by side; raising it takes `LOOK_MEMORY` more each."""
LOOK_S = 120.0
"""Longest time of a look, s."""
SMALL_PX = 480
"""Longer side of a small picture, px."""
SHOWN_AS_STORED = frozenset({".jpg", ".jpeg"})
"""Pictures that browsers show as they are, turned as their tags say."""


class Looked(Frozen):
    """One photo, looked at.

    Attributes
    ----------
    readable
        False: it is no photo, and was thrown away.
    width, height, orientation
        As stored.
    look
        What is seen, or None with ``refusal``.
    """

    readable: bool
    width: int = 0
    height: int = 0
    orientation: int = 1
    look: FirstLook | None = None
    refusal: Refusal | None = None


def screen_files(cache: Path, photo: str) -> tuple[Path, Path]:
    """Return where a photo's pictures for the screen are: full size and small, upright."""
    return cache / f"{photo}-full.jpg", cache / f"{photo}-small.jpg"


def glance(paths: Sequence[Path]) -> list[Looked]:
    """Read sizes and orientations of JPEGs, without decoding them: enough to show what is known of them."""
    return [_glanced(path) for path in paths]


def _glanced(path: Path) -> Looked:
    header = read_header(path) if path.suffix.lower() in SHOWN_AS_STORED else None
    if header is None:
        return Looked(readable=False)
    with Image.open(path, formats=("JPEG",)) as picture:
        orientation = picture.getexif().get(Base.Orientation, 1)
    width, height = header.size
    turned = orientation if orientation in range(1, 9) else 1
    return Looked(readable=True, width=width, height=height, orientation=turned)


def show(path: Path, photo: str, cache: Path) -> bool:
    """Decode a photo and write its pictures for the screen; False if it cannot be read."""
    read = load_photo(path, most_pixels=LOOK_PIXELS)
    if isinstance(read, Refusal):
        return False
    _write_pictures(read, path, screen_files(cache, photo))
    return True


def _write_pictures(read: Photo, path: Path, files: tuple[Path, Path]) -> None:
    """Write the small picture, and the full one of a photo that browsers do not show."""
    shown, (full, small) = upright(read.pixels, read.orientation), files
    scale = SMALL_PX / max(shown.shape[:2])
    size = (max(1, round(shown.shape[1] * scale)), max(1, round(shown.shape[0] * scale)))
    _write(small, Image.fromarray(cv2.resize(shown, size, interpolation=cv2.INTER_AREA)), quality=80)
    if path.suffix.lower() not in SHOWN_AS_STORED:
        _write(full, Image.fromarray(shown), quality=88)


def look(path: Path, photo: str, cache: Path, paper: PaperName, tip: TipKind) -> Looked:
    """Decode a photo, write its pictures for the screen and look at it."""
    read = load_photo(path, most_pixels=LOOK_PIXELS)
    if isinstance(read, Refusal):
        return Looked(readable=False, refusal=read)
    _write_pictures(read, path, screen_files(cache, photo))
    seen = look_at(read, paper, tip)
    return Looked(
        readable=True,
        width=read.width,
        height=read.height,
        orientation=read.orientation,
        look=seen if isinstance(seen, FirstLook) else None,
        refusal=seen if isinstance(seen, Refusal) else None,
    )


def _write(file: Path, picture: Image.Image, quality: int) -> None:
    write_atomically(file, jpeg(picture, quality))


def jpeg(picture: Image.Image, quality: int) -> bytes:
    """Return a picture as a JPEG file's bytes."""
    buffer = io.BytesIO()
    picture.save(buffer, "JPEG", quality=quality)
    return buffer.getvalue()
