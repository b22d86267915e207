"""The end of a lying hub in one photo: where the outline of an end cap would be seen, and where an edge is.

An end cap is a short cylinder about the axis. Of its end face's rim the near part is seen; where the face
looks at the camera, the far part is the outermost edge, and the near one is seen when it is well inside of
it. Its two sides are seen where lines of sight touch it, or, in bright metal, where the paper that it mirrors
ends.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from hubsight.camera import View
from hubsight.estimate.robust import Threshold
from hubsight.model.arrays import Array, Flags, Light, Picture
from hubsight.see.lying.frame import FAR_MM, LyingFrame, cross
from hubsight.see.lying.mirror import mirror_ends
from hubsight.see.peak import peaks_of, refined
from hubsight.see.sampling import pixels_of, sampled, softened

BLUR_PX = 1.6
"""Blur of the photos, px; raising it lessens noise and parts near edges less."""
AROUND = np.radians(np.arange(-180.0, 180.0, 5.0))
"""Angles about the axis at which a rim is looked at, rad; more are slower."""
NEAR_RIM, FAR_RIM = np.radians(62.0), np.radians(100.0)
"""Angles from the camera's up to which a rim is seen well, and beyond which it is its far side, rad."""
FACING = 0.06
"""Sine from which the near rim of an end face is seen apart from its far one; raising it uses fewer."""
SIDE_MM = np.arange(0.6, 3.6, 0.3)
"""Distances inside the end face at which a cap's sides are looked at, mm; larger ones reach beyond short
caps."""
ACROSS_STEP_MM, ACROSS_STEPS = 0.08, 30
"""Step across an outline at which edges are looked for, mm, and how many steps at most."""
LEAST_CHANGE = 0.35
"""Steepness that an edge has at least, grey levels per step; raising it drops faint edges."""
OUTERMOST = Threshold(0.4, 0.5)
"""Steepness from which the outermost edge counts, by the strongest, grey levels per step; raising it takes
inner edges of chamfers more often."""
STEEP = 3.0
"""Steepness that counts at most, grey levels per pixel; raising it lets strong edges outweigh others."""


class Part(IntEnum):
    """Parts of an outline; behind the inner rim is the cap itself, behind the others what the hub lies on."""

    RIM = 0
    LEFT_SIDE = 1
    RIGHT_SIDE = 2
    INNER_RIM = 3


@dataclass(frozen=True)
class SoftPhoto:
    """A grey photo, softened, with its camera."""

    picture: Picture
    view: View
    soft: Light
    eye: Array

    def grey(self, points: Array) -> Array:
        """Return the softened grey levels at (A, B, 3) points."""
        return sampled(self.soft, pixels_of(self.view, points))

    def sharp(self, points: Array) -> Array:
        """Return the grey levels as taken at (A, B, 3) points."""
        return sampled(self.picture, pixels_of(self.view, points))

    def sees(self, points: Array, outward: Array) -> Flags:
        """Tell which points (..., 3) of surfaces that look ``outward`` (..., 3) face the camera."""
        return np.asarray(np.sum((self.eye - points) * outward, -1) > 0)

    def steepness(self, points: Array, directions: Array) -> Array:
        """Return how steep grey is at (A, B, 3) points along (A, B, 3) directions, up to `STEEP`."""
        at = pixels_of(self.view, points)
        way = pixels_of(self.view, points + 0.1 * directions) - at
        way /= np.linalg.norm(way, axis=-1, keepdims=True) + 1e-9
        change = sampled(self.soft, at + way) - sampled(self.soft, at - way)
        return np.asarray(np.minimum(np.abs(change) / 2, STEEP))


def soften(picture: Picture, view: View) -> SoftPhoto:
    """Return a photo ready for finding edges."""
    return SoftPhoto(picture, view, softened(picture, BLUR_PX), view.position)


@dataclass(frozen=True)
class Cap:
    """An end cap: which end of the axis, where its end face is along it, mm, and its radius, mm."""

    end: Literal[-1, 1]
    place: float
    radius: float


@dataclass(frozen=True)
class Outline:
    """Points of a cap's outline in one photo.

    Attributes
    ----------
    points, across
        (N, 3) each, and the unit directions square to outline and line of sight, outwards.
    by_axis
        (N, 4) derivatives of the outline's place across itself by `LyingFrame.moved`'s four numbers.
    by_cap
        (N, 2) derivatives by the cap's place and radius.
    part
        (N,) which `Part` each is of.
    """

    points: Array
    across: Array
    by_axis: Array
    by_cap: Array
    part: NDArray[np.int_]


