"""What working tension does: stretch, rim compression, bracing angles, tension of one side by the other's.

Lengths in mm, forces in N, moduli in N/mm^2, angles in degrees. Linear elasticity of straight wires and of a
thin ring under even radial load; the tyre's pressure and the rim's bending between spokes are left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from hubsight.model.stated import Reading
from hubsight.wheel.geometry import RimGeometry, SideGeometry
from hubsight.wheel.length import LengthResult, lateral_distance, straight_distance
from hubsight.wheel.wire import SpokeWire

MODULUS_ALUMINIUM = 70_000.0
"""Young's modulus of wrought aluminium alloys, N/mm^2 (handbook value, from memory)."""

DENSITY_ALUMINIUM = 2.7e-3
"""g/mm^3 (handbook value, from memory)."""


COMMON_AREA_MM2 = Reading(90.0, 25.0)
"""Cross-section of a common aluminium rim of about 450 g (common practice, no source)."""


@dataclass(frozen=True)
class RimSection:
    """Cross-section of the rim, mm^2 with its uncertainty, and Young's modulus; see `section_from_mass`."""

    area: Reading = COMMON_AREA_MM2
    modulus: float = MODULUS_ALUMINIUM


def section_from_mass(mass_g: Reading, erd: float, density: float = DENSITY_ALUMINIUM) -> RimSection:
    """Return the rim's section from its mass: A = m / (rho pi D), D taken as the ERD."""
    area = mass_g.value / (density * math.pi * erd)
    return RimSection(Reading(area, area * mass_g.u / mass_g.value))


def bracing_angle(lateral: float, distance: float) -> float:
    """Return the angle in degrees between a spoke and the plane of the rim: sin = w / distance."""
    return math.degrees(math.asin(lateral / distance))


def tension_ratio(one: tuple[int, float], other: tuple[int, float]) -> float:
    """Return T_other / T_one that holds the rim in the middle.

    Lateral equilibrium: n_1 T_1 sin(gamma_1) = n_2 T_2 sin(gamma_2).

    Parameters
    ----------
    one, other
        Number of spokes and bracing angle in degrees of each side.
    """
    (n_one, gamma_one), (n_other, gamma_other) = one, other
    return (n_one * math.sin(math.radians(gamma_one))) / (n_other * math.sin(math.radians(gamma_other)))


def rim_shrink(erd: float, radial_force: float, section: RimSection) -> float:
    """Return by how much the rim's radius shrinks, mm.

    A thin ring under the even radial load F / (2 pi R) carries the hoop force F / (2 pi), so the radius
    shrinks by F R / (2 pi E A).

    Parameters
    ----------
    erd
        In mm.
    radial_force
        Sum of all spokes' pulls towards the axis, N.
    section
        Of the rim.
    """
    return radial_force * erd / 2.0 / (2.0 * math.pi * section.modulus * section.area.value)


@dataclass(frozen=True)
class SideUnderTension:
    """One side of the tensioned wheel.

    Attributes
    ----------
    tension
        Of each spoke, N.
    bracing
        Bracing angle, degrees.
    stretch
        Of each spoke, mm.
    sits
        How much farther out than on the bench the spoke's end comes to lie in its nipple, mm: the stretch,
        and what the shrunken rim comes to meet it.
    """

    tension: Reading
    bracing: float
    stretch: float
    sits: Reading


@dataclass(frozen=True)
class WheelUnderTension:
    """The tensioned wheel: its sides in the order given, the rim's radial shrinking in mm, warnings."""

    sides: tuple[SideUnderTension, ...]
    shrink: float
    warnings: tuple[str, ...] = ()


UNEVEN_TENSION = 0.5
"""Tension ratio of the sides below which the slack side is worth a warning (common practice, no source)."""


def wheel_under_tension(
    sides: tuple[tuple[SideGeometry, LengthResult, SpokeWire], ...],
    rim: RimGeometry,
    tension: Reading,
    section: RimSection | None = None,
) -> WheelUnderTension:
    """Return stretch and seat of every side.

    Parameters
    ----------
    sides
        Geometry, lengths and wire; one or two.
    rim
        Its geometry.
    tension
        Of a spoke on the tighter side, N.
    section
        Of the rim; the default section if None.
    """
    section = section or RimSection()
    bracings = [_bracing(geometry, rim, lengths) for geometry, lengths, _ in sides]
    loads = [
        geometry.spokes * math.sin(math.radians(b))
        for (geometry, _, _), b in zip(sides, bracings, strict=True)
    ]
    tensions = _tensions(loads, tension)
    pulls = [
        geometry.spokes * force.value * 2.0 * lengths.mean.sensitivities.erd
        for (geometry, lengths, _), force in zip(sides, tensions, strict=True)
    ]
    whole = sum(pulls) * (2.0 if len(sides) == 1 else 1.0)
    shrink = rim_shrink(rim.erd.value, whole, section)
    by_section = section.area.u / section.area.value
    result = []
    for (_, lengths, wire), force, bracing in zip(sides, tensions, bracings, strict=True):
        stretch = wire.stretch(lengths.mean.value, force.value)
        meets = 2.0 * lengths.mean.sensitivities.erd
        sits = stretch + meets * shrink
        # stretch and shrinking follow one tension: their errors add up
        u = math.hypot(sits * force.u / force.value, meets * shrink * by_section)
        result.append(SideUnderTension(force, bracing, stretch, Reading(sits, u)))
    return WheelUnderTension(tuple(result), shrink, _uneven(tensions))


def _bracing(side: SideGeometry, rim: RimGeometry, lengths: LengthResult) -> float:
    lateral = lateral_distance(side, rim)
    mean = lengths.mean
    distance = float(straight_distance(rim.erd.value, side.flange_diameter.value, lateral, mean.alpha))
    return bracing_angle(lateral, distance)


def _tensions(loads: list[float], tighter: Reading) -> list[Reading]:
    """Tensions that balance: inverse to each side's spokes times sine of the bracing angle."""
    if min(loads) <= 0.0:
        return [tighter for _ in loads]
    return [Reading(tighter.value * min(loads) / load, tighter.u * min(loads) / load) for load in loads]


def _uneven(tensions: list[Reading]) -> tuple[str, ...]:
    values = [force.value for force in tensions]
    ratio = min(values) / max(values)
    if ratio >= UNEVEN_TENSION:
        return ()
    return (f"one side will have {100.0 * ratio:.0f} % of the other's tension: its nipples may work loose",)
