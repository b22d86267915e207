"""Turned edges of the hub: circles square to its axis, found where all photos agree on height and radius.

In every photo the hub is unrolled about its axis at many heights. The edge of a turned part stands at one
radius all the way round in the plane in which it lies, in every photo; in other planes it smears.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import maximum_filter, uniform_filter

from hubsight.camera import View
from hubsight.estimate.robust import Known, robust_fit, spread
from hubsight.model.arrays import Array, Flags, Indices, Light, Picture
from hubsight.photo.at_once import at_once
from hubsight.scene.usual import TURNED_RADII_MM
from hubsight.see.peak import sub_step
from hubsight.see.ribbon import STEP_MM
from hubsight.see.sampling import pixels_of, sampled, softened

Photo = tuple[Light, View]
"""A grey picture as `smooth` returns it, with its camera and pose."""

BLUR_PX = 1.5
"""Blur of the photos, px; raising it lessens noise and fine edges."""
SEARCH_STEPS_MM = (0.5, 0.1)
"""Steps of the search in height and radius, mm; raising them is faster and misses fine edges."""
AROUND = np.radians(np.arange(0.0, 360.0, 3.0))
"""Directions about the axis in which edges are looked for, rad; more are slower. The search takes every
second."""
NEIGHBOURHOOD, APART = (9, 25), 7
"""Heights and radii over which an edge has to stand out, and the distance between two edges, steps of the
search; raising the second leaves fewer edges."""
CANDIDATES = (20, 12)
"""Edges of the search that are fitted, of all radii and of those asked for; raising them is slower and finds
fainter rings."""
REACHES_MM = (1.2, 0.72, 0.45, 0.45, 0.45, 0.45)
"""Distance from the expected radius within which the edge is looked for, in turn, mm; raising it finds rings
farther off and more wrong edges."""
LEAST_GRADIENT = 3.0
"""Steepness that an edge has at least, grey levels per `STEP_MM`; raising it drops faint edges."""
EDGE_SIGMA_MM = 0.08
"""Robust scale of an edge about its circle, mm; raising it lets wrong edges pull more. Points within 1.5 of
it are on the circle."""
HELD = Known.single([0.0] * 4, [3.0, 3.0, 1e3, 1e3], unit=1.0)
"""Prior of a circle's changes from its start, mm: centre, height and radius; looser ones leave circles of few
edges without a solution."""


@dataclass(frozen=True)
class HubAxis:
    """The hub's axis: (2,) where it passes ``height``, and its (2,) shift per mm upwards."""

    point: Array
    height: float
    slope: Array

    def at(self, height: float) -> Array:
        """Return (2,) where the axis passes a height."""
        return np.asarray(self.point + self.slope * (height - self.height))


@dataclass(frozen=True)
class Circle:
    """A circle square to the paper's normal: (2,) centre, height and radius, mm."""

    centre: Array
    height: float
    radius: float

    def moved(self, change: Array) -> Circle:
        """Return the circle with its four numbers changed."""
        return Circle(self.centre + change[:2], self.height + change[2], self.radius + change[3])

    def points(self, radii: Array | float) -> Array:
        """Return (N, 3) points all round in its plane, ``radii`` mm from its centre."""
        x, y = self.centre[0] + radii * np.cos(AROUND), self.centre[1] + radii * np.sin(AROUND)
        return np.stack([x, y, np.full_like(x, self.height)], -1)


@dataclass(frozen=True)
class Ring(Circle):
    """A turned edge.

    Attributes
    ----------
    strength
        How far it stands out in the search, in units of the usual unrest.
    share
        (photos,) share of the way round on which its edge was seen.
    scatter
        Of the edge's points about the circle, mm.
    pixels
        Per photo (N, 2) points on the edge.
    """

    strength: float
    share: Array
    scatter: float
    pixels: tuple[Array, ...]

    @property
    def seen(self) -> float:
        """Mean share of the way round."""
        return float(self.share.mean())

    def only_photos(self, keep: Sequence[int]) -> Ring:
        """Return the same ring as some of the photos show it."""
        return replace(self, share=self.share[list(keep)], pixels=tuple(self.pixels[k] for k in keep))


def smooth(picture: Picture) -> Light:
    """Return a grey picture ready for the search."""
    return softened(picture, BLUR_PX)


def _unrolled(photo: Photo, circle: Circle, radii: Array, around: Array = AROUND) -> Array:
    """Return grey levels (around, radii) in the circle's plane, about its centre."""
    picture, view = photo
    x = circle.centre[0] + np.outer(np.cos(around), radii)
    y = circle.centre[1] + np.outer(np.sin(around), radii)
    return sampled(picture, pixels_of(view, np.stack([x, y, np.full_like(x, circle.height)], -1)))


