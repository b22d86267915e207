"""Outer faces of a flange's bosses on a lying hub: rectangles on a cylinder about its axis.

A boss' outer face has two edges across the axis, a flange's thickness apart, and two along it. On the
cylinder through the outer faces all four stand at the same place in every photo; on other cylinders they do
not. A web's rim, which need not lie in the flange's middle, has only the edges across, so it is not taken for
a boss.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, maximum_filter1d

from hubsight.camera import View
from hubsight.model.arrays import Array, Picture
from hubsight.see.lying.frame import LyingFrame, grey_at

Photos = Sequence[tuple[Picture, View]]

STEP_MM = 0.2
"""Along the axis."""
STEP_RAD = np.radians(1.25)
AROUND = np.arange(-np.radians(80.0), np.radians(80.0), STEP_RAD)
THICKNESSES_MM = np.arange(5.2, 10.1, 0.4)
USUAL_THICKNESS_MM, THICKNESS_SIGMA_MM = 7.8, 2.0
"""Of flanges at their bosses (common practice, no source)."""
WIDTHS_MM = np.arange(5.0, 13.1, 1.0)
"""Of a boss' outer face across (common practice, no source)."""
INSET_MM = 0.8
"""Edges along the axis are looked at so far inside of those across."""
BLUR_ALONG_MM, BLUR_AROUND_STEPS = 0.15, 0.6
SLACK_STEPS, PLATEAU_STEPS = 3, 1.0
MOST_ACROSS, MOST_ALONG = 40.0, 20.0
"""Grey levels per mm; what is stronger counts no more."""
LITTLE_ACROSS, LITTLE_ALONG = 0.75, 0.5
"""What is weaker is unrest."""
LIES_LEAST, LIES_MOST = 0.94, 1.3
"""A flange's outer radius over the axis' height there, which rests on one boss or on two of four."""
RADIUS_STEP_MM = 0.8
NEAR_MM = 1.6
"""Faces are looked for so far from where the flange's edges are, mm."""
LEAST_RADIUS_MM, MOST_RADIUS_MM = 18.0, 37.0
"""Outer radii of flanges (common practice, no source)."""
SECOND_WEIGHT = 0.5
APART_RAD = np.radians(25.0)
"""A second boss counts by so much; bosses are so far apart at least."""


@dataclass(frozen=True)
class Tops:
    """Bosses' outer faces as they fit best about one axis.

    Attributes
    ----------
    middle, thickness, radius
        Middle along the axis, thickness and radius, mm.
    faces
        Angles between which each face lies, rad; the clearest face first.
    score
        How strong their edges are.
    """

    middle: float
    thickness: float
    radius: float
    faces: tuple[tuple[float, float], ...]
    score: float


def find_tops(photos: Photos, frame: LyingFrame, place: float) -> Tops | None:
    """Find the outer faces of the flange that has its middle near a ``place``, mm along the axis.

    A hub lies on its flanges, so they are as large as its axis is high. None where no flange can be.
    """
    margin = NEAR_MM + THICKNESSES_MM[-1] / 2
    along = np.arange(place - margin, place + margin, STEP_MM)
    fits = [_tops(photos, frame, along, radius) for radius in _radii(float(frame.at(place)[2]))]
    if not fits:
        return None
    # Edges that count as seen within some slack leave a plateau, of which the middle is wanted.
    scores = gaussian_filter1d(np.array([fit.score for fit in fits]), PLATEAU_STEPS, axis=1)
    scores[:, np.abs(along - place) > NEAR_MM] = 0.0
    k, i = np.unravel_index(int(scores.argmax()), scores.shape)
    return fits[k].at(int(i))


def _radii(height: float) -> Array:
    """Return the radii that a flange may have where the axis is at this height, mm."""
    least, most = max(LIES_LEAST * height, LEAST_RADIUS_MM), min(LIES_MOST * height, MOST_RADIUS_MM)
    return np.arange(least, most, RADIUS_STEP_MM)


@dataclass(frozen=True)
class _Fits:
    """Faces of one radius: at each place (places,) their score, thickness and angles."""

    along: Array
    radius: float
    score: Array
    thickness: Array
    angles: Array

    def at(self, i: int) -> Tops:
        faces = tuple((float(a), float(b)) for a, b in self.angles[i].reshape(2, 2))
        return Tops(float(self.along[i]), float(self.thickness[i]), self.radius, faces, float(self.score[i]))


