"""Developing in another process: from traced light in a scratch file to a JPEG."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from render.design import PhoneProcessing, Processing
from render.optics import Tags
from render.phone import picture
from render.sensor import develop, jpeg


@dataclass(frozen=True)
class Exposure:
    """One photo's light.

    Attributes
    ----------
    light
        Scratch file of linear values; developing deletes it.
    paper
        The paper's level in it.
    processing, seed, tags, motion, divisor
        As the photo wants them; ``divisor``: full size divided by this size.
    """

    light: Path
    paper: float
    processing: Processing | PhoneProcessing
    seed: int
    tags: Tags
    motion: tuple[float, float] | None
    divisor: int


def write_photo(exposure: Exposure, file: Path) -> Path:
    """Write a photo and return its file."""
    linear = np.load(exposure.light).astype(np.float32)
    exposure.light.unlink()
    how = exposure.processing
    if isinstance(how, PhoneProcessing):
        rgb = picture(linear, how, exposure.seed, exposure.motion, exposure.divisor)
    else:
        rgb = develop(linear, exposure.paper, how, exposure.seed)
    file.write_bytes(jpeg(rgb, exposure.tags))
    return file
