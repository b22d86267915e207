"""How well a photo shows the sheet: how blurred, and which corners are out of view, under glare or hidden."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from hubsight.model.arrays import Array, Picture
from hubsight.target.find import TargetSighting


@dataclass(frozen=True)
class EdgeProfile:
    """How the sides of squares are read across for their blur.

    Attributes
    ----------
    span_mm
        Stretch of a side, from its corner.
    half_mm
        Half the profile: a marker begins 1.5 mm beside it.
    steps, along
        Samples across a side and along it; more are slower.
    end
        Share of a profile at each end that is plain black or white; raising it bears noise and less blur.
    least_step
        Step of an edge that counts, grey levels; weaker ones are in deep shadow or glare.
    least
        How many such edges tell the blur.
    """

    span_mm: tuple[float, float] = (3.0, 9.0)
    half_mm: float = 1.35
    steps: int = 28
    along: int = 13
    end: float = 0.18
    least_step: float = 25.0
    least: int = 12


EDGE = EdgeProfile()
"""As the program reads them."""


@dataclass(frozen=True)
class Bad:
    """What of a photo is worth a word; raising a field says less.

    Attributes
    ----------
    blur_mm
        Standard deviation of the blur on the paper (found on rendered photos: a defocused one has up
        to 0.2).
    outside, hidden, glare
        Shares of the corners outside the picture, hidden, or under glare.
    glare_grey, glare_mm
        Grey level of glare, and distance round a corner within which it is looked for.
    """

    blur_mm: float = 0.35
    outside: float = 0.25
    hidden: float = 0.4
    glare: float = 0.08
    glare_grey: int = 250
    glare_mm: float = 5.0


BAD = Bad()
"""As the program says it."""


@dataclass(frozen=True)
class SheetView:
    """How one photo shows the sheet.

    Attributes
    ----------
    blur_mm
        Median standard deviation of the blur across the squares' edges on the paper; None where too few edges
        can be read.
    outside, hidden, glare
        Numbers of corners beyond the picture's border, not visible inside it, and of the latter those in
        white glare.
    corners
        Number of corners on the sheet.
    """

    blur_mm: float | None
    outside: int
    hidden: int
    glare: int
    corners: int

    def sentences(self) -> list[str]:
        """Say what is worth a word, each with its remedy."""
        out = []
        n = self.corners
        if self.blur_mm is not None and self.blur_mm > BAD.blur_mm:
            out.append(
                f"the sheet is blurred by {self.blur_mm:.1f} mm: hold the phone still, wipe the lens, "
                "and tap on the hub to focus"
            )
        if self.outside > BAD.outside * n:
            out.append(
                f"{self.outside} of the target's {n} corners lie outside the picture: keep the ring in view"
            )
        if self.glare > BAD.glare * n:
            out.append(
                f"glare hides {self.glare} of the target's {n} corners: move the lamp or shade the sheet"
            )
        elif self.hidden > BAD.hidden * n:
            out.append(f"{self.hidden} of the target's {n} corners are covered or unreadable: clear the ring")
        return out


def sheet_view(picture: Picture, sighting: TargetSighting) -> SheetView:
    """Return how a grey picture shows the sheet whose corners were found in it.

    Parameters
    ----------
    picture
        (H, W) grey picture as stored.
    sighting
        The corners found in it.
    """
    h = np.asarray(cv2.findHomography(sighting.nominal, sighting.pixels, 0)[0], dtype=np.float64)
    corners = len(sighting.geometry.saddles)
    missing = np.setdiff1d(np.arange(corners), sighting.index)
    places = _through(h, sighting.geometry.saddles[missing])
    size = np.array([picture.shape[1], picture.shape[0]])
    inside = ((places > 0) & (places < size - 1)).all(1)
    reach = max(2, round(BAD.glare_mm * sighting.square_px / sighting.geometry.square))
    glare = sum(_white(picture, place, reach) for place in places[inside])
    widths = _edge_widths(picture, sighting, h)
    mm = None
    if len(widths) >= EDGE.least:
        mm = float(np.median(widths)) * sighting.geometry.square / sighting.square_px
    return SheetView(mm, int((~inside).sum()), int(inside.sum()), int(glare), corners)


def _through(h: Array, points: Array) -> Array:
    if len(points) == 0:
        return np.empty((0, 2))
    return np.asarray(cv2.perspectiveTransform(points.reshape(-1, 1, 2), h), dtype=np.float64).reshape(-1, 2)


def _white(picture: Picture, place: Array, reach: int) -> bool:
    """Tell whether most of the neighbourhood, black squares included, is white."""
    u, v = np.rint(place).astype(int)
    part = picture[max(v - reach, 0) : v + reach + 1, max(u - reach, 0) : u + reach + 1]
    return bool(part.size and np.mean(part >= BAD.glare_grey) > 0.6)


def _edge_widths(picture: Picture, sighting: TargetSighting, h: Array) -> Array:
    """Return the blur's sigmas, px, across the sides of squares at the visible corners."""
    along = np.linspace(*EDGE.span_mm, EDGE.along)
    across = np.linspace(-EDGE.half_mm, EDGE.half_mm, EDGE.steps)
    local = sighting.pixels - _through(h, sighting.nominal)
    sides = ((1, 0), (-1, 0), (0, 1), (0, -1))
    frames = np.array([[side, (-side[1], side[0])] for side in sides], dtype=np.float64)
    offset = along[:, None, None] * frames[:, None, None, 0] + across[:, None] * frames[:, None, None, 1]
    points = sighting.nominal[:, None, None, None] + offset
    px = _through(h, points.reshape(-1, 2)).reshape(points.shape) + local[:, None, None, None]
    grey = cv2.remap(
        picture,
        px[..., 0].reshape(-1, EDGE.steps).astype(np.float32),
        px[..., 1].reshape(-1, EDGE.steps).astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    profiles = np.asarray(grey, dtype=np.float64).reshape(-1, EDGE.along, EDGE.steps).mean(1)
    ends = max(2, round(EDGE.end * EDGE.steps))
    step = np.abs(profiles[:, -ends:].mean(1) - profiles[:, :ends].mean(1))
    middle = px[:, :, EDGE.along // 2].reshape(-1, EDGE.steps, 2)
    spacing = np.linalg.norm(middle[:, -1] - middle[:, 0], axis=1) / (EDGE.steps - 1)
    slope = np.abs(np.gradient(profiles, axis=1)).max(1) / spacing
    size = np.array([picture.shape[1], picture.shape[0]])
    good = (step > EDGE.least_step) & ((middle > 0) & (middle < size - 1)).all((1, 2))
    return np.asarray(step[good] / (np.sqrt(2 * np.pi) * slope[good]))
