"""Camera profiles: a calibrated camera as a file, and what it says of a camera months later.

A profile holds for one camera, lens, zoom and picture shape. It is a prior, not the truth: a lens that
focuses moves, and that changes its focal length. A calibration is focused on the paper, a hub set on
something 40 to 110 mm above it, so the focal length gets an honest extra width before it is used.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Literal

import numpy as np
from pydantic import Field, ValidationError, model_validator

from hubsight.camera.model import SHARED
from hubsight.camera.prior import CENTRE_DEPARTURE, CameraPrior
from hubsight.model.arrays import Array
from hubsight.model.files import write_atomically
from hubsight.model.frozen import Frozen
from hubsight.model.refusal import Refusal
from hubsight.model.stated import PaperName
from hubsight.photo import CameraSignature, Photo, camera_signature
from hubsight.photo.picture_set import difference

FOCUS_BREATHING = 0.003
"""Relative standard deviation of the focal length between a calibration and a hub set; raising it trusts
profiles less (thin lens: one of 6 mm focused at 300 instead of 350 mm moves by 0.3 %)."""
SAME_SHAPE = 0.005
"""Relative difference of two pictures' ratios of sides up to which they are of one shape; raising it accepts
cut-outs."""

CALIBRATE_AGAIN = "Calibrate this camera again: hubsight calibrate PHOTOS"
"""Remedy for a profile that cannot be used."""

Finite = Annotated[float, Field(allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
Row = Annotated[tuple[Finite, ...], Field(min_length=8, max_length=8)]


class ProfileSignature(Frozen):
    """What a photo has to share for the profile to hold: its EXIF values and its size as stored, px."""

    width: Annotated[int, Field(ge=16)]
    height: Annotated[int, Field(ge=16)]
    make: str = ""
    model: str = ""
    lens: str = ""
    focal_mm: Positive | None = None
    focal_35mm: Positive | None = None
    digital_zoom: Positive = 1.0

    @classmethod
    def of(cls, signature: CameraSignature) -> ProfileSignature:
        """Return a photo's signature."""
        width, height = signature.size
        return cls(
            width=width,
            height=height,
            make=signature.make,
            model=signature.model,
            lens=signature.lens,
            focal_mm=signature.focal_mm,
            focal_35mm=signature.focal_35mm,
            digital_zoom=signature.digital_zoom,
        )

    def as_camera_signature(self, size: tuple[int, int]) -> CameraSignature:
        """Return it for photos of another size."""
        return CameraSignature(
            size, self.make, self.model, self.lens, self.focal_mm, self.focal_35mm, self.digital_zoom
        )


class SharedCamera(Frozen):
    """Focal length and principal point, px, and distortion k1, k2, p1, p2, k3 of Brown and Conrady."""

    f: Positive
    cx: Finite
    cy: Finite
    k1: Finite
    k2: Finite
    p1: Finite
    p2: Finite
    k3: Finite

    def vector(self) -> Array:
        """Return the values in the order of `camera.model.SHARED`."""
        return np.array([getattr(self, name) for name in SHARED])


class HowMade(Frozen):
    """How a profile was made.

    Attributes
    ----------
    photos
        Files that were used.
    paper, bar_x, bar_y
        The target; mean readings of its check bars, mm.
    distortion_model
        Chosen by evidence: ``"none"``, ``"k1-k2"`` or ``"full"``.
    residual_px, held_out_px
        Root mean square of a coordinate's residual, in the photos used and in photos held out.
    distance_mm
        Median distance of the lens from the paper: what it was focused on.
    """

    photos: tuple[str, ...]
    paper: PaperName
    bar_x: float | None
    bar_y: float | None
    distortion_model: Literal["none", "k1-k2", "full"]
    residual_px: float
    held_out_px: float | None
    distance_mm: float
    software: str
    warnings: tuple[str, ...] = ()


