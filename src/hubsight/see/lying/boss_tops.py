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

from hubsight.model.arrays import Array
from hubsight.scene.usual import BOSS_WIDTHS_MM, FLANGE_RADII_MM, LEAST_RESTING_SHARE, RESTING_SHARE, Usual
from hubsight.see.lying.caps import SoftPhoto
from hubsight.see.lying.frame import LyingFrame

STEP_MM, STEP_RAD = 0.2, np.radians(1.25)
"""Steps along the axis (mm) and about it (rad); raising them is faster and less exact."""
AROUND = np.arange(-np.radians(80.0), np.radians(80.0), STEP_RAD)
"""Angles from straight up at which faces are looked for, rad."""
THICKNESSES_MM, THICKNESS_MM = np.arange(5.2, 10.1, 0.4), Usual(7.8, 2.0)
"""Thicknesses of flanges at their bosses that are tried, and the usual one, mm; more are slower (common
practice, no source)."""
INSET_MM = 0.8
"""Distance inside the edges across within which edges along the axis are looked at, mm; raising it bears
rounder corners."""
BLUR_ALONG_MM, BLUR_AROUND_STEPS = 0.15, 0.6
"""Blur before edges are taken, along the axis (mm) and about it (steps); raising it lessens noise and fine
edges."""
SLACK_STEPS, PLATEAU_STEPS = 3, 1.0
"""Steps within which edges of all photos are at one place, and blur of the plateau that this leaves; raising
the first bears worse axes."""
ACROSS, ALONG = (0.75, 40.0), (0.5, 20.0)
"""Steepness of edges across and along the axis that is unrest, and that counts at most, grey levels per mm;
raising the first drops faint edges, raising the second lets strong ones outweigh others."""
NEAR_MM = 1.6
"""Distance from the flange's edges within which faces are looked for, mm; raising it bears worse starts."""
SECOND_WEIGHT, APART_RAD = 0.5, np.radians(25.0)
"""Weight of a second boss against the clearest, and least angle between two bosses, rad; raising the weight
trusts flanges with one clear boss less."""


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


def find_tops(photos: Sequence[SoftPhoto], frame: LyingFrame, place: float) -> Tops | None:
    """Return the outer faces of the flange that has its middle near a ``place``, mm along the axis.

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
    least = max(RESTING_SHARE * height, FLANGE_RADII_MM[0])
    most = min(height / LEAST_RESTING_SHARE, FLANGE_RADII_MM[1])
    return np.arange(least, most, 0.8)


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


def _tops(photos: Sequence[SoftPhoto], frame: LyingFrame, along: Array, radius: float) -> _Fits:
    across, lengthwise = face_edges(photos, frame, along, radius)
    widths = sorted({round(width / radius / STEP_RAD) for width in BOSS_WIDTHS_MM})
    score, best, angles = np.zeros(len(along)), np.zeros(len(along)), np.zeros((len(along), 4))
    for thickness in THICKNESSES_MM:
        k = round(thickness / 2 / STEP_MM)
        inner = k - round(INSET_MM / STEP_MM)
        pair = np.sqrt(across[: -2 * k] * across[2 * k :])
        beside = running_mean(lengthwise, 2 * inner + 1)[k - inner : len(along) - k - inner]
        faces = _faces(pair, beside[: len(pair)], widths)
        usual = THICKNESS_MM.likely(thickness)
        here = slice(k, len(along) - k)
        better = usual * faces.total > score[here]
        score[here] = np.where(better, usual * faces.total, score[here])
        best[here] = np.where(better, thickness, best[here])
        angles[here] = np.where(better[:, None], faces.angles(), angles[here])
    return _Fits(along, float(radius), score, best, angles)


def face_edges(
    photos: Sequence[SoftPhoto], frame: LyingFrame, along: Array, radius: float
) -> tuple[Array, Array]:
    """Return how strong edges across and along the axis are in all photos together, (places, angles) each."""
    outward = frame.outward(AROUND)
    points = frame.round(along, radius, AROUND)
    across, lengthwise = np.zeros(points.shape[:2]), np.zeros(points.shape[:2])
    for photo in photos:
        grey = photo.sharp(points)
        seen = photo.sees(points, outward)
        steep = np.abs(gaussian_filter1d(grey, BLUR_ALONG_MM / STEP_MM, axis=0, order=1)) / STEP_MM
        steep = maximum_filter1d(np.minimum(steep, ACROSS[1]), SLACK_STEPS, axis=0)
        across += np.log(steep * seen + ACROSS[0])
        steep = np.abs(gaussian_filter1d(grey, BLUR_AROUND_STEPS, axis=1, order=1)) / (STEP_RAD * radius)
        steep = maximum_filter1d(np.minimum(steep, ALONG[1]), SLACK_STEPS, axis=1)
        lengthwise += np.log(steep * seen + ALONG[0])
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
