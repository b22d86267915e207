"""Find the boss pattern: the hub's centre at the bosses' height, how many bosses, and roughly where.

All photos are looked at together, in a plane at the height where the bosses should be. There, and only there,
the edges of the bosses' upper faces lie over each other in every photo, and repeat n times round the axis.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import chain, product
from math import gcd

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, uniform_filter1d

from hubsight.camera import View
from hubsight.model.arrays import Array, Light, Picture
from hubsight.photo.at_once import at_once

Scored = tuple[float, Array, int]
"""Score of a place (2,) on one level of the stack."""
USUAL_LONG_SIDE_PX = 4032
"""Long side of the pictures for which pixel values here hold, px; others scale them, so that an outline looks
the same in all."""
EDGE_BLUR_PX, UNREST_WINDOW_PX = 1.5, 97
"""Blur before edges are taken, and side of the window over which they are compared with their surroundings,
px; raising the first drops fine edges, raising the second lets strong edges outweigh others farther away."""
LEAST_UNREST = 0.15
"""Unrest that every surrounding has at least, edge strength; raising it drops faint edges on plain ground."""
LARGEST_EDGE = 3.0
"""Edge strength over the unrest that counts at most; raising it lets bright streaks outweigh outlines."""
ALMOST_AS_WELL = 0.7
"""Share of a count's repeats from which a multiple of it is the count; raising it finds fewer bosses."""
EVEN_OUT_SECTORS, EVEN_OUT_FLOOR = 18, 0.3
"""Sectors of the ring that get much the same weight, and the share of the ring's mean that is added to each;
a higher floor lets a few strong edges look like a pattern."""
ANGLES = np.arange(1080) * 2 * np.pi / 1080
"""Directions about the axis, rad; more are slower. 1080 is a multiple of most counts."""
START_STEP_MM = 0.8
"""Step of the centres that are tried, mm; raising it misses patterns, which repeat only when looked at from
less than this off their centre. Centres twice as far apart are different ones."""
START_BLUR_MM = 0.3
"""Blur of the planes on the first look, mm; raising it bears coarser starts and hides small bosses."""
COARSE = 3
"""Step of the angles and radii on the first look, in those of the last; raising it is faster and misses
more."""
NEAR_PLACE_MM = 9.0
"""Distance from a place for hubs within which all centres are tried, mm; raising it is slower."""
MISS_MM = (13.0, 34.0)
"""Distances at which a gauge in a tangent boss passes the hub's axis, mm; a wider range is slower (common
practice, no source)."""
BACK_MM = 19.0
"""Farthest that a gauge has run past the axis when it comes out of the boss, mm; raising it is slower (common
practice, no source)."""
BEST_STARTS, MANY_STARTS = 8, 48
"""Starts that are followed up, and kept from the first look; raising them is slower and misses less."""
AT_ONCE = 20
"""Starts that are looked at together; raising it takes more memory."""
WORTH_A_LOOK = 0.55
"""Share of the best pattern's score down to which others are asked whether they fit the gauge, and weight of
those that do not; raising it trusts the gauge's direction less."""
LEAST_REPEAT = 0.03
"""Repeat below which there is no pattern; raising it refuses more photos."""


@dataclass(frozen=True)
class EdgeMap:
    """Edge strength of one photo over its local unrest, (h, w); ``origin`` is its first pixel."""

    strength: Light
    origin: tuple[int, int]

    def sample(self, pixels: Array) -> Array:
        """Return the edge strength at (..., 2) pixels; 0 outside."""
        at = (pixels - np.array(self.origin)).astype(np.float32)
        rows = at.reshape(-1, at.shape[-2] if at.ndim > 2 else 1, 2)
        out = cv2.remap(self.strength, rows[..., 0], rows[..., 1], cv2.INTER_LINEAR, borderValue=0)
        return np.asarray(out, dtype=np.float64).reshape(at.shape[:-1])


