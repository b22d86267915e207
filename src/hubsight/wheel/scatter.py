"""Spokes of one order: what a lot shares, and what scatters from spoke to spoke; lengths in mm.

The ends of n spokes share the errors of figures, tension and lot. Each has its own error of cutting on top,
so that the worst of many lies farther off than any one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from scipy.special import log_ndtr, logsumexp

from hubsight.model.uncertainty import FloatArray

SPOKE_SHARE = 2.0 / 3.0
"""Scatter from spoke to spoke over the standard uncertainty of a spoke as delivered; the rest is common to a
lot. Raising it makes many spokes riskier than few (a guess; no source)."""

STEP = 0.05
"""Step of the worst spoke's distribution, in standard deviations of the scatter; a larger one is coarser."""

NODES = np.arange(-14.0, 8.0 + STEP, STEP)
"""Places where that distribution is worked out: below, nothing decides any more; above, no worst spoke
lies."""

Need = tuple[float, int]
"""A needed length, and how many spokes have it."""


def lot_and_spoke(u_cut: float) -> tuple[float, float]:
    """Return the parts of a delivered spoke's uncertainty: common to its lot, and from spoke to spoke."""
    scatter = SPOKE_SHARE * u_cut
    return math.sqrt(u_cut**2 - scatter**2), scatter


def log_any_below(room: float, needs: Sequence[Need], u_common: float, scatter: float) -> float:
    """Return the logarithm of the probability that at least one spoke ends below a limit.

    Parameters
    ----------
    room
        Mean distance of the ends of the longest-needed spokes above the limit.
    needs
        Needed lengths and counts; spokes that are needed shorter end farther out by the difference.
    u_common
        Standard uncertainty of what all ends share.
    scatter
        Standard deviation from spoke to spoke.

    Notes
    -----
    P = E[Phi(-(room + M) / u)], M being the least of the spokes' own deviations: of n equal ones 1 - (1 -
    Phi(m))^n. Logarithms keep risks apart that are too small for a float.
    """
    if scatter <= 0.0:
        return float(log_ndtr(-room / u_common))
    longest = max(length for length, _ in needs)
    masses = _worst(tuple((round((longest - length) / scatter, 9), count) for length, count in needs))
    sharp = max(u_common, STEP * scatter)  # nodes lie that far apart
    return float(logsumexp(masses + log_ndtr(-(room + scatter * NODES) / sharp)))


@lru_cache(maxsize=256)
def _worst(spokes: tuple[tuple[float, int], ...]) -> FloatArray:
    """Return the log masses (len(NODES),) of the least deviation; of each sort its head start and count."""
    edges = np.append(NODES - STEP / 2.0, NODES[-1] + STEP / 2.0)
    log_none = sum(count * log_ndtr(start - edges) for start, count in spokes)
    none, some = np.exp(log_none), -np.expm1(log_none)
    mass = np.where(some[1:] < 0.5, np.diff(some), -np.diff(none))
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(np.maximum(mass, 0.0)))
