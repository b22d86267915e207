"""Sizes of a hub, drawn at random; most draws can be made, `faults` finds those that cannot."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from render.hub import AnyFlange, Boss, Hub, PairedFlange, RadialFlange, Splines, Stub
from render.seeds import Draw

LACED_DEG = (55.0, 96.0)
"""Spokes lead this far round the axis, at least and at most: else they are nearly radial, or foul."""


def draw_boss(r: Draw, width: float, thickness: float) -> Boss:
    """Return a boss of about this width through its middle: flat, barrel or lopsided faces, sometimes odd."""
    half = width / 2
    boss = Boss(
        out=r.uniform(2.9, 4.6),
        thickness=thickness,
        corner=r.uniform(0.3, 1.8),
        edge=r.uniform(0.25, 1.2),
        half_width=(round(half, 3), round(half, 3)),
    )
    form = r.generator.random()
    if form < 0.45:
        slope = r.uniform(-17, 8)
        boss = replace(boss, slope_deg=(slope, slope))
    elif form < 0.65:
        boss = replace(boss, barrel=r.uniform(max(half + 1.2, 6), 22), bulge_at=r.uniform(-1.5, 1.5))
    else:
        more = r.uniform(-0.16, 0.16) * half
        boss = replace(
            boss,
            half_width=(round(half + more, 3), round(half - more, 3)),
            slope_deg=(r.uniform(-17, 8), r.uniform(-17, 8)),
        )
    return _odd_boss(r, boss, half)


def _odd_boss(r: Draw, boss: Boss, half: float) -> Boss:
    """Return the boss with what some have: lean, twist, a round or tilted outer face, a nose, a shift."""
    lean = r.uniform(-9, 9) if r.chance(0.3) else 0.0
    twist = r.uniform(-8, 8) if r.chance(0.25) else 0.0
    other = r.uniform(-8, 8) if r.chance(0.15) else None
    boss = replace(boss, lean_deg=lean, twist_deg=twist, twist_other_deg=other)
    if r.chance(0.35):
        boss = replace(boss, crown=r.uniform(max(half + 1, 6.5), 24))
    elif r.chance(0.5):
        boss = replace(boss, cant_deg=r.uniform(-11, 11))
    if r.chance(0.1):
        radius, out = r.uniform(1.3, 2.2), r.uniform(1.2, boss.out)
        boss = replace(boss, beak=(radius, out, r.one(-1, 1) * r.uniform(half - 1, half + 0.6)))
    if r.chance(0.2):
        boss = replace(boss, z_offset=r.uniform(-0.3, 0.3))
    return boss


@dataclass(frozen=True, kw_only=True)
class _Shared:
    """What both kinds of flange draw first; ``inboard`` and ``outboard`` are the collar's ends."""

    count: int
    bore: float
    counterbore: float
    tilt_deg: float
    phase_deg: float
    blend: float
    inboard: float
    outboard: float

    def common(self) -> dict[str, Any]:
        """Return the fields that go into a flange as they are."""
        names = ("count", "bore", "counterbore", "tilt_deg", "phase_deg", "blend")
        return {name: getattr(self, name) for name in names}


def draw_flange(r: Draw, paired: bool, count: int, joined: float, hole: float) -> AnyFlange:
    """Return one flange.

    Parameters
    ----------
    joined
        Diameter of the splined part that joins it outboard, or 0.
    hole
        Diameter of the axle's hole.
    """
    shared = _Shared(
        count=count,
        bore=r.uniform(2.3, 2.6),
        counterbore=r.uniform(4.45, 4.85),
        tilt_deg=r.uniform(0, 5),
        phase_deg=r.uniform(0, 360, 1),
        blend=r.uniform(1.3, 3.5),
        inboard=-r.uniform(7, 11),
        outboard=r.uniform(4.5, 7),
    )
    return _paired(r, shared, joined, hole) if paired else _radial(r, shared, hole)


def _radial(r: Draw, shared: _Shared, hole: float) -> RadialFlange:
    outside, wall, thickness = r.uniform(36, 56), r.uniform(5.2, 8.5), r.uniform(6.2, 8.8)
    offset = r.uniform(2.4, max(wall - 1.3, 2.5))
    limit = outside / 2 - wall - 3
    inner = r.uniform(hole / 2 + 3.3, max(limit, hole / 2 + 3.4))
    outer = r.uniform(hole / 2 + 2.8, max(limit, hole / 2 + 2.9))
    collar = (
        (shared.inboard, inner),
        (-r.uniform(4, 6), round(inner + r.uniform(0, 1), 3)),
        (-1.0, round(min(inner, limit), 3)),
        (shared.outboard, outer),
    )
    return RadialFlange(
        **shared.common(), outside=outside, wall=wall, thickness=thickness, offset=offset, collar=collar
    )


