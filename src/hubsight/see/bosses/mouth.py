"""See where a gauge comes out of its boss: the mouth of the bore, in the photos that look at that face.

The bore is a little wider than the wire, so a dark crescent shows between the face and the wire's first
visible bit; from there outwards the wire looks the same all along. Both are looked for along the curves on
which the wire, and the bore, meet the plane of the face as each photo sees it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter, map_coordinates

from hubsight.camera import View
from hubsight.model.arrays import Array, Indices, Picture
from hubsight.scene.usual import BORE_RADIUS_MM
from hubsight.see.bosses.walls import FACING
from hubsight.see.gauge.find import along_line
from hubsight.see.peak import sub_step
from hubsight.see.ribbon import unroll

STEP_MM = 0.04
"""Step of the unrolled gauge, mm; raising it is faster and blurs the crescent."""
REACH_MM = 2.2
"""Distance from where the face is expected within which the mouth is looked for, mm; raising it finds faces
farther off and more chance mouths."""
MARGIN_MM, HALF_MM = (1.6, 3.0), 1.8
"""What is unrolled beside that stretch, towards the hub and towards the end, and across the wire, mm."""
WIRE_SHARE = 0.9
"""Share of the wire's radius that is surely wire; raising it takes in its blurred edge."""
DARK = 0.004
"""Light, of a full scale of 1, that is added before contrasts are taken; raising it makes contrasts in the
dark count less."""
BESIDE_MM = (0.25, 0.2)
"""Distances from the crescent at which the wire and the face are sampled, mm; raising them bears more
blur."""
BESIDE_ENDS_MM = (0.3, 0.35)
"""The same of the surroundings of the crescent's ends, outwards and inwards, mm."""
ALIKE_MM = (0.2, 1.0)
"""Stretch beyond the mouth over which the wire has to look as it does farther out, mm; a longer one is
stricter."""
EXPECTED_SIGMA_MM = 0.35
"""Standard deviation of the face from where it is expected, mm; raising it follows the picture more."""
TURNS_RAD, TURN_SIGMA_RAD = np.radians(np.arange(-24.0, 24.1, 6.0)), np.radians(6.0)
"""Turns of the face from its expected direction that are tried, and their standard deviation, rad."""
LEAST_CLEAR = -0.3
"""Score below which nothing was seen that looks like a mouth; raising it finds fewer (found on rendered
hubs)."""
LEAST_PEAK = 0.5
"""Score by which the mouth stands out of the places around; raising it finds fewer (found on rendered
hubs)."""
OUTWARD_MM = 0.09
"""Distance of the crescent's clearest place outside the face, mm; raising it moves faces inwards (found on
rendered hubs)."""


@dataclass(frozen=True)
class Mouth:
    """Where a gauge comes out of its boss.

    Attributes
    ----------
    photos, pixels
        (P,) photos that show it, and (P, 2) the mouth's middle on the gauge's axis there.
    weights
        (P,) of these photos.
    own
        (P,) how far beyond the common place, mm along the gauge, each photo by itself shows the mouth.
    """

    photos: Indices
    pixels: Array
    weights: Array
    own: Array

    def sight_lines(self, views: Sequence[View]) -> SightLines:
        """Return the lines of sight to it, by the views (cameras and poses) of all photos."""
        rays = [views[k].rays(p[None])[0] for k, p in zip(self.photos, self.pixels, strict=True)]
        return SightLines(np.array([views[k].position for k in self.photos]), np.array(rays), self.weights)

    def only_photos(self, keep: Sequence[int]) -> Mouth | None:
        """Return the same as some of the photos, numbered anew, show it; None if none of them does."""
        own = np.isin(self.photos, keep)
        if not own.any():
            return None
        return Mouth(
            np.searchsorted(np.array(keep), self.photos[own]),
            self.pixels[own],
            self.weights[own],
            self.own[own],
        )


