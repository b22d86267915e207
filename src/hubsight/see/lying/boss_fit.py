"""A flange of a lying hub, fitted to the edges of its bosses' outer faces in all photos.

Each outer face is a flat rectangle, square to its boss' centreline; all of a flange have one width, thickness
and distance from the axis. Where the photos see a face from two sides they show where it is in space, and two
faces show where the axis runs between them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hubsight.estimate.robust import Known, robust_fit
from hubsight.model.arrays import Array, Flags
from hubsight.scene.usual import ROUNDING_MM
from hubsight.see.lying.boss_tops import Tops
from hubsight.see.lying.caps import ACROSS_STEP_MM, LEAST_CHANGE, SoftPhoto
from hubsight.see.lying.frame import LyingFrame
from hubsight.see.peak import peaks_of, refined

_STEPS_MM = np.arange(-11, 12) * ACROSS_STEP_MM
"""Distances from where an edge should be at which it is looked for, mm."""
SCALE_MM = 0.4
"""Robust scale of an edge, mm; raising it lets edges of other things pull more."""
USUAL_OFF_MM, NEIGHBOURS = 0.25, 9.0
"""Usual scatter of edges, each of which is seen somewhere on its rounding, mm, and how many points of one
edge err alike; raising them trusts the priors more (found on rendered hubs)."""
LEAST_FACING = 0.1
"""Sine from which a face looks at the camera; raising it leaves fewer faces, seen better."""
POINTS, CORNER_MM = 9, 1.0
"""Points of an edge that are looked at, and their distance from its rounded corners, mm."""
SIZE_SIGMAS_MM = (1.5, 2.0, 10.0, 1.0)
"""Standard deviations of radius, width, middle and thickness from where the faces were found, mm; raising
them follows the edges farther."""
UNKNOWNS = 2 + len(SIZE_SIGMAS_MM)
"""Unknowns before the faces' angles: shift of the axis to the left and up, and these."""
STEP_LIMIT_MM = 1.0
"""Largest change in one round, mm; raising it bears worse starts and runs away more often."""


@dataclass(frozen=True)
class Flange:
    """A flange: a shift of the axis to the left and up at its middle, and what `Tops` has.

    Attributes
    ----------
    shift
        (2,) mm.
    radius, width, middle, thickness
        Of the outer faces, mm.
    angles
        Of the bosses' centrelines, rad.
    """

    shift: Array
    radius: float
    width: float
    middle: float
    thickness: float
    angles: tuple[float, ...]


def fit_flange(
    photos: Sequence[SoftPhoto], frame: LyingFrame, tops: Tops, shift_sigma: tuple[float, float]
) -> Flange:
    """Return a flange fitted to its edges from where its faces were found."""
    widths = [tops.radius * (last - first) for first, last in tops.faces]
    angles = tuple((first + last) / 2 for first, last in tops.faces)
    flange = Flange(np.zeros(2), tops.radius, float(np.mean(widths)), tops.middle, tops.thickness, angles)
    start = flange
    for _ in range(6):
        design, off, ok = _places(_edges(photos, frame, flange))
        known = _known(flange, start, shift_sigma)
        change = robust_fit(design, off, ok, SCALE_MM, known, rounds=10).x
        flange = _stepped(flange, np.clip(change, -STEP_LIMIT_MM, STEP_LIMIT_MM))
    return flange


def _stepped(flange: Flange, x: Array) -> Flange:
    return Flange(
        flange.shift + x[:2],
        flange.radius + float(x[2]),
        flange.width + float(x[3]),
        flange.middle + float(x[4]),
        flange.thickness + float(x[5]),
        tuple(a + float(d) / flange.radius for a, d in zip(flange.angles, x[6:], strict=True)),
    )


def _known(now: Flange, start: Flange, shift_sigma: tuple[float, float]) -> Known:
    """Return what is known of the changes beforehand: a flange is found near its start."""
    bosses = len(now.angles)
    size = [start.radius - now.radius, start.width - now.width]
    away = [*(-now.shift), *size, 0.0, start.thickness - now.thickness, *[0.0] * bosses]
    sigmas = [*shift_sigma, *SIZE_SIGMAS_MM, *[75.0] * bosses]
    return Known.single(away, sigmas, USUAL_OFF_MM * NEIGHBOURS**0.5)