def _paired(r: Draw, shared: _Shared, joined: float, hole: float) -> PairedFlange:
    width, half_gap = r.uniform(5, 12), r.uniform(1.1, 1.6)
    diameter = r.uniform(max(36, joined + 9), 60)
    thickness = round(2 * half_gap + shared.counterbore + r.uniform(0.5, 1.7), 3)
    root = round(diameter / 2 - r.uniform(2.3, 3.7), 3)
    hand = r.one(-1, 1)
    offset = r.uniform(-1.5, 0.3) if r.chance(0.2) else r.uniform(0.3, min(5, width / 2 - 0.2))
    root_fillet = r.uniform(0.5, 2.6)
    boss = draw_boss(r, width, thickness)
    web_thickness, web_edge = r.uniform(3.2, thickness - 0.8), r.uniform(0.3, 1.2)
    scallop = r.uniform(0.4, 5) if r.chance(0.65) else 0.0
    web_z = round((thickness - web_thickness) / 2 * r.uniform(-0.9, 0.9), 3)
    collar, cut = _collar(r, shared, root, scallop=scallop, joined=joined, hole=hole)
    return PairedFlange(
        **shared.common(),
        diameter=diameter,
        root=root,
        half_gap=half_gap,
        hand=hand,
        offset=offset,
        root_fillet=root_fillet,
        boss=boss,
        web_thickness=web_thickness,
        web_z=web_z,
        web_edge=web_edge,
        scallop=scallop,
        collar=collar,
        cut=cut,
    )


def _collar(
    r: Draw, shared: _Shared, root: float, *, scallop: float, joined: float, hole: float
) -> tuple[tuple[tuple[float, float], ...], tuple[float, float] | None]:
    """Return the collar, and the lightening holes that a bare web has room for."""
    top = root - 1.2
    outer = round(joined / 2 + r.uniform(-0.3, 0.7), 3) if joined else r.uniform(hole / 2 + 3, min(top, 19))
    holes = r.chance(0.4)
    inner = r.uniform(hole / 2 + 3.4, min(top, 13 if holes else 18.5))
    low = inner if holes else max(inner, outer)
    room = min(inner + 1, top) - inner if holes else top - low
    below, above = (round(low + room * r.generator.beta(0.7, 1.6), 3) for _ in range(2))
    collar = (
        (shared.inboard, inner),
        (-r.uniform(4, 6), round(inner + (below - inner) * r.uniform(0, 0.5), 3)),
        (-r.uniform(1.8, 3.4), below),
        (r.uniform(1.8, 3.8), above),
        (shared.outboard, outer),
    )
    if holes:
        least, most = max(inner, below, above) + 0.8, root - scallop - 1.4
        radius = min((most - least) / 2, (most + least) / 2 * np.sin(np.pi / shared.count) - 1.5)
        if radius > 1.0:
            return collar, (round((most + least) / 2, 3), round(radius * r.uniform(0.75, 1), 3))
    return collar, None


def _like(r: Draw, flange: AnyFlange, pattern: AnyFlange) -> AnyFlange:
    """Return the flange with bosses and bores as on the other side, their offset about the same."""
    if isinstance(flange, PairedFlange) and isinstance(pattern, PairedFlange):
        return replace(
            flange,
            boss=pattern.boss,
            half_gap=pattern.half_gap,
            bore=pattern.bore,
            counterbore=pattern.counterbore,
            hand=pattern.hand,
            web_thickness=pattern.web_thickness,
            web_z=pattern.web_z,
            offset=round(float(np.clip(pattern.offset + r.normal(0.8), -1.5, 5)), 3),
        )
    if isinstance(flange, RadialFlange) and isinstance(pattern, RadialFlange):
        return replace(
            flange,
            bore=pattern.bore,
            counterbore=pattern.counterbore,
            wall=pattern.wall,
            thickness=pattern.thickness,
            offset=pattern.offset,
            outside=pattern.outside,
        )
    return flange


