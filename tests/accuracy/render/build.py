"""From a hub's design to the parts that are rendered and the figures that are true of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from render.bores import Bore, drilled
from render.hub import SIDES, SIGNS, Hub, PairedFlange, Splines
from render.mesh import Array, Faces, Mesh, fillet, lathe, splined
from render.solid import collar_ends, flange_solid

Points = list[tuple[float, float]]


@dataclass(frozen=True)
class Part:
    """One part of the hub; ``material`` is a key of the design's finishes, or ``flange`` or ``barrel``."""

    name: str
    material: str
    mesh: Mesh


@dataclass(frozen=True)
class BuiltSide:
    """A flange as built.

    Attributes
    ----------
    bores
        In the order of the bosses, the counter-clockwise one first.
    v, f
        The flange before drilling, in the hub frame.
    boss_top_z
        Height of the bosses' outboard face over the hub's middle, signed like z.
    """

    bores: tuple[Bore, ...]
    v: Array
    f: Faces
    boss_top_z: float


@dataclass(frozen=True)
class BuiltHub:
    """A hub's parts, and per side what is true of its flange."""

    hub: Hub
    parts: tuple[Part, ...]
    sides: dict[str, BuiltSide]


@dataclass(frozen=True)
class _End:
    """What a part joins outboard: z (unsigned) and radius."""

    z: float
    radius: float


def build(hub: Hub) -> BuiltHub:
    """Return the parts of a hub and its sides' bores."""
    sides, flanges = {}, []
    for side in SIDES:
        v, f = flange_solid(hub, side)
        mesh, bores = drilled(hub, side, v, f)
        radius = crossing_radius(hub, side)
        sign = SIGNS[side]
        top = float(np.max(sign * v[:, 2] * (np.hypot(v[:, 0], v[:, 1]) > radius - 0.5))) * sign
        sides[side] = BuiltSide(tuple(bores), v, f, top)
        flanges.append(Part(f"flange_{side}", "flange", mesh))
    ends = {s: collar_ends(hub.flanges[s], SIGNS[s], hub.centre_to_flange[s]) for s in SIDES}
    parts = [*flanges, _shell(hub, ends["nds"][0], ends["ds"][0])]
    for side in SIDES:
        z, radius = ends[side][1]
        parts += _end_parts(hub, side, _End(abs(z), radius))
    return BuiltHub(hub, (*parts, _tube(hub)), sides)


def crossing_radius(hub: Hub, side: str) -> float:
    """Return half the flange diameter: of the crossing points, or of a radial flange's outside."""
    return diameter(hub, side) / 2


def diameter(hub: Hub, side: str) -> float:
    """Return the flange diameter of a side."""
    flange = hub.flanges[side]
    return flange.diameter if isinstance(flange, PairedFlange) else flange.outside


def _shell(hub: Hub, inner_nds: tuple[float, float], inner_ds: tuple[float, float]) -> Part:
    """Return the barrel between the flanges."""
    (low, r_low), (high, r_high) = inner_nds, inner_ds
    inside = hub.axle_hole / 2 + 0.5
    middle = [(low + (high - low) * share, radius) for share, radius in hub.waist]
    rounding = np.full(len(middle), float(hub.waist_fillet))
    for share, depth in hub.shell_grooves:
        z = low + (high - low) * share
        k = next((i for i, (at, _) in enumerate(middle) if at > z), len(middle))
        if 0 < k < len(middle):
            radius = float(np.interp(z, *np.transpose(middle)))
            middle[k:k] = [(z - depth, radius), (z, radius - depth), (z + depth, radius)]
            rounding = np.insert(rounding, k, [0.1, 0.1, 0.1])
    profile = [
        (low - 1, inside),
        (low - 1, r_low - 2),
        (low, r_low - hub.groove),
        *middle,
        (high, r_high - hub.groove),
        (high + 1, r_high - 2),
        (high + 1, inside),
    ]
    rounded = fillet(profile, [0, 0, 0.3, *rounding, 0.3, 0, 0], 10)
    return Part("shell", "barrel", lathe(rounded, 512, 12, v_span=(low, high)))


def _turned(side: str, name: str, material: str, points: Points, rounding: npt.ArrayLike) -> Part:
    """Return a turned part of one side; z counts outboard from the hub's middle."""
    profile = [(SIGNS[side] * z, radius) for z, radius in points]
    return Part(f"{name}_{side}", material, lathe(fillet(profile, rounding)))