class CameraProfile(Frozen):
    """A calibrated camera as it is written to file.

    Attributes
    ----------
    covariance
        (8, 8), in the order of ``camera``'s fields; of the calibration alone, without what moves later.
    date
        Day of the calibration.
    """

    schema_version: Literal[1] = 1
    signature: ProfileSignature
    date: datetime.date
    camera: SharedCamera
    covariance: Annotated[tuple[Row, ...], Field(min_length=8, max_length=8)]
    made: HowMade

    @model_validator(mode="after")
    def _is_a_covariance(self) -> CameraProfile:
        c = np.array(self.covariance)
        d = np.sqrt(np.maximum(np.diag(c), 0))
        if np.any(d <= 0) or not np.allclose(c, c.T, rtol=1e-6, atol=1e-9 * np.outer(d, d).min()):
            raise ValueError("the covariance is not symmetric and positive")
        if np.linalg.eigvalsh(c / np.outer(d, d)).min() <= 0:
            raise ValueError("the covariance is not positive definite")
        return self

    def uncertainty(self) -> Array:
        """Return the (8,) standard uncertainties of the shared camera's values."""
        return np.asarray(np.sqrt(np.diag(np.array(self.covariance))))


def save_profile(profile: CameraProfile, path: Path) -> None:
    """Write a profile as JSON; raises OSError where that cannot be done."""
    write_atomically(path, (profile.model_dump_json(indent=1) + "\n").encode())


def load_profile(path: Path | str) -> CameraProfile | Refusal:
    """Return a profile, or why it cannot be used."""
    path = Path(path)
    try:
        if path.stat().st_size > 1_000_000:
            return Refusal(
                reason=f"{path.name} is no camera profile: it is too large", remedy=CALIBRATE_AGAIN
            )
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError, ValueError) as error:
        why = getattr(error, "strerror", None) or "it is no text"
        return Refusal(
            reason=f"the camera profile {path.name} cannot be read ({why})", remedy="Check the file's name"
        )
    try:
        return CameraProfile.model_validate_json(text)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        what = f"{where}: {first['msg']}" if where else str(first["msg"])
        return Refusal(reason=f"{path.name} is no camera profile ({what})", remedy=CALIBRATE_AGAIN)


def check_profile(profile: CameraProfile, photo: Photo) -> Refusal | None:
    """Say why a profile does not hold for a photo: another camera, lens, zoom or shape; None if it does.

    What either of them does not state does not count.
    """
    size = (photo.width, photo.height)
    why = difference(camera_signature(photo), profile.signature.as_camera_signature(size))
    if why is None and photo.camera.cropped(*size):
        why = "is a cut-out of what the camera wrote"
    if why is not None:
        return Refusal(
            reason=f"{why}, so the camera profile does not hold for it",
            remedy="Use photos of the calibrated lens, unzoomed and whole, or leave the profile out",
            photo=photo.file,
        )
    prior = profile_prior(profile, *size)
    return prior.model_copy(update={"photo": photo.file}) if isinstance(prior, Refusal) else None


def prior_for(profile: CameraProfile, photos: Sequence[Photo]) -> CameraPrior | Refusal:
    """Return a profile's prior for the photos of one set, or say for which of them it does not hold.

    Parameters
    ----------
    profile
        Of the calibrated camera.
    photos
        At least one, all of one size.
    """
    for photo in photos:
        trouble = check_profile(profile, photo)
        if trouble is not None:
            return trouble
    return profile_prior(profile, photos[0].width, photos[0].height)


def profile_prior(profile: CameraProfile, width: int, height: int) -> CameraPrior | Refusal:
    """Return what a profile says of the camera of photos of this size.

    The focal length is widened by what focusing changes, the principal point by what stabilisation does;
    distortion stays as calibrated. Another size of the same shape is taken for a scaled copy.

    Parameters
    ----------
    profile
        Of the calibrated camera.
    width, height
        Of the photos as stored, px.
    """
    was = profile.signature
    if abs((width / height) / (was.width / was.height) - 1) > SAME_SHAPE:
        turned = " (stored turned by a quarter)" if (width, height) == (was.height, was.width) else ""
        return Refusal(
            reason=f"the camera profile is of pictures of {was.width} x {was.height} pixels, these have "
            f"{width} x {height}{turned}: another shape, so another part of the sensor",
            remedy="Take the photos in the shape in which the camera was calibrated, or calibrate in this",
        )
    ratio = width / was.width
    scale = np.array([ratio, ratio, height / was.height, 1, 1, 1, 1, 1])
    value = profile.camera.vector() * scale
    value[1:3] += (scale[1:3] - 1) / 2  # pixel centres are integers: the picture begins at -0.5
    covariance = np.array(profile.covariance) * np.outer(scale, scale)
    covariance[0, 0] += (FOCUS_BREATHING * value[0]) ** 2
    drift = CENTRE_DEPARTURE * max(width, height)
    covariance[1, 1] += drift**2
    covariance[2, 2] += drift**2
    return CameraPrior(value, covariance)
