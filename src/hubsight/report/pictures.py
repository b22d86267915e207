"""The photos of a report, with marks, small enough to be sent, without any tags."""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image

from hubsight.model.files import inside
from hubsight.model.refusal import Refusal
from hubsight.model.result import MeasuredSide
from hubsight.model.side import PhotoEvidence
from hubsight.photo import load_photo, upright
from hubsight.record.model import Record
from hubsight.show.canvas import Picture
from hubsight.show.overlay import overlay_picture, path_of
from hubsight.show.turned import displayed_evidence

WIDTH = 1400
"""Of a picture in the report, px: 180 mm on paper at 200 dots per inch."""

QUALITY = 80


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


def shown_photos(side: MeasuredSide, record: Record, folder: Path | None) -> tuple[ShownPhoto, ...]:
    """Return a side's photos with what was seen in them."""
    evidence = () if side.measurement is None else side.measurement.photos
    return tuple(_shown(seen, path_of(seen, side.photos), record, folder) for seen in evidence)


def _shown(seen: PhotoEvidence, name: str, record: Record, folder: Path | None) -> ShownPhoto:
    words = _words(seen, name)
    path = None if folder is None else inside(folder, name)
    photo = None if path is None else load_photo(path)
    if photo is None:
        return ShownPhoto(name, "", words, "the photo is not here")
    if isinstance(photo, Refusal):
        return ShownPhoto(name, "", words, f"the photo cannot be shown: {photo.reason}")
    known = {file.path: file for file in record.inputs}.get(name)
    if known is None or photo.pixels_sha256 != known.pixels_sha256:
        return ShownPhoto(name, "", words, "the photo is not the one that was measured")
    picture = overlay_picture(
        upright(photo.pixels, photo.orientation), displayed_evidence(seen, photo.orientation), name
    )
    small = _reduced(picture)
    return ShownPhoto(name, _data_uri(small), words, "", width=small.width, height=small.height)


def _words(seen: PhotoEvidence, name: str) -> str:
    parts = [f"{len(seen.saddles)} target corners", f"{len(seen.boss_outlines)} boss outlines"]
    parts += ["the gauge with its end and head seat"] * bool(seen.gauges)
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
