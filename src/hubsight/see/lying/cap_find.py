"""Find both end caps of a lying hub: places in the most vertical photo, heights from the others.

The end face is the outermost strong edge with the shape of a rim. In one photo a rim may lie higher or lower
on its line of sight; each other photo shows it at one height only. Shadows, shoulders and streaks on the
metal make up further possibilities, so several are followed up, and the one that fits best in all photos is
kept.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from hubsight.model.arrays import Array
from hubsight.see.lying.cap_fit import RADIUS_MM, Fit, Way, adjust, score
from hubsight.see.lying.caps import Cap, SoftPhoto, rim
from hubsight.see.lying.frame import FAR_MM, LyingFrame, frame_between

BEYOND_MM, PLACE_STEP_MM = (-60.0, 14.0), 0.4
"""Places beyond the hub's rough extent between which an end face is looked for, and their step, mm."""
SCAN_RADII_MM = (8.0, 9.0, 10.0, 11.0)
"""Radii with which end faces are looked for, mm; more are slower."""
SCAN_ASIDE_MM = np.arange(-2.0, 2.01, 0.5)
"""Shifts aside of the axis that are tried there, mm; more are slower."""
AXLE_MM = 5.5
"""Distance beside the axis from which an end face's rim shows beside an axle, mm; raising it loses small caps
(common practice, no source)."""
STRONG_SHARE = 0.53
"""Strength of the end face's rim, as a share of the strongest edge like it near this end; raising it finds
shoulders further in (found on rendered hubs)."""
HEIGHTS_MM = np.arange(-11.0, 11.01, 0.5)
"""Departures from the axis' expected height that are tried, mm; more are slower."""
WIDER_MM = (-0.7, 0.0, 0.7)
"""Changes of the caps' radii with which fits are begun, mm; more are slower."""
SLACK_MM = np.array([-0.3, 0.0, 0.3])
"""Distances from a rim at which it may be seen when heights are tried, mm; larger ones bear worse radii."""
MOST, DIFFERENT_MM = (7, 5), 0.6
"""Heights of an end and fits of both that are followed up, and how far apart two fits are two, mm; raising
the first is slower."""
RESTARTS_MM = (-6.0, -4.5, -3.0, -1.5, 1.5, 3.0, 4.5, 6.0)
"""Changes of one end's height with which the best fit is tried again, mm; more are slower."""
BETTER_SCORE = 0.002
"""Score by which a restart has to be better; raising it stops sooner."""
Frames = tuple[LyingFrame, LyingFrame]
"""A level axis on its course, and where it is expected."""
ROUGH = Way(5, 1.4, 0.6, 0.4, 0.0)
"""Way of the first fits, by the rims alone."""
JOINT, AGAIN = (
    tuple(Way(10, reach, 0.4, scale, weight) for weight in (0.3, 1.0))
    for reach, scale in ((0.9, 0.2), (1.2, 0.3))
)
"""Ways of the fits with the caps' sides, and of restarts, each with two weights of the sides."""


@dataclass(frozen=True)
class Scored:
    """A fit and its score."""

    fit: Fit
    score: float


def find_caps(
    photos: Sequence[SoftPhoto],
    frames: Frames,
    extent: tuple[float, float],
    height_sigma: float,
    white: tuple[float, float],
) -> list[Scored]:
    """Return both end caps, and with them the axis, in several fits.

    Parameters
    ----------
    photos
        The most vertical one first.
    frames
        A level axis on the course on which the first photo shows it, and where it should be.
    extent
        Roughly where the hub begins and ends along the level one, mm.
    height_sigma
        How well its height is expected, mm.
    white
        Half length and half width of the white field that bright caps mirror, mm.

    Returns
    -------
    list of Scored
        The fits that were tried, the best one first.
    """
    ends: tuple[tuple[Literal[-1, 1], float], ...] = ((-1, extent[0]), (1, extent[1]))
    seen = [_in_first(photos[0], frames, *end) for end in ends]
    centres = [[one.centre(up) for up in _heights(photos, one)] for one in seen]
    eye = photos[0].eye
    square = np.cross(frames[0].along, eye - frames[0].origin)
    start = _Start(frames[1], height_sigma, eye, square / np.linalg.norm(square))
    pairs = [_through(start, pair) for pair in itertools.product(*centres)]
    rough = _best_first([_scored(photos, fit, ROUGH) for fit in pairs])
    kept: list[Fit] = []
    for one in rough:
        if all(np.abs(one.fit.risen - other.risen).max() > DIFFERENT_MM for other in kept):
            kept.append(one.fit)
    tried = [
        _scored(photos, replace(_with_radii(fit, [cap.radius + wider for cap in fit.caps]), white=kind), way)
        for fit, wider, way, kind in itertools.product(kept[: MOST[1]], WIDER_MM, JOINT, (None, white))
    ]
    return _restarted(photos, tried)


def _scored(photos: Sequence[SoftPhoto], start: Fit, way: Way) -> Scored:
    fit = adjust(photos, start, way)
    return Scored(fit, score(photos, fit))


def _best_first(tried: Sequence[Scored]) -> list[Scored]:
    return sorted(tried, key=lambda one: -one.score)


