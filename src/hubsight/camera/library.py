"""Profiles found again for photos of the same camera, lens, zoom and shape, by the photos' tags.

What is not said does not count when a user names a profile himself. Here it does: a profile is taken only
where make, model and focal length are stated on both sides and are the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from hubsight.camera.profile import CameraProfile, ProfileSignature, load_profile, profile_prior
from hubsight.model.refusal import Refusal
from hubsight.photo import CameraSignature, PhotoHeader
from hubsight.photo.picture_set import difference


@dataclass(frozen=True)
class FoundProfile:
    """A profile that holds for photos: its file, and how it was found, in words."""

    file: Path
    profile: CameraProfile
    how: str


@dataclass(frozen=True)
class Search:
    """What a search for a profile came to: the profile if one holds, and why others were not used."""

    found: FoundProfile | None = None
    notes: tuple[str, ...] = ()


def find_profile(places: Sequence[Sequence[Path]], photos: Sequence[PhotoHeader]) -> Search:
    """Return the profile that holds for all photos of a job.

    Parameters
    ----------
    places
        Files that may be profiles, place by place; the first place with a profile that holds wins, and in it
        the newest. What is no profile is passed over.
    photos
        Headers of all photos.

    Returns
    -------
    Search
        With a note on every profile of the same phone that was not used: another lens, zoom, cut or shape.
    """
    notes: list[str] = []
    for files in places if photos else ():
        holding = []
        for file in files:
            profile = load_profile(file)
            if isinstance(profile, Refusal):
                continue
            why = _why_not(profile, photos)
            if why is None:
                holding.append(FoundProfile(file, profile, _how(profile.signature, photos[0])))
            elif why:
                notes.append(f'the camera profile "{file.stem}" was not used: {why}')
        if holding:
            return Search(max(holding, key=lambda one: one.profile.date), ())
    return Search(None, tuple(notes))


def _why_not(profile: CameraProfile, photos: Sequence[PhotoHeader]) -> str | None:
    """Say why a profile does not hold; empty where it is of quite another phone, None where it holds."""
    was = profile.signature
    for photo in photos:
        now = photo.signature
        if not (now.make or now.model) or (now.make, now.model) != (was.make, was.model):
            return ""
        if not _same_focal_stated(was, now):
            return f"{photo.file} and the profile do not both state the focal length"
        why = difference(now, was.as_camera_signature(photo.size))
        if why is None and photo.camera.cropped(*photo.size):
            why = "is a cut-out of what the camera wrote"
        if why is not None:
            return f"{photo.file} {why}"
        prior = profile_prior(profile, *photo.size)
        if isinstance(prior, Refusal):
            return f"{photo.file}: {prior.reason}"
    return None


def _same_focal_stated(was: ProfileSignature, now: CameraSignature) -> bool:
    """Tell whether at least one kind of focal length is stated on both sides; `difference` compares it."""
    pairs = ((was.focal_mm, now.focal_mm), (was.focal_35mm, now.focal_35mm))
    return any(one and other for one, other in pairs)


def _how(was: ProfileSignature, photo: PhotoHeader) -> str:
    if photo.size == (was.width, was.height):
        return "found by the photos' tags"
    return (
        f"found by the photos' tags, and rescaled from {was.width} x {was.height} to "
        f"{photo.size[0]} x {photo.size[1]} pixels"
    )
