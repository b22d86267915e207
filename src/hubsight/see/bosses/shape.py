"""Read the mean boss: its two faces, its centreline, and whether the outline can be trusted.

The mean boss' window is in the boss frame: X outward from the radius of the crossing point, y to the left,
mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter, map_coordinates

from hubsight.estimate.robust import FromMedian, Known, robust_fit
from hubsight.model.arrays import Array
from hubsight.scene.boss_shape import BossShape, Face
from hubsight.scene.pattern_pose import Matches, PatternPose
from hubsight.see.bosses.pattern import EDGE_SIGMA_MM, WINDOW_MM, WINDOW_STEP_MM, mean_boss
from hubsight.see.peak import sub_step

FACE_SPAN_MM = (-1.6, 2.6)
"""Stretch outward from the crossing point over which a face is followed, mm; a longer one is steadier and
takes in rounded corners."""
FACE_OFFSETS_MM = np.arange(1.6, 7.6, 0.05)
"""Distances of a face from the centreline that are tried, mm; more are slower."""
FACE_SLOPES = np.tan(np.radians(np.arange(-24.0, 24.1, 2.0)))
"""Slopes of faces that are tried, 1; more are slower."""
FACE_BENDS = np.array([-0.06, -0.04, -0.02, 0.0, 0.02])
"""Bends of faces that are tried, 1/mm, as in y = offset + slope X + bend X^2; more are slower."""
FACE_SIGMAS = (100.0, 0.2, 0.02)
"""Standard deviations of a face's offset (mm), slope (1) and bend (1/mm) about zero; raising them lets noise
bend faces (found on rendered hubs)."""
OUTER_SHARE = 0.65
"""Strength from which a line farther out is the face, as a share of the strongest; raising it makes bosses
narrower."""
LARGEST_ROUNDING_MM = 0.9
"""Farthest that the two lines of one rounded edge lie apart, mm; raising it takes shadows for faces."""
FACE_REACH_MM = 1.2
"""Farthest that one photo's face lies from that of all photos, mm; raising it takes in other edges."""
PHASE_RANGE = np.radians(7.0)
"""Farthest that a boss' mirror line lies from its frame, rad; raising it finds the lines between bosses."""
BANDS_MM = ((-2.5, 4.5), (-1.5, 1.5), (1.5, 4.5))
"""Stretches outward from the crossing point that are mirrored, mm: the whole outline, beside the crossing
point, the outer part. Their spread is the centreline's uncertainty."""


def read_boss(template: Array, pose: PatternPose) -> BossShape:
    """Return the shape of a mean boss (X, y) of a pattern."""
    half = (template.shape[1] - 1) / 2 * WINDOW_STEP_MM
    faces = [outermost_face(template, side) for side in (1, -1)]
    return BossShape(faces[0], faces[1], tuple(_mirror(template, pose, half, band) for band in BANDS_MM))


@dataclass(frozen=True)
class BossByPhoto:
    """The mean boss as each photo by itself shows it, (P,) each.

    Attributes
    ----------
    mirror
        Angle about which its outline mirrors itself, rad, in the pattern's frame; NaN where no boss matches.
    left, right
        How far beyond those of all photos' mean its faces lie, mm.
    """

    mirror: Array
    left: Array
    right: Array

    def only_photos(self, keep: Sequence[int]) -> BossByPhoto:
        """Return the same of some of the photos."""
        own = list(keep)
        return BossByPhoto(self.mirror[own], self.left[own], self.right[own])


def read_by_photo(windows: Array, template: Array, pose: PatternPose, matches: Matches) -> BossByPhoto:
    """Read the mean boss photo by photo.

    Parameters
    ----------
    windows
        (photos, bosses, X, y) edge strength, see `patches`.
    template
        (X, y) mean boss of all photos.
    pose, matches
        The pattern, and how well each boss in each photo matches the mean one.
    """
    half = (template.shape[1] - 1) / 2 * WINDOW_STEP_MM
    out = np.full((3, len(windows)), np.nan)
    for photo in np.unique(matches.photo):
        own = matches.photo == photo
        mean = mean_boss(windows[photo][matches.boss[own]][None], matches.quality[own][None])
        left, right = (_face_shift(mean, template, side) for side in (1, -1))
        out[:, photo] = _mirror(mean, pose, half, BANDS_MM[0]), left, right
    return BossByPhoto(*out)


def _face_shift(own: Array, template: Array, side: int) -> float:
    """Return how far outward a face's edges lie in one mean boss against another, mm, by correlation."""
    first, last = (round((x - WINDOW_MM[0]) / WINDOW_STEP_MM) for x in FACE_SPAN_MM)
    middle, step = template.shape[1] // 2, 1 if side > 0 else -1
    halves = [gaussian_filter(w, 0.8)[first:last, middle::step] for w in (own, template)]
    mine, usual = (h - h.mean(1, keepdims=True) for h in halves)
    reach = round(FACE_REACH_MM / WINDOW_STEP_MM)
    width = mine.shape[1] - 2 * reach
    score = np.array([_alike(mine[:, k : k + width], usual[:, reach:-reach]) for k in range(2 * reach + 1)])
    k = int(np.clip(np.argmax(score), 1, len(score) - 2))
    return float((k + np.clip(sub_step(score[k - 1 : k + 2]), -1, 1) - reach) * WINDOW_STEP_MM)


