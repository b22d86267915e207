"""How a set of calibration photos was taken, and what to do better while there is time.

The limits are common practice, no source, unless said otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hubsight.calibrate.calibrate import Calibration
from hubsight.camera.observe import view_in
from hubsight.estimate.robust import Threshold
from hubsight.model.arrays import Array
from hubsight.model.stated import Reading
from hubsight.model.uncertainty import FAR_SIGMAS


@dataclass(frozen=True)
class Wanted:
    """What photos that calibrate a camera show; raising a field asks for more.

    Attributes
    ----------
    tilt_deg, tilted
        Tilt from which a photo tells focal length from distance, and how many such photos (found on
        rendered photos).
    widest_gap_deg
        Widest gap between the sides from which tilted photos were taken; lowering it asks for more
        sides.
    corner_reach
        Share of the way from the picture's middle to a corner up to which a point covers the corner
        (found on rendered photos: a sheet that fills the frame reaches 0.65 to 0.85).
    distances
        Ratio of the largest to the smallest distance; below, all are one.
    """

    tilt_deg: float = 12.0
    tilted: int = 3
    widest_gap_deg: float = 200.0
    corner_reach: float = 0.65
    distances: float = 1.1


WANTED = Wanted()
"""As the program asks for it."""


@dataclass(frozen=True)
class Worth:
    """What is worth a word; raising a field says less.

    Attributes
    ----------
    overfit
        Residual of held-out photos over that of the photos used.
    widened
        Widening of the uncertainties.
    focal
        Relative standard uncertainty of a focal length that calibrates little.
    scale_sigmas
        Distance of the print's scales from the stated ones, in standard uncertainties.
    """

    overfit: float = 1.5
    widened: float = 2.0
    focal: float = 0.003
    scale_sigmas: float = 3.5


BENT = Threshold(share=3.0, least=0.25)
"""Departure of a board from a plane that is worth a word, by its standard uncertainty, mm."""
ODD_PHOTO = Threshold(share=2.0, least=0.12)
"""Residual of a photo unlike the others that is, by theirs, px (found on rendered photos)."""
WORTH = Worth()
"""As the program says it."""


CORNER_WORDS = ("top left", "top right", "bottom left", "bottom right")
"""Corners of a picture as stored."""


@dataclass(frozen=True)
class PhotoConditions:
    """How one photo was taken.

    Attributes
    ----------
    tilt_deg, azimuth_deg
        Of the camera's axis against the board's normal, and to which side of the board it stands.
    distance_mm
        Of the lens from the board's middle.
    """

    tilt_deg: float
    azimuth_deg: float
    distance_mm: float


def photo_conditions(found: Calibration, photo: int) -> PhotoConditions:
    """Return how one photo was taken."""
    view = view_in(found.solution, photo)
    axis, eye = view.rotation[2], view.position
    middle = np.append(found.photos.sightings[photo].nominal.mean(0), 0.0)
    return PhotoConditions(
        tilt_deg=float(np.degrees(np.arccos(np.clip(-axis[2], -1, 1)))),
        azimuth_deg=float(np.degrees(np.arctan2(-axis[1], -axis[0])) % 360),
        distance_mm=float(np.linalg.norm(eye - middle)),
    )


def advice(found: Calibration, files: Sequence[str]) -> tuple[str, ...]:
    """Return what is wrong with a set of calibration photos, each sentence with its remedy.

    Parameters
    ----------
    found
        The calibration.
    files
        Names of its photos.
    """
    how = [photo_conditions(found, k) for k in range(len(files))]
    return (
        *_few_tilts(how),
        *_uncovered(found),
        *_one_distance(how),
        *_odd_photos(found, files),
        *_bent(found),
        *_over_fitted(found),
        *_contradicting(found),
        *_focal_length(found),
        *_print_scale(found),
    )


def widest_gap(azimuths: Sequence[float]) -> float:
    """Return the widest angle, degrees, without any of the directions; 360 for none or one."""
    if len(azimuths) < 2:
        return 360.0
    order = np.sort(np.asarray(azimuths) % 360)
    return float(np.max(np.diff(np.append(order, order[0] + 360))))


def _few_tilts(how: Sequence[PhotoConditions]) -> list[str]:
    tilted = [h.azimuth_deg for h in how if h.tilt_deg > WANTED.tilt_deg]
    remedy = "tilt the phone by 20 to 35 degrees, from all four sides of the sheet"
    if len(tilted) < WANTED.tilted:
        return [
            f"Too few tilts: {len(tilted)} of {len(how)} photos are tilted by more than {WANTED.tilt_deg:g} "
            f"degrees, so focal length and distance are hard to tell apart; {remedy}"
        ]
    gap = widest_gap(tilted)
    if gap <= WANTED.widest_gap_deg:
        return []
    return [
        f"Too few tilts: all tilted photos were taken from one side (none within {gap:.0f} degrees); {remedy}"
    ]


def corner_reach(found: Calibration) -> Array:
    """Return (4,) how far towards the picture's corners points were seen, as shares of the way.

    In the order of `CORNER_WORDS`, of the picture as stored.
    """
    half = np.array([found.photos.width, found.photos.height]) / 2
    points = np.concatenate([s.pixels for s in found.photos.sightings])
    weight = np.concatenate([found.weights(k) for k in range(len(found.photos.sightings))])
    offset = (points[weight > 0.5] + 0.5 - half) / half
    reach = []
    for down in (-1, 1):
        for right in (-1, 1):
            towards = offset * np.array([right, down])
            own = towards[(towards > 0).all(1)]
            reach.append(float(np.linalg.norm(own, axis=1).max() / math.sqrt(2)) if len(own) else 0.0)
    return np.array(reach)


def _uncovered(found: Calibration) -> list[str]:
    reach = corner_reach(found)
    bare = [word for word, share in zip(CORNER_WORDS, reach, strict=True) if share < WANTED.corner_reach]
    if not bare:
        return []
    which = f"{', '.join(bare)} corner{'s' * (len(bare) > 1)}"
    return [
        f"The target never came near the {which} of the picture (as stored), so distortion is guessed there: "
        "take photos in which it fills the frame, and some with the target off-centre"
    ]


def _one_distance(how: Sequence[PhotoConditions]) -> list[str]:
    far, near = max(h.distance_mm for h in how), min(h.distance_mm for h in how)
    if far > WANTED.distances * near:
        return []
    return [
        f"All photos were taken at one distance ({near:.0f} to {far:.0f} mm): add two from half as far "
        "again, focused as they come"
    ]


def _odd_photos(found: Calibration, files: Sequence[str]) -> list[str]:
    usual = float(np.median(found.photo_residual_px))
    return [
        f"{name}: its residual of {residual:.2f} px is far above the others' {usual:.2f} px; it is shaken, "
        "or the sheet lay otherwise: leave it out or take it again"
        for name, residual in zip(files, found.photo_residual_px, strict=True)
        if residual > ODD_PHOTO.of(usual)
    ]


def bending(found: Calibration) -> Reading:
    """Return the largest departure of the board from a plane and its standard uncertainty, mm."""
    where = found.solution.layout["paper"]
    heights, u = found.solution.x[where], np.sqrt(np.diag(found.solution.covariance)[where])
    top = int(np.argmax(np.abs(heights)))
    return Reading(float(abs(heights[top])), float(u[top]))


def _bent(found: Calibration) -> list[str]:
    most = bending(found)
    if most.value < BENT.of(most.u):
        return []
    return [
        f"The sheet is not flat: its corners lie up to {most.value:.1f} mm off a plane. That is modelled, "
        "but costs certainty: glue the sheet to glass or a board"
    ]


def _over_fitted(found: Calibration) -> list[str]:
    if found.held_out_px is None or found.held_out_px <= WORTH.overfit * found.residual_px:
        return []
    return [
        f"Photos held out have a residual of {found.held_out_px:.2f} px, those used "
        f"{found.residual_px:.2f} px: the set is too small or too uneven for its camera model; add photos"
    ]


def _contradicting(found: Calibration) -> list[str]:
    if found.widened < WORTH.widened:
        return []
    return [
        f"Parts of the set give cameras that differ by {found.widened:.1f} times what scatter explains, "
        "and the uncertainties were widened by as much: the sheet bent between photos, or the lens moved; "
        "fix the sheet on glass or a board"
    ]


def _focal_length(found: Calibration) -> list[str]:
    value, u = float(found.camera[0]), float(np.sqrt(found.covariance[0, 0]))
    said = []
    if u > WORTH.focal * value:
        said.append(
            f"The focal length is known to {100 * u / value:.1f} % only: the photos are too much alike; "
            "add tilted ones from all sides"
        )
    stated = found.photos.focal
    if stated and abs(value - stated.value) > FAR_SIGMAS * math.hypot(stated.u, u):
        said.append(
            f"The focal length is {100 * (value / stated.value - 1):+.0f} % off what the photos' tags say: "
            "were they cut or zoomed?"
        )
    return said


def _print_scale(found: Calibration) -> list[str]:
    """Return a warning where the stated ratio of the print scales is not the one that square pixels show."""
    x, y = found.photos.scales
    if x is None or y is None:
        return [
            "The print's check bars were not measured; a calibration can do without, but not a measurement"
        ]
    seen = found.solution["scale"]
    where = found.solution.layout["scale"]
    c = found.solution.covariance[where, where]
    ratio = float(seen[0] / seen[1])
    u = ratio * math.sqrt(max(c[0, 0] + c[1, 1] - 2 * c[0, 1], 0.0))
    stated = x.value / y.value
    u = math.hypot(u, stated * math.hypot(x.u / x.value, y.u / y.value))
    if abs(stated - ratio) < WORTH.scale_sigmas * u:
        return []
    return [
        f"The check bars' readings say that the print is {100 * (stated - 1):+.2f} % longer along x than "
        f"along y, the photos say {100 * (ratio - 1):+.2f} %: measure both bars again, and see that they "
        "are not swapped"
    ]
