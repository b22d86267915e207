"""Which crosses a hub was drilled for, read off the direction of a spoke in its boss, and the reverse.

Seen along the axis, the spoke leaves the crossing point (at r from the axis) at beta to the boss centreline
and meets the rim circle (radius R) at alpha; the triangle axis, crossing point, rim hole gives sin(beta -
alpha) = r sin(beta) / R. Angles in degrees at the functions' borders, lengths in mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading
from hubsight.model.uncertainty import COVERAGE_FACTOR, u_rectangular
from hubsight.wheel.lacing import beta_from_alpha, even_alpha

ERD_RANGE_MM = (250.0, 640.0)
"""ERDs of the wheels that straight-pull hubs are built into, 16 to 29 inches (common practice, no source);
assumed when none is stated."""

USUAL_ERD = Reading(580.0, 35.0)
"""ERD where the rim is not stated, mm (common practice, no source)."""

RADIAL_LIMIT_DEG = 5.0
"""Angle against the radius up to which a spoke belongs to a radial hub: even the least tangent pair, X = 0 on
twelve bosses, leaves at 7.5 degrees and more."""

DRILLING_U_DEG = 1.0
"""Standard uncertainty of how a bore's direction follows the lacing: hubs are drilled once for many rims, and
the spoke gives (common practice, no source)."""

CLEAR_CROSSES = 0.25
"""Farthest that the read crosses may lie from a whole number and still count as clear."""


@dataclass(frozen=True)
class DrilledCrosses:
    """Crosses read off a spoke's direction.

    Attributes
    ----------
    crosses
        Nearest whole number; 0 for a radial hub.
    exact, u
        What was read before rounding, and its standard uncertainty.
    expected_beta
        Direction that the whole number gives, degrees.
    clear
        Whether the direction fits one number only.
    """

    crosses: int
    exact: float
    u: float
    expected_beta: float
    clear: bool


def alpha_from_beta(beta_deg: float, erd: float, flange_diameter: float) -> float:
    """Return alpha in degrees of a spoke that leaves at ``beta_deg`` to the boss centreline."""
    beta = math.radians(beta_deg)
    return beta_deg - math.degrees(math.asin(flange_diameter * math.sin(beta) / erd))


def expected_beta(crosses: int, bosses: int, flange_diameter: float, erd: float) -> tuple[float, float]:
    """Return beta for X crosses on n bosses and even drilling, and its derivative, see `beta_and_slope`."""
    return beta_and_slope(even_alpha("paired", bosses, crosses), flange_diameter, erd)


def beta_and_slope(alpha_deg: float, flange_diameter: float, erd: float) -> tuple[float, float]:
    """Return beta of a spoke to the rim hole at ``alpha_deg``, degrees, and its slope by ERD, degrees per mm.

    d(beta)/dR = -r sin(alpha) / S^2 with S the distance from crossing point to rim hole, seen along the axis.
    """
    alpha = math.radians(alpha_deg)
    square = (erd**2 + flange_diameter**2 - 2.0 * erd * flange_diameter * math.cos(alpha)) / 4.0
    slope = -flange_diameter / 2.0 * math.sin(alpha) / square / 2.0
    return beta_from_alpha(alpha_deg, erd, flange_diameter), math.degrees(slope)


def drilled_crosses(
    beta: Reading, bosses: int, flange_diameter: Reading, erd: Reading | None = None
) -> DrilledCrosses | Refusal:
    """Return the crosses that a hub was drilled for.

    Parameters
    ----------
    beta
        Direction of the spoke against its boss centreline, degrees (value and u), 0 outwards; either sense.
    bosses
        n on this side.
    flange_diameter
        d, mm.
    erd
        Of the intended rim, mm; without one any from `ERD_RANGE_MM` is taken as possible.
    """
    if erd is None:
        low, high = ERD_RANGE_MM
        erd = Reading((low + high) / 2.0, u_rectangular((high - low) / 2.0))
    d = flange_diameter.value
    angle = abs(beta.value)
    if bosses < 2 or not 0.0 < d < erd.value or not angle < 180.0:
        return Refusal(
            reason=f"a spoke at {angle:.1f} degrees on {bosses} bosses and d = {d:g} mm leads to no rim hole",
            remedy="Check the boss count and that the gauge points away from the hub",
        )
    if angle < RADIAL_LIMIT_DEG:
        return DrilledCrosses(0, 0.0, 0.0, 0.0, clear=angle + COVERAGE_FACTOR * beta.u < RADIAL_LIMIT_DEG)
    per_degree = 2.0 * bosses / 360.0
    exact = alpha_from_beta(angle, erd.value, d) * per_degree - 0.5
    u = per_degree * math.hypot(*_alpha_contributions(Reading(angle, beta.u), flange_diameter, erd))
    crosses = max(0, round(exact))
    away = abs(exact - crosses)
    clear = away <= CLEAR_CROSSES and away + COVERAGE_FACTOR * u < 1.0 - CLEAR_CROSSES
    return DrilledCrosses(crosses, exact, u, expected_beta(crosses, bosses, d, erd.value)[0], clear)


def _alpha_contributions(beta: Reading, flange_diameter: Reading, erd: Reading) -> tuple[float, float, float]:
    """Return what beta with the drilling, flange diameter and ERD contribute to u(alpha), degrees."""
    sine = math.sin(math.radians(beta.value))
    ratio = flange_diameter.value * sine / erd.value
    steep = 1.0 / math.sqrt(1.0 - ratio**2)
    by_beta = 1.0 - flange_diameter.value / erd.value * math.cos(math.radians(beta.value)) * steep
    by_d = math.degrees(sine / erd.value * steep)
    by_erd = math.degrees(ratio / erd.value * steep)
    return (
        by_beta * math.hypot(beta.u, DRILLING_U_DEG),
        by_d * flange_diameter.u,
        by_erd * erd.u,
    )