def without_wires(edges: EdgeMap, view: View, wires: Sequence[tuple[Array, Array]], width: float) -> EdgeMap:
    """Return edges with wires, each from one point (3,) to another, blanked out: none passes for the hub."""
    strength = edges.strength.copy()
    for first, last in wires:
        px = view.project(first + np.linspace(0, 1, 12)[:, None] * (last - first))
        depth = float((((first + last) / 2) - view.position) @ view.rotation[2])
        path = np.rint(px - np.array(edges.origin)).astype(np.int32).reshape(-1, 1, 2)
        cv2.polylines(strength, [path], False, 0.0, max(1, round(width * view.focal / depth)))
    return EdgeMap(strength, edges.origin)


def edge_map(picture: Picture, view: View, centre: Array, height: float, half: float) -> EdgeMap:
    """Return the edge strength of a grey picture where it shows a square of ``half`` mm round ``centre``."""
    corners = np.array([[sx * half, sy * half] for sx in (-1, 1) for sy in (-1, 1)]) + centre
    px = np.concatenate(
        [view.project(np.column_stack([corners, np.full(4, h)])) for h in (height - 12.0, height + 8.0)]
    )
    low = np.maximum(np.floor(px.min(0)), 0).astype(int)
    high = np.minimum(np.ceil(px.max(0)), [picture.shape[1] - 1, picture.shape[0] - 1]).astype(int) + 1
    if np.any(high - low < 16):
        return EdgeMap(np.zeros((16, 16), np.float32), (int(low[0]), int(low[1])))
    part = np.sqrt(picture[low[1] : high[1], low[0] : high[0]].astype(np.float32))
    size = max(picture.shape) / USUAL_LONG_SIDE_PX
    smooth = cv2.GaussianBlur(part, (0, 0), EDGE_BLUR_PX * size)
    gx, gy = cv2.Sobel(smooth, cv2.CV_32F, 1, 0), cv2.Sobel(smooth, cv2.CV_32F, 0, 1)
    strength = cv2.magnitude(gx, gy)
    window = (2 * round(UNREST_WINDOW_PX * size / 2) + 1,) * 2
    # Running sums come out a little below zero over plain white.
    squares = np.maximum(cv2.blur(cv2.blur(strength * strength, window), window), 0.0)
    unrest = np.sqrt(squares) + LEAST_UNREST
    return EdgeMap(np.minimum(strength / unrest, LARGEST_EDGE).astype(np.float32), (int(low[0]), int(low[1])))


def plane_edges(
    edges: EdgeMap, view: View, centre: Array, height: float, *, half: float, step: float
) -> Array:
    """Return the edge strength on a square of the plane at ``height``: rows run to -y, columns to +x."""
    g = np.arange(-half, half + 1e-9, step)
    x, y = np.meshgrid(centre[0] + g, centre[1] - g)
    px = view.project(np.column_stack([x.ravel(), y.ravel(), np.full(x.size, height)]))
    return edges.sample(px.reshape(*x.shape, 2))


@dataclass(frozen=True)
class RoughPattern:
    """Bosses as first seen.

    Attributes
    ----------
    centre
        (2,) from the square's centre, mm.
    level
        Which height of the stack.
    count, phase
        Number of bosses, and angle of one centreline, rad.
    repeat, mirrored
        How well they repeat round the centre, and mirror themselves about the phase; at most 1.
    rival
        Best supported other pattern, if any.
    """

    centre: Array
    level: int
    count: int
    phase: float
    repeat: float
    mirrored: float
    rival: Rival | None = None


@dataclass(frozen=True)
class Rival:
    """Another pattern: its number of bosses, and its support as a share of that of the one taken."""

    count: int
    share: float


def polar(plane: Light, step: float, centre: Array, radii: Array, angles: Array) -> Light:
    """Return a plane at radii (..., R) x angles (A,) round ``centre`` (..., 2), mm from the middle."""
    out = (radii / step).astype(np.float32)[..., None]
    rows, columns = (np.array(plane.shape) - 1) / 2
    x = out * np.cos(angles).astype(np.float32) + _last(centre[..., 0] / step + columns)
    y = -out * np.sin(angles).astype(np.float32) + _last(rows - centre[..., 1] / step)
    flat = (-1, len(angles))
    light = cv2.remap(plane, x.reshape(flat), y.reshape(flat), cv2.INTER_LINEAR)
    return np.asarray(light, dtype=np.float32).reshape(x.shape)


