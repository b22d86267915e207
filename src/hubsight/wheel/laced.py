"""Which bore takes which spoke to which rim hole: the whole wheel laced, seen from the drive side.

Rim holes are counted clockwise from the valve. Seen from the drive side a wheel rolls clockwise: a spoke that
leaves its bore clockwise leads, one that leaves it the other way trails. Angles in degrees, lengths in mm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from hubsight.model.stated import SIDES, SideName
from hubsight.model.uncertainty import FloatArray
from hubsight.wheel.geometry import RimGeometry, SideGeometry, pattern_from_letters
from hubsight.wheel.lacing import PlacedLead, placed_leads
from hubsight.wheel.length import lateral_distance

Way = Literal["leading", "trailing", "radial"]

SAME_HOLE_DEG = 0.3
"""Distance of two rim holes below which they would be one: their sides are stated from different starts."""

HAND_MM = 60.0
"""Depth inside the rim that a pump's head needs at the valve, mm (common practice, no source)."""


@dataclass(frozen=True)
class LacedSpoke:
    """One spoke in the wheel.

    Attributes
    ----------
    side, place
        Its side, and the number of its boss, bore or flange hole, from 1 clockwise from the valve.
    way
        Whether it leads or trails.
    hole
        Its rim hole, from 1 clockwise from the valve.
    hub, rim
        Directions of boss centreline and rim hole, clockwise from the valve.
    alpha
        Angle from the boss centreline to the rim hole.
    """

    side: SideName
    place: int
    way: Way
    hole: int
    hub: float
    rim: float
    alpha: float


@dataclass(frozen=True)
class Crossing:
    """Where a spoke crosses another of its side.

    Attributes
    ----------
    places
        How many bosses on the other spoke's boss lies, clockwise.
    radius
        Distance from the hub's axis.
    apart
        By how much the spoke of the outer bore lies farther out along the axis there; None where the bores'
        stagger is not known, or both come from bores at the same height.
    """

    places: int
    radius: float
    apart: float | None


@dataclass(frozen=True)
class LacedWheel:
    """A laced wheel.

    Attributes
    ----------
    spokes
        In the order of their rim holes.
    holes
        Direction of every rim hole of the sides that are known, clockwise from the valve.
    numbered_together
        Whether holes are counted over both sides; else each side's are counted by themselves, and the valve's
        place is not known.
    """

    spokes: tuple[LacedSpoke, ...]
    holes: tuple[float, ...]
    numbered_together: bool

    def of(self, side: SideName) -> tuple[LacedSpoke, ...]:
        """Return the spokes of a side, in the order of their rim holes."""
        return tuple(spoke for spoke in self.spokes if spoke.side == side)


def laced_wheel(sides: Sequence[SideGeometry], rim: RimGeometry) -> LacedWheel:
    """Return the wheel laced; the sides are such that `side_length` gives lengths for them."""
    own = {side.name: _holes(side.name, rim) or _by_count(side) for side in sides}
    names: tuple[SideName, ...] = SIDES
    every = [own.get(name) or _holes(name, rim) for name in names]
    holes = sorted(angle % 360.0 for angles in every for angle in angles)
    apart = min(_gaps(holes))
    together = len(holes) == rim.spokes and apart > SAME_HOLE_DEG
    leads = {s.name: placed_leads(s.kind, s.count, s.crosses, own[s.name]) for s in sides}
    valve = _valve(holes, [(s, leads[s.name]) for s in sides], rim) if together else 0.0
    turned = sorted((angle - valve) % 360.0 for angle in holes)
    spokes = []
    for side in sides:
        counted = turned if together else sorted((angle - valve) % 360.0 for angle in own[side.name])
        spokes += _spokes(side, leads[side.name], counted, valve)
    spokes.sort(key=lambda spoke: (spoke.rim, spoke.side))
    return LacedWheel(tuple(spokes), tuple(turned), together)


def _holes(side: SideName, rim: RimGeometry) -> tuple[float, ...]:
    """Return the directions of a side's rim holes; none where they are not known."""
    pattern = rim.pattern(side)
    if pattern is None and rim.even and rim.spokes % 2 == 0:
        pattern = pattern_from_letters("DN", rim.spokes, side)
    return () if pattern is None else pattern.all_angles()


def _by_count(side: SideGeometry) -> tuple[float, ...]:
    return tuple(360.0 * k / side.spokes for k in range(side.spokes))