def _alike(a: Array, b: Array) -> float:
    return float((a * b).sum() / max(np.sqrt((a**2).sum() * (b**2).sum()), 1e-12))


def _sample(template: Array, half: float, x: Array, y: Array) -> Array:
    return np.asarray(
        map_coordinates(
            template,
            [(x - WINDOW_MM[0]) / WINDOW_STEP_MM, (y + half) / WINDOW_STEP_MM],
            order=1,
            mode="nearest",
        )
    )


def outermost_face(template: Array, side: int) -> Face:
    """Return the outermost strong line of a mean boss (X, y) on one side, +1 or -1.

    First among all curves, then point by point.
    """
    half = (template.shape[1] - 1) / 2 * WINDOW_STEP_MM
    template = gaussian_filter(template, 0.8)
    x = np.arange(FACE_SPAN_MM[0], FACE_SPAN_MM[1] + 1e-9, 0.1)
    h, s, c = np.meshgrid(FACE_OFFSETS_MM, FACE_SLOPES, FACE_BENDS, indexing="ij")
    y = h[..., None] + s[..., None] * x + c[..., None] * x**2
    value = _sample(template, half, np.broadcast_to(x, y.shape), side * y)
    inside = (y > 0.8) & (y < half - 0.3)
    weak_half = np.sort(value, axis=-1)[..., : len(x) // 2].mean(-1)
    score = np.where(inside.all(-1), weak_half, 0.0)
    k = _outline_offset(score)
    i, j = np.unravel_index(score[k].argmax(), score[k].shape)
    coefficients = np.array([FACE_OFFSETS_MM[k], FACE_SLOPES[i], FACE_BENDS[j]])
    basis = np.stack([np.ones_like(x), x, x**2], -1)
    for reach in (0.25, 0.25, 0.25):
        d = np.arange(-reach, reach + 1e-9, 0.02)
        line = basis @ coefficients
        light = _sample(
            template, half, np.broadcast_to(x[:, None], (len(x), len(d))), side * (line[:, None] + d)
        )
        top = d[light.argmax(1)]
        edge = np.abs(top) > reach - 0.03
        weight = np.where(edge, 0.05, 1.0) * light.max(1)
        known = Known.single([0.0] * 3, FACE_SIGMAS, EDGE_SIGMA_MM * float(np.sqrt(weight.mean())))
        coefficients = robust_fit(basis, line + top, weight, FromMedian(0.02), known).x
    offset, slope, bend = (float(c) for c in coefficients)
    return Face(side, offset, slope, bend)


def _outline_offset(score: Array) -> int:
    """Return the index of the face's offset, from the scores of all (offset, slope, bend) curves.

    A rounded edge shows as two lines, one where the rounding begins and one at the outline; the outer one is
    the face, as long as it runs along the inner one.
    """
    per_offset = score.max((1, 2))
    main = int(per_offset.argmax())
    slope = np.unravel_index(score[main].argmax(), score[main].shape)[0]
    like = score[:, max(slope - 2, 0) : slope + 3].max((1, 2))
    tops = np.flatnonzero((like[1:-1] > like[:-2]) & (like[1:-1] >= like[2:])) + 1
    gap = FACE_OFFSETS_MM[tops] - FACE_OFFSETS_MM[main]
    outer = tops[(gap > 0.1) & (gap < LARGEST_ROUNDING_MM) & (like[tops] >= OUTER_SHARE * like[main])]
    return int(outer[-1]) if len(outer) else main


def _mirror(template: Array, pose: PatternPose, half: float, band: tuple[float, float]) -> float:
    """Return the angle about the hub axis on which a band of the outline mirrors itself, rad."""
    reach = min(0.95 * half / (pose.radius + band[1]), 0.9 * np.pi / pose.count)
    step = np.radians(0.1)
    angle = np.arange(-reach, reach + 1e-9, step)
    rho = np.arange(pose.radius + band[0], pose.radius + band[1], WINDOW_STEP_MM)
    x, y = rho[:, None] * np.cos(angle) - pose.radius, rho[:, None] * np.sin(angle)
    polar = gaussian_filter(_sample(template, half, x, y), (0, 1.5))
    zero = polar - polar.mean(1, keepdims=True)
    f = np.fft.fft(zero, n=2 * zero.shape[1], axis=1)
    product = np.real(np.fft.ifft(f * f, axis=1)).sum(0)
    psi = np.arange(len(product)) / 2 * step + angle[0]
    inside = np.flatnonzero(np.abs(psi) < PHASE_RANGE)
    k = int(inside[product[inside].argmax()])
    sub = sub_step(product[k - 1 : k + 2])
    return float(psi[k] + np.clip(sub, -1, 1) * step / 2)