@dataclass(frozen=True)
class _Edge:
    """One edge of one face in one photo.

    Attributes
    ----------
    points, way
        (POINTS, 3) of it, and the (3,) unit direction square to it on its face.
    design
        (POINTS, unknowns) derivatives of its place by the unknowns.
    change
        (POINTS, steps) how steep grey is at `_STEPS_MM` from where it should be, grey levels per step.
    rounded
        (POINTS,) how far from its corner it is seen, mm.
    facing
        (POINTS,) whether the face looks at the camera.
    """

    points: Array
    way: Array
    design: Array
    change: Array
    rounded: Array
    facing: Flags


def _edges(photos: Sequence[SoftPhoto], frame: LyingFrame, flange: Flange) -> list[_Edge]:
    return [
        _edge(photo, frame, flange, face, across=across, sign=sign)
        for face in range(len(flange.angles))
        for photo in photos
        for across in (True, False)
        for sign in (1, -1)
    ]


def _edge(
    photo: SoftPhoto, frame: LyingFrame, flange: Flange, face: int, *, across: bool, sign: int
) -> _Edge:
    angle = flange.angles[face]
    outward = frame.outward(angle)
    tangent = np.cos(angle) * frame.left - np.sin(angle) * frame.up
    share = np.linspace(-1, 1, POINTS)
    half_t, half_w = flange.thickness / 2, flange.width / 2
    s = np.full(POINTS, sign * half_t) if across else share * (half_t - CORNER_MM)
    y = share * (half_w - CORNER_MM) if across else np.full(POINTS, sign * half_w)
    centre = frame.at(flange.middle) + flange.shift @ np.array([frame.left, frame.up])
    points = centre + flange.radius * outward + s[:, None] * frame.along + y[:, None] * tangent
    way = frame.along if across else tangent
    ray = points - photo.eye
    slant = (ray @ way) / (ray @ outward)

    def moves(by: Array) -> Array:
        return np.asarray(by @ way - (by @ outward) * slant)

    own, other = np.full(POINTS, sign / 2), np.zeros(POINTS)
    design = np.zeros((POINTS, UNKNOWNS + len(flange.angles)))
    design[:, :3] = np.stack([moves(by) for by in (frame.left, frame.up, outward)], -1)
    design[:, 3:6] = np.stack([other if across else own, moves(frame.along), own if across else other], -1)
    design[:, UNKNOWNS + face] = tangent @ way + y / flange.radius * slant
    grey = photo.grey(points[:, None] + _STEPS_MM[None, :, None] * way)
    facing = -(ray @ outward) > LEAST_FACING * np.linalg.norm(ray, axis=1)
    change = np.abs(np.gradient(grey, axis=1))
    return _Edge(points, way, design, change, sign * _rounded(sign * slant), facing)


def _places(edges: Sequence[_Edge]) -> tuple[Array, Array, Flags]:
    """Return design matrix, offsets of the strongest edges nearby, mm, and where there is one."""
    change = np.concatenate([edge.change for edge in edges])
    peak = peaks_of(change)
    off = (refined(change, peak.argmax(1) + 1) - len(_STEPS_MM) // 2) * ACROSS_STEP_MM
    facing, rounded = (np.concatenate([getattr(e, name) for e in edges]) for name in ("facing", "rounded"))
    ok = (peak.max(1) > LEAST_CHANGE) & facing
    return np.concatenate([edge.design for edge in edges]), off - rounded, ok


def _rounded(slant: Array) -> Array:
    """Return how far outside of its face's corner an edge is seen, mm, negative, as it is rounded off.

    Where the face beside it is seen too, ``slant`` > 0, the edge is half way round; else it is an outline.
    """
    lean = np.arctan(np.abs(slant))
    outline = (1 - np.sin(lean)) / np.cos(lean) - 1
    return ROUNDING_MM * np.where(slant > 0, -0.29 + 0.29 * slant, outline)
