"""Height of a flange's middle: what gauge, bosses' upper edges and lower edges say of it, weighed together.

The gauge's bore lies a little above or below the middle, and the photos do not say on which side; the bosses'
upper edges are seen rounded off; lower edges are seen from the side only, and more than one line looks like
them. Each by itself leaves several possibilities; together they leave one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hubsight.hub.underside import Underside

Array = NDArray[np.float64]

STAGGER_MM, STAGGER_SIGMA_MM = 1.35, 0.16
"""A boss' two bores lie this far above and below the middle (common practice, no source)."""
WIRE_HIGH_MM, WIRE_SIGMA_MM = 0.11, 0.12
"""A wire's height is seen too great, lit from above on white paper, and scatters (found on rendered hubs)."""
WIRE_FAR_SIGMA_MM = 0.3
"""Scatter of wires that are seen badly (found on rendered hubs)."""
FAR_SHARE = 0.2
"""Share of wires and edges that are seen badly (found on rendered hubs)."""
EDGE_ABOVE_MM, EDGE_SIGMA_MM, EDGE_FAR_SIGMA_MM = 3.6, 0.3, 0.8
"""Visible upper edges of the bosses above the middle, and their scatter (found on rendered hubs)."""
HALF_WAY_HIGH_MM, HALF_WAY_SIGMA_MM, HALF_WAY_FAR_SIGMA_MM = 0.03, 0.1, 0.3
"""Half way between visible upper and lower edges above the middle, and its scatter (found on rendered
hubs)."""
NO_LOWER_EDGE = 0.08
"""Weight of the possibility that none of the lines is the lower edge."""
LEAST_SIGMA_MM = 0.05
"""The three are not quite independent of each other."""
REACH_MM, STEP_MM = 3.5, 0.03
STAGGERS_MM = np.array([s for k in range(8, 21) for s in (-0.1 * k, 0.1 * k)])
RADIAL_SIGMA_MM = 0.1
"""On radial hubs the bores lie in the middle: what a wire's height scatters (found on rendered hubs)."""


@dataclass(frozen=True)
class Middle:
    """Height of a flange's middle above the paper and its standard uncertainty, mm."""

    height: float
    u: float


def radial_middle(bores: Sequence[float]) -> Middle:
    """Middle of a radial flange from the heights at which its gauges leave it, mm."""
    return Middle(float(np.mean(bores)) - WIRE_HIGH_MM, RADIAL_SIGMA_MM)


def paired_middle(bores: Sequence[float], edges: float, underside: Underside | None) -> Middle:
    """Weigh what is known of the middle of a flange with paired bores.

    Parameters
    ----------
    bores
        Heights of the gauges' axes at their crossing points, mm above the paper.
    edges
        Height of the bosses' visible upper edges, mm.
    underside
        Lower edges, from the upper ones.

    Notes
    -----
    Mean and standard deviation of the posterior over the middle and the bores' stagger. Two gauges in bores
    on either side of the middle share one stagger, which then drops out.
    """
    first = edges - EDGE_ABOVE_MM
    middle = np.arange(first - REACH_MM, first + REACH_MM, STEP_MM)
    stagger = _normal(np.abs(STAGGERS_MM), STAGGER_MM, STAGGER_SIGMA_MM)
    # A boss' two gauges lie on either side, those of two bosses may lie on the same one.
    whole = np.zeros((len(middle), len(STAGGERS_MM)))
    for sides in _sides(len(bores)):
        part = np.broadcast_to(stagger, whole.shape).copy()
        for bore, side in zip(bores, sides, strict=True):
            off = bore - WIRE_HIGH_MM - middle[:, None] - side * STAGGERS_MM
            part *= _mostly(off, WIRE_SIGMA_MM, WIRE_FAR_SIGMA_MM)
        whole += part
    weight = whole.sum(1) * _mostly(middle - first, EDGE_SIGMA_MM, EDGE_FAR_SIGMA_MM)
    if underside is not None:
        half_way = edges + underside.depth / 2 - HALF_WAY_HIGH_MM
        fits = _mostly(middle[:, None] - half_way, HALF_WAY_SIGMA_MM, HALF_WAY_FAR_SIGMA_MM)
        weight *= NO_LOWER_EDGE + fits @ underside.weight
    weight /= weight.sum()
    height = float(weight @ middle)
    u = float(np.sqrt(weight @ (middle - height) ** 2))
    return Middle(height, float(np.hypot(u, LEAST_SIGMA_MM)))


def _sides(count: int) -> list[tuple[int, ...]]:
    return [(1,)] if count == 1 else [(1, 1), (1, -1)]


def _mostly(off: Array, sigma: float, far_sigma: float) -> Array:
    """Return a mixture of two normal densities about 0: most are near, some are far."""
    return (1 - FAR_SHARE) * _normal(off, 0.0, sigma) + FAR_SHARE * _normal(off, 0.0, far_sigma)


def _normal(x: Array, mean: float, sigma: float) -> Array:
    return np.asarray(np.exp(-0.5 * ((x - mean) / sigma) ** 2) / sigma)
