"""Whether photographs belong together: one camera, one lens, one size, no picture twice."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from hubsight.model.refusal import Refusal
from hubsight.photo.load import Photo

SAME_FOCAL = 0.005
"""Focal lengths that differ by less, relatively, are the same lens."""
EQUIVALENT_STEP_MM = 1.0
"""Equivalents are written in whole millimetres (CIPA DC-008, FocalLengthIn35mmFilm is a SHORT)."""


@dataclass(frozen=True)
class CameraSignature:
    """What two photographs have to share for one set of intrinsics to hold for both.

    None or empty: not known. ``size`` is that of the array as stored.
    """

    size: tuple[int, int]
    make: str = ""
    model: str = ""
    lens: str = ""
    focal_mm: float | None = None
    focal_35mm: float | None = None
    digital_zoom: float = 1.0


def camera_signature(photo: Photo) -> CameraSignature:
    """Return what identifies the camera, lens, zoom and size of a photograph."""
    tag = photo.camera
    return CameraSignature(
        size=(photo.width, photo.height),
        make=tag.make,
        model=tag.model,
        lens=tag.lens,
        focal_mm=tag.focal_mm,
        focal_35mm=tag.focal_35mm,
        digital_zoom=tag.digital_zoom,
    )


def difference(one: CameraSignature, other: CameraSignature) -> str | None:
    """Say how ``one`` differs from ``other``; None where nothing speaks against the same camera.

    What one of them does not state does not count.
    """
    checks = (_other_camera, _other_lens, _other_zoom, _other_size)
    return next((why for check in checks if (why := check(one, other))), None)


def camera_name(make: str, model: str) -> str:
    """Return what tags call a camera; many models begin with their maker's name."""
    return model if make and model.startswith(make) else " ".join(filter(None, (make, model)))


def _other_camera(one: CameraSignature, other: CameraSignature) -> str | None:
    known = (one.make or one.model) and (other.make or other.model)
    if not known or (one.make, one.model) == (other.make, other.model):
        return None
    return f"was taken with another camera ({camera_name(one.make, one.model)})"


def _other_lens(one: CameraSignature, other: CameraSignature) -> str | None:
    renamed = one.lens and other.lens and one.lens != other.lens
    if not renamed and _same_focal(one.focal_mm, other.focal_mm):
        return None
    focal = f"{one.focal_mm:g} mm" if one.focal_mm else ""
    return f"was taken with another lens ({', '.join(filter(None, (one.lens, focal)))})"


def _other_zoom(one: CameraSignature, other: CameraSignature) -> str | None:
    if not _same_focal(one.digital_zoom, other.digital_zoom):
        return f"was taken with a zoom of {one.digital_zoom:g}"
    if not _same_focal(one.focal_35mm, other.focal_35mm) and not _rounded_apart(one, other):
        return f"was taken with another zoom ({one.focal_35mm:g} mm equivalent)"
    return None


def _rounded_apart(one: CameraSignature, other: CameraSignature) -> bool:
    """Tell whether one focal length was written as two neighbouring whole millimetres of equivalent."""
    return bool(
        one.focal_mm
        and other.focal_mm
        and one.focal_35mm
        and other.focal_35mm
        and abs(one.focal_35mm - other.focal_35mm) <= EQUIVALENT_STEP_MM
    )


def _other_size(one: CameraSignature, other: CameraSignature) -> str | None:
    if one.size == other.size:
        return None
    if one.size == other.size[::-1]:
        return "is stored turned by a quarter"
    return f"has another size ({one.size[0]} x {one.size[1]} pixels)"


def _same_focal(one: float | None, other: float | None) -> bool:
    return not one or not other or abs(one / other - 1) < SAME_FOCAL


def same_camera(one: Photo, other: Photo) -> bool:
    """Tell whether one set of intrinsics can hold for both photographs, as far as tags and sizes tell."""
    return difference(camera_signature(one), camera_signature(other)) is None


def same_picture(one: Photo, other: Photo) -> bool:
    """Tell whether two files hold the same picture: the same bytes or the same pixels."""
    same_file = one.sha256 == other.sha256 != ""  # arrays come from no file
    return same_file or one.pixels_sha256 == other.pixels_sha256


def earlier_copy(photo: Photo, earlier: Sequence[Photo]) -> str | None:
    """Say that a photograph has been read before; None where it has not."""
    twin = next((one for one in earlier if same_picture(one, photo)), None)
    if twin is None:
        return None
    return "is there twice" if twin.file == photo.file else f"is the same picture as {twin.file}"


def check_photo_set(photos: Sequence[Photo]) -> tuple[Refusal, ...]:
    """Say which photographs cannot stay in one set, and why.

    The pixels are not looked at: :meth:`Photo.without_pixels` is enough.

    Returns
    -------
    tuple of Refusal
        At most one per photograph, named in ``photo``. The others are different pictures of one camera, lens,
        zoom and size, as far as files can tell.
    """
    return tuple(strangers(photos).values())


def strangers(photos: Sequence[Photo]) -> dict[int, Refusal]:
    """Return the refusals of `check_photo_set` by number: files in two folders may share a name."""
    refusals: dict[int, Refusal] = {}
    kept: dict[int, Photo] = {}
    for number, photo in enumerate(photos):
        refusal = _cut_out(photo)
        if refusal is None:
            refusal = _second_copy(photo, list(kept.values()))
        if refusal is None:
            kept[number] = photo
        else:
            refusals[number] = refusal
    return refusals | _unlike_the_others(kept)


def _cut_out(photo: Photo) -> Refusal | None:
    if not photo.camera.cropped(photo.width, photo.height) or photo.camera.exif_size is None:
        return None
    was = "{} x {}".format(*photo.camera.exif_size)
    return Refusal(
        reason=f"is a cut-out: {photo.width} x {photo.height} pixels of a picture of {was}",
        remedy="Give the whole picture as the phone saved it",
        photo=photo.file,
    )


def _second_copy(photo: Photo, earlier: Sequence[Photo]) -> Refusal | None:
    copy = earlier_copy(photo, earlier)
    if copy is None:
        return None
    return Refusal(
        reason=copy,
        remedy="Leave it out; another photo from another side would help",
        photo=photo.file,
    )


def _unlike_the_others(photos: dict[int, Photo]) -> dict[int, Refusal]:
    """Refuse what differs from the signature that most photographs share; of equals the first counts."""
    if not photos:
        return {}
    signatures = {number: camera_signature(photo) for number, photo in photos.items()}
    usual = Counter(signatures.values()).most_common(1)[0][0]
    return {
        number: Refusal(
            reason=f"{why}, unlike the other photos of the set",
            remedy="Take all photos of a set with the main lens, unzoomed, the phone held the same way round",
            photo=photo.file,
        )
        for number, photo in photos.items()
        if (why := difference(signatures[number], usual))
    }
