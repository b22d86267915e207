"""The phone's live preview: how much of the sheet a small picture from its camera shows."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image

from hubsight.model.corrections import Pixel
from hubsight.model.frozen import Frozen
from hubsight.model.refusal import Refusal
from hubsight.model.stated import PaperName
from hubsight.target.find import find_target, grey
from hubsight.target.geometry import target_geometry

LARGEST_PREVIEW = 1_500_000
"""Bytes of one picture."""
PREVIEW_PIXELS = 3_000_000
"""Pixels of one picture; a larger one is not decoded."""
PREVIEW_S = 10.0
"""How long looking at one may take, s."""


class Previewed(Frozen):
    """What a preview shows: the sheet's marks, px, of how many, and one sentence."""

    width: int = 0
    height: int = 0
    marks: tuple[Pixel, ...] = ()
    of: int = 0
    sentence: str


def preview(data: bytes, paper: PaperName) -> Previewed:
    """Look for the sheet in a JPEG's bytes; what is no picture shows nothing."""
    try:
        with Image.open(io.BytesIO(data), formats=("JPEG",)) as picture:
            if picture.width * picture.height > PREVIEW_PIXELS:
                return Previewed(sentence="The preview is too large.")
            pixels = np.asarray(picture.convert("RGB"))
    except (OSError, ValueError, Image.DecompressionBombError):
        return Previewed(sentence="The preview could not be read.")
    geometry = target_geometry(paper)
    found = find_target(grey(pixels), geometry)
    size = {"width": pixels.shape[1], "height": pixels.shape[0]}
    count = len(geometry.saddles)
    if isinstance(found, Refusal):
        return Previewed(**size, of=count, sentence="No sheet seen yet.")
    marks = tuple((float(x), float(y)) for x, y in found.pixels)
    whole = "The whole sheet is seen" if len(marks) == count else "Sheet seen"
    return Previewed(**size, marks=marks, of=count, sentence=f"{whole}: {len(marks)} of {count} marks.")
