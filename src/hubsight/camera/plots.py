"""Pictures of a calibration: where in the frame corners were seen, and how the residuals point."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from hubsight.camera.calibrate import Calibration
from hubsight.camera.conditions import CORNER_REACH

Array = NDArray[np.float64]
Colour = tuple[int, int, int]

WIDTH_PX = 1200
"""Of the picture."""
BAND_PX = 40
"""Height of the line of text above the frame."""
MAGNIFIED = 400.0
"""Residuals are drawn this many times as long as they are in the photo."""
PALE: Colour = (228, 232, 238)
DARK: Colour = (40, 46, 56)
SEEN: Colour = (32, 110, 170)
DROPPED: Colour = (200, 60, 40)
DROPPED_WEIGHT = 0.5


def coverage_picture(found: Calibration) -> Image.Image:
    """Draw all photos' corners in one frame with their residuals.

    The circle is where a corner of the frame counts as covered. A residual pattern that the eye can follow
    (whirls, fans) is what the model does not describe: a bent sheet, or a lens of another kind. Corners that
    were given little weight are red.
    """
    scale = WIDTH_PX / found.photos.width
    height = round(found.photos.height * scale)
    picture = Image.new("RGB", (WIDTH_PX, height + BAND_PX), PALE)
    draw = ImageDraw.Draw(picture)
    draw.rectangle((0, BAND_PX, WIDTH_PX - 1, BAND_PX + height - 1), fill=(255, 255, 255), outline=DARK)
    reach = CORNER_REACH * np.hypot(WIDTH_PX, height) / 2
    middle = np.array([WIDTH_PX / 2, BAND_PX + height / 2])
    draw.ellipse((*(middle - reach), *(middle + reach)), outline=PALE, width=2)
    for k, sighting in enumerate(found.photos.sightings):
        start = (sighting.pixels + 0.5) * scale + np.array([0, BAND_PX])
        end = start + MAGNIFIED * scale * found.residuals(k)
        for one, other, weight in zip(start, end, found.weights(k), strict=True):
            colour = SEEN if weight > DROPPED_WEIGHT else DROPPED
            draw.line((*one, *np.clip(other, 0, [WIDTH_PX, height + BAND_PX])), fill=colour, width=1)
            draw.ellipse((*(one - 2), *(one + 2)), fill=colour)
    text = (
        f"{len(found.photos.sightings)} photos, as stored; residuals {MAGNIFIED:.0f} times too long; "
        f"root mean square {found.residual_px:.3f} px"
    )
    draw.text((10, 8), text, fill=DARK, font=ImageFont.load_default(22))
    return picture


def write_coverage(found: Calibration, path: Path) -> None:
    """Write `coverage_picture` as PNG; raises OSError where that cannot be done."""
    coverage_picture(found).save(path, format="PNG")
