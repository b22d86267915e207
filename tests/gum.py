"""Parts of uncertainty by the book that only tests need.

Source: GUM (JCGM 100:2008); the examples are in `outside/test_gum_examples.py`.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from hubsight.uncertainty import FloatArray


def covariance_from_correlation(u: npt.ArrayLike, correlation: npt.ArrayLike) -> FloatArray:
    """Return the covariance matrix of inputs with standard uncertainties ``u`` and a correlation matrix."""
    scale = np.asarray(u, dtype=np.float64)
    return np.outer(scale, scale) * np.asarray(correlation, dtype=np.float64)


def u_triangular(half_width: float) -> float:
    """Return the standard uncertainty of a triangular distribution over +-half_width (GUM 4.3.9)."""
    return half_width / math.sqrt(6.0)


def u_arcsine(half_width: float) -> float:
    """Return the standard uncertainty of an arcsine distribution over +-half_width (GUM H.1.3.4)."""
    return half_width / math.sqrt(2.0)


def combine(*contributions: float) -> float:
    """Return the root sum of squares of independent contributions (GUM 5.1.2)."""
    return math.hypot(*contributions)


def effective_freedom(contributions: npt.ArrayLike, freedoms: npt.ArrayLike) -> float:
    """Return the effective degrees of freedom of a sum (Welch-Satterthwaite, GUM G.4.1).

    Parameters
    ----------
    contributions : |sensitivity| times standard uncertainty, per input
    freedoms : degrees of freedom per input; infinite for those known without doubt
    """
    parts = np.asarray(contributions, dtype=np.float64)
    nu = np.asarray(freedoms, dtype=np.float64)
    denominator = float(np.sum(parts**4 / nu))
    if denominator == 0.0:
        return math.inf
    return float(np.sum(parts**2) ** 2 / denominator)
