"""Find the boss pattern: the hub's centre at the bosses' height, how many bosses, and roughly where.

All photos are looked at together, in a plane at the height where the bosses should be. There, and only there, the edges of the
bosses' upper faces lie over each other in every photo, and repeat n times round the axis.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import gcd

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from hubsight.camera import View

Array = NDArray[np.float64]
Image = NDArray[np.float32]

EDGE_BLUR_PX = 1.5
UNREST_BLUR_PX = 40.0
LARGEST_EDGE = 3.0
"""Edge strength over the local unrest is cut off here, so that no bright streak outweighs the outlines."""
VOTE_STEP_MM = 0.4
VOTE_RADII_MM = (6.0, 34.0)
COUNTS_PAIRED = range(3, 11)
"""Pair bosses on one flange: 12 to 40 spokes (common practice, no source)."""
COUNTS_RADIAL = range(6, 21)
"""Radial spokes on one flange: 12 to 40 spokes."""
ALMOST_AS_WELL = 0.7
ANGLES = np.arange(1080) * 2 * np.pi / 1080
SEARCH_REACH_MM = 2.4
LEAST_REPEAT = 0.05


@dataclass(frozen=True)
class EdgeMap:
    """Edge strength of one photo over its local unrest, (h, w), of the part whose first pixel is ``origin``."""

    strength: Image
    origin: tuple[int, int]

    def sample(self, pixels: Array) -> Array:
        """Edge strength at (..., 2) pixels; 0 outside."""
        at = (pixels - np.array(self.origin)).astype(np.float32)
        rows = at.reshape(-1, at.shape[-2] if at.ndim > 2 else 1, 2)
        out = cv2.remap(self.strength, rows[..., 0], rows[..., 1], cv2.INTER_LINEAR, borderValue=0)
        return np.asarray(out, dtype=np.float64).reshape(at.shape[:-1])


def edge_map(picture: NDArray[np.uint8], view: View, centre: Array, height: float, half: float) -> EdgeMap:
    """Edge strength of the part of a grey picture that shows the square of ``half`` mm round ``centre``."""
    corners = np.array([[sx * half, sy * half] for sx in (-1, 1) for sy in (-1, 1)]) + centre
    px = np.concatenate(
        [view.project(np.column_stack([corners, np.full(4, h)])) for h in (height - 12.0, height + 8.0)]
    )
    low = np.maximum(np.floor(px.min(0)), 0).astype(int)
    high = np.minimum(np.ceil(px.max(0)), [picture.shape[1] - 1, picture.shape[0] - 1]).astype(int) + 1
    if np.any(high - low < 16):
        return EdgeMap(np.zeros((16, 16), np.float32), (int(low[0]), int(low[1])))
    part = np.sqrt(picture[low[1] : high[1], low[0] : high[0]].astype(np.float32))
    smooth = cv2.GaussianBlur(part, (0, 0), EDGE_BLUR_PX)
    gx, gy = cv2.Sobel(smooth, cv2.CV_32F, 1, 0), cv2.Sobel(smooth, cv2.CV_32F, 0, 1)
    strength = cv2.magnitude(gx, gy)
    unrest = np.sqrt(cv2.GaussianBlur(strength * strength, (0, 0), UNREST_BLUR_PX)) + 0.15
    return EdgeMap(np.minimum(strength / unrest, LARGEST_EDGE).astype(np.float32), (int(low[0]), int(low[1])))


def plane_edges(edges: EdgeMap, view: View, centre: Array, height: float, half: float, step: float) -> Array:
    """Edge strength on a square of the plane at ``height``: rows run to -y, columns to +x."""
    g = np.arange(-half, half + 1e-9, step)
    x, y = np.meshgrid(centre[0] + g, centre[1] - g)
    px = view.project(np.column_stack([x.ravel(), y.ravel(), np.full(x.size, height)]))
    return edges.sample(px.reshape(*x.shape, 2))


def vote_centre(planes: Sequence[Array], step: float, count: int = 4) -> list[Array]:
    """Places, (2,) mm from the square's centre, that edges of the planes' mean are square to; best first."""
    mean = np.mean([np.minimum(p, 2.0) for p in planes], axis=0)
    smooth = gaussian_filter(mean, 1.0)
    gy, gx = np.gradient(smooth)
    # The normal of a thin bright edge line is the direction of strongest bending.
    gyy, gyx = np.gradient(gy)
    _, gxx = np.gradient(gx)
    angle = 0.5 * np.arctan2(2 * gyx, gxx - gyy)
    bend = -(gxx * np.sin(angle) ** 2 - 2 * gyx * np.sin(angle) * np.cos(angle) + gyy * np.cos(angle) ** 2)
    bend2 = -(gxx * np.cos(angle) ** 2 + 2 * gyx * np.sin(angle) * np.cos(angle) + gyy * np.sin(angle) ** 2)
    angle = np.where(bend > bend2, angle + np.pi / 2, angle)
    weight = np.maximum(bend, bend2)
    strong = weight > np.quantile(weight, 0.90)
    rows, cols = np.nonzero(strong)
    w = np.minimum(weight[strong], 3 * np.median(weight[strong]))
    nx, ny = np.cos(angle[strong]), np.sin(angle[strong])
    votes = np.zeros(mean.shape)
    for r in np.arange(VOTE_RADII_MM[0], VOTE_RADII_MM[1], step) / step:
        for sign in (-1, 1):
            c = np.rint(cols + sign * r * nx).astype(int)
            q = np.rint(rows + sign * r * ny).astype(int)
            ok = (c >= 0) & (c < mean.shape[1]) & (q >= 0) & (q < mean.shape[0])
            np.add.at(votes, (q[ok], c[ok]), w[ok])
    votes = gaussian_filter(votes, 0.8 / step)
    middle = (np.array(mean.shape) - 1) / 2
    out: list[Array] = []
    for _ in range(count):
        q, c = np.unravel_index(votes.argmax(), votes.shape)
        out.append(np.array([(c - middle[1]) * step, -(q - middle[0]) * step]))
        yy, xx = np.mgrid[: votes.shape[0], : votes.shape[1]]
        votes[np.hypot(yy - q, xx - c) < 3.0 / step] = 0
    return out


@dataclass(frozen=True)
class RoughPattern:
    """Bosses as first seen.

    Attributes
    ----------
    centre
        (2,) from the square's centre, mm.
    count, phase
        Number of bosses, and angle of one centreline, rad.
    repeat, mirrored
        How well they repeat round the centre, and mirror themselves about the phase; at most 1.
    """

    centre: Array
    count: int
    phase: float
    repeat: float
    mirrored: float


def polar(plane: Array, step: float, centre: Array, radii: Array, angles: Array) -> Array:
    """Sample a plane on radii x angles round ``centre`` (mm from the square's centre)."""
    middle = (np.array(plane.shape) - 1) / 2
    x = (centre[0] + radii[:, None] * np.cos(angles)) / step + middle[1]
    y = -(centre[1] + radii[:, None] * np.sin(angles)) / step + middle[0]
    out = cv2.remap(plane.astype(np.float32), x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR)
    return np.asarray(out, dtype=np.float64)


def _turned(folded: Array) -> Array:
    """Correlation (A + 1,) of an (R, A) polar map with itself turned by 0 to a whole turn."""
    zero = folded - folded.mean(1, keepdims=True)
    spectrum = np.abs(np.fft.rfft(zero, axis=1)) ** 2
    correlation = np.fft.irfft(spectrum.sum(0), zero.shape[1])
    return np.append(correlation / max(float(correlation[0]), 1e-12), 1.0)


def _at_turns(correlation: Array, turns: Array) -> Array:
    return np.asarray(np.interp(turns * (len(correlation) - 1), np.arange(len(correlation)), correlation))


def best_repeat(folded: Array, counts: Sequence[int]) -> float:
    """How much better, at the best count, a polar map fits itself turned by whole repeats than by half ones."""
    c = _turned(folded)
    return max(
        float(_at_turns(c, np.arange(1, n) / n).mean() - _at_turns(c, (np.arange(n) + 0.5) / n).mean()) for n in counts
    )


def count_bosses(folded: Array, counts: Sequence[int]) -> int:
    """Number of repeats of an (R, A) polar map round the axis.

    Each count is judged by the turns that no divisor of it shares; of the counts that do nearly as well as the best the
    largest is taken, because its divisors repeat as well as it does.
    """
    c = _turned(folded)
    own = {n: np.array([k for k in range(1, n) if gcd(k, n) == 1]) / n for n in counts}
    value = {n: float(_at_turns(c, turns).mean()) for n, turns in own.items()}
    best = max(value.values())
    return max(n for n, v in value.items() if v >= min(ALMOST_AS_WELL * best, best))


def find_pattern(
    planes: Sequence[Array], step: float, radii: Callable[[Array], Array], counts: Callable[[Array], Sequence[int]]
) -> RoughPattern | None:
    """Find centre, count and phase of the bosses.

    Parameters
    ----------
    planes
        Per photo (S, S) edge strength on one square of the bosses' plane, see `plane_edges`.
    step
        mm per pixel of the planes.
    radii
        Gives for a centre (2,) the radii to look at, mm: round the gauge's distance from it.
    counts
        Gives for a centre the numbers of bosses that are possible.
    """
    mean = np.mean(planes, axis=0)
    best: tuple[float, Array] | None = None
    for start in vote_centre(planes, step):
        centre, reach = start, SEARCH_REACH_MM
        while reach > 0.2:
            grid = np.arange(-2, 3) * reach / 2
            found = []
            for dx in grid:
                for dy in grid:
                    at = centre + np.array([dx, dy])
                    found.append((best_repeat(polar(mean, step, at, radii(at), ANGLES), counts(at)), at))
            top = max(found, key=lambda f: f[0])
            centre = top[1]
            reach /= 2.5
        if best is None or top[0] > best[0]:
            best = top
    if best is None or best[0] < LEAST_REPEAT:
        return None
    score, centre = best
    folded = polar(mean, step, centre, radii(centre), ANGLES)
    count = count_bosses(folded, counts(centre))
    phase, mirrored = mirror_phase(folded, count)
    return RoughPattern(centre, count, phase, score, mirrored)


def mirror_phase(folded: Array, count: int) -> tuple[float, float]:
    """Angle about which an n-fold polar map mirrors itself best, and the correlation there.

    Two such angles exist per repeat, on the bosses and half-way between; that with more edge outside (the boss) is
    taken.
    """
    a = folded.shape[1]
    zero = folded - folded.mean(1, keepdims=True)
    per = a // count
    fold = np.mean([np.roll(zero, -round(k * a / count), axis=1)[:, :per] for k in range(count)], axis=0)
    f = np.fft.fft(fold, axis=1)
    mirror = np.real(np.fft.ifft(f * f, axis=1)).sum(0)
    total = float(np.sum(fold**2)) + 1e-12
    half = per // 2
    best = int((mirror[np.arange(per)]).argmax())
    options = [best / 2, best / 2 + per / 2]
    level = np.mean([np.roll(folded, -round(k * a / count), axis=1)[:, :per] for k in range(count)], axis=0)
    outer = level[2 * len(level) // 3 :].mean(0)
    width = max(2, half // 2)
    edge = [outer[(np.arange(-width, width) + round(o)) % per].mean() for o in options]
    chosen = options[int(np.argmax(edge))]
    return float(chosen / a * 2 * np.pi), float(mirror[best] / total)