def _freehub(r: Draw) -> Splines:
    diameter, length = r.uniform(33, 35), r.uniform(30, 38)
    teeth, depth = r.integer(9, 14), r.uniform(1.4, 2.2)
    if r.chance(0.5):
        row = [r.uniform(0.36, 0.55)]
    else:
        wide = r.uniform(0.36, 0.5)
        row = [wide] * r.one(2, 4)
        row += [r.uniform(0.2, 0.3)]
    return Splines(diameter, length, depth, tuple(row[k % len(row)] for k in range(teeth)))


def _disc_mount(r: Draw) -> Splines:
    diameter, length, teeth = r.uniform(33, 36), r.uniform(7, 10), r.integer(36, 53)
    depth = r.uniform(0.7, 1.1)
    return Splines(diameter, length, depth, (r.uniform(0.42, 0.55),) * teeth)


def draw_hub(r: Draw, paired: bool, count: int) -> Hub:
    """Return a hub's sizes; whether it can be made is for `faults` to say."""
    rear = paired and r.chance(0.6)
    over_locknut = r.one(130.0, 135.0, 142.0, 148.0) if rear else r.one(100.0, 110.0)
    cap_diameter, cap_length, cap_step = r.uniform(17, 21), r.uniform(4, 10), r.uniform(0.6, 3)
    groove, head = r.uniform(0.15, 0.6), r.uniform(4.2, 4.55 if paired else 4.6)
    stub, block = None, 0.0
    if r.chance(0.3):
        stub = Stub(r.uniform(4.5, 6.5, 1), r.uniform(8.9, 10, 2))
        axle_hole, cap_diameter = round(stub.diameter - 0.1, 2), r.uniform(16, 18)
        block = round(stub.length + r.uniform(1, 8), 1)
    else:
        axle_hole = r.one(12.0, 12.0, 15.0)
    freehub = _freehub(r) if rear and r.chance(0.7) else None
    disc_mount = _disc_mount(r) if paired and r.chance(0.55) else None
    drive = draw_flange(r, paired, count, freehub.diameter if freehub else 0, axle_hole)
    other = draw_flange(r, paired, count, disc_mount.diameter if disc_mount else 0, axle_hole)
    if r.chance(0.75):
        other = _like(r, other, drive)
    w_drive = r.uniform(14, 23) if rear else r.uniform(26, 38)
    w_other = _other_width(r, rear, disc_mount is not None, w_drive)
    waist = _waist(r, other.inner_collar, drive.inner_collar, axle_hole)
    waist_fillet = r.uniform(6, 40)
    fits = [x for x in (1, 2, 3) if LACED_DEG[0] < (x + 0.5) * 180 / count < LACED_DEG[1]]
    erd, crosses = r.uniform(530, 610, 1), r.one(*fits) if paired else 0
    return Hub(
        over_locknut=over_locknut,
        axle_hole=axle_hole,
        cap_diameter=cap_diameter,
        cap_length=cap_length,
        cap_step=cap_step,
        groove=groove,
        head_diameter=head,
        flanges={"ds": drive, "nds": other},
        centre_to_flange={"ds": w_drive, "nds": w_other},
        waist=waist,
        waist_fillet=waist_fillet,
        erd=erd,
        rim_offset=r.uniform(-3, 3, 1) if r.chance(0.2) else 0.0,
        crosses=crosses,
        stub=stub,
        block=block,
        freehub=freehub,
        disc_mount=disc_mount,
    )


def _other_width(r: Draw, rear: bool, disc: bool, w_drive: float) -> float:
    """Return the non-drive side's centre to flange."""
    if rear:
        return r.uniform(28, 38)
    if disc:
        return r.uniform(16, 30)
    return w_drive if r.chance(0.6) else r.uniform(26, 38)


def _waist(r: Draw, low: float, high: float, hole: float) -> tuple[tuple[float, float], ...]:
    """Return the shell's (share of the way, radius) between collars of these radii."""
    slim, places = r.uniform(0.62, 1), r.one(1, 2, 3)
    shares = [0.1, *np.linspace(0.1, 0.9, places + 2)[1:-1], 0.9]
    return tuple(
        (
            round(float(share), 3),
            round(
                float(
                    max(
                        (low + (high - low) * share) * (1 - (1 - slim) * np.sin(np.pi * share) ** 0.7),
                        hole / 2 + 1.8,
                    )
                ),
                3,
            ),
        )
        for share in shares
    )
