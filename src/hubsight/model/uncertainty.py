"""Uncertainty arithmetic for the whole project: coverage, sampling, comparison of two values.

Sources: GUM (JCGM 100:2008) and JCGM 101:2008. No unit is known here: results have those of what is given.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist, stdev

import numpy as np
import numpy.typing as npt
from scipy.special import bdtr, stdtrit

FloatArray = npt.NDArray[np.float64]

COVERAGE = 0.95
"""Coverage probability of every interval that the project states."""

COVERAGE_FACTOR = NormalDist().inv_cdf(0.5 + COVERAGE / 2.0)
"""k of a normal distribution for `COVERAGE`: 1.96."""


def check_covariance(covariance: FloatArray, size: int) -> None:
    """Raise ValueError unless ``covariance`` is a possible (size, size) covariance matrix."""
    if covariance.shape != (size, size):
        msg = f"covariance has shape {covariance.shape}, expected {(size, size)}"
        raise ValueError(msg)
    if not np.all(np.isfinite(covariance)) or not np.allclose(covariance, covariance.T):
        msg = "covariance is not finite and symmetric"
        raise ValueError(msg)
    u = np.sqrt(np.clip(np.diagonal(covariance), 0.0, None))
    scale = np.where(u > 0.0, u, 1.0)
    if np.linalg.eigvalsh(covariance / np.outer(scale, scale)).min() < -1e-9:
        msg = "covariance is not positive semidefinite: a correlation exceeds 1 or a variance is negative"
        raise ValueError(msg)


def sample_normal(
    values: npt.ArrayLike, covariance: npt.ArrayLike, draws: int, rng: np.random.Generator
) -> FloatArray:
    """Return (draws, n) samples of a multivariate normal distribution (JCGM 101, 6.4.8)."""
    x = np.asarray(values, dtype=np.float64)
    c = np.asarray(covariance, dtype=np.float64)
    check_covariance(c, len(x))
    variances, vectors = np.linalg.eigh(c)
    root = vectors * np.sqrt(np.clip(variances, 0.0, None))
    return np.asarray(x + rng.standard_normal((draws, len(x))) @ root.T)


def u_rectangular(half_width: float) -> float:
    """Return the standard uncertainty of a value known to lie within +-half_width (GUM 4.3.7)."""
    return half_width / math.sqrt(3.0)


def coverage_factor(freedom: float = math.inf, coverage: float = COVERAGE) -> float:
    """Return k for a two-sided coverage probability with ``freedom`` degrees of freedom (GUM G.3.2)."""
    if math.isinf(freedom):
        return NormalDist().inv_cdf(0.5 + coverage / 2.0)
    return float(stdtrit(freedom, 0.5 + coverage / 2.0))


KNOWN_FREEDOM = 8.0
"""Degrees of freedom that knowing beforehand how readings scatter is worth: to a quarter (GUM G.4.2)."""


def u_of_mean(values: Sequence[float], scatter: float) -> float:
    """Return the standard uncertainty of the mean of readings that are known to scatter by ``scatter``.

    Readings that scatter more count with their own standard deviation s. That of few readings is uncertain
    itself: s is widened by t over k, with n - 1 degrees of freedom and `KNOWN_FREEDOM`, so that 1.96 times
    the result is the half width of a 95 % interval (GUM G.3.2).
    """
    n = len(values)
    if n < 2:
        return scatter
    wider = stdev(values) * coverage_factor(n - 1 + KNOWN_FREEDOM) / COVERAGE_FACTOR
    return max(scatter, wider) / math.sqrt(n)


APART_SIGMAS = 3.0
"""Difference of two values, in its standard deviation, that is more than chance: one right pair in 370."""
FAR_SIGMAS = 4.0
"""The same difference where a right value must not be left out or accused: one right pair in sixteen
thousand."""
AGREES_E_N = 1.0
"""Largest |E_n| of two results that agree (ISO/IEC 17043): one right pair in twenty lies above."""
CONTRADICTS_E_N = 2.0
"""|E_n| above which two results contradict each other: four standard uncertainties of their difference.

One right pair in sixteen thousand lies above. At three standard uncertainties, one in three hundred, every
fortieth hub with its eight readings would have a right one called wrong; and the photos' errors have longer
tails than the normal distribution.
"""


def normalised_error(value: float, expanded: float, reference: float, reference_expanded: float) -> float:
    """Return E_n = (x - X) / sqrt(U^2 + U_ref^2) from expanded uncertainties (ISO/IEC 17043, ISO 13528).

    Infinite for different values without uncertainty.
    """
    joint = math.hypot(expanded, reference_expanded)
    if joint == 0.0:
        return 0.0 if value == reference else math.copysign(math.inf, value - reference)
    return (value - reference) / joint


FALSE_ALARM = 0.01
"""Probability that a test of what is right doubts it; one kind of doubt on one side.

About ten kinds are looked at a side: of ten right sides at most one is doubted. Raising it doubts more.
"""


def chance_limit(tests: int = 1, false_alarm: float = FALSE_ALARM) -> float:
    """Return how many standard uncertainties none of ``tests`` right differences exceeds but by chance.

    Two-sided; the probability that any of them does is at most ``false_alarm`` (Bonferroni).
    """
    return NormalDist().inv_cdf(1.0 - false_alarm / (2.0 * tests))


def fewest_inside(count: int) -> int:
    """Return how few of ``count`` intervals may hold the truth by chance, in one case of 20 (binomial)."""
    return next(k for k in range(count + 1) if bdtr(k, count, COVERAGE) >= 1.0 - COVERAGE)
