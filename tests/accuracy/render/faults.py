"""What is impossible about a hub: it cannot be made, drilled, laced, stood up or laid down."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from render.bores import Axis, axes
from render.hub import SIDES, SIGNS, AnyFlange, Hub, PairedFlange, RadialFlange
from render.mesh import Array, frame_to
from render.solid import distance

ROLLS = 120
"""Directions in which a lying hub is tried."""

WIDTHS_MM = (5.0, 12.0)
"""A boss' width along the bore."""

Ends = list[tuple[float, float]]


def faults(hub: Hub) -> list[str]:
    """Return what is impossible about a hub, in words; nothing if it can be built, stood up and laid down."""
    bad: list[str] = []
    for side in SIDES:
        bad += _side_faults(hub, side)
    if not _lies(hub):
        bad.append("does not lie on its flanges")
    between = sum(hub.centre_to_flange[side] + hub.flanges[side].collar[0][0] for side in SIDES)
    if not between > 8:
        bad.append("flanges meet")
    return bad


def _end_of_collar(hub: Hub, side: str) -> float:
    return hub.centre_to_flange[side] + hub.flanges[side].collar[-1][0] + 0.5


def _side_faults(hub: Hub, side: str) -> list[str]:
    flange, fitting = hub.flanges[side], hub.fitting(side)
    length = fitting.length if fitting else 4
    possible = {
        "no room to the end face": _end_of_collar(hub, side) + length < hub.half - 2.5,
        "collar inside the axle": flange.inner_collar > hub.axle_hole / 2 + 3.2,
    }
    if isinstance(flange, RadialFlange):
        inner = flange.outside / 2 - flange.wall
        outboard = max(radius for z, radius in flange.collar if z > -1.5)
        possible["slots meet"] = (
            2 * np.pi * inner / flange.count > flange.counterbore + 1.0 and flange.offset < flange.wall - 1.2
        )
        possible["no room for heads"] = outboard < inner - 2.5 and flange.inner_collar < inner + 4
        return [what for what, fine in possible.items() if not fine]
    possible["freehub above the root"] = not fitting or flange.root > fitting.diameter / 2 + 1
    return [what for what, fine in possible.items() if not fine] + _boss_faults(hub, side, flange)


# ---------- lying down ----------


def _lies(hub: Hub) -> bool:
    """Tell whether only the flanges touch the paper, in any of the lowest ways to lie."""
    drive, other = (_rolled(hub.flanges[side]) for side in SIDES)
    w_drive, w_other = (hub.centre_to_flange[side] for side in SIDES)
    height = (drive * w_other + other * w_drive) / (w_drive + w_other)
    low = height < height.min() + 1
    drive, other = drive[low], other[low]
    slant = (drive - other) / (w_drive + w_other)
    clear_drive = (np.all(r + 0.5 < drive + slant * (z - w_drive)) for z, r in _ends(hub, "ds"))
    clear_other = (np.all(r + 0.5 < other - slant * (z - w_other)) for z, r in _ends(hub, "nds"))
    return all(clear_drive) and all(clear_other)


def _ends(hub: Hub, side: str) -> Ends:
    """Return (z, radius) of what stands out beyond a flange."""
    stub, fitting = hub.stub.length if hub.stub else 0, hub.fitting(side)
    ends = [(hub.half + stub, hub.cap_diameter / 2)]
    if fitting:
        ends.append((_end_of_collar(hub, side) + fitting.length, fitting.diameter / 2))
    return ends


