"""Height of a flange's middle: what gauge, upper and lower edges and empty bores say of it, weighed together.

A gauge's bore lies a little above or below the middle, and its height does not say on which side; upper edges
are seen rounded off; lower edges are seen from the side only, and more than one line looks like them; the
mouths of the other bores are seen roughly. Each by itself leaves several possibilities; together they leave
one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hubsight.see.bosses.holes import STAGGERS_MM, Holes
from hubsight.see.turned.underside import Underside

Array = NDArray[np.float64]

STAGGER_MM, STAGGER_SIGMA_MM = 1.35, 0.16
"""A boss' two bores lie this far above and below the middle (common practice, no source)."""
WIRE_HIGH_MM, WIRE_SIGMA_MM = 0.11, 0.12
"""A wire's height is seen too great, lit from above on white paper, and scatters (found on rendered hubs)."""
WIRE_FAR_SIGMA_MM, WIRE_FAR_TIMES = 0.3, 4.0
"""Scatter of wires that are seen badly, in mm and in the uncertainty of their height: where a reflection is
taken for the wire's edge, photos disagree less than they are wrong (found on rendered hubs)."""
FAR_SHARE = 0.2
"""Share of wires and edges that are seen badly (found on rendered hubs)."""
EDGE_ABOVE_MM, EDGE_SIGMA_MM, EDGE_FAR_SIGMA_MM = 3.6, 0.3, 0.8
"""Visible upper edges of the bosses above the middle, and their scatter (found on rendered hubs)."""
HALF_WAY_HIGH_MM, HALF_WAY_SIGMA_MM, HALF_WAY_FAR_SIGMA_MM = 0.03, 0.1, 0.3
"""Half way between visible upper and lower edges above the middle, and its scatter (found on rendered
hubs)."""
NO_LOWER_EDGE = 0.08
"""Weight of the possibility that none of the lines is the lower edge."""
HOLES_CLEARER, NO_HOLES = 0.08, 0.1
"""By how much clearer holes are e times as likely, and the share of flanges where no holes are seen (found on
rendered hubs)."""
LEAST_SIGMA_MM = 0.05
"""The witnesses are not quite independent of each other."""
REACH_MM, STEP_MM = 3.5, 0.03


@dataclass(frozen=True)
class Bore:
    """A gauge's axis at its crossing point: height above the paper and its standard uncertainty, mm."""

    height: float
    u: float = 0.0


@dataclass(frozen=True)
class Middle:
    """Height of a flange's middle above the paper and its standard uncertainty, mm."""

    height: float
    u: float


def radial_middle(bores: Sequence[Bore], edges: float, underside: Underside | None) -> Middle:
    """Weigh what is known of the middle of a radial flange, in which the bores lie.

    Parameters are those of `paired_middle`; the edges are those of the rim.
    """
    middle = _heights(edges)
    weight = np.prod([_wire(bore, middle) for bore in bores], axis=0)
    return _weighed(middle, weight * _edges(middle, edges, underside))


def paired_middle(
    bores: Sequence[Bore], edges: float, underside: Underside | None, holes: Holes | None = None
) -> Middle:
    """Weigh what is known of the middle of a flange with paired bores.

    Parameters
    ----------
    bores
        Of the gauges.
    edges
        Height of the bosses' visible upper edges, mm above the paper.
    underside
        Lower edges, from the upper ones.
    holes
        Mouths of the empty bores.

    Notes
    -----
    Mean and standard deviation of the posterior over the middle and the bores' stagger. Two gauges in bores
    on either side of the middle share one stagger, which then drops out.
    """
    middle = _heights(edges)
    stagger = _normal(np.abs(STAGGERS_MM), STAGGER_MM, STAGGER_SIGMA_MM)
    # A boss' two gauges lie on either side, those of two bosses may lie on the same one.
    whole = np.zeros((len(middle), len(STAGGERS_MM)))
    for sides in _sides(len(bores)):
        part = np.broadcast_to(stagger, whole.shape).copy()
        for bore, side in zip(bores, sides, strict=True):
            part *= _wire(bore, middle[:, None] + side * STAGGERS_MM)
        whole += part
    if holes is not None:
        likely = np.exp(holes.at(middle - edges) / HOLES_CLEARER)
        whole *= NO_HOLES + (1 - NO_HOLES) * likely / likely.mean()
    return _weighed(middle, whole.sum(1) * _edges(middle, edges, underside))


def _heights(edges: float) -> Array:
    first = edges - EDGE_ABOVE_MM
    return np.arange(first - REACH_MM, first + REACH_MM, STEP_MM)


def _wire(bore: Bore, at: Array) -> Array:
    """Return weights of heights at which a gauge's axis may really lie."""
    near, far = max(WIRE_SIGMA_MM, bore.u), max(WIRE_FAR_SIGMA_MM, WIRE_FAR_TIMES * bore.u)
    return _mostly(bore.height - WIRE_HIGH_MM - at, near, far)


def _edges(middle: Array, edges: float, underside: Underside | None) -> Array:
    """Return weights of heights of the middle by the visible upper and lower edges."""
    weight = _mostly(middle - (edges - EDGE_ABOVE_MM), EDGE_SIGMA_MM, EDGE_FAR_SIGMA_MM)
    if underside is None:
        return weight
    half_way = edges + underside.depth / 2 - HALF_WAY_HIGH_MM
    fits = _mostly(middle[:, None] - half_way, HALF_WAY_SIGMA_MM, HALF_WAY_FAR_SIGMA_MM)
    return np.asarray(weight * (NO_LOWER_EDGE + fits @ underside.weight))


def _weighed(middle: Array, weight: Array) -> Middle:
    weight = weight / weight.sum()
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
