"""How well what is turned about an axis shows that axis, in all photos together.

A part turned about the axis has two outlines, equally far from it on both sides as a camera sees it; of bright
parts the ends of the mirrored paper are seen instead (`mirror`). At each place along the axis the radius and
kind of edge counts that all photos share.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from hubsight.lying.caps import SoftPhoto
from hubsight.lying.frame import LyingFrame, pixels_of, sampled
from hubsight.lying.mirror import mirror_ends

Array = NDArray[np.float64]

RADIUS_STEP_MM = 0.25
RADII_MM = np.arange(6.0, 30.1, RADIUS_STEP_MM)
PLACE_STEP_MM = 1.5
KNOT_STEPS = 8
"""Of places and radii every so many are projected; between them pixels are interpolated."""
STRONG, LITTLE = 32.0, 1.2
"""Grey levels per mm: what is steeper counts no more, what is weaker is unrest."""
SMOOTH_MM = 2.2
"""What is turned keeps its radius over about this length."""


def turned_score(
    photos: Sequence[SoftPhoto], frame: LyingFrame, extent: tuple[float, float], white: tuple[float, float]
) -> float:
    """Return how strongly edges of turned parts are seen in all photos, grey levels per mm.

    Parameters
    ----------
    photos
        All of the set.
    frame
        Of the axis.
    extent
        Where the hub begins and ends along it, mm.
    white
        Half length and half width of the white field, mm.
    """
    places = np.arange(extent[0], extent[1], PLACE_STEP_MM)
    rows, columns = _knots(len(places)), _knots(len(RADII_MM))
    s, radii = places[rows, None], RADII_MM[None, columns]
    between = _between(rows, len(places)), _between(columns, len(RADII_MM))
    together = np.zeros((2, len(places), len(RADII_MM)))
    for photo in photos:
        towards, far = frame.towards(photo.eye)
        half = np.broadcast_to(np.arccos(np.minimum(radii / far, 1.0)), (len(rows), len(columns)))
        outlines = [towards + side * half for side in (1, -1)]
        ends = [mirror_ends(frame, photo.eye, white, s, radii, side) for side in (1, -1)]
        for k, pair in enumerate((outlines, ends)):
            left, right = (_outward(photo, _points(frame, s, radii, angle), between) for angle in pair)
            together[k] += np.log(np.sqrt(np.maximum(left * right, 0.0)) + LITTLE) / len(photos)
    shared = gaussian_filter1d(np.exp(together.max(0)) - LITTLE, SMOOTH_MM / PLACE_STEP_MM, axis=0)
    return float(shared.max(1).mean())


def _points(frame: LyingFrame, places: Array, radii: Array, angle: Array) -> Array:
    out = np.sin(angle)[..., None] * frame.left + np.cos(angle)[..., None] * frame.up
    return np.asarray(frame.origin + places[..., None] * frame.along + radii[..., None] * out)


def _outward(photo: SoftPhoto, points: Array, between: tuple[Array, Array]) -> Array:
    """Return how much brighter it gets outwards, (places, radii), from the (rows, columns, 3) knots."""
    at = np.einsum("ij,kl,jlm->ikm", *between, pixels_of(photo.view, points), optimize=True)
    grey = sampled(photo.soft, at.astype(np.float32))
    return np.asarray(np.clip(np.gradient(grey, RADIUS_STEP_MM, axis=1), -STRONG, STRONG))


def _knots(count: int) -> NDArray[np.int_]:
    return np.unique(np.append(np.arange(0, count, KNOT_STEPS), count - 1))


def _between(knots: NDArray[np.int_], count: int) -> Array:
    return np.column_stack([np.interp(np.arange(count), knots, row) for row in np.eye(len(knots))])
