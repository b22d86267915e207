"""What a photo's file says before its pixels are decoded: camera, size and day."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path

from PIL import Image
from PIL.ExifTags import Base

from hubsight.photo.heif import container_orientation
from hubsight.photo.load import FORMATS, own_size_limit
from hubsight.photo.picture_set import CameraSignature
from hubsight.photo.tags import CameraTag, read_camera_tag, read_day, read_time
from hubsight.photo.turn import TURNED_ON_END


@dataclass(frozen=True)
class PhotoHeader:
    """What is known of a photo without its pixels.

    Attributes
    ----------
    file
        Its name.
    size
        Columns and rows as stored.
    camera
        What the tags say of the camera.
    day
        On which it was taken; None if the tags do not say.
    """

    file: str
    size: tuple[int, int]
    camera: CameraTag
    day: datetime.date | None
    taken: datetime.datetime | None = None
    """When it was taken, by the camera's own clock; None if the tags do not say."""

    @property
    def signature(self) -> CameraSignature:
        """What identifies camera, lens, zoom and size."""
        tag = self.camera
        return CameraSignature(
            self.size, tag.make, tag.model, tag.lens, tag.focal_mm, tag.focal_35mm, tag.digital_zoom
        )


def read_header(path: Path) -> PhotoHeader | None:
    """Return a photo's header; None where it cannot be read (`load_photo` says why)."""
    try:
        with own_size_limit():
            picture = Image.open(path, formats=FORMATS)
        with picture:
            exif = picture.getexif()
            return PhotoHeader(
                path.name,
                _stored_size(picture, path),
                read_camera_tag(exif),
                read_day(exif),
                read_time(exif),
            )
    except Exception:  # a broken file makes decoders raise almost anything
        return None


def _stored_size(picture: Image.Image, path: Path) -> tuple[int, int]:
    """Return columns and rows before the turns that decoders of TIFF and HEIC apply."""
    columns, rows = picture.size
    if picture.format == "TIFF":
        tags = picture.getexif()
        return int(tags.get(Base.ImageWidth, columns)), int(tags.get(Base.ImageLength, rows))
    if picture.format == "HEIF" and container_orientation(path.read_bytes()) in TURNED_ON_END:
        return rows, columns
    return columns, rows
