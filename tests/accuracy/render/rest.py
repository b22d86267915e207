"""How things come to rest: a wire in its bore or on the sheet, a hub upright, leaning, or on its flanges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from render.bores import Bore
from render.build import BuiltHub, Part, rests_on
from render.hub import SIDES
from render.mesh import Array, Mesh, fillet, frame_to, lathe

HEAD_LENGTH_MM = 2.5
NIPPLE_DIAMETER_MM = 3.9


@dataclass(frozen=True)
class Gauge:
    """A gauge spoke: length from under the head, diameters, and its end, ``flat`` or ``nipple``."""

    length: float
    diameter: float
    head_diameter: float
    tip: str

    @property
    def nipple_diameter(self) -> float:
        """Diameter of the nipple on its end, or 0."""
        return NIPPLE_DIAMETER_MM if self.tip == "nipple" else 0.0


@dataclass(frozen=True)
class Slack:
    """What the wire's play does: play, the end's drop below the bore's axis; the bore's seat and length."""

    play: float
    drop: float
    seat: Array
    length: float


@dataclass(frozen=True)
class Seated:
    """A gauge in its bore, as it lies; hub frame.

    Attributes
    ----------
    gauge, bore
        Which one, and where.
    seat, along
        The point of its axis under the head, and its direction.
    play_deg
        Between wire and bore.
    exit_from_seat
        Along the wire to where it leaves the boss.
    slack
        None where play was drawn at random instead of solved.
    """

    gauge: Gauge
    bore: Bore
    seat: Array
    along: Array
    play_deg: float
    exit_from_seat: float
    slack: Slack | None = None

    @property
    def protrusion(self) -> float:
        """From the boss' face to the gauge's end."""
        return self.gauge.length - self.exit_from_seat

    def point(self, distance: float) -> Array:
        """Return the point of its axis this far from the seat."""
        return self.seat + distance * self.along


@dataclass(frozen=True)
class Laid:
    """A gauge on the sheet: the ends of its axis, its direction and its yaw; target frame."""

    seat: Array
    tip: Array
    along: Array
    yaw_deg: float


# ---------- rigid motions ----------


def turn(axis: str, degrees: float) -> Array:
    """Return the rotation about x, y or z."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    i, j = {"x": (1, 2), "y": (2, 0), "z": (0, 1)}[axis]
    rotation = np.eye(3)
    rotation[i, i] = rotation[j, j] = c
    rotation[i, j], rotation[j, i] = -s, s
    return rotation


def rigid(rotation: Array, translation: npt.ArrayLike) -> Array:
    """Return the 4x4 of a rotation followed by a translation."""
    matrix = np.eye(4)
    matrix[:3, :3], matrix[:3, 3] = rotation, translation
    return matrix


def move(matrix: Array, points: npt.ArrayLike) -> Array:
    """Return points (n, 3) moved by a 4x4."""
    moved: Array = np.atleast_2d(points) @ matrix[:3, :3].T + matrix[:3, 3]
    return moved


def leaning(rotation: Array, degrees: float, azimuth_deg: float) -> Array:
    """Return the rotation, then a lean towards an azimuth of the target frame."""
    azimuth, angle = np.radians(azimuth_deg), np.radians(degrees)
    axis = np.array([-np.sin(azimuth), np.cos(azimuth), 0])
    cross = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
    lean: Array = np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross
    return lean @ rotation


# ---------- the gauge ----------


def gauge_parts(gauge: Gauge) -> list[Part]:
    """Return the gauge in its own axes: z along the wire, 0 under the head, the end at its length."""
    r, head, length = gauge.diameter / 2, gauge.head_diameter / 2, gauge.length
    bare = not gauge.nipple_diameter
    end = length if bare else length - 2
    profile = [
        (-HEAD_LENGTH_MM, 0.001),
        (-HEAD_LENGTH_MM, head * 0.92),
        (-HEAD_LENGTH_MM * 0.35, head),
        (0, head),
        (0, r),
        (end, r),
        (end, 0.001),
    ]
    rounding = [0, 0.5, 0.2, 0.05, 0.02, 0.08 if bare else 0, 0]
    parts = [Part("gauge", "steel", lathe(fillet(profile, rounding, 6), 96, 30))]
    if bare:
        return parts
    n = gauge.nipple_diameter / 2
    nipple = [
        (length - 12, r * 0.98),
        (length - 12, n * 0.92),
        (length - 11.3, n),
        (length - 4, n),
        (length - 3.7, n),
        (length, n),
        (length, 0.001),
    ]
    rounded = fillet(nipple, [0, 0.1, 0.1, 0, 0, 0.35, 0], 6)
    return [*parts, Part("nipple", "brass", lathe(rounded, 96, 30))]


@dataclass(frozen=True)
class Line:
    """Where a wire came to rest: the point under its head, its direction, and what its play did."""

    seat: Array
    along: Array
    play_deg: float
    slack: Slack | None = None