@dataclass(frozen=True)
class SightLines:
    """Lines of sight to a mouth: lenses and unit directions, (P, 3) each, and their weights (P,)."""

    eyes: Array
    rays: Array
    weights: Array

    def before_end(self, end: Array, direction: Array) -> float:
        """Return the distance, mm, from the mouth to a gauge's end (3,) in its unit direction (3,)."""
        beyond_end = along_line(end, direction, self.eyes, self.rays)
        return -float(np.average(beyond_end, weights=self.weights))


@dataclass(frozen=True)
class Expected:
    """Where the mouth of a gauge's bore is expected.

    Attributes
    ----------
    end, direction
        (3,) the gauge's end and the unit direction to it.
    before_end
        Distance of the mouth before the end, mm.
    normal
        (3,) unit normal of the face.
    wire_radius
        Of the gauge, mm.
    """

    end: Array
    direction: Array
    before_end: float
    normal: Array
    wire_radius: float

    @property
    def place(self) -> Array:
        """(3,) of the mouth's middle."""
        return self.end - self.before_end * self.direction


def see_mouth(pictures: Sequence[Picture], views: Sequence[View], expected: Expected) -> Mouth | None:
    """Return where a gauge comes out of its boss.

    Parameters
    ----------
    pictures, views
        Per photo the grey picture, camera and pose.
    expected
        The gauge, and where it should come out.

    Returns
    -------
    Mouth or None
        None where no photo looks at the face, or nothing is seen that looks like a mouth.
    """
    shifts = np.arange(-REACH_MM, REACH_MM + STEP_MM / 2, STEP_MM)
    facing = [_facing(view, expected) for view in views]
    looks = {
        k: look
        for k, cosine in enumerate(facing)
        if cosine > FACING and (look := _Look.at(pictures[k], views[k], expected)).whole
    }
    if not looks:
        return None
    weights = np.array([facing[k] for k in looks])
    normals = [_turned(expected.normal, angle) for angle in TURNS_RAD]
    each = np.array([[_score(look, n, shifts) for look in looks.values()] for n in normals])
    score = np.array([np.average(scores, 0, weights) for scores in each])
    unlikely = np.log1p((shifts / EXPECTED_SIGMA_MM) ** 2 + (TURNS_RAD[:, None] / TURN_SIGMA_RAD) ** 2)
    likely = score - 0.5 * unlikely
    turn, best = np.unravel_index(likely[:, 1:-1].argmax(), likely[:, 1:-1].shape)
    best += 1
    if score[turn, best] < LEAST_CLEAR or score[turn, best] - np.median(score[turn]) < LEAST_PEAK:
        return None
    step = np.clip(float(sub_step(likely[turn, best - 1 : best + 2])), -1, 1) * STEP_MM
    place = expected.place + (shifts[best] + step - OUTWARD_MM) * expected.direction
    photos = np.array(list(looks))
    pixels = np.array([views[k].project(place[None])[0] for k in photos])
    own = shifts[(each[turn] - 0.5 * unlikely[turn]).argmax(1)] - shifts[best] - step
    return Mouth(photos, pixels, weights, own)


def _facing(view: View, expected: Expected) -> float:
    ray = expected.place - view.position
    return float(-(ray @ expected.normal) / np.linalg.norm(ray))


