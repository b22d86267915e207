"""The photos of one side, read and sighted: which of them can be used, and a note on each that cannot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from hubsight.model.arrays import Picture
from hubsight.model.progress import doing
from hubsight.model.refusal import Refusal, begins_with_verb
from hubsight.photo import Photo, earlier_copy, load_photo
from hubsight.photo.at_once import at_once
from hubsight.photo.picture_set import strangers
from hubsight.target.find import TargetSighting, find_target, grey
from hubsight.target.geometry import TargetGeometry
from hubsight.target.quality import sheet_view

LEAST_LEFT = 2
"""Photos that have to be left when bad ones are dropped; raising it refuses more sets."""
LEAST_ALIKE = 3
"""Photos of one camera, lens, zoom, cut and size that have to belong together for others to be left out;
raising it refuses more sets. They also have to outnumber the others; else nobody knows which are meant."""
TARGETS_SHARE = 0.2
"""Share of a set's time that finding the targets takes; it moves the bar of progress only."""
SAME_VIEW_PX = 1.0
"""Median distance of two photos' target corners below which one is a copy of the other or shows nothing new,
px; raising it drops more photos. A hand never holds a phone so still."""


@dataclass(frozen=True)
class Shot:
    """A photo with what is needed of it: name, size, grey picture, and its target."""

    photo: Photo
    picture: Picture
    sighting: TargetSighting


def take_shots(
    photos: Sequence[Path | Photo], geometry: TargetGeometry
) -> tuple[list[Shot], list[str]] | Refusal:
    """Return the photos of a set with the target found in each.

    Parameters
    ----------
    photos
        Files, or photos in memory.
    geometry
        The target on which the hub stands.

    Returns
    -------
    shots, notes
        A photo that cannot be read, shows no target or is there twice is left out with a note, as long as two
        are left; one of another camera, lens, zoom, cut or size as long as three are. Or a refusal: nothing
        usable, or photos of which nobody knows which belong together.
    """
    if not photos:
        return Refusal(reason="no photos are stated for this side", remedy="Add the names of its photos")
    shots: list[Shot] = []
    read: list[Photo] = []
    blind: set[int] = set()
    bad: list[Refusal] = []
    notes: list[str] = []
    looked_at = at_once(partial(_look, geometry=geometry), photos)
    for number, (photo, shot) in enumerate(looked_at, start=1):
        doing(
            "photo %d of %d: looking for the target",
            number,
            len(photos),
            done=TARGETS_SHARE * (number - 1) / len(photos),
        )
        if isinstance(photo, Refusal):
            bad.append(photo)
            continue
        copy = earlier_copy(photo, read)
        if copy is not None:
            notes.append(f"{photo.file} {copy}: it was used once")
            continue
        read.append(photo)
        if isinstance(shot, Refusal):
            blind.add(len(read) - 1)
            bad.append(shot)
            continue
        twin = next((one for one in shots if same_view(one.sighting, shot.sighting)), None)
        if twin is not None:
            notes.append(
                f"{photo.file} shows the same view as {twin.photo.file}, pixel by pixel: it was left out"
            )
            continue
        shots.append(shot)
        notes += [f"{photo.file}: {s}" for s in sheet_view(shot.picture, shot.sighting).sentences()]
    sighted = [one for number, one in enumerate(read) if number not in blind] or read
    unlike = strangers(sighted)
    if unlike and len(sighted) - len(unlike) < max(LEAST_ALIKE, len(unlike) + 1):
        return next(iter(unlike.values()))
    shots = [shot for shot in shots if not any(shot.photo is sighted[number] for number in unlike)]
    bad += unlike.values()
    if bad and len(shots) < LEAST_LEFT:
        return bad[0]
    return shots, [*left_out(bad), *notes]


def _look(one: Path | Photo, *, geometry: TargetGeometry) -> tuple[Photo | Refusal, Shot | Refusal]:
    photo = one if isinstance(one, Photo) else load_photo(one)
    if isinstance(photo, Refusal):
        return photo, photo
    picture, photo = grey(photo.pixels), photo.without_pixels()
    sighting = find_target(picture, geometry)
    if isinstance(sighting, Refusal):
        return photo, sighting.model_copy(update={"photo": photo.file})
    return photo, Shot(photo, picture, sighting)


def same_view(one: TargetSighting, other: TargetSighting) -> bool:
    """Tell whether two photos were taken from the same place to a pixel; those of one size only."""
    _, a, b = np.intersect1d(one.index, other.index, return_indices=True)
    if not len(a):
        return False
    apart = np.linalg.norm(one.pixels[a] - other.pixels[b], axis=1)
    return bool(np.median(apart) < SAME_VIEW_PX)


def left_out(refusals: Sequence[Refusal]) -> list[str]:
    """Say which photos were left out and why, those with the same reason in one sentence.

    Readers' reasons begin with their verb ("is no photo"), others are sentences of their own.
    """
    alike: dict[tuple[str, str], list[str]] = {}
    for refusal in refusals:
        alike.setdefault((refusal.reason, refusal.remedy), []).append(refusal.photo or "a photo")
    said = []
    for (reason, remedy), photos in alike.items():
        it = ("it " if len(photos) == 1 else "each ") if begins_with_verb(reason) else ""
        were = "was" if len(photos) == 1 else "were"
        said.append(f"{', '.join(photos)} {were} left out: {it}{reason}. {remedy}")
    return said