def at_rest(
    bore: Bore, hub_to_target: Array, gauge: Gauge, *, play: float, drop: float, aside: npt.ArrayLike
) -> Line:
    """Return a wire at rest in its bore, hub frame.

    Drooping, it lies on the mouth's lower edge and is lifted to the bore's upper side at the seat; the head
    touches the seat with its rim.

    Parameters
    ----------
    drop
        Of the end below the bore's axis, mm (negative: above); as far as the diametral ``play`` lets it.
    aside
        Sideways at seat and mouth, as shares (-1..1) of what the play leaves.
    """
    u, seat, length = bore.axis.along, bore.axis.seat, gauge.length
    down = hub_to_target[:3, :3].T @ [0, 0, -1.0]
    down -= u * (u @ down)
    down /= np.linalg.norm(down)
    across, slack, depth = np.cross(u, down), play / 2, float(np.linalg.norm(bore.exit - seat))
    if drop > slack:
        slope = min((drop - slack) / (length - depth), play / depth)
        low_seat = slack - slope * depth
    else:
        slope = max((drop - slack) / length, -play / depth)
        low_seat = slack
    low_mouth = low_seat + slope * depth
    aside_seat, aside_mouth = (
        share * np.sqrt(max(slack * slack - low * low, 0.0))
        for share, low in zip(np.asarray(aside), (low_seat, low_mouth), strict=True)
    )
    along = u + slope * down + (aside_mouth - aside_seat) / depth * across
    along /= np.linalg.norm(along)
    tilt = np.arccos(np.clip(along @ u, -1, 1))
    lifted = gauge.head_diameter / 2 * np.tan(tilt)
    point = seat + low_seat * down + aside_seat * across - lifted * u
    how = Slack(play, float(low_seat + slope * length), seat, depth)
    return Line(point, along, float(np.degrees(tilt)), how)


def laid(gauge: Gauge, yaw_deg: float, middle: npt.ArrayLike) -> Laid:
    """Return a gauge on the sheet that rests on the rims of its head and of its far end."""
    yaw = np.radians(yaw_deg)
    end = gauge.nipple_diameter or gauge.diameter
    dip = np.arctan2((gauge.head_diameter - end) / 2, gauge.length)
    along = np.array([np.cos(yaw) * np.cos(dip), np.sin(yaw) * np.cos(dip), -np.sin(dip)])
    frame = frame_to(np.zeros(3), along)[:3, :3]
    low = min((part.mesh.v @ frame.T)[:, 2].min() for part in gauge_parts(gauge))
    seat = np.array([*(np.asarray(middle) - along[:2] * gauge.length / 2), -low])
    return Laid(seat, seat + gauge.length * along, along, float(yaw_deg))


# ---------- the hub ----------


def lowest(meshes: list[Mesh], rotation: Array) -> float:
    """Return the height of the lowest corner of turned meshes."""
    return float(min((mesh.v @ rotation.T)[:, 2].min() for mesh in meshes))


def stands_on(built: BuiltHub) -> list[Mesh]:
    """Return the meshes on which a standing hub may rest."""
    return [part.mesh for part in built.parts if rests_on(part)]


@dataclass(frozen=True)
class _Rims:
    """A lying hub's outermost points (n, 3) of each flange, and the flanges' places on the axis."""

    points: dict[str, Array]
    z: dict[str, float]

    def height(self, roll_deg: float, step: int) -> float:
        """Return the height of the hub's middle, resting on both flanges, about every ``step``-th point."""
        drive, other = (self._reach(side, roll_deg, step) for side in SIDES)
        return float(other + (drive - other) * (0 - self.z["nds"]) / (self.z["ds"] - self.z["nds"]))

    def _reach(self, side: str, roll_deg: float, step: int) -> float:
        p, roll = self.points[side][::step], np.radians(roll_deg)
        return float(np.max(p[:, 0] * np.cos(roll) - p[:, 1] * np.sin(roll)))

    def down(self, side: str, rotation: Array) -> float:
        """Return the height of a flange's lowest point."""
        return float((self.points[side] @ rotation.T)[:, 2].min())


def _rims(built: BuiltHub) -> _Rims:
    points = {}
    for side in SIDES:
        v = next(part.mesh.v for part in built.parts if part.name == f"flange_{side}")
        radius = np.hypot(v[:, 0], v[:, 1])
        points[side] = v[radius > 0.8 * radius.max()]
    w = built.hub.centre_to_flange
    return _Rims(points, {"ds": w["ds"], "nds": -w["nds"]})


def lying(built: BuiltHub, generator: np.random.Generator) -> tuple[Array, dict[str, float]]:
    """Return a hub at rest on its flanges: hub to target, and each flange's gap to the paper, mm.

    Of all rolls one of the lowest is taken. The hub's z becomes the target's x.
    """
    rims = _rims(built)
    rolls = np.arange(0, 360, 0.5)
    heights = np.array([rims.height(roll, 23) for roll in rolls])
    dips = np.flatnonzero((heights <= np.roll(heights, 1)) & (heights < np.roll(heights, -1)))
    rough = rolls[int(generator.choice(dips[heights[dips] <= heights[dips].min() + 0.8]))]
    fine = rough + np.arange(-0.6, 0.61, 0.03)
    roll = fine[int(np.argmin([rims.height(angle, 1) for angle in fine]))]
    base = turn("y", 90) @ turn("z", roll)
    pitch = 0.0
    for _ in range(8):
        rotation = turn("y", pitch) @ base
        slant = np.arctan2(
            rims.down("ds", rotation) - rims.down("nds", rotation), rims.z["ds"] - rims.z["nds"]
        )
        pitch += np.degrees(slant)
    yaw = generator.uniform(-11, 11) + (180 if generator.random() < 0.3 else 0)
    rotation = turn("z", yaw) @ turn("y", pitch) @ base
    low = lowest([part.mesh for part in built.parts], rotation)
    place = [generator.uniform(-10, 10), generator.uniform(-8, 8), -low]
    gaps = {side: float(rims.down(side, rotation) - low) for side in SIDES}
    return rigid(rotation, place), gaps