def _gaps(holes: Sequence[float]) -> list[float]:
    return [(b - a) % 360.0 for a, b in zip(holes, [*holes[1:], holes[0]], strict=True)]


def _valve(
    holes: Sequence[float], sides: Sequence[tuple[SideGeometry, list[PlacedLead]]], rim: RimGeometry
) -> float:
    """Return the direction midway between the two neighbouring holes whose spokes leave the most room."""
    inside = {}
    for side, leads in sides:
        for lead in leads:
            hub, end = _ends(side, lead.hub, lead.rim, rim)
            share = HAND_MM / float(np.linalg.norm(end - hub))
            inside[round(lead.rim % 360.0, 6) % 360.0] = end + share * (hub - end)
    best, room = 0.0, -math.inf
    for hole, gap in zip(holes, _gaps(holes), strict=True):
        pair = [inside.get(round(angle % 360.0, 6) % 360.0) for angle in (hole, hole + gap)]
        if pair[0] is None or pair[1] is None:
            continue
        middle = math.radians(hole + gap / 2.0)
        across = np.array([-math.sin(middle), math.cos(middle)])
        wide = float((pair[1] - pair[0]) @ across)
        if wide > room + 1e-6:
            best, room = hole + gap / 2.0, wide
    return best


def _ends(side: SideGeometry, hub: float, rim_deg: float, rim: RimGeometry) -> tuple[FloatArray, FloatArray]:
    """Return a spoke's crossing point and rim point, seen along the axis, mm."""
    r, R = side.flange_diameter.value / 2.0, rim.erd.value / 2.0
    a, b = math.radians(hub), math.radians(rim_deg)
    return np.array([r * math.cos(a), r * math.sin(a)]), np.array([R * math.cos(b), R * math.sin(b)])


def _spokes(
    side: SideGeometry, leads: Sequence[PlacedLead], counted: Sequence[float], valve: float
) -> list[LacedSpoke]:
    """Return a side's spokes; ``counted`` are the holes that are counted, clockwise from the valve."""
    hubs = sorted({round((lead.hub - valve) % 360.0, 6) % 360.0 for lead in leads})
    straight = side.kind != "paired" and not side.crosses
    out = []
    for lead in leads:
        rim = (lead.rim - valve) % 360.0
        hole = min(range(len(counted)), key=lambda k: abs((counted[k] - rim + 180.0) % 360.0 - 180.0))
        hub = round((lead.hub - valve) % 360.0, 6) % 360.0
        way: Way = "radial" if straight else "leading" if lead.forward else "trailing"
        out.append(LacedSpoke(side.name, hubs.index(hub) + 1, way, hole + 1, hub, rim, lead.alpha))
    return out


def crossings(
    spoke: LacedSpoke, others: Sequence[LacedSpoke], side: SideGeometry, rim: RimGeometry
) -> tuple[Crossing, ...]:
    """Return where a spoke crosses others of its side, from the hub out; its own boss is left out.

    Parameters
    ----------
    spoke, others
        Of one side.
    side, rim
        Their geometry: the spokes are straight lines from crossing point to rim hole, in three dimensions.
    """
    p, q = _ends(side, spoke.hub, spoke.rim, rim)
    out = []
    for other in others:
        if other.place == spoke.place or other.way == spoke.way:
            continue
        s, t = _ends(side, other.hub, other.rim, rim)
        if abs(float(np.linalg.det(np.array([q - p, s - t])))) < 1e-9:
            continue
        along, across = np.linalg.solve(np.column_stack([q - p, s - t]), s - p)
        if 1e-9 < along < 1.0 - 1e-9 and 1e-9 < across < 1.0 - 1e-9:
            radius = float(np.linalg.norm(p + along * (q - p)))
            places = (other.place - spoke.place) % side.count
            out.append(Crossing(places, radius, _apart(side, rim, float(along), float(across))))
    return tuple(sorted(out, key=lambda crossing: crossing.radius))


def _apart(side: SideGeometry, rim: RimGeometry, along: float, across: float) -> float | None:
    """Return how far two crossing spokes of outer and inner bores lie apart along the axis."""
    if side.stagger is None:
        return None
    outer = lateral_distance(side, rim, "outer") * (1.0 - along)
    return outer - lateral_distance(side, rim, "inner") * (1.0 - across)