def _rolled(flange: AnyFlange) -> Array:
    """Return the axis' height over a table that the flange touches, for each roll."""
    if isinstance(flange, RadialFlange):
        return np.full(ROLLS, flange.outside / 2)
    reach = flange.diameter / 2 + flange.boss.out + 2
    x, y = np.meshgrid(*[np.arange(-reach, reach, 0.5)] * 2)
    metal = np.stack([x, y], -1)[distance(flange, x, y, 0 * x) < 0]
    roll = np.radians(np.arange(0, 360, 360 // ROLLS))
    heights: Array = (metal @ np.stack([np.cos(roll), np.sin(roll)])).max(0)
    return heights


# ---------- drilling ----------


@dataclass(frozen=True)
class _Drilling:
    """One bore about to be drilled, with the other of its boss; the mid-plane is z = 0."""

    flange: PairedFlange
    sign: int
    own: Axis
    other: Axis

    def depth(self, points: Array) -> Array:
        """Return the signed distance of points (..., 3) from the metal."""
        return distance(self.flange, points[..., 0], points[..., 1], self.sign * points[..., 2])

    def on_axis(self, t: Array) -> Array:
        """Return points of the bore's line."""
        return self.own.through + t[:, None] * self.own.along

    def around(self, t: Array | float, radius: float) -> Array:
        """Return circles about the bore's line, (t, 18, 3)."""
        angle = np.radians(np.arange(0, 360, 20))
        frame = frame_to(self.own.through, self.own.along)
        circle = np.cos(angle)[:, None] * frame[:3, 0] + np.sin(angle)[:, None] * frame[:3, 1]
        return self.own.through + np.reshape(t, (-1, 1, 1)) * self.own.along + radius * circle

    def ends(self) -> tuple[float, float]:
        """Return where the line leaves the metal, ahead and behind; 99 where it does not."""
        t = np.arange(-14, 14, 0.04)
        outside = t[self.depth(self.on_axis(t)) > 0]
        return min(outside[outside > 0], default=99.0), -max(outside[outside < 0], default=-99.0)


def _boss_faults(hub: Hub, side: str, flange: PairedFlange) -> list[str]:
    bad, sign = [], SIGNS[side]
    pair = axes(flange, sign, 0.0, hub.erd, hub.crosses)[:2]
    first = _Drilling(flange, sign, pair[0], pair[1])
    start, end = flange.root + flange.root_fillet + 0.4, flange.diameter / 2 + flange.boss.out + 1
    r, angle = np.arange(start, end, 0.3), np.radians(flange.phase_deg) + np.pi / flange.count
    if not np.all(first.depth(np.stack([r * np.cos(angle), r * np.sin(angle), 0 * r], -1)) > 0.7):
        bad.append("bosses meet")
    for drilling in (first, _Drilling(flange, sign, pair[1], pair[0])):
        ahead, behind = drilling.ends()
        if not WIDTHS_MM[0] < ahead + behind < WIDTHS_MM[1]:
            return [*bad, "boss width out of range"]
        if not (flange.offset < behind - 0.5 and flange.offset + ahead > 2.0):
            bad.append("seat outside the boss")
        if bad:
            return bad
        bad += _drilling_faults(drilling, ahead, behind)
    return bad


def _drilling_faults(drilling: _Drilling, ahead: float, behind: float) -> list[str]:
    flange, depth = drilling.flange, drilling.depth
    wire, head, offset = flange.bore / 2, flange.counterbore / 2, flange.offset
    through = np.arange(-offset, ahead - 1.3, 0.3)
    counter = np.append(np.arange(1.4 - behind, -offset, 0.3), min(0.8 - offset, ahead - 1.3))
    far, back = np.arange(ahead + 3, 60, 0.5), np.arange(behind + 0.5, behind + 5, 0.25)
    possible = {
        "bore breaks out": np.all(depth(drilling.around(through, wire + 0.35)) < 0),
        "counterbore breaks out": np.all(depth(drilling.around(counter, head + 0.2)) < 0),
        "no seat left": _seat_left(drilling) > 0.45,
        "spoke meets a boss": np.all(depth(drilling.on_axis(far)) > 1.4),
        "head cannot go in": np.all(depth(drilling.on_axis(-back)) > 0),
    }
    return [what for what, fine in possible.items() if not fine]


def _seat_left(drilling: _Drilling) -> float:
    """Return how much of the seat the boss' other bore leaves, as a share."""
    flange, other = drilling.flange, drilling.other
    wire, head = flange.bore / 2, flange.counterbore / 2
    seat = drilling.around(0.2 - flange.offset, (wire + head) / 2)[0] - other.through
    along = seat @ other.along
    away = np.linalg.norm(seat - along[:, None] * other.along, axis=1)
    return float(np.mean(away > np.where(along < -flange.offset, head, wire)))
