"""The model scene: target, hub, gauge and phone in space, seen by a pinhole; nearer things are drawn later.

The hub is nobody's: a rear hub with six bosses, of usual sizes (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from hubsight.model.arrays import Array
from hubsight.show.prepare.shapes import Kind, Point, Shape
from hubsight.target.geometry import STATION_MM, TargetGeometry
from hubsight.wheel.wire import USUAL_WIRE_MM

ROUND = np.radians(np.arange(0.0, 360.0, 6.0))
"""Directions at which a circle is drawn, rad."""


@dataclass(frozen=True)
class ModelHub:
    """The hub and its gauge, mm and degrees.

    Attributes
    ----------
    sections
        Turned parts from below: where each begins above the sheet, its lower and its upper radius.
    top
        Upper end face above the sheet.
    bosses, boss_radius, boss_half, boss_high
        Of each flange: number of bosses; distance of their middles from the axis; half their height and
        width; their depth.
    flanges
        Lower edges of the bosses.
    gauge_deg, gauge, bore
        Direction of the gauge's boss from the hub's axis, length of the gauge, its height above the sheet.
    """

    sections: tuple[tuple[float, float, float], ...] = (
        (0.0, 9.5, 9.5),
        (8.0, 15.0, 15.0),
        (16.0, 20.0, 20.0),
        (22.0, 13.0, 11.0),
        (50.0, 11.0, 13.0),
        (84.0, 21.0, 21.0),
        (90.0, 17.0, 17.0),
        (100.0, 15.0, 15.0),
        (128.0, 9.5, 9.5),
    )
    top: float = 142.0
    bosses: int = 6
    boss_radius: float = 23.5
    boss_half: tuple[float, float] = (3.6, 4.2)
    boss_high: float = 8.0
    flanges: tuple[float, float] = (16.0, 83.0)
    gauge_deg: float = -79.0
    gauge: float = 100.0
    bore: float = 87.0


HUB = ModelHub()
"""The drawn hub."""


@dataclass(frozen=True)
class Eye:
    """A pinhole above the sheet.

    Attributes
    ----------
    place, towards
        (3,) where it is and what it looks at, target frame, mm.
    zoom
        Drawing millimetres at unit distance.
    middle
        Where what it looks at comes to lie on the drawing.
    """

    place: Array
    towards: Array
    zoom: float
    middle: Point

    def see(self, points: Array) -> Array:
        """Return (N, 2) places on the drawing of (N, 3) points."""
        ahead = self.towards - self.place
        ahead = ahead / np.linalg.norm(ahead)
        right = np.cross(ahead, [0.0, 0.0, 1.0])
        right = right / np.linalg.norm(right)
        up = np.cross(right, ahead)
        off = np.asarray(points, dtype=np.float64) - self.place
        depth = off @ ahead
        flat = np.stack([off @ right, off @ up], -1) / depth[:, None]
        return np.asarray(flat * self.zoom + np.array(self.middle))

    def far(self, point: Array) -> float:
        """Return how far away a (3,) point is."""
        return float(np.linalg.norm(point - self.place))


def shape(kind: Kind, eye: Eye, points: Array, *, closed: bool = True) -> Shape:
    """Return points in space as they are seen."""
    return Shape(kind, tuple((float(x), float(y)) for x, y in eye.see(points)), closed)


def hull(kind: Kind, eye: Eye, points: Array) -> Shape:
    """Return the outline of a convex body."""
    seen = eye.see(points).astype(np.float32)
    around = cv2.convexHull(seen).reshape(-1, 2)
    return Shape(kind, tuple((float(x), float(y)) for x, y in around))


def sheet(eye: Eye, geometry: TargetGeometry) -> Iterable[Shape]:
    """Yield the printed target, its markers as light squares."""
    wide, high = (side / 2 for side in geometry.page)
    yield shape("paper", eye, _flat([(-wide, -high), (wide, -high), (wide, high), (-wide, high)]))
    half = np.array(geometry.frame) / 2
    for column, row in geometry.dark_squares.tolist():
        left, top = column * geometry.square - half[0], half[1] - row * geometry.square
        s = geometry.square
        yield shape("dark", eye, _flat([(left, top), (left + s, top), (left + s, top - s), (left, top - s)]))
    for corners in geometry.marker_corners:
        yield shape("mid", eye, _flat(corners.tolist()))
    for tick in (*geometry.station_ticks, *(t for bar in geometry.check_bars for t in bar.ticks)):
        yield shape("thin", eye, _flat(tick.tolist()), closed=False)


def _flat(points: Sequence[Sequence[float]]) -> Array:
    return np.array([(x, y, 0.0) for x, y in points])


def _circle(radius: float, height: float) -> Array:
    x, y = STATION_MM[0] + radius * np.cos(ROUND), STATION_MM[1] + radius * np.sin(ROUND)
    return np.stack([x, y, np.full_like(x, height)], -1)


def hub(eye: Eye) -> Iterable[Shape]:
    """Yield the standing hub with the gauge in its upper flange, from the sheet upwards."""
    tops = [*(start for start, _, _ in HUB.sections[1:]), HUB.top]
    for (start, lower, upper), end in zip(HUB.sections, tops, strict=True):
        if start in (16.0, 84.0):
            yield from _bosses(eye, HUB.flanges[0] if start < 50 else HUB.flanges[1])
        low, high = _circle(lower, start), _circle(upper, end)
        yield hull("metal", eye, np.concatenate([low, high]))
        yield shape("metal-light", eye, high)
    yield shape("dark", eye, _circle(6.0, HUB.top))
    yield from gauge(eye)


def _bosses(eye: Eye, height: float) -> Iterable[Shape]:
    angles = np.radians(HUB.gauge_deg + 360.0 / HUB.bosses * np.arange(HUB.bosses))
    for angle in sorted(angles, key=lambda a: -eye.far(_boss_centre(a, height))):
        out, left = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
        corners = [
            (
                *(
                    np.array(STATION_MM)
                    + (HUB.boss_radius + a * HUB.boss_half[0]) * out
                    + b * HUB.boss_half[1] * left
                ),
                z,
            )
            for z in (height, height + HUB.boss_high)
            for a, b in ((-2.0, -1), (1, -1), (1, 1), (-2.0, 1))
        ]
        yield hull("metal", eye, np.array(corners))
        yield shape("metal-light", eye, np.array(corners[4:]))


def _boss_centre(angle: float, height: float) -> Array:
    x, y = STATION_MM[0] + HUB.boss_radius * np.cos(angle), STATION_MM[1] + HUB.boss_radius * np.sin(angle)
    return np.array([x, y, height])


def crossing() -> Array:
    """Return the (3,) point of the gauge's axis at its boss' centreline."""
    return _boss_centre(np.radians(HUB.gauge_deg), HUB.bore)


def gauge_end() -> Array:
    """Return the (3,) far end of the gauge."""
    return np.asarray(crossing() + np.array([HUB.gauge, 0.0, -3.0]))


def gauge(eye: Eye) -> Iterable[Shape]:
    """Yield what sticks out of the boss, and the head on its other side."""
    start, end = crossing() + np.array([HUB.boss_half[1], 0.0, 0.0]), gauge_end()
    aside = np.array([0.0, USUAL_WIRE_MM / 2, 0.0])
    yield shape("wire", eye, np.array([start + aside, end + aside, end - aside, start - aside]))
    head = crossing() - np.array([HUB.boss_half[1], 0.0, 0.0])
    yield hull("wire", eye, np.array([head + d for d in ([-2, 2, 0], [-2, -2, 0], [0, 2, 0], [0, -2, 0])]))


def phone(eye: Eye, place: Array, towards: Array) -> Iterable[Shape]:
    """Yield a phone whose lens at ``place`` looks towards a point, screen up."""
    ahead = (towards - place) / np.linalg.norm(towards - place)
    right = np.cross(ahead, [0.0, 1.0, 0.05])
    right /= np.linalg.norm(right)
    up = np.cross(right, ahead)
    wide, high, thick = 74.0, 150.0, 8.0
    corners = np.array(
        [
            place + x * wide / 2 * right + (y * high - 20.0) * up - z * thick * ahead
            for z in (0, 1)
            for x, y in ((-1, 0.25), (1, 0.25), (1, -0.75), (-1, -0.75))
        ]
    )
    yield hull("phone", eye, corners)
    middle = corners[4:].mean(axis=0)
    yield shape("screen", eye, middle + 0.86 * (corners[4:] - middle))