@dataclass(frozen=True)
class _InFirst:
    """An end cap as the first photo shows it: which end, and its (3,) centre if the axis is as expected."""

    photo: SoftPhoto
    expected: LyingFrame
    end: Literal[-1, 1]
    at_height: Array

    def centre(self, up: float) -> Array:
        """Return the (3,) centre ``up`` mm higher on the same line of sight."""
        sight = self.photo.eye - self.at_height
        return np.asarray(self.at_height + up / sight[2] * sight)

    def risen(self, up: float, radius: float) -> tuple[LyingFrame, Cap]:
        """Return a cap about that centre, square to the expected axis."""
        return replace(self.expected, origin=self.centre(up)), Cap(self.end, 0.0, radius)


def _in_first(photo: SoftPhoto, frames: Frames, end: Literal[-1, 1], extent: float) -> _InFirst:
    """Return the outermost strong rim in one photo."""
    frame, expected = frames
    outward = np.arange(end * extent + BEYOND_MM[0], end * extent + BEYOND_MM[1], PLACE_STEP_MM)
    strength = np.empty((len(outward), len(SCAN_RADII_MM), len(SCAN_ASIDE_MM)))
    for i, place in enumerate(outward):
        for j, radius in enumerate(SCAN_RADII_MM):
            seen = rim(photo.eye, frame, Cap(end, end * float(place), radius))
            points = seen.points[None] + SCAN_ASIDE_MM[:, None, None] * frame.left
            steep = photo.steepness(points, np.broadcast_to(seen.across, points.shape))
            left = (seen.points - frame.origin) @ frame.left
            parts = (steep, steep[:, left > AXLE_MM], steep[:, left < -AXLE_MM])
            strength[i, j] = np.min([part.mean(1) for part in parts], axis=0)
    best = strength.max((1, 2))
    least = STRONG_SHARE * best.max()
    tops = [k for k in range(1, len(best) - 1) if best[k] >= max(best[k - 1], best[k + 1], least)]
    top = tops[-1] if tops else int(best.argmax())
    aside = float(SCAN_ASIDE_MM[int(strength[top].max(0).argmax())])
    centre = frame.at(end * float(outward[top])) + aside * frame.left
    sight, above = photo.eye - centre, (expected.origin - centre) @ expected.up
    return _InFirst(photo, expected, end, centre + above / (sight @ expected.up) * sight)


def _strength(photo: SoftPhoto, points: Array, across: Array) -> Array:
    """Return how strong an edge is along each row of (A, B, 3) points."""
    return np.asarray(photo.steepness(points, np.broadcast_to(across, points.shape)).mean(1))


def _heights(photos: Sequence[SoftPhoto], seen: _InFirst) -> list[float]:
    """Return heights, from the expected one, at which the other photos show a rim, the likeliest first."""
    if len(photos) == 1:
        return [0.0]
    radii = [RADIUS_MM.mean + k * RADIUS_MM.sigma for k in (-1, 0, 1)]
    strength = np.array(
        [max(_rim_strength(photos[1:], *seen.risen(up, r)) for r in radii) for up in HEIGHTS_MM]
    )
    tops = [k for k in range(len(strength)) if strength[k] == strength[max(k - 2, 0) : k + 3].max()]
    return [float(HEIGHTS_MM[k]) for k in sorted(tops, key=lambda k: -strength[k])[: MOST[0]]]


def _rim_strength(photos: Sequence[SoftPhoto], frame: LyingFrame, cap: Cap) -> float:
    total = 0.0
    for photo in photos:
        seen = rim(photo.eye, frame, cap)
        points = seen.points[None] + SLACK_MM[:, None, None] * seen.across
        total += float(_strength(photo, points, seen.across).max())
    return total


@dataclass(frozen=True)
class _Start:
    """Where the axis is expected and how well its height is, mm, and where the first photo shows it."""

    expected: LyingFrame
    height_sigma: float
    eye: Array
    aside: Array


def _through(start: _Start, centres: Sequence[Array]) -> Fit:
    """Return the fit of usual caps about two (3,) centres."""
    expected = start.expected
    frame = frame_between(*centres)
    half = float(np.linalg.norm(centres[1] - centres[0])) / 2
    risen = [(frame.at(s) - expected.origin) @ expected.up for s in (-FAR_MM, FAR_MM)]
    caps = (Cap(-1, -half, RADIUS_MM.mean), Cap(1, half, RADIUS_MM.mean))
    return Fit(frame, caps, np.array(risen), start.height_sigma, start.eye, start.aside)


def _with_radii(fit: Fit, radii: Sequence[float]) -> Fit:
    first, last = (replace(cap, radius=radius) for cap, radius in zip(fit.caps, radii, strict=True))
    return replace(fit, caps=(first, last))


def _restarted(photos: Sequence[SoftPhoto], tried: list[Scored]) -> list[Scored]:
    """Return fits with either end tried higher and lower, as long as that makes the best one better."""
    for _ in range(2):
        before = best = _best_first(tried)[0]
        for k, risen, way in itertools.product((0, 1), RESTARTS_MM, AGAIN):
            centres = [best.fit.frame.at(cap.place) for cap in best.fit.caps]
            sight = photos[0].eye - centres[k]
            centres[k] = centres[k] + risen / sight[2] * sight
            change = np.array([risen if k == i else 0.0 for i in range(2)])
            known = _Start(best.fit.frame, best.fit.height_sigma, best.fit.eye, best.fit.aside)
            start = _through(known, centres)
            start = _with_radii(start, [cap.radius for cap in best.fit.caps])
            start = replace(start, risen=best.fit.risen + change, white=best.fit.white)
            tried.append(_scored(photos, start, way))
            if tried[-1].score > best.score + BETTER_SCORE:
                best = tried[-1]
        if best is before:
            break
    return _best_first(tried)
