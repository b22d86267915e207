"""Pictures of a calibration: where corners were seen, how residuals point, where a length can be trusted."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from hubsight.calibrate.calibrate import Calibration
from hubsight.calibrate.conditions import WANTED
from hubsight.camera.model import View, project_with_derivatives
from hubsight.camera.prior import CameraPrior
from hubsight.camera.profile import CameraProfile, profile_prior
from hubsight.model.arrays import Array, Picture
from hubsight.target.geometry import target_geometry

Colour = tuple[int, int, int]

WIDTH_PX, BAND_PX = 1200, 40
"""Width of the pictures, and height of the line of text above a frame, px."""
MAGNIFIED = 400.0
"""Length of a residual in the picture over that in the photo."""
PALE: Colour = (228, 232, 238)
"""Colour of the ground."""
DARK: Colour = (40, 46, 56)
"""Colour of text and frames."""


def coverage_picture(found: Calibration) -> Image.Image:
    """Return a picture of all photos' corners in one frame with their residuals.

    The circle is where a corner of the frame counts as covered. A residual pattern that the eye can follow
    (whirls, fans) is what the model does not describe: a bent sheet, or a lens of another kind. Corners that
    were given little weight are red.
    """
    scale = WIDTH_PX / found.photos.width
    height = round(found.photos.height * scale)
    picture = Image.new("RGB", (WIDTH_PX, height + BAND_PX), PALE)
    draw = ImageDraw.Draw(picture)
    draw.rectangle((0, BAND_PX, WIDTH_PX - 1, BAND_PX + height - 1), fill=(255, 255, 255), outline=DARK)
    reach = WANTED.corner_reach * np.hypot(WIDTH_PX, height) / 2
    middle = np.array([WIDTH_PX / 2, BAND_PX + height / 2])
    draw.ellipse((*(middle - reach), *(middle + reach)), outline=PALE, width=2)
    for k, sighting in enumerate(found.photos.sightings):
        start = (sighting.pixels + 0.5) * scale + np.array([0, BAND_PX])
        end = start + MAGNIFIED * scale * found.residuals(k)
        for one, other, weight in zip(start, end, found.weights(k), strict=True):
            colour = (32, 110, 170) if weight > 0.5 else (200, 60, 40)
            draw.line((*one, *np.clip(other, 0, [WIDTH_PX, height + BAND_PX])), fill=colour, width=1)
            draw.ellipse((*(one - 2), *(one + 2)), fill=colour)
    text = (
        f"{len(found.photos.sightings)} photos; residuals {MAGNIFIED:.0f} times enlarged, "
        f"{found.residual_px:.3f} px RMS; red: little weight; circle: where corners begin"
    )
    draw.text((10, 8), text, fill=DARK, font=ImageFont.load_default(20))
    return picture


def write_coverage(found: Calibration, path: Path) -> None:
    """Write `coverage_picture` as PNG; raises OSError where that cannot be done."""
    coverage_picture(found).save(path, format="PNG")


@dataclass(frozen=True)
class TrustMap:
    """How `trust_picture` is drawn.

    Attributes
    ----------
    heights_mm
        Heights above the paper.
    bar_mm
        The length whose uncertainty it is, about a gauge's.
    grid
        Columns and rows of places at which it is computed.
    limits_mm
        Uncertainties at the ends of the scale of colours.
    colours
        Of good, middling and bad uncertainties.
    """

    heights_mm: tuple[float, float, float] = (0.0, 50.0, 100.0)
    bar_mm: float = 100.0
    grid: tuple[int, int] = (25, 19)
    limits_mm: tuple[float, float] = (0.02, 0.5)
    colours: tuple[Colour, ...] = ((40, 120, 180), (250, 245, 225), (190, 50, 40))


TRUST = TrustMap()
"""As the program draws it."""


def length_uncertainty(
    prior: CameraPrior, size: tuple[int, int], distance: float, height: float, print_u: float
) -> Array:
    """Return the standard uncertainty of a level length over one photo that is taken from straight above.

    Parameters
    ----------
    prior
        Of the camera for one photo, focus and stabilisation included.
    size
        Of the picture, px.
    distance
        Of the lens from the paper, mm.
    height
        Of the length above the paper, mm; known exactly.
    print_u
        Relative standard uncertainty of the print's scale.

    Returns
    -------
    (rows, columns) array
        In mm, on `TRUST.grid` over the picture, for the worst direction of the length.

    Notes
    -----
    The sheet tells the pose, so what the camera does wrong on the paper's plane the pose takes up. This is
    linear: the ring's corners are fitted with the pose for a small change of each of the camera's values, and
    the length is seen through what remains. Corners' own scatter is left out: it is far smaller.
    """
    view = View(prior.value, np.array([0, 0, 0, np.pi, 0, 0, 0, 0, distance]))
    grid = np.stack(
        np.meshgrid(np.linspace(0, size[0] - 1, TRUST.grid[0]), np.linspace(0, size[1] - 1, TRUST.grid[1])),
        -1,
    ).reshape(-1, 2)
    saddles = target_geometry("a4").saddles
    ring = np.column_stack([saddles, np.zeros(len(saddles))])
    middle = view.at_height(grid, height)
    worst = np.zeros(len(grid))
    at_ring = project_with_derivatives(view, ring)
    pose = at_ring.own[:, :, 3:].reshape(-1, 6)
    follows = -np.linalg.pinv(pose) @ at_ring.shared.reshape(-1, 8)
    for direction in (np.array([1.0, 0, 0]), np.array([0, 1.0, 0])):
        moved = []
        for side in (-0.5, 0.5):
            point = middle + side * TRUST.bar_mm * direction
            seen = project_with_derivatives(view, point)
            by_camera = seen.shared + seen.own[:, :, 3:] @ follows
            on_plane = np.linalg.inv(seen.point[:, :, :2])
            moved.append(np.einsum("j,njk->nk", direction[:2], on_plane @ by_camera))
        slope = moved[1] - moved[0]
        variance = np.einsum("nk,kl,nl->n", slope, prior.covariance, slope) + (print_u * TRUST.bar_mm) ** 2
        worst = np.maximum(worst, np.sqrt(variance))
    return np.asarray(worst.reshape(TRUST.grid[1], TRUST.grid[0]))


def trust_picture(profile: CameraProfile, print_u: float) -> Image.Image:
    """Return a picture of where in one photo, and how high, a length can be trusted with this camera.

    Three frames, for the heights of `TRUST.heights_mm`; blue is good, red is poor, figures are standard
    uncertainties of a length of `TRUST.bar_mm` in millimetres.
    """
    size = (profile.signature.width, profile.signature.height)
    prior = profile_prior(profile, *size)
    assert isinstance(prior, CameraPrior), "a profile holds for its own size"
    width = WIDTH_PX // len(TRUST.heights_mm)
    height = round(width * size[1] / size[0])
    picture = Image.new("RGB", (WIDTH_PX, height + 2 * BAND_PX), PALE)
    draw = ImageDraw.Draw(picture)
    text = (
        f"One photo from straight above, {profile.made.distance_mm:.0f} mm: standard uncertainty, mm, of a "
        f"level length of {TRUST.bar_mm:.0f} mm"
    )
    draw.text((10, 8), text, fill=DARK, font=ImageFont.load_default(22))
    for k, above in enumerate(TRUST.heights_mm):
        u = length_uncertainty(prior, size, profile.made.distance_mm, above, print_u)
        frame = Image.fromarray(_coloured(u)).resize((width - 6, height), Image.Resampling.BILINEAR)
        picture.paste(frame, (k * width + 3, 2 * BAND_PX))
        title = f"{above:.0f} mm above the paper"
        draw.text((k * width + 10, BAND_PX + 8), title, fill=DARK, font=ImageFont.load_default(18))
        for row in range(2, TRUST.grid[1], 5):
            for column in range(3, TRUST.grid[0], 6):
                place = (
                    k * width + 3 + column / (TRUST.grid[0] - 1) * (width - 6),
                    2 * BAND_PX + row / (TRUST.grid[1] - 1) * height,
                )
                figure = f"{u[row, column]:.2f}"
                draw.text(place, figure, fill=DARK, font=ImageFont.load_default(15), anchor="mm")
    return picture


def _coloured(u: Array) -> Picture:
    """Return (rows, columns, 3) colours, by the logarithm of the uncertainty."""
    share = np.clip(np.log(u / TRUST.limits_mm[0]) / np.log(TRUST.limits_mm[1] / TRUST.limits_mm[0]), 0, 1)[
        ..., None
    ]
    good, middling, bad = (np.array(c, dtype=np.float64) for c in TRUST.colours)
    low = good + 2 * share * (middling - good)
    high = middling + (2 * share - 1) * (bad - middling)
    return np.asarray(np.rint(np.where(share < 0.5, low, high)), dtype=np.uint8)


def write_trust(profile: CameraProfile, print_u: float, path: Path) -> None:
    """Write `trust_picture` as PNG; raises OSError where that cannot be done."""
    trust_picture(profile, print_u).save(path, format="PNG")
