"""The photos of one side, read and sighted: which of them can be used, and a note on each that cannot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from hubsight.measurement import Refusal
from hubsight.photo import Photo, check_photo_set, load_photo, same_picture
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
    for number, path in enumerate(paths, start=1):
        PROGRESS.info("photo %d of %d: looking for the target", number, len(paths))
        photo = load_photo(path)
        if isinstance(photo, Refusal):
            bad.append(photo)
            continue
        twin = next((one for one in read if same_picture(one, photo)), None)
        if twin is not None:
            same = "is there twice" if twin.file == photo.file else f"is the same picture as {twin.file}"
            notes.append(f"{photo.file} {same}: it was used once")
            continue
        read.append(photo.without_pixels())
        shot = _sighted(photo, geometry)
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
    return shots, [*(f"{r.photo} was left out: {_clause(r)}" for r in bad), *notes]


def _sighted(photo: Photo, geometry: TargetGeometry) -> Shot | Refusal:
    picture = grey(photo.pixels)
    sighting = find_target(picture, geometry)
    if isinstance(sighting, Refusal):
        return sighting.model_copy(update={"photo": photo.file})
    return Shot(photo.without_pixels(), picture, sighting)


def _clause(refusal: Refusal) -> str:
    """Return reason and remedy as a note's second half; readers' reasons begin with their verb."""
    verb = refusal.reason.split(" ", 1)[0] in ("is", "has", "does", "holds", "cannot", "was")
    return f"{'it ' if verb else ''}{refusal.reason}. {refusal.remedy}"
