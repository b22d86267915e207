"""The photos of one side, read and sighted: which of them can be used, and a note on each that cannot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from hubsight.at_once import at_once
from hubsight.measurement import Refusal
from hubsight.photo import Photo, check_photo_set, earlier_copy, load_photo
from hubsight.progress import PROGRESS
from hubsight.target.find import TargetSighting, find_target, grey
from hubsight.target.geometry import TargetGeometry
from hubsight.target.quality import sheet_view

LEAST_LEFT = 2
"""When fewer photos than this are left, the first bad one refuses the whole set."""


@dataclass(frozen=True)
class Shot:
    """A photo with what is needed of it: name, size, grey picture, and its target."""

    photo: Photo
    picture: NDArray[np.uint8]
    sighting: TargetSighting


def take_shots(paths: Sequence[Path], geometry: TargetGeometry) -> tuple[list[Shot], list[str]] | Refusal:
    """Read the photos of a set and find the target in each.

    Parameters
    ----------
    paths
        The files.
    geometry
        The target on which the hub stands.

    Returns
    -------
    shots, notes
        A photo that cannot be read, shows no target or is there twice is left out with a note, as long as two
        are left. Or a refusal: nothing usable, or photos of different cameras, lenses, zooms, cuts or sizes.
    """
    if not paths:
        return Refusal(reason="no photos are stated for this side", remedy="Add the names of its photos")
    shots: list[Shot] = []
    read: list[Photo] = []
    bad: list[Refusal] = []
    notes: list[str] = []
    looked_at = at_once(partial(_look, geometry=geometry), paths)
    for number, (photo, shot) in enumerate(looked_at, start=1):
        PROGRESS.info("photo %d of %d: looking for the target", number, len(paths))
        if isinstance(photo, Refusal):
            bad.append(photo)
            continue
        copy = earlier_copy(photo, read)
        if copy is not None:
            notes.append(f"{photo.file} {copy}: it was used once")
            continue
        read.append(photo)
        if isinstance(shot, Refusal):
            bad.append(shot)
        else:
            shots.append(shot)
            notes += [f"{photo.file}: {s}" for s in sheet_view(shot.picture, shot.sighting).sentences()]
    strangers = check_photo_set(read)
    if strangers:
        return strangers[0]
    if bad and len(shots) < LEAST_LEFT:
        return bad[0]
    return shots, [*left_out(bad), *notes]


def _look(path: Path, *, geometry: TargetGeometry) -> tuple[Photo | Refusal, Shot | Refusal]:
    photo = load_photo(path)
    if isinstance(photo, Refusal):
        return photo, photo
    picture, photo = grey(photo.pixels), photo.without_pixels()
    sighting = find_target(picture, geometry)
    if isinstance(sighting, Refusal):
        return photo, sighting.model_copy(update={"photo": photo.file})
    return photo, Shot(photo, picture, sighting)


def left_out(refusals: Sequence[Refusal]) -> list[str]:
    """Say which photos were left out and why, those with the same reason in one sentence.

    Readers' reasons begin with their verb ("is no photo"), others are sentences of their own.
    """
    alike: dict[tuple[str, str], list[str]] = {}
    for refusal in refusals:
        alike.setdefault((refusal.reason, refusal.remedy), []).append(refusal.photo or "a photo")
    said = []
    for (reason, remedy), photos in alike.items():
        verb = reason.split(" ", 1)[0] in ("is", "has", "does", "holds", "cannot", "was")
        it = ("it " if len(photos) == 1 else "each ") if verb else ""
        were = "was" if len(photos) == 1 else "were"
        said.append(f"{', '.join(photos)} {were} left out: {it}{reason}. {remedy}")
    return said
