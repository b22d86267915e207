"""Reading one photograph: JPEG, PNG, TIFF or HEIC, as stored, with its camera's tags."""

from __future__ import annotations

import hashlib
import io
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import pi_heif
from PIL import Image, UnidentifiedImageError

from hubsight.model.arrays import Picture
from hubsight.model.refusal import Refusal
from hubsight.photo.heif import container_orientation
from hubsight.photo.tags import CameraTag, FocalPrior, focal_prior, read_camera_tag, read_orientation
from hubsight.photo.turn import as_stored

MAX_PIXELS = 205_000_000
"""Pixels of a photo that is read; raising it takes more memory. Phones make up to 200 million; more is a
mistake or an attack."""
MAX_BYTES = 700_000_000
"""Bytes of a file that is read; raising it takes more memory. A lossless picture of `MAX_PIXELS` is
smaller."""
MIN_SIDE_PX = 16
"""Side of a picture below which it is no photo, px; raising it refuses more thumbnails."""
FORMATS = ("JPEG", "PNG", "TIFF", "HEIF")
"""Kinds of files that are read."""
OTHER_FILE = "Give a JPEG, PNG, TIFF or HEIC file as the phone saved it"
"""Remedy for a file that is no photo."""
REMEMBERED = 500
"""Photos of which it is remembered what they are; raising it takes a kilobyte each."""
_open_lock = threading.Lock()
_read_lately: dict[str, Photo] = {}

Image.init()
pi_heif.register_heif_opener(thumbnails=False, depth_images=False, aux_images=False)


@dataclass(frozen=True, eq=False)
class Photo:
    """One photograph.

    Attributes
    ----------
    path
        The file.
    pixels
        (H, W, 3) RGB as stored, before EXIF rotation; pixel centres are integers. Read-only.
    orientation
        EXIF orientation, 1 to 8: how to turn ``pixels`` for looking at them.
    camera
        What the tags say of the camera.
    sha256
        Of the file, hexadecimal.
    pixels_sha256
        Of the array, so that the same picture in two files is known even without the pixels.
    focal
        Focal length that was stated with the array, if it was; it holds in place of the tags'.
    """

    path: Path
    pixels: Picture = field(repr=False)
    orientation: int
    camera: CameraTag
    sha256: str
    pixels_sha256: str
    focal: FocalPrior | None = None

    @property
    def file(self) -> str:
        """Name of the file, without its folder."""
        return self.path.name

    @property
    def width(self) -> int:
        """Columns of the array as stored."""
        return int(self.pixels.shape[1])

    @property
    def height(self) -> int:
        """Rows of the array as stored."""
        return int(self.pixels.shape[0])

    @property
    def focal_prior_px(self) -> FocalPrior | None:
        """Focal length as stated with the array, else from the tags; None where they do not tell."""
        return self.focal or focal_prior(self.camera, self.width, self.height)

    def without_pixels(self) -> Photo:
        """Return the photo with a black array of the same size that takes no memory.

        For going through many photographs one by one.
        """
        return replace(self, pixels=np.broadcast_to(np.uint8(0), self.pixels.shape))


def load_photo(path: Path | str, *, most_pixels: int = MAX_PIXELS) -> Photo | Refusal:
    """Return a photograph, with its pixels in the order in which the camera stored them.

    Parameters
    ----------
    path
        A JPEG, PNG, TIFF or HEIC file.
    most_pixels
        A larger picture is refused before it is decoded.

    Returns
    -------
    Photo or Refusal
        A refusal names the file, what is wrong with it and what to do.
    """
    path = Path(path)
    data = _read(path)
    if isinstance(data, Refusal):
        return data
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of odd tags; what matters is checked here
            return _decode(path, data, min(most_pixels, MAX_PIXELS))
    except UnidentifiedImageError:
        return _refusal(path, "is no photo that can be read, or is cut short", OTHER_FILE)
    except MemoryError:
        return _refusal(path, "is too large for this computer's memory", "Save it in a smaller size")
    except Exception as error:  # a broken file makes decoders raise almost anything
        return _refusal(path, f"is damaged or cut short ({error})", "Copy it from the phone again")


def _refusal(path: Path, reason: str, remedy: str) -> Refusal:
    return Refusal(reason=reason, remedy=remedy, photo=path.name or str(path))


