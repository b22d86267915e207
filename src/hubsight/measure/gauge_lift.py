"""How a gauge that leans in its bore lifts its head off the seat, and the offset with it. Lengths in mm."""

from __future__ import annotations

import math

import numpy as np

from hubsight.model.arrays import Array
from hubsight.model.stated import StatedGauge

PLAY_U_MM = 0.03
"""Standard uncertainty where the wire's diameter is not stated: a wire leaning in its bore lifts its axis off
the seat (common practice, no source)."""
BORE_MM, BORE_LENGTH_MM = 2.45, 8.0
"""Diameter and length of the usual bore (common practice, no source)."""
HEAD_RADIUS_MM = 2.2
"""Radius of a straight-pull head, on whose edge a leaning gauge stands, mm (common practice, no source)."""
USUAL_LEAN_DEG = 4.0
"""Largest lean of bores towards the rim, degrees; a gauge that points down more droops; raising it warns of
fewer (common practice, no source)."""


def play_u(gauge: StatedGauge) -> float:
    """Return the standard uncertainty of the offset by a gauge's play in its bore.

    The wire may lean by (bore - wire) / length either way, which lifts the head by that times its radius: as
    much of it as a rectangle's standard deviation.
    """
    if gauge.diameter is None:
        return PLAY_U_MM
    return HEAD_RADIUS_MM * _most_lean(gauge.diameter.value) / math.sqrt(12.0)


def droop_deg(direction: Array, axis: Array) -> float:
    """Return by how much a gauge points down more steeply than any bore, degrees; 0 where it does not.

    Parameters
    ----------
    direction, axis
        (3,) unit vectors along the gauge to its end, and up the hub's axis.
    """
    slope = math.degrees(math.asin(float(np.clip(-(direction @ axis), -1.0, 1.0))))
    return max(0.0, slope - USUAL_LEAN_DEG)


def droop_u(droop: float) -> float:
    """Return the standard uncertainty of the offset by a head that a drooping gauge lifts, one-sided.

    Between nothing and the head's radius times the droop: the root mean square of that rectangle.
    """
    return HEAD_RADIUS_MM * math.tan(math.radians(droop)) / math.sqrt(3.0)


def droop_advice(droops: list[float]) -> list[str]:
    """Return a hint to support the gauges that droop."""
    return [
        f"The gauge points down by {USUAL_LEAN_DEG + droop:.0f}°, more than bores lean: support its far end, "
        "so that its head sits flat"
        for droop in droops
        if droop > 0.0
    ][:1]


def _most_lean(wire: float) -> float:
    """Return how far a wire may lean in the usual bore, radians."""
    return max(BORE_MM - wire, 0.0) / BORE_LENGTH_MM
