"""What a picture's EXIF tags say of the camera, and the focal length that follows."""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass
from typing import Any, NamedTuple

from PIL import Image
from PIL.ExifTags import IFD, Base

FOCAL_PRIOR_RELATIVE_U = 0.03
"""Relative standard uncertainty of a focal length from the tags; raising it trusts them less. It is rounded
to whole millimetres, and holds for another focus and before the phone's lens correction (common practice, no
source)."""
SAME_ASPECT = 0.01
"""Relative difference of two aspect ratios up to which they are the same; raising it misses cut-outs.
Encoders trim edges by a few pixels."""


class FocalPrior(NamedTuple):
    """A focal length known beforehand and its standard uncertainty, both in pixels of the array."""

    value: float
    u: float


@dataclass(frozen=True)
class CameraTag:
    """What the EXIF tags say; None or empty where they say nothing.

    Attributes
    ----------
    make, model, lens
        Of phone and lens.
    focal_mm
        True focal length, mm.
    focal_35mm
        Focal length of the lens on a 35 mm camera that sees as much, mm.
    exif_size
        Width and height that the camera wrote, px.
    digital_zoom
        1 without.
    plane_px_per_mm
        Pixels of the picture as the camera wrote it per mm on the sensor.
    """

    make: str = ""
    model: str = ""
    lens: str = ""
    focal_mm: float | None = None
    focal_35mm: float | None = None
    exif_size: tuple[int, int] | None = None
    digital_zoom: float = 1.0
    plane_px_per_mm: float | None = None

    def cropped(self, width: int, height: int) -> bool:
        """Tell whether an array of this size is a cut-out of what the camera wrote.

        A smaller array of the same shape was scaled, not cut; turned by a quarter, it is the same.
        """
        if self.exif_size is None:
            return False
        was = max(self.exif_size) / min(self.exif_size)
        now = max(width, height) / min(width, height)
        return abs(now / was - 1) > SAME_ASPECT


def read_camera_tag(exif: Image.Exif) -> CameraTag:
    """Return the camera's tags; a tag that cannot be right counts as absent."""
    details = exif.get_ifd(IFD.Exif)
    width, height = _positive(details.get(Base.ExifImageWidth)), _positive(details.get(Base.ExifImageHeight))
    resolution = _positive(details.get(Base.FocalPlaneXResolution))
    # Inch, centimetre, millimetre, micrometre (EXIF 2.32, FocalPlaneResolutionUnit).
    units_mm = {2: 25.4, 3: 10.0, 4: 1.0, 5: 0.001}
    unit = units_mm.get(int(_positive(details.get(Base.FocalPlaneResolutionUnit)) or 2))
    return CameraTag(
        make=_text(exif.get(Base.Make)),
        model=_text(exif.get(Base.Model)),
        lens=_text(details.get(Base.LensModel)),
        focal_mm=_positive(details.get(Base.FocalLength)),
        focal_35mm=_positive(details.get(Base.FocalLengthIn35mmFilm)),
        exif_size=(int(width), int(height)) if width and height else None,
        digital_zoom=_positive(details.get(Base.DigitalZoomRatio)) or 1.0,
        plane_px_per_mm=resolution / unit if resolution and unit else None,
    )


def read_orientation(exif: Image.Exif) -> int:
    """Return the EXIF orientation; 1 where there is none or none that exists."""
    value = exif.get(Base.Orientation)
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


def read_time(exif: Image.Exif) -> datetime.datetime | None:
    """Return when the photo was taken, to the second, by the camera's own clock."""
    try:
        taken = _text(exif.get_ifd(IFD.Exif).get(Base.DateTimeOriginal))
        return datetime.datetime.strptime(taken, "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return None


def read_day(exif: Image.Exif) -> datetime.date | None:
    """Return the day on which the photo was taken, by the camera's own clock."""
    taken = _text(exif.get_ifd(IFD.Exif).get(Base.DateTimeOriginal))[:10].replace(":", "-")
    try:
        return datetime.date.fromisoformat(taken)
    except ValueError:
        return None


def focal_prior(tag: CameraTag, width: int, height: int) -> FocalPrior | None:
    """Return the focal length that the tags state, in pixels of an array of this size.

    The 35 mm equivalent is taken by the diagonal: f = f35 * diagonal / 43.27 mm (the convention of CIPA
    DCG-001, from memory; taken by the width, a phone's 4:3 picture would come out 4 % shorter). Being an
    angle of view it holds for scaled copies too. Without it the focal length with the focal plane's
    resolution serves.

    Returns
    -------
    FocalPrior or None
        None where nothing usable is stated: no tags, a cut-out, a digital zoom (cameras differ in whether the
        equivalent counts it in).
    """
    if tag.cropped(width, height) or tag.digital_zoom > 1.01:
        return None
    diagonal = math.hypot(width, height)
    value = None
    if tag.focal_35mm:
        value = tag.focal_35mm * diagonal / math.hypot(36.0, 24.0)
    elif tag.focal_mm and tag.plane_px_per_mm:
        scale = diagonal / math.hypot(*tag.exif_size) if tag.exif_size else 1.0
        value = tag.focal_mm * tag.plane_px_per_mm * scale
    if value is None or not 0.2 < value / diagonal < 20.0:
        return None
    return FocalPrior(value, FOCAL_PRIOR_RELATIVE_U * value)


def _positive(value: Any) -> float | None:
    try:
        number = float(value)
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return number if math.isfinite(number) and number > 0 else None


def _text(value: Any) -> str:
    if isinstance(value, bytes):
        value = value.decode("utf-8", "replace")
    return value.split("\0")[0].strip() if isinstance(value, str) else ""