def _read(path: Path) -> bytes | Refusal:
    """Return the whole file, or why it cannot be read."""
    try:
        if path.is_dir():
            return _refusal(path, "is a folder, not a photo", "Name the photos in it")
        if not path.exists():
            return _refusal(path, "does not exist", "Check the name and the folder")
        if not path.is_file():
            return _refusal(path, "is not a file", OTHER_FILE)
        size = path.stat().st_size
        if size > MAX_BYTES:
            return _refusal(path, f"has {size / 1e6:.0f} MB, more than any photo", OTHER_FILE)
        data = path.read_bytes()
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or error
        return _refusal(path, f"cannot be read ({why})", "Check the file's name and permissions")
    return data or _refusal(path, "is empty", "Copy it from the phone again")


@contextmanager
def own_size_limit() -> Iterator[None]:
    """Lift Pillow's limit on the number of pixels, which is below what phones make, to ours."""
    with _open_lock:
        before, Image.MAX_IMAGE_PIXELS = Image.MAX_IMAGE_PIXELS, MAX_PIXELS
        try:
            yield
        finally:
            Image.MAX_IMAGE_PIXELS = before


def _decode(path: Path, data: bytes, most_pixels: int) -> Photo | Refusal:
    try:
        with own_size_limit():
            picture = Image.open(io.BytesIO(data), formats=FORMATS)
    except Image.DecompressionBombError:
        return _too_large(path, None, most_pixels)
    with picture:
        columns, rows = picture.size
        if columns * rows > most_pixels:
            return _too_large(path, columns * rows, most_pixels)
        if min(columns, rows) < MIN_SIDE_PX:
            return _refusal(path, f"is only {columns} x {rows} pixels large", OTHER_FILE)
        if picture.mode == "F":
            return _refusal(path, "holds no colours but measured values", OTHER_FILE)
        exif = picture.getexif()
        camera, orientation = read_camera_tag(exif), read_orientation(exif)
        # Decoders turn a TIFF by its tag and a HEIC by its container: turn it back. A tag in a HEIC without a
        # turn in the container was not applied; the decoder has put it aside.
        turned = 1
        if picture.format == "TIFF":
            turned = orientation
        elif picture.format == "HEIF":
            turned = container_orientation(data)
            orientation = turned if turned != 1 else picture.info.get("original_orientation") or 1
        pixels = np.ascontiguousarray(as_stored(_rgb(picture), turned))
    pixels.setflags(write=False)
    photo = Photo(
        path=path,
        pixels=pixels,
        orientation=orientation,
        camera=camera,
        sha256=hashlib.sha256(data).hexdigest(),
        pixels_sha256=pixels_digest(pixels),
    )
    _remember(photo.without_pixels())
    return photo


def _remember(photo: Photo) -> None:
    with _open_lock:
        _read_lately[photo.sha256] = photo
        while len(_read_lately) > REMEMBERED:
            del _read_lately[next(iter(_read_lately))]


def read_lately(sha256: str) -> Photo | None:
    """Return the photo of this SHA-256, if this program has decoded it already; its pixels are black."""
    return _read_lately.get(sha256)


def pixels_digest(pixels: Picture) -> str:
    """Return the SHA-256 of an array and its shape, hexadecimal."""
    digest = hashlib.sha256(str(pixels.shape).encode())
    digest.update(pixels.data)
    return digest.hexdigest()


def _too_large(path: Path, pixels: int | None, most_pixels: int) -> Refusal:
    size = f"has {pixels / 1e6:.0f} megapixels" if pixels else "is gigantic"
    limit = f"more than {most_pixels / 1e6:.0f} megapixels are not read"
    return _refusal(path, f"{size}; {limit}", "Save it in a smaller size")


def _rgb(picture: Image.Image) -> Picture:
    """Return the picture with 8 bits a colour."""
    if picture.mode.startswith("I"):  # 16 bits of grey, in one of several orders of bytes
        grey = np.asarray(picture, dtype=np.int64) >> 8
        return np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[:, :, None], 3, axis=2)
    coloured = picture if picture.mode == "RGB" else picture.convert("RGB")  # which copies even an RGB one
    return np.asarray(coloured, dtype=np.uint8)
