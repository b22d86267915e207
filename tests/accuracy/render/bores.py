"""The bores of a flange: where they run, how they are drilled, and to which rim hole each leads."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import manifold3d as m3
import numpy as np

from render.hub import SIGNS, AnyFlange, HolePattern, Hub, PairedFlange, RadialFlange
from render.mesh import Array, Faces, Mesh, frame_to, from_solid, ray_hits, rod, to_solid

TURNS = {1: "ccw", -1: "cw", 0: "radial"}
"""Names of the directions in which spokes lead round the axis, seen from the drive side."""


@dataclass(frozen=True)
class Axis:
    """A bore's line, in the hub frame.

    Attributes
    ----------
    boss
        Number of its boss, or of the bore itself on a radial flange.
    turn
        1 counter-clockwise seen from the drive side, -1 clockwise, 0 radial.
    crossing
        Where the two bores of a boss cross, seen along the axis; radial: on the outside diameter.
    through
        The point of the bore's own line there: off the mid-plane by half the bores' distance.
    along
        Unit vector towards the exit.
    seat
        Where the head's underside seats.
    alpha_deg, beta_deg
        Round the axis from the boss to the rim hole, and between the bore and the radial line.
    """

    boss: int
    turn: int
    crossing: Array
    through: Array
    along: Array
    seat: Array
    alpha_deg: float
    beta_deg: float

    @property
    def name(self) -> str:
        """The direction's name."""
        return TURNS[self.turn]


@dataclass(frozen=True)
class Bore:
    """A bore with where it leaves and enters the undrilled metal, from ``axis.through``, mm."""

    axis: Axis
    exit_from_crossing: float
    rear_from_crossing: float

    @property
    def width(self) -> float:
        """Through the metal along the bore."""
        return self.exit_from_crossing + self.rear_from_crossing

    @property
    def exit(self) -> Array:
        """The middle of the bore's mouth."""
        return self.axis.through + self.exit_from_crossing * self.axis.along


class UnlaceableError(ValueError):
    """Bosses and rim holes do not go together."""