def _tops(photos: Photos, frame: LyingFrame, along: Array, radius: float) -> _Fits:
    across, lengthwise = face_edges(photos, frame, along, radius)
    widths = sorted({round(width / radius / STEP_RAD) for width in WIDTHS_MM})
    score, best, angles = np.zeros(len(along)), np.zeros(len(along)), np.zeros((len(along), 4))
    for thickness in THICKNESSES_MM:
        k = round(thickness / 2 / STEP_MM)
        inner = k - round(INSET_MM / STEP_MM)
        pair = np.sqrt(across[: -2 * k] * across[2 * k :])
        beside = running_mean(lengthwise, 2 * inner + 1)[k - inner : len(along) - k - inner]
        faces = _faces(pair, beside[: len(pair)], widths)
        usual = np.exp(-0.5 * ((thickness - USUAL_THICKNESS_MM) / THICKNESS_SIGMA_MM) ** 2)
        here = slice(k, len(along) - k)
        better = usual * faces.total > score[here]
        score[here] = np.where(better, usual * faces.total, score[here])
        best[here] = np.where(better, thickness, best[here])
        angles[here] = np.where(better[:, None], faces.angles(), angles[here])
    return _Fits(along, float(radius), score, best, angles)


def face_edges(photos: Photos, frame: LyingFrame, along: Array, radius: float) -> tuple[Array, Array]:
    """Return how strong edges across and along the axis are in all photos together, (places, angles) each."""
    outward = frame.outward(AROUND)
    points = frame.round(along, radius, AROUND)
    across, lengthwise = np.zeros(points.shape[:2]), np.zeros(points.shape[:2])
    for picture, view in photos:
        grey = grey_at(picture, view, points)
        seen = np.sum((view.position - points) * outward, -1) > 0
        steep = np.abs(gaussian_filter1d(grey, BLUR_ALONG_MM / STEP_MM, axis=0, order=1)) / STEP_MM
        steep = maximum_filter1d(np.minimum(steep, MOST_ACROSS), SLACK_STEPS, axis=0)
        across += np.log(steep * seen + LITTLE_ACROSS)
        steep = np.abs(gaussian_filter1d(grey, BLUR_AROUND_STEPS, axis=1, order=1)) / (STEP_RAD * radius)
        steep = maximum_filter1d(np.minimum(steep, MOST_ALONG), SLACK_STEPS, axis=1)
        lengthwise += np.log(steep * seen + LITTLE_ALONG)
    return np.exp(across / len(photos)), np.exp(lengthwise / len(photos))


def running_mean(values: Array, count: int) -> Array:
    """Return means of ``count`` neighbouring rows."""
    sums = np.cumsum(np.vstack([np.zeros((1, values.shape[1])), values]), axis=0)
    return np.asarray((sums[count:] - sums[:-count]) / count)


@dataclass(frozen=True)
class _Faces:
    """At each place the best face and the best other one as wide: scores and first steps, (places,) each."""

    total: Array
    first: NDArray[np.int_]
    other: NDArray[np.int_]
    width: NDArray[np.int_]

    def angles(self) -> Array:
        """Return (places, 4) first and last angle of both, rad."""
        ends = (self.first, self.first + self.width, self.other, self.other + self.width)
        return np.stack([AROUND[end] for end in ends], -1)


def _faces(pair: Array, beside: Array, widths: Sequence[int]) -> _Faces:
    sums = np.cumsum(np.hstack([np.zeros((len(pair), 1)), pair]), axis=1)
    rows = np.arange(len(pair))
    each = []
    for w in widths:
        across = (sums[:, w:-1] - sums[:, 1:-w]) / (w - 1)
        fits = np.sqrt(across * np.sqrt(beside[:, :-w] * beside[:, w:]))
        first = fits.argmax(1)
        apart = np.abs(np.arange(fits.shape[1]) - first[:, None]) > APART_RAD / STEP_RAD
        other = np.where(apart, fits, 0.0).argmax(1)
        each.append((fits[rows, first] + SECOND_WEIGHT * fits[rows, other], first, other))
    totals, firsts, others = (np.array(part) for part in zip(*each, strict=True))
    best = totals.argmax(0)
    return _Faces(totals[best, rows], firsts[best, rows], others[best, rows], np.array(widths)[best])
