"""What working tension does: stretch, rim compression, bracing angles, tension of one side by the other's.

Lengths in mm, forces in N, moduli in N/mm^2, angles in degrees. Linear elasticity of straight wires and of a
thin ring under even radial load; the tyre's pressure and the rim's bending between spokes are left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from hubsight.model.stated import Reading
from hubsight.model.uncertainty import u_rectangular
from hubsight.wheel.geometry import RimGeometry, SideGeometry
from hubsight.wheel.length import LengthResult, lateral_distance, straight_distance
from hubsight.wheel.wire import SpokeWire

MODULUS_ALUMINIUM = 70_000.0
"""Young's modulus of wrought aluminium alloys, N/mm^2 (handbook value, from memory)."""


RimMaterial = Literal["aluminium", "carbon", "steel"]


@dataclass(frozen=True)
class Material:
    """Young's modulus along the rim with its uncertainty, N/mm^2, and density, g/mm^3."""

    modulus: Reading
    density: float


MATERIALS: dict[RimMaterial, Material] = {
    "aluminium": Material(Reading(MODULUS_ALUMINIUM, 1000.0), 2.7e-3),
    "carbon": Material(Reading(65_000.0, 20_000.0), 1.55e-3),
    "steel": Material(Reading(206_000.0, 5000.0), 7.85e-3),
}
"""Metals: handbook values, from memory. Carbon in epoxy: from a laminate of even directions (about 41 000) to
one that lies along the rim (about 106 000), by the constants of single layers that two laboratories published
(doi 10.2478/ama-2025-0022; Manufacturing Review 2020, mfreview190034, table 2) and laminate theory; the
layers of a rim are not known. Its density: from memory."""

COMMON_AREA_MM2 = Reading(90.0, 25.0)
"""Cross-section of a common aluminium rim of about 450 g (common practice, no source)."""


@dataclass(frozen=True)
class RimSection:
    """Cross-section of the rim, mm^2 with its uncertainty, and Young's modulus; see `section_from_mass`."""

    area: Reading = COMMON_AREA_MM2
    modulus: float = MODULUS_ALUMINIUM
    modulus_u: float = 0.0

    @property
    def relative_u(self) -> float:
        """Relative standard uncertainty of its stiffness E A."""
        return math.hypot(self.area.u / self.area.value, self.modulus_u / self.modulus)


def section_from_mass(mass_g: Reading, erd: float, material: RimMaterial | None = "aluminium") -> RimSection:
    """Return the rim's section from its mass: A = m / (rho pi D), D taken as the ERD.

    A mass alone is not taken for aluminium: without a material, E A lies between that of an aluminium rim and
    that of a carbon one of this mass, as a rectangular distribution.
    """
    if material is None:
        metal, fibre = (section_from_mass(mass_g, erd, kind) for kind in ("aluminium", "carbon"))
        low, high = metal.modulus * metal.area.value, fibre.modulus * fibre.area.value
        middle, half = (low + high) / 2.0, abs(high - low) / 2.0
        area = middle / MODULUS_ALUMINIUM
        doubt = MODULUS_ALUMINIUM * math.hypot(u_rectangular(half) / middle, fibre.modulus_u / fibre.modulus)
        return RimSection(Reading(area, area * mass_g.u / mass_g.value), MODULUS_ALUMINIUM, doubt)
    known = MATERIALS[material]
    area = mass_g.value / (known.density * math.pi * erd)
    spread = area * mass_g.u / mass_g.value
    return RimSection(Reading(area, spread), known.modulus.value, known.modulus.u)


def common_section(material: RimMaterial | None) -> RimSection:
    """Return the section of a rim whose mass is not stated; not well known where it is no usual one."""
    if material is None or material == "aluminium":
        return RimSection()
    mass = {"carbon": Reading(420.0, 80.0), "steel": Reading(800.0, 150.0)}[material]
    return section_from_mass(mass, USUAL_RIM_MM, material)


USUAL_RIM_MM = 590.0
"""Diameter of a usual rim, for the section of one whose mass is not stated (common practice, no source)."""


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
    by_section = section.relative_u
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
