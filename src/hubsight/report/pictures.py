"""The photos of a report, with marks and close-ups, small enough to be sent, without any tags."""

from __future__ import annotations

import base64
import io
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from PIL import Image

from hubsight.model.agreement import PhotosAgree
from hubsight.model.catalogue import figure_words
from hubsight.model.files import inside
from hubsight.model.hub import LyingMeasurement
from hubsight.model.refusal import Refusal
from hubsight.model.result import MeasuredSide
from hubsight.model.side import FaceGeometry, PhotoEvidence
from hubsight.photo import Photo, load_photo, upright
from hubsight.record.model import Record
from hubsight.show.canvas import Picture
from hubsight.show.crops import Crop, CropGroup, crops_of
from hubsight.show.overlay import crop_picture, overlay_picture, path_of
from hubsight.show.turned import displayed, displayed_evidence

WIDTH = 1400
"""Of a picture in the report, px: 180 mm on paper at 200 dots per inch."""
CROP_WIDTH = 260
"""Of a close-up, px: 28 mm on paper at 240 dots per inch."""
QUALITY = 80
"""JPEG quality of the pictures."""


@dataclass(frozen=True)
class ShownPhoto:
    """One photo in the report.

    Attributes
    ----------
    file
        Its name in the job folder.
    source
        The picture as a data URI; empty where there is none, and ``note`` says why.
    alternative
        What it shows, for those who cannot see it.
    """

    file: str
    source: str
    alternative: str
    note: str
    width: int = 0
    height: int = 0


@dataclass(frozen=True)
class ShownCrop:
    """One close-up in the report: its picture as a data URI, what it shows, and what disagrees in it."""

    source: str
    words: str
    seen: bool
    odd: tuple[str, ...]


@dataclass(frozen=True)
class ShownCrops:
    """Close-ups of the same thing, with the figures that hang on it."""

    title: str
    hangs: str
    crops: tuple[ShownCrop, ...]


@dataclass(frozen=True)
class ShownSet:
    """A photo set: its close-ups, and every photo whole."""

    crops: tuple[ShownCrops, ...] = ()
    photos: tuple[ShownPhoto, ...] = ()


@dataclass
class _Set:
    """What was seen in a set, whose photos are loaded one after the other."""

    record: Record
    folder: Path | None
    agreement: PhotosAgree | None = None
    face: FaceGeometry | None = None
    cut: dict[Crop, str] = field(default_factory=dict)


def side_pictures(side: MeasuredSide, record: Record, folder: Path | None) -> ShownSet:
    """Return a side's photos with what was seen in them."""
    found = side.measurement
    if found is None:
        return ShownSet()
    return _shown_set(_Set(record, folder, found.agreement, found.face), found.photos, side.photos)


def lying_pictures(
    lying: LyingMeasurement | None, photos: Sequence[str], record: Record, folder: Path | None
) -> ShownSet:
    """Return the photos of the lying hub with what was seen in them."""
    return ShownSet() if lying is None else _shown_set(_Set(record, folder), lying.evidence, photos)


def _shown_set(own: _Set, evidence: Sequence[PhotoEvidence], names: Sequence[str]) -> ShownSet:
    groups = crops_of(evidence, own.agreement, own.face)
    photos = tuple(_shown(own, seen, path_of(seen, names), groups) for seen in evidence)
    shown = (
        ShownCrops(
            group.title,
            ", ".join(figure_words(name) for name in group.figures),
            tuple(_shown_crop(own, crop) for crop in group.crops if crop in own.cut),
        )
        for group in groups
    )
    return ShownSet(tuple(one for one in shown if one.crops), photos)


def _shown_crop(own: _Set, crop: Crop) -> ShownCrop:
    return ShownCrop(own.cut[crop], f"{Path(crop.photo).stem}, {crop.words}", crop.seen, crop.odd)


def _shown(own: _Set, seen: PhotoEvidence, name: str, groups: Sequence[CropGroup]) -> ShownPhoto:
    words = _words(seen, name)
    path = None if own.folder is None else inside(own.folder, name)
    photo = None if path is None else load_photo(path)
    if photo is None:
        return ShownPhoto(name, "", words, "the photo is not here")
    if isinstance(photo, Refusal):
        return ShownPhoto(name, "", words, f"the photo cannot be shown: {photo.reason}")
    known = {file.path: file for file in own.record.inputs}.get(name)
    if known is None or photo.pixels_sha256 != known.pixels_sha256:
        return ShownPhoto(name, "", words, "the photo is not the one that was measured")
    _cut(own, photo, seen, groups)
    picture = upright(photo.pixels, photo.orientation)
    small = _reduced(overlay_picture(picture, displayed_evidence(seen, photo.orientation), name))
    return ShownPhoto(name, _data_uri(small), words, "", width=small.width, height=small.height)


def _cut(own: _Set, photo: Photo, evidence: PhotoEvidence, groups: Sequence[CropGroup]) -> None:
    """Cut a photo's close-ups, upright; they were chosen in the photo as stored."""
    picture, turned = (
        upright(photo.pixels, photo.orientation),
        displayed_evidence(evidence, photo.orientation),
    )
    for crop in (crop for group in groups for crop in group.crops if crop.photo == evidence.file):
        centre = displayed(crop.centre, photo.orientation, evidence.width, evidence.height)
        shown = crop_picture(picture, turned, replace(crop, centre=centre), CROP_WIDTH)
        own.cut[crop] = _data_uri(Image.fromarray(shown))


def _words(seen: PhotoEvidence, name: str) -> str:
    parts = [f"{len(seen.saddles)} target corners"]
    parts += [f"{len(seen.boss_outlines)} boss outlines"] * bool(seen.boss_outlines)
    parts += ["the gauge with its end and head seat"] * bool(seen.gauges)
    parts += ["end faces"] * any(edge.kind == "end_face" for edge in seen.edges)
    said = f"Photo {name} with what was seen: {', '.join(parts)}"
    return said if seen.residual_px is None else f"{said}; residual {seen.residual_px:.2f} px"


def _reduced(picture: Picture) -> Image.Image:
    shown = Image.fromarray(np.ascontiguousarray(picture))
    if shown.width <= WIDTH:
        return shown
    return shown.resize((WIDTH, round(shown.height * WIDTH / shown.width)), Image.Resampling.LANCZOS)


def _data_uri(picture: Image.Image) -> str:
    buffer = io.BytesIO()
    picture.save(buffer, "JPEG", quality=QUALITY, optimize=True)
    return f"data:image/jpeg;base64,{base64.b64encode(buffer.getvalue()).decode()}"