def outline(eye: Array, frame: LyingFrame, cap: Cap, white: tuple[float, float] | None) -> Outline:
    """Return where a cap's outline is seen from (3,) ``eye``.

    A bright cap mirrors the ``white`` field, of this half length and half width, mm; a dull one is None.
    """
    parts = rim(eye, frame, cap), _sides(eye, frame, cap, white)
    names = ("points", "across", "by_axis", "by_cap", "part")
    return Outline(*(np.concatenate([getattr(p, name) for p in parts]) for name in names))


def rim(eye: Array, frame: LyingFrame, cap: Cap) -> Outline:
    """Return where the rim of a cap's end face is seen."""
    centre, (towards, _) = frame.at(cap.place), frame.towards(eye)
    sight = eye - centre
    sine = cap.end * float(sight @ frame.along) / float(np.linalg.norm(sight))
    face = sine > 0
    aside = np.abs((AROUND - towards + np.pi) % (2 * np.pi) - np.pi)
    near, far = aside < NEAR_RIM, aside > FAR_RIM
    kept = near if not face else far if sine < FACING else near | far
    angle = AROUND[kept]
    outward = frame.outward(angle)
    tangent = np.cos(angle)[:, None] * frame.left - np.sin(angle)[:, None] * frame.up
    points = centre + cap.radius * outward
    across = _across(points, tangent, eye)
    away = np.sum(across * outward, 1) if face else cap.end * (across @ frame.along)
    across *= np.sign(away)[:, None]
    part = np.where(face & (aside[kept] < FAR_RIM), Part.INNER_RIM, Part.RIM)
    by_place = across @ frame.along
    by_cap = np.column_stack([by_place, np.sum(across * outward, 1)])
    # Where the axis turns to the left or up, the rim tilts.
    tilt = (by_place * cap.radius / (2 * FAR_MM))[:, None] * np.column_stack([np.sin(angle), np.cos(angle)])
    by_axis = _by_axis(frame, across, cap.place) + np.repeat(tilt, 2, axis=1) * [1, -1, 1, -1]
    return Outline(points, across, by_axis, by_cap, part)


def _sides(eye: Array, frame: LyingFrame, cap: Cap, white: tuple[float, float] | None) -> Outline:
    """Return where both sides of a cap are seen."""
    towards, far = frame.towards(eye)
    place = cap.place - cap.end * SIDE_MM
    half = np.arccos(min(cap.radius / far, 1.0))
    angles = towards + half, towards - half
    if white is not None:
        angles = mirror_ends(frame, eye, white, float(place.mean()), cap.radius)
    place, outward = np.tile(place, 2), frame.outward(np.repeat(angles, len(place)))
    points = frame.origin + place[:, None] * frame.along + cap.radius * outward
    across = _across(points, frame.along, eye)
    across *= np.sign(np.sum(across * outward, 1))[:, None]
    by_cap = np.column_stack([np.zeros(len(points)), np.sum(across * outward, 1)])
    part = np.repeat([Part.LEFT_SIDE, Part.RIGHT_SIDE], len(SIDE_MM))
    return Outline(points, across, _by_axis(frame, across, place), by_cap, part)


def _across(points: Array, tangent: Array, eye: Array) -> Array:
    way = cross(tangent, points - eye)
    return np.asarray(way / np.linalg.norm(way, axis=1, keepdims=True))


def _by_axis(frame: LyingFrame, across: Array, place: Array | float) -> Array:
    first, last = (FAR_MM - place) / (2 * FAR_MM), (FAR_MM + place) / (2 * FAR_MM)
    left, up = across @ frame.left, across @ frame.up
    return np.stack([first * left, last * left, first * up, last * up], -1)


def edge_across(photo: SoftPhoto, seen: Outline, reach: float, *, outermost: bool) -> tuple[Array, Flags]:
    """Return how far outside an outline's points an edge is, (N,) mm, and whether there is one.

    Within ``reach`` mm the strongest edge is taken, or the ``outermost`` good one where paper lies behind:
    chamfers show several.
    """
    steps = min(round(reach / ACROSS_STEP_MM) + 1, ACROSS_STEPS)
    off = np.arange(-steps, steps + 1) * ACROSS_STEP_MM
    grey = photo.grey(seen.points[:, None] + off[None, :, None] * seen.across[:, None])
    change = np.abs(np.gradient(grey, axis=1))
    peak = peaks_of(change)
    best = np.argmax(peak, axis=1)
    if outermost:
        good = peak > OUTERMOST.each(peak.max(1, keepdims=True))
        last = peak.shape[1] - 1 - np.argmax(good[:, ::-1], axis=1)
        best = np.where((seen.part != Part.INNER_RIM) & good.any(1), last, best)
    seen_at = refined(change, best + 1) - steps
    return seen_at * ACROSS_STEP_MM, peak[np.arange(len(best)), best] > LEAST_CHANGE