def _last(values: Array) -> Light:
    """Return values (...) as (..., 1, 1)."""
    return np.asarray(values, dtype=np.float32)[..., None, None]


def _turned(maps: Sequence[Light]) -> Array:
    """Return the correlation (..., A + 1) of polar maps (..., R, A) with each other over a whole turn.

    With several photos each is compared with the others only: what one photo repeats by chance does not
    count.
    """
    spectra = [np.fft.rfft(_evened(m)) for m in maps]
    own = np.sum([_power(f) for f in spectra], axis=0)
    other = _power(np.sum(spectra, axis=0)) - own if len(maps) > 1 else own
    correlation, scale = np.fft.irfft(other, maps[0].shape[-1]), np.fft.irfft(own, maps[0].shape[-1])[..., :1]
    whole = np.concatenate([correlation, correlation[..., :1]], axis=-1)
    return np.asarray(whole / np.maximum(scale * max(len(maps) - 1, 1), 1e-12))


def _power(spectra: NDArray[np.complex128]) -> Array:
    """Return the power spectrum (..., F), summed over the radii of (..., R, F)."""
    return np.asarray(np.sum(spectra.real**2 + spectra.imag**2, axis=-2))


def _evened(folded: Light) -> Light:
    """Return polar maps without each radius' mean, each sector of the ring with much the same weight."""
    zero = folded - folded.mean(-1, keepdims=True)
    energy = np.mean(zero**2, axis=-2, keepdims=True)
    energy = uniform_filter1d(energy, zero.shape[-1] // EVEN_OUT_SECTORS, mode="wrap")
    return np.asarray(zero / np.sqrt(energy + EVEN_OUT_FLOOR * energy.mean(-1, keepdims=True) + 1e-12))


def _mean_at(turns: Array, size: int) -> Array:
    """Return weights (size,) that make of a correlation its mean at turns of 0 to 1, between its values."""
    apart = np.abs(turns[:, None] * (size - 1) - np.arange(size))
    return np.asarray(np.maximum(1 - apart, 0).mean(0))


def best_repeat(maps: Sequence[Light], counts: Mapping[int, float]) -> Array:
    """Return how much better (..., R, A) polar maps fit each other turned by whole repeats than by half ones.

    Weighed by how many independent turns speak for the count, three repeats agree by chance more easily than
    eight, and by the weight that each of ``counts`` has beforehand.
    """
    c = _turned(maps)
    weights = np.fromiter(counts.values(), float)
    return np.asarray(np.max(c @ _contrasts(tuple(counts), c.shape[-1]).T * weights, axis=-1))


@lru_cache(maxsize=32)
def _contrasts(counts: tuple[int, ...], size: int) -> Array:
    """Return weights (N, size) that make of a correlation how far its whole repeats exceed half ones."""
    return np.array(
        [
            (_mean_at(np.arange(1, n) / n, size) - _mean_at((np.arange(n) + 0.5) / n, size))
            / np.sqrt(1 / (n // 2) + 1 / ((n + 1) // 2))
            for n in counts
        ]
    )


def count_bosses(maps: Sequence[Light], counts: Mapping[int, float]) -> tuple[int, Rival | None]:
    """Return the number of repeats of (R, A) polar maps round the axis, and the next best one.

    Each count is judged by the turns that no divisor of it shares, and by its weight beforehand; of the best
    and its multiples that do nearly as well the largest is taken, because its divisors repeat as well as it
    does.
    """
    c = _turned(maps)
    own = {n: np.array([k for k in range(1, n) if gcd(k, n) == 1]) / n for n in counts}
    value = {n: weight * float(_mean_at(own[n], len(c)) @ c) for n, weight in counts.items()}
    best = max(value, key=lambda n: value[n])
    least = min(ALMOST_AS_WELL * value[best], value[best])
    count = max(n for n, v in value.items() if n % best == 0 and v >= least)
    others = [n for n in value if count % n and value[n] > 0]
    if not others or value[count] <= 0:
        return count, None
    other = max(others, key=lambda n: value[n])
    return count, Rival(other, value[other] / value[count])


def starts_from_gauge(exit_point: Array, direction: Array, ahead: float, places: Array) -> Array:
    """Return places (N, 2) where the hub's axis can be, by where a gauge leaves its boss and its direction.

    Beside the gauge when the spokes are tangent, in line with it when they are radial; up to ``ahead`` mm
    further along the gauge, as far as the place where it comes out is uncertain. Near ``places`` (K, 2),
    where hubs usually stand, further along than that.
    """
    along = direction[:2] / np.linalg.norm(direction[:2])
    across = np.array([-along[1], along[0]])
    back, side = np.meshgrid(np.arange(-ahead, BACK_MM, START_STEP_MM), np.arange(*MISS_MM, START_STEP_MM))
    beside = [exit_point - back.reshape(-1, 1) * along + s * side.reshape(-1, 1) * across for s in (-1, 1)]
    back, side = np.meshgrid(np.arange(14.0, 33.1, START_STEP_MM), np.arange(-1.5, 1.6, START_STEP_MM))
    in_line = exit_point - back.reshape(-1, 1) * along + side.reshape(-1, 1) * across
    steps = np.arange(-NEAR_PLACE_MM, NEAR_PLACE_MM + 0.1, START_STEP_MM)
    near = (places[:, None, None, :] + np.stack(np.meshgrid(steps, steps), -1)).reshape(-1, 2) - exit_point
    miss, back = np.abs(near @ across), -near @ along
    possible = np.where(miss > MISS_MM[0], miss < MISS_MM[1], (miss < START_STEP_MM) & (back > MISS_MM[0]))
    return np.concatenate([*beside, in_line, exit_point + near[possible & (np.abs(back) < MISS_MM[1])]])


def find_pattern(
    stack: Sequence[Sequence[Array]],
    step: float,
    starts: Array,
    *,
    radii: Callable[[Array], Array],
    counts: Callable[[Array], Mapping[int, float]],
    fits: Callable[[RoughPattern], float],
    likely: Callable[[Array], float],
) -> RoughPattern | None:
    """Return centre, count and phase of the bosses; None where nothing repeats.

    Parameters
    ----------
    stack
        Per possible height of the bosses' faces, per photo: (S, S) edge strength on one square, see
        `plane_edges`.
    step
        Size of a pixel of the planes, mm.
    starts
        (N, 2) places where the axis can be.
    radii
        Gives for a centre (2,) the radii to look at, mm: round the gauge's distance from it.
    counts
        Gives for a centre the numbers of bosses that are possible, each with a weight, at most 1.
    fits
        Gives for a pattern a weight, at most 1, by how it goes with the gauge's direction.
    likely
        Gives for a centre a weight, at most 1, by what is known of where the hub stands.
    """
    levels = [[plane.astype(np.float32) for plane in planes] for planes in stack]
    means = [np.mean(planes, axis=0) for planes in levels]
    soft = [[gaussian_filter(plane, START_BLUR_MM / step) for plane in planes] for planes in levels]
    blurred = [np.mean(planes, axis=0) for planes in soft]

    def maps(at: Array, planes: Sequence[Light]) -> list[Light]:
        return [polar(plane, step, at, radii(at), ANGLES) for plane in planes]

    def score(at: Array, planes: Sequence[Light], coarse: int = 1) -> float:
        return float(scores(at[None], planes, coarse)[0])

    def scores(places: Array, planes: Sequence[Light], coarse: int) -> Array:
        rings = np.array([radii(at)[::coarse] for at in places])
        seen = [polar(plane, step, places, rings, ANGLES[::coarse]) for plane in planes]
        return np.array([likely(at) for at in places]) * best_repeat(seen, counts(places[0]))

    def refined(at: Array, mean: Light, reach: float, coarse: int) -> Array:
        best = -np.inf
        while reach > 0.1:
            offsets = np.arange(-2, 3) * reach / 2
            grid = at + np.stack(np.meshgrid(offsets, offsets), -1).reshape(-1, 2)
            for alike in _alike(grid, radii, counts):
                values = scores(alike, [mean], coarse)
                if values.max() > best:
                    best, at = values.max(), alike[values.argmax()]
            reach /= 2.5
        return at

    def first_look(where: tuple[int, Array]) -> list[Scored]:
        level, alike = where
        values = scores(alike, [blurred[level]], COARSE)
        return [(value, start, level) for value, start in zip(values, alike, strict=True)]

    def closer_look(where: tuple[Array, int]) -> list[Scored]:
        start, level = where
        centre = refined(start, blurred[level], START_STEP_MM, COARSE)
        seen = []
        for near in range(max(level - 1, 0), min(level + 2, len(means))):
            at = refined(centre, means[near], START_STEP_MM / 2, 1)
            seen.append((score(at, levels[near]), at, near))
        return seen

    groups = list(_alike(starts, radii, counts))
    first = at_once(first_look, product(range(0, len(means), 2), groups))
    worth = _apart(list(chain.from_iterable(first)), MANY_STARTS)
    if len(levels[0]) > 1:
        # One photo's chance repeats can outshine the bosses in the mean, but not where photos have to agree.
        worth = _apart(
            [(score(start, soft[level], COARSE), start, level) for start, level in worth], BEST_STARTS
        )
    tops = list(chain.from_iterable(at_once(closer_look, worth[: 2 * BEST_STARTS])))
    least = max(LEAST_REPEAT, WORTH_A_LOOK * max((value for value, _, _ in tops), default=0.0))
    patterns = []
    for value, at, level in sorted((top for top in tops if top[0] >= least), key=lambda top: -top[0]):
        seen = maps(at, levels[level])
        count, rival = count_bosses(seen, counts(at))
        phase, mirrored = mirror_phase(np.mean(seen, axis=0), count)
        pattern = RoughPattern(at, level, count, phase, value / likely(at), mirrored, rival)
        patterns.append((value * fits(pattern), pattern))
    return _best(patterns)


def _alike(
    places: Array, radii: Callable[[Array], Array], counts: Callable[[Array], Mapping[int, float]]
) -> Iterator[Array]:
    """Yield the places (N, 2) in groups that can be looked at together: same counts, as many radii."""
    kinds: dict[tuple[int, ...], list[Array]] = {}
    for at in places:
        kinds.setdefault((len(radii(at)), *counts(at)), []).append(at)
    for group in kinds.values():
        yield from np.array_split(np.array(group), -(-len(group) // AT_ONCE))


def _best(patterns: Sequence[tuple[float, RoughPattern]]) -> RoughPattern | None:
    """Return the best supported pattern, with the best of the others."""
    if not patterns:
        return None
    support, best = max(patterns, key=lambda p: p[0])
    rivals = [
        Rival(other.count, value / support)
        for value, other in patterns
        if other.count != best.count or np.hypot(*(other.centre - best.centre)) > 2 * START_STEP_MM
    ]
    if best.rival is not None:
        rivals.append(best.rival)
    return replace(best, rival=max(rivals, key=lambda r: r.share, default=None))


def _apart(scored: Sequence[Scored], count: int) -> list[tuple[Array, int]]:
    """Return the best places with their levels, none a neighbour of a better one."""
    best: list[tuple[Array, int]] = []
    for _, at, level in sorted(scored, key=lambda s: -s[0]):
        if all(np.hypot(*(at - other)) > 2 * START_STEP_MM for other, _ in best):
            best.append((at, level))
        if len(best) == count:
            break
    return best


def mirror_phase(folded: Array, count: int) -> tuple[float, float]:
    """Return the angle about which an n-fold polar map mirrors itself best, and the correlation there.

    Two such angles exist per repeat, on the bosses and half-way between; that with more edge outside (the
    boss) is taken.
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