def find_rings(
    photos: Sequence[Photo], axis: HubAxis, heights: tuple[float, float], likely: tuple[float, float]
) -> list[Ring]:
    """Return the turned edges between two heights.

    Parameters
    ----------
    photos
        At least two.
    axis
        Of the hub.
    heights
        Lowest and highest, mm above the paper.
    likely
        Radii, mm, among which fainter edges are looked at too.

    Returns
    -------
    list of Ring
        The highest first. Not every one is an edge: ``share`` says how much of it was seen.
    """
    levels = np.arange(*heights, SEARCH_STEPS_MM[0])
    radii = np.arange(*TURNED_RADII_MM, SEARCH_STEPS_MM[1])
    total = np.mean(list(at_once(lambda photo: _unrest(photo, axis, levels, radii), photos)), axis=0)
    excess = total - uniform_filter(total, NEIGHBOURHOOD)
    tops = np.argwhere(excess == maximum_filter(excess, APART))
    tops = tops[np.argsort(-excess[tops[:, 0], tops[:, 1]])]
    fainter = [top for top in tops[CANDIDATES[0] :] if likely[0] < radii[top[1]] < likely[1]]

    def fitted(top: Indices) -> Ring | None:
        i, j = top
        start = Circle(axis.at(levels[i]), float(levels[i]), float(radii[j]))
        return fit_ring(photos, start, float(excess[i, j]))

    out: list[Ring] = []
    for ring in at_once(fitted, [*tops[: CANDIDATES[0]], *fainter[: CANDIDATES[1]]]):
        if ring is not None and not any(_same(ring, other) for other in out):
            out.append(ring)
    return sorted(out, key=lambda ring: -ring.height)


def _unrest(photo: Photo, axis: HubAxis, levels: Array, radii: Array) -> Array:
    """Return the mean change of grey per step of the radius, (levels, radii), over its usual value."""
    out = np.empty((len(levels), len(radii)))
    for i, level in enumerate(levels):
        grey = _unrolled(photo, Circle(axis.at(level), level, 0.0), radii, AROUND[::2])
        change = np.abs(np.gradient(grey, axis=1))
        out[i] = np.minimum(change, np.percentile(change, 95)).mean(0)
    return out / max(float(np.median(out)), 1e-6)


def _same(ring: Ring, other: Ring) -> bool:
    return abs(ring.height - other.height) < 0.3 and abs(ring.radius - other.radius) < 0.2


def fit_ring(photos: Sequence[Photo], start: Circle, strength: float) -> Ring | None:
    """Return the circle fitted to the edge near another one; None if it runs away."""
    circle = start
    for step, reach in enumerate(REACHES_MM):
        last = circle
        seen = [_edge(photo, last, reach) for photo in photos]
        ok = np.concatenate([good for _, good in seen])
        off = np.concatenate([radii for radii, _ in seen]) - last.radius
        design = np.concatenate(
            [_design(view, last, radii) for (radii, _), (_, view) in zip(seen, photos, strict=True)]
        )
        fit = robust_fit(design, off, ok, max(0.3 * 0.5**step, EDGE_SIGMA_MM), HELD)
        change = np.clip(fit.x, -1.5, 1.5)
        circle = last.moved(change)
        if not TURNED_RADII_MM[0] - 1 < circle.radius < TURNED_RADII_MM[1] + 3:
            return None
    miss = np.abs(off - design @ change)
    on_edge = (ok & (miss < 1.5 * EDGE_SIGMA_MM)).reshape(len(photos), -1)
    if not on_edge.any():
        return None
    return Ring(
        circle.centre,
        circle.height,
        circle.radius,
        strength=strength,
        share=on_edge.mean(1),
        scatter=spread(miss[on_edge.ravel()]),
        pixels=tuple(
            view.project(last.points(radii))[good]
            for (radii, _), (_, view), good in zip(seen, photos, on_edge, strict=True)
        ),
    )


def _edge(photo: Photo, circle: Circle, reach: float) -> tuple[Array, Flags]:
    """Return the radius of the strongest edge in each direction, and whether there is one."""
    radii = np.arange(max(circle.radius - reach, 0.5), circle.radius + reach + 1e-9, STEP_MM)
    change = np.abs(np.gradient(_unrolled(photo, circle, radii), axis=1))
    j = np.argmax(change[:, 1:-1], axis=1) + 1
    rows = np.arange(len(AROUND))
    three = np.stack([change[rows, j - 1], change[rows, j], change[rows, j + 1]])
    sub = sub_step(three)
    inside = (j > 1) & (j < len(radii) - 2) & (three[1] > LEAST_GRADIENT)
    return radii[j] + np.clip(sub, -1, 1) * STEP_MM, inside


def _design(view: View, circle: Circle, radii: Array) -> Array:
    """Return derivatives (N, 4) of the radii seen in the circle's plane by its four numbers."""
    ray = circle.points(radii) - view.position
    outward = np.stack([np.cos(AROUND), np.sin(AROUND)], -1)
    by_height = -np.sum(outward * ray[:, :2] / ray[:, 2:], 1)
    return np.column_stack([outward, by_height, np.ones(len(radii))])


def ring_height(views: Sequence[View], ring: Ring) -> float:
    """Return the height at which a ring's points make one circle, as other cameras see them.

    Plain least squares: `fit_ring` has already chosen the points by their robust weights.
    """
    seen = [(v.position, v.rays(p)) for v, p in zip(views, ring.pixels, strict=True) if len(p)]
    circle = Circle(ring.centre, ring.height, ring.radius)
    for _ in range(2):
        rows, right = [], []
        for eye, ray in seen:
            slope = ray[:, :2] / ray[:, 2:]
            flat = eye[:2] + (circle.height - eye[2]) * slope - circle.centre
            far = np.linalg.norm(flat, axis=1)
            outward = flat / far[:, None]
            rows.append(np.column_stack([outward, -np.sum(outward * slope, 1), np.ones(len(far))]))
            right.append(far - circle.radius)
        circle = circle.moved(np.linalg.lstsq(np.concatenate(rows), np.concatenate(right), rcond=None)[0])
    return circle.height