def _end_parts(hub: Hub, side: str, joint: _End) -> list[Part]:
    """Return what lies outboard of a flange: seals, splined part, end cap, cover, axle stub."""
    z, inside = joint.z, hub.axle_hole / 2 + 0.5
    lip = joint.radius - 2.2
    seal = [(z - 4, inside), (z - 4, lip), (z + 0.7, lip), (z + 0.7, inside)]
    parts = [_turned(side, "seal", "seal", seal, 0)]
    joint = _End(z + 0.5, joint.radius)
    fitting = hub.fitting(side)
    if fitting:
        more, joint = _splined_parts(side, fitting, joint, inside)
        parts += more
    parts += _cap_parts(hub, side, joint)
    if hub.stub:
        radius, end = hub.stub.diameter / 2, hub.half + hub.stub.length
        axle = [(hub.half - 3, 2.6), (hub.half - 3, radius), (end, radius), (end, 2.6)]
        parts.append(_turned(side, "axle", "axle", axle, [0, 0, 0.6, 0.3]))
    return parts


def _splined_parts(side: str, fitting: Splines, joint: _End, inside: float) -> tuple[list[Part], _End]:
    """Return a splined part and its seal, and what the cap then joins."""
    drive, radius = side == "ds", fitting.diameter / 2
    end = joint.z + fitting.length
    z0, z1 = (joint.z, end) if drive else (-end, -joint.z)
    tube = splined(
        z0,
        z1,
        outer=radius,
        inner=radius - 4,
        depth=fitting.depth,
        shares=fitting.shares,
        chamfer=0.8 if drive else 0.5,
    )
    part = Part("freehub", "freehub", tube) if drive else Part("disc_mount", "flange", tube)
    back, front = (end - 8, end - 1.5) if drive else (end - 6, end - 0.8)
    seal = [(back, inside), (back, radius - 3.8), (front, radius - 3.8), (front, inside)]
    after = _End(end - 1.2, radius - 6) if drive else _End(end - 1, radius - 5)
    return [part, _turned(side, "seal2", "seal", seal, 0.3)], after


def _cap_parts(hub: Hub, side: str, joint: _End) -> list[Part]:
    """Return the end cap, and the dust cover behind it where there is room for one."""
    half, hole, cap = hub.half, hub.axle_hole / 2, hub.cap_diameter / 2
    z, shoulder = joint.z, max(half - hub.cap_length, joint.z + 1.5)
    base = min(joint.radius - 0.6, cap + hub.cap_step)
    points: Points = [
        (z - 3, hole),
        (z - 3, base),
        (shoulder - 0.6, base),
        (shoulder, cap),
        (half, cap),
        (half, hole),
    ]
    rounding = [0, 0.2, 0.5, 0.3, 0.5, 0.4]
    for depth, place in hub.cap_grooves:
        if place < 0:
            at = half + place * (half - shoulder)
            k, groove = 4, [(at - depth, cap), (at, cap - depth), (at + depth, cap)]
        else:
            at = cap - place * (cap - hole)
            k, groove = len(points) - 1, [(half, at + depth), (half - depth, at), (half, at - depth)]
        points[k:k] = groove
        rounding[k:k] = [0.05] * 3
    parts = [_turned(side, "cap", "cap", points, rounding)]
    if hub.cover:
        over, thickness = hub.cover
        rim = min(joint.radius + over, base + 9, max(joint.radius, base + 1.5) + 2)
        back, front = z + 0.2, z + 0.2 + thickness
        if rim > base + 1 and front < shoulder - 0.8:
            dish = [
                (back, base - 0.3),
                (back, rim),
                (back + thickness * 0.5, rim),
                (front, base + 0.8),
                (front, base - 0.3),
            ]
            parts.append(_turned(side, "cover", "cover", dish, [0, 0.2, 0.2, 0.3, 0]))
    return parts


def _tube(hub: Hub) -> Part:
    """Return the axle's tube from end to end."""
    hole = hub.axle_hole / 2
    low = -hub.half - (hub.stub.length if hub.stub else 0) + 2
    inside = max(2.6 if hub.stub else hole - 0.02, 2.6)
    profile = [(low, inside), (low, hole + 0.6), (-low, hole + 0.6), (-low, inside)]
    return Part("tube", "axle", lathe(profile, 128))


def rests_on(part: Part) -> bool:
    """Tell whether a standing hub may rest on this part; an axle stub hangs in the block's hole."""
    return not part.name.startswith(("axle", "tube"))
