"""From photos of the target alone to a camera profile."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import numpy as np

from hubsight.calibrate.boards import BoardSet
from hubsight.calibrate.calibrate import HOW_TO, Calibration, calibrate, steps
from hubsight.calibrate.conditions import PhotoConditions, advice, photo_conditions
from hubsight.camera.model import SHARED
from hubsight.camera.profile import CameraProfile, HowMade, ProfileSignature, SharedCamera
from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading, StatedTarget
from hubsight.photo import Photo, camera_signature, load_photo, strangers
from hubsight.target.find import TargetSighting, find_target, grey
from hubsight.target.geometry import TargetGeometry, target_geometry
from hubsight.target.print_scale import print_scale
from hubsight.target.quality import sheet_view
from hubsight.target.shots import left_out as left_out_sentences

FEWEST_PHOTOS = 6
"""Photos with the target that a profile is made of; lowering it keeps worse profiles (found on rendered
photos)."""
MOST_PHOTOS = 60
"""Photos that one calibration takes; raising it is slower and adds nothing."""

Progress = Callable[[float], None]
"""Called with the share of the work that is done."""


@dataclass(frozen=True)
class CalibrationPhoto:
    """A photo with the target found in it, its pixels let go."""

    photo: Photo
    sighting: TargetSighting
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class PhotoCalibration:
    """A profile with all that led to it.

    Attributes
    ----------
    profile
        To be kept.
    calibration
        The adjustment.
    photos, conditions
        Those used, and how they were taken.
    left_out
        Photos that could not be used, and why.
    warnings
        What to read before using the profile.
    """

    profile: CameraProfile
    calibration: Calibration
    photos: tuple[CalibrationPhoto, ...]
    conditions: tuple[PhotoConditions, ...]
    left_out: tuple[Refusal, ...]
    warnings: tuple[str, ...]


def calibrate_photos(
    paths: Sequence[Path],
    target: StatedTarget,
    *,
    progress: Progress = lambda _: None,
    today: datetime.date | None = None,
) -> PhotoCalibration | Refusal:
    """Return a camera calibrated from photos of the printed target alone.

    Parameters
    ----------
    paths
        Six to thirty photos by one lens, without zoom.
    target
        The target with the readings of its check bars.
    progress
        Told the share of the work that is done.
    today
        Date of the profile; the present day if not given.

    Returns
    -------
    PhotoCalibration or Refusal
        A refusal says why these photos hold no calibration.
    """
    if len(paths) > MOST_PHOTOS:
        return Refusal(
            reason=f"{len(paths)} photos are more than a calibration needs", remedy="Name the 30 sharpest"
        )
    total = 2 * len(paths) + steps(len(paths))
    done = 0

    def step(count: int = 1) -> None:
        nonlocal done
        done += count
        progress(min(done / total, 1.0))

    used, left_out = _sight(paths, target_geometry(target.paper), lambda: step(2))
    if len(used) < FEWEST_PHOTOS:
        return _too_few(used, left_out)
    first = used[0].photo
    tagged = first.focal_prior_px
    found = calibrate(
        BoardSet(
            sightings=tuple(one.sighting for one in used),
            width=first.width,
            height=first.height,
            focal=None if tagged is None else Reading(tagged.value, tagged.u),
            scales=(print_scale(target.bar_x), print_scale(target.bar_y)),
        ),
        progress=step,
    )
    progress(1.0)
    if isinstance(found, Refusal):
        return found
    conditions = tuple(photo_conditions(found, k) for k in range(len(used)))
    files = [one.photo.file for one in used]
    warnings = (
        *left_out_sentences(left_out),
        *(f"{one.photo.file}: {note}" for one in used for note in one.notes),
        *advice(found, files),
    )
    day = today or datetime.date.today()
    profile = _profile(found, used, target, conditions=conditions, warnings=warnings, day=day)
    return PhotoCalibration(profile, found, tuple(used), conditions, tuple(left_out), warnings)


def _sight(
    paths: Sequence[Path], geometry: TargetGeometry, step: Callable[[], None]
) -> tuple[list[CalibrationPhoto], list[Refusal]]:
    """Return the photos with the target found; what does not belong is left out with its reason."""
    seen: list[CalibrationPhoto] = []
    read: list[Photo] = []
    left_out: list[Refusal] = []
    for path in paths:
        photo = load_photo(path)
        if isinstance(photo, Refusal):
            left_out.append(photo)
        else:
            read.append(photo.without_pixels())
            picture = grey(photo.pixels)
            sighting = find_target(picture, geometry)
            if isinstance(sighting, Refusal):
                left_out.append(sighting.model_copy(update={"photo": photo.file}))
            else:
                notes = tuple(sheet_view(picture, sighting).sentences())
                seen.append(CalibrationPhoto(read[-1], sighting, notes))
        step()
    sighted = [one.photo for one in seen] or read
    odd = strangers(sighted)
    strange = {id(sighted[number]) for number in odd}
    return [one for one in seen if id(one.photo) not in strange], [*left_out, *odd.values()]


def _too_few(used: Sequence[CalibrationPhoto], left_out: Sequence[Refusal]) -> Refusal:
    """Return a refusal of the set; a fault that every photo has is what is to be mended."""
    if not left_out:
        photos = "one photo" if len(used) == 1 else f"{len(used)} photos"
        reason = f"{photos} cannot calibrate a camera: it takes {FEWEST_PHOTOS} to 30"
        return Refusal(reason=reason, remedy=HOW_TO)
    if not used and len({(one.reason, one.remedy) for one in left_out}) == 1:
        return left_out[0]
    why = "; ".join(left_out_sentences(left_out))
    count = f"only {len(used)}" if used else "none"
    return Refusal(
        reason=f"{count} of the photos can be used, of {FEWEST_PHOTOS} that are needed: {why}", remedy=HOW_TO
    )


def _software() -> str:
    try:
        return f"hubsight {version('hubsight')}"
    except PackageNotFoundError:
        return "hubsight, not installed"


def _profile(
    found: Calibration,
    used: Sequence[CalibrationPhoto],
    target: StatedTarget,
    *,
    conditions: Sequence[PhotoConditions],
    warnings: tuple[str, ...],
    day: datetime.date,
) -> CameraProfile:
    values = dict(zip(SHARED, map(float, found.camera), strict=True))
    half = (found.covariance + found.covariance.T) / 2
    return CameraProfile(
        signature=ProfileSignature.of(camera_signature(used[0].photo)),
        date=day,
        camera=SharedCamera(**values),
        covariance=tuple(tuple(map(float, row)) for row in half),
        made=HowMade(
            photos=tuple(one.photo.file for one in used),
            paper=target.paper,
            bar_x=target.bar_x.value if target.bar_x else None,
            bar_y=target.bar_y.value if target.bar_y else None,
            distortion_model=found.model,
            residual_px=round(found.residual_px, 4),
            held_out_px=None if found.held_out_px is None else round(found.held_out_px, 4),
            distance_mm=round(float(np.median([h.distance_mm for h in conditions])), 1),
            software=_software(),
            warnings=warnings,
        ),
    )
