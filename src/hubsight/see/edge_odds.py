"""How likely an edge lies at a place, against chance edges alone, by how much of a stretch edge points cover.

The same question is asked of circles about the hub's axis, sector by sector, and of the two sides and the end
of a gauge, piece by piece. The ratio is bounded on either side, so that one streak or shadow cannot decide.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, uniform_filter1d

from hubsight.model.arrays import Array

SEEN_SHARE = 0.6
"""Share of an edge's length along which it shows; raising it holds missing pieces more against an edge
(prior)."""
BESIDE_MM = 6.0
"""Width over which the density of chance edges is taken, mm; raising it takes in other parts of the hub."""


def edge_log_odds(
    covered: NDArray[np.floating[Any]], step: float, sigma: float, chance: float, *, axis: int = 1
) -> Array:
    """Return the log-likelihood ratio of an edge at each place against none, of the shape of ``covered``.

    Parameters
    ----------
    covered
        Share of a stretch, 0 to 1, that edge points cover in each step across it.
    step
        Width of these steps, mm.
    sigma
        Standard deviation of an edge's place, mm.
    chance
        Share that chance edges cover per mm, added to the mean density beside.
    axis
        Along which the places run.

    Notes
    -----
    ``log(1 - s + s * f / c)``: the edge shows with probability s, `SEEN_SHARE`, and its points are then
    spread normally, f; otherwise, and without it, points lie anywhere with density c.
    """
    density = covered / step
    width = int(BESIDE_MM / step) + 1
    beside = uniform_filter1d(density, width, axis=axis, mode="nearest") + chance
    edge = gaussian_filter1d(density, sigma / step, axis=axis, mode="constant")
    return np.asarray(np.log(1 - SEEN_SHARE + SEEN_SHARE * edge / beside))