@dataclass(frozen=True)
class _Look:
    """One photo's surroundings of the mouth, unrolled along the gauge, and the directions that it is seen in.

    Attributes
    ----------
    tone
        (S, U) logarithm of the light; rows along the gauge from ``first`` on, columns across from -HALF_MM.
    first
        First row's distance beyond the expected mouth, mm.
    gauge
        What is expected.
    across, towards
        (3,) unit vectors square to the gauge: across it in the picture, and towards the lens.
    slant
        How far a point nearer to the lens seems to move along the gauge, per mm.
    """

    tone: Array
    first: float
    gauge: Expected
    across: Array
    towards: Array
    slant: float

    @classmethod
    def at(cls, picture: Picture, view: View, gauge: Expected) -> _Look:
        """Return one photo unrolled along the gauge."""
        first = -REACH_MM - MARGIN_MM[0]
        along = np.arange(first, REACH_MM + MARGIN_MM[1], STEP_MM)
        across = np.arange(-HALF_MM, HALF_MM + STEP_MM / 2, STEP_MM)
        ribbon = unroll(
            picture,
            view,
            gauge.place,
            gauge.direction,
            back=-along,
            across=across,
        )
        ray = gauge.place - view.position
        ray /= np.linalg.norm(ray)
        sideways = np.cross(ray, gauge.direction)
        sideways /= np.linalg.norm(sideways)
        towards = np.cross(gauge.direction, sideways)
        towards *= -np.sign(towards @ ray)
        return cls(
            gaussian_filter(np.log(ribbon.light + DARK), 1.0),
            first,
            gauge,
            sideways,
            towards,
            float(ray @ gauge.direction / -(ray @ towards)),
        )

    @property
    def whole(self) -> bool:
        """Whether the photo shows all of it."""
        return bool(np.all(np.isfinite(self.tone)))

    def cut(self, normal: Array, offset: Array, radius: float) -> Array:
        """Return where a cylinder round the axis seems to meet a face of this normal, mm along the gauge.

        ``offset`` (K,) is the distance across; beyond the radius that of the outline.
        """
        u = np.clip(offset, -radius, radius)
        height = np.sqrt(radius**2 - u**2)
        point = u[:, None] * self.across + height[:, None] * self.towards
        return np.asarray(-(point @ normal) / (self.gauge.direction @ normal) + height * self.slant)

    def sample(self, along: Array, across: Array) -> Array:
        """Return tones at places along (..., K) and across (K,) the gauge."""
        at = [(along - self.first) / STEP_MM, np.broadcast_to((across + HALF_MM) / STEP_MM, along.shape)]
        return np.asarray(map_coordinates(self.tone, at, order=1, mode="nearest"))


def _turned(normal: Array, angle: float) -> Array:
    """Return a normal (3,) turned about the vertical."""
    c, s = np.cos(angle), np.sin(angle)
    return np.array([c * normal[0] - s * normal[1], s * normal[0] + c * normal[1], normal[2]])


def _score(look: _Look, normal: Array, shifts: Array) -> Array:
    """Return how much each place (N,) looks like the mouth in a face with this normal (3,)."""
    radius = look.gauge.wire_radius
    inner = np.arange(-WIRE_SHARE * radius, WIRE_SHARE * radius + STEP_MM / 2, STEP_MM)
    cut = look.cut(normal, inner, radius)
    gap = (BORE_RADIUS_MM - radius) * abs(look.slant)

    def tones(curve: Array, across: Array) -> Array:
        return look.sample(shifts[:, None] + curve, across)

    crescent = tones(cut - gap / 2, inner)
    wire, face = tones(cut + BESIDE_MM[0], inner), tones(cut - gap - BESIDE_MM[1], inner)
    ends = np.linspace(radius, BORE_RADIUS_MM + 0.05, 4)
    ends = np.concatenate([-ends, ends])
    rim = look.cut(normal, ends, BORE_RADIUS_MM)
    ear = tones(rim, ends)
    beside = np.minimum(*(tones(rim + s, ends) for s in (BESIDE_ENDS_MM[0], -BESIDE_ENDS_MM[1])))
    return np.asarray(
        _clear(wire - crescent)
        + 0.5 * _clear(face - crescent)
        + _clear(beside - ear)
        - _unlike(look, shifts, cut, inner)
    )


def _clear(difference: Array) -> Array:
    return np.asarray(np.tanh(difference).mean(-1))


def _unlike(look: _Look, shifts: Array, cut: Array, inner: Array) -> Array:
    """Return how little the wire beyond each place (N,) looks as it does further out."""
    far = np.arange(REACH_MM + 0.3, REACH_MM + 1.5, 2 * STEP_MM)
    usual = np.median(look.sample(np.repeat(far[:, None], len(inner), 1), inner), 0)
    near = np.arange(*ALIKE_MM, 2 * STEP_MM)
    tones = look.sample(shifts[:, None, None] + near[:, None] + cut, inner)
    return np.asarray(np.minimum(np.abs(tones - usual), 2.0).mean((1, 2)) / 2)