def laced(rim: HolePattern, side: str, paired: bool, count: int, crosses: int) -> tuple[float, float]:
    """Return where boss 0 of a side stands and how far round its spokes lead, degrees.

    Raises
    ------
    UnlaceableError
        If the side has another number of holes than of spokes, or its bosses would lead differently.
    """
    spokes, row, letter = rim.spokes, rim.row, rim.letter(side)
    own, first = [i for i, hole in enumerate(row) if hole == letter], rim.first[side]
    each = [
        own[(first + i) % len(own)] + len(row) * ((first + i) // len(own))
        for i in range(len(own) * spokes // len(row))
    ]
    if spokes % len(row) or len(each) != (2 * count if paired else count):
        raise UnlaceableError(
            f"{count} {'bosses' if paired else 'bores'} and {len(each)} rim holes on side {side}"
        )

    def hole(i: int) -> float:
        return (each[i % len(each)] + spokes * (i // len(each))) * 360 / spokes

    if paired:
        centre = (hole(0) + hole(1)) / 2
        alphas = [
            alpha
            for k in range(count)
            for alpha in (
                hole(2 * k + 1 + crosses) - centre - 360 * k / count,
                centre + 360 * k / count - hole(2 * k - crosses),
            )
        ]
    else:
        centre = hole(0)
        alphas = [hole(k) - hole(0) - 360 * k / count for k in range(count)]
    if np.ptp(alphas) >= 1e-9:
        raise UnlaceableError(f"the bosses of side {side} would lead differently")
    return (rim.zero_deg + centre) % 360, round(alphas[0], 9)


def even_alpha(count: int, crosses: int) -> float:
    """Return the angle from a boss to its rim holes where a side's holes are evenly spaced, degrees."""
    return (crosses + 0.5) * 720 / (4 * count)


def axes(flange: AnyFlange, sign: int, centre_to_flange: float, erd: float, crosses: int) -> list[Axis]:
    """Return the bores' lines of one flange; ``sign`` is 1 for the drive side, -1 for the other."""
    out: list[Axis] = []
    height, tilt = sign * centre_to_flange, np.radians(flange.tilt_deg)
    lean = np.array([0, 0, -sign * np.sin(tilt)])
    for k in range(flange.count):
        angle = np.radians(flange.phase_deg + 360.0 * k / flange.count)
        outwards = np.array([np.cos(angle), np.sin(angle), 0])
        sideways = np.array([-np.sin(angle), np.cos(angle), 0])
        if isinstance(flange, PairedFlange):
            crossing = outwards * flange.diameter / 2 + np.array([0, 0, height])
            out += _pair(flange, k, crossing, (outwards, sideways), lean, erd=erd, crosses=crosses)
        else:
            along = outwards * np.cos(tilt) + lean
            crossing = outwards * flange.outside / 2 + np.array([0, 0, height])
            out.append(Axis(k, 0, crossing, crossing, along, crossing - flange.offset * along, 0.0, 0.0))
    return out


def _pair(
    flange: PairedFlange,
    boss: int,
    crossing: Array,
    plane: tuple[Array, Array],
    lean: Array,
    *,
    erd: float,
    crosses: int,
) -> list[Axis]:
    """Return the two bores of a boss, the counter-clockwise one first."""
    outwards, sideways = plane
    alpha = even_alpha(flange.count, crosses) if flange.alpha_deg is None else flange.alpha_deg
    radius, cosine = erd / 2, np.cos(np.radians(flange.tilt_deg))
    beta = np.arctan2(
        radius * np.sin(np.radians(alpha)), radius * np.cos(np.radians(alpha)) - flange.diameter / 2
    )
    pair = []
    for turn in (1, -1):
        level = np.cos(beta) * outwards + turn * np.sin(beta) * sideways
        along = level * cosine + lean
        through = crossing + np.array([0, 0, turn * flange.hand * flange.half_gap])
        seat = through - flange.offset * along
        pair.append(Axis(boss, turn, crossing, through, along, seat, alpha, float(np.degrees(beta))))
    return pair


def measured(flange: AnyFlange, axis: Axis, v: Array, f: Faces) -> Bore:
    """Return where a line leaves and enters the undrilled flange (v, f)."""
    if isinstance(flange, PairedFlange):
        hits = ray_hits(v, f, axis.through, axis.along)
        return Bore(axis, float(hits[hits > 0][0]), float(-hits[hits < 0][-1]))
    hits = (
        ray_hits(v, f, axis.through - 0.3 * axis.along, axis.along) - 0.3
    )  # the exit lies on the outside itself
    return Bore(axis, float(hits[hits > -0.25][0]), float(-hits[hits < -0.35][-1]))


def _drills(flange: AnyFlange, bore: Bore, sign: int) -> list[Any]:
    """Return what is cut away for one bore."""
    axis, wire, head = bore.axis, flange.bore / 2, flange.counterbore / 2
    if isinstance(flange, PairedFlange):
        behind = max(bore.rear_from_crossing - flange.offset, 0) + 4
        return [
            rod(axis.seat, axis.along, wire, start=-0.05, end=flange.offset + bore.exit_from_crossing + 3),
            rod(axis.seat, -axis.along, head, start=0, end=behind),
        ]
    inside = flange.wall - flange.offset + 0.6
    return [
        rod(axis.seat, axis.along, wire, start=-0.05, end=flange.offset + 3),
        rod(axis.seat, -axis.along, head, start=0, end=inside),
        *_slots(flange, axis, sign),
    ]


def _slots(flange: RadialFlange, axis: Axis, sign: int) -> list[Any]:
    """Return the slots that open a radial bore to the outboard face."""
    frame = frame_to(axis.seat, axis.along)
    frame[:3, 0] = np.cross([0, 0, 1.0], axis.along)
    frame[:3, 0] /= np.linalg.norm(frame[:3, 0])
    frame[:3, 1] = np.cross(axis.along, frame[:3, 0])
    outboard = np.sign(frame[2, 1]) * sign > 0
    spans = (
        (flange.bore * 0.96, -0.05, flange.offset + 3),
        (flange.counterbore, -(flange.wall - flange.offset) - 0.6, 0),
    )
    slots = []
    for width, start, end in spans:
        block = m3.Manifold.cube((width, 12, end - start)).translate(
            (-width / 2, 0 if outboard else -12, start)
        )
        slots.append(block.transform(frame[:3]))
    return slots


def drilled(hub: Hub, side: str, v: Array, f: Faces) -> tuple[Mesh, list[Bore]]:
    """Return a side's flange with its bores cut, and the bores; (v, f) is the undrilled one."""
    flange, sign = hub.flanges[side], SIGNS[side]
    lines = axes(flange, sign, hub.centre_to_flange[side], hub.erd, hub.crosses)
    bores = [measured(flange, axis, v, f) for axis in lines]
    tools = [tool for bore in bores for tool in _drills(flange, bore, sign)]
    body = to_solid(v, f) - m3.Manifold.batch_boolean(tools, m3.OpType.Add)
    return from_solid(body, crease_deg=30), bores


def rim_hole(hub: Hub, axis: Axis) -> Array:
    """Return the rim point that a spoke leads to, in the hub frame."""
    angle = rim_angle(axis)
    return np.array([hub.erd / 2 * np.cos(angle), hub.erd / 2 * np.sin(angle), hub.rim_offset])


def rim_angle(axis: Axis) -> float:
    """Return the direction of a spoke's rim hole in the hub frame, radians."""
    crossing = axis.crossing
    return float(np.arctan2(crossing[1], crossing[0]) + axis.turn * np.radians(axis.alpha_deg))


def rim_hole_number(rim: HolePattern, axis: Axis, side: str) -> int:
    """Return which rim hole a spoke leads to, counted counter-clockwise from the row's first.

    Raises
    ------
    UnlaceableError
        If there is no hole, or one of the other side.
    """
    exact = (np.degrees(rim_angle(axis)) - rim.zero_deg) * rim.spokes / 360
    number = round(float(exact)) % rim.spokes
    if abs(exact - round(float(exact))) >= 1e-6 or rim.row[number % len(rim.row)] != rim.letter(side):
        raise UnlaceableError(f"no hole of side {side} where boss {axis.boss} leads")
    return number
