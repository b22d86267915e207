"""Flanges as signed distances with fillets, and as meshes made from them. Lengths in mm.

A signed distance is negative inside the metal. Those here are exact near flat faces and close elsewhere,
which is what a fillet needs.
"""

from __future__ import annotations

import numpy as np
from skimage.measure import marching_cubes

from render.hub import SIGNS, AnyFlange, Boss, Flange, Hub, PairedFlange, RadialFlange
from render.mesh import Array, Faces

VOXEL_MM = 0.2
"""Spacing of the grid on which a flange's surface is found; larger is faster and rounds small radii."""

SLAB = 16
"""Layers of the grid computed at a time; more needs more memory."""


def both(a: Array, b: Array, radius: float) -> Array:
    """Return the intersection of two solids, its edge rounded with ``radius``."""
    return np.minimum(-radius, np.maximum(a, b)) + np.hypot(
        np.maximum(a + radius, 0), np.maximum(b + radius, 0)
    )


def either(a: Array, b: Array, radius: float) -> Array:
    """Return the union of two solids, its corner filled with ``radius``."""
    return np.maximum(radius, np.minimum(a, b)) - np.hypot(
        np.maximum(radius - a, 0), np.maximum(radius - b, 0)
    )


def _tan(degrees: float) -> np.float64:
    tangent: np.float64 = np.tan(np.radians(degrees))
    return tangent


def _face(
    boss: Boss, x: Array, y: Array, z: Array, *, half_width: float, slope: float, twist: float
) -> Array:
    """Return the distance from the face on the +y side."""
    if boss.barrel:
        return np.hypot(x - boss.bulge_at, y - (half_width - boss.barrel)) - boss.barrel
    s, w = _tan(slope), _tan(twist)
    return (y - half_width - x * s - z * w) / np.sqrt(1 + s * s + w * w)


def boss_outline(boss: Boss, x: Array, y: Array, z: Array) -> Array:
    """Return the signed distance from a boss' outline in its own axes.

    Parameters
    ----------
    x, y, z
        Outwards from the crossing point, counter-clockwise from the centreline, along the axis from the
        mid-plane; arrays that broadcast.
    """
    y = y - x * _tan(boss.lean_deg)
    other = -boss.twist_deg if boss.twist_other_deg is None else boss.twist_other_deg
    one = _face(boss, x, y, z, half_width=boss.half_width[0], slope=boss.slope_deg[0], twist=boss.twist_deg)
    two = _face(boss, x, -y, z, half_width=boss.half_width[1], slope=boss.slope_deg[1], twist=other)
    top = (x - boss.out - y * _tan(boss.cant_deg)) * np.cos(np.radians(boss.cant_deg))
    if boss.crown:
        top = np.hypot(x - (boss.out - boss.crown), y) - boss.crown
    outline = both(both(one, top, boss.corner), both(two, top, boss.corner), 0.05)
    if boss.beak:
        radius, out, aside = boss.beak
        outline = either(outline, np.hypot(x - out, y - aside) - radius, 0.8)
    return outline


def _bossed(flange: PairedFlange, r: Array, from_boss: Array, z: Array) -> Array:
    """Return bosses and web; ``from_boss`` is the angle from the nearest boss' centreline."""
    boss, step = flange.boss, 2 * np.pi / flange.count
    x, y = r * np.cos(from_boss) - flange.diameter / 2, r * np.sin(from_boss)
    solid = boss_outline(boss, x, y, z)
    solid = np.maximum(solid, -(x + flange.diameter / 2 - flange.root + 2.5))
    solid = both(solid, np.abs(z - boss.z_offset) - boss.thickness / 2, boss.edge)
    rim = flange.root - flange.scallop * (1 - np.cos(from_boss * flange.count)) / 2
    web = both(r - rim, np.abs(z - flange.web_z) - flange.web_thickness / 2, flange.web_edge)
    if flange.cut:
        out, radius = flange.cut
        between = (from_boss % step) - step / 2
        web = both(web, -(np.hypot(r * np.cos(between) - out, r * np.sin(between)) - radius), 0.4)
    return either(solid, web, flange.root_fillet)


def _cup(flange: RadialFlange, r: Array, z: Array) -> Array:
    """Return the wall of a radial flange and the disc behind it."""
    half_wall, edge = flange.wall / 2, flange.outside / 2
    wall = both(np.abs(r - (edge - half_wall)) - half_wall, np.abs(z) - flange.thickness / 2, 0.6)
    disc = both(r - edge + 1, np.abs(z + flange.thickness / 2 - 1.2) - 1.2, 0.4)
    return either(wall, disc, 1.0)


def distance(flange: AnyFlange, x: Array, y: Array, z: Array) -> Array:
    """Return the signed distance from an undrilled flange; z from its mid-plane, positive outboard."""
    r, angle = np.hypot(x, y), np.arctan2(y, x)
    step = 2 * np.pi / flange.count
    from_boss = (angle - np.radians(flange.phase_deg) + step / 2) % step - step / 2
    solid = _bossed(flange, r, from_boss, z) if isinstance(flange, PairedFlange) else _cup(flange, r, z)
    at, radius = np.array(flange.collar, float).T
    return either(solid, (r - np.interp(z, at, radius)) * 0.96, flange.blend)


def _reach(flange: AnyFlange) -> float:
    """Return a radius beyond which there is no metal."""
    if isinstance(flange, RadialFlange):
        return flange.outside / 2 + 1
    return flange.diameter / 2 + flange.boss.out + 2.5 + (flange.boss.beak[0] if flange.boss.beak else 0.0)


def _flange_mesh(flange: AnyFlange) -> tuple[Array, Faces]:
    reach, (low, high) = _reach(flange), (flange.collar[0][0], flange.collar[-1][0])
    across = np.arange(-reach, reach + VOXEL_MM, VOXEL_MM, dtype=np.float32)
    along = np.arange(low - 2 * VOXEL_MM, high + 3 * VOXEL_MM, VOXEL_MM, dtype=np.float32)
    volume = np.empty((len(across), len(across), len(along)), np.float32)
    for i in range(0, len(across), SLAB):
        x, y, z = np.meshgrid(across[i : i + SLAB], across, along, indexing="ij", copy=False)
        ends = np.maximum(low - z, z - high)
        volume[i : i + SLAB] = np.maximum(distance(flange, x.astype(float), y, z), ends)
    v, f, _, _ = marching_cubes(volume, 0.0, spacing=(VOXEL_MM,) * 3)
    v = v + np.array([across[0], across[0], along[0]])
    if np.einsum("ij,ij->", v[f[:, 0]], np.cross(v[f[:, 1]], v[f[:, 2]])) < 0:
        f = f[:, ::-1]
    return v, f


def flange_solid(hub: Hub, side: str) -> tuple[Array, Faces]:
    """Return the undrilled flange of a side as corners (n, 3) and faces (m, 3), in the hub frame."""
    sign = SIGNS[side]
    v, f = _flange_mesh(hub.flanges[side])
    v = v * np.array([1, 1, sign]) + np.array([0, 0, sign * hub.centre_to_flange[side]])
    return v, f[:, ::-1] if sign < 0 else f


def collar_ends(flange: Flange, sign: int, centre_to_flange: float) -> tuple[tuple[float, float], ...]:
    """Return (z, radius) of the collar's inboard and outboard ends, in the hub frame."""
    return tuple(
        (sign * centre_to_flange + sign * z, radius) for z, radius in (flange.collar[0], flange.collar[-1])
    )
