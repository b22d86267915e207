"""Uncertainty arithmetic for the whole project: linear propagation, Monte Carlo, small-sample statistics.

Sources: GUM (JCGM 100:2008) for linear propagation (5.1, 5.2, G.4.1) and Type A and B evaluation (4.2, 4.3);
JCGM 101:2008 for Monte Carlo (clauses 5.3 and 7). The library knows no unit: results have those of the model.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import stats

FloatArray = npt.NDArray[np.float64]
Model = Callable[[FloatArray], FloatArray]
"""A measurement model: inputs along the last axis (..., n) to outputs (..., m)."""

COVERAGE = 0.95
"""Coverage probability of every interval that the project states."""

COVERAGE_FACTOR = float(stats.norm.ppf(0.5 + COVERAGE / 2.0))
"""k of a normal distribution for `COVERAGE`: 1.96."""


@dataclass(frozen=True)
class Propagated:
    """Result of a linear propagation.

    Attributes
    ----------
    values : (m,) outputs at the best estimates
    covariance : (m, m)
    jacobian : (m, n) sensitivity coefficients
    """

    values: FloatArray
    covariance: FloatArray
    jacobian: FloatArray

    @property
    def u(self) -> FloatArray:
        """Standard uncertainties of the outputs."""
        return np.sqrt(np.clip(np.diagonal(self.covariance), 0.0, None))

    @property
    def correlation(self) -> FloatArray:
        """Correlation matrix of the outputs; 0 where an output is certain."""
        u = self.u
        scale = np.outer(u, u)
        safe = np.where(scale > 0.0, scale, 1.0)
        return np.where(scale > 0.0, self.covariance / safe, np.eye(len(u)))


@dataclass(frozen=True)
class Sampled:
    """Result of a Monte Carlo propagation: ``draws`` (k, m) of the outputs."""

    draws: FloatArray

    @property
    def values(self) -> FloatArray:
        """Means of the outputs (JCGM 101, 7.6)."""
        return np.asarray(self.draws.mean(axis=0))

    @property
    def u(self) -> FloatArray:
        """Standard uncertainties of the outputs (JCGM 101, 7.6)."""
        return np.asarray(self.draws.std(axis=0, ddof=1))

    @property
    def covariance(self) -> FloatArray:
        """Covariance matrix of the outputs."""
        return np.atleast_2d(np.cov(self.draws, rowvar=False))

    def interval(self, output: int = 0, coverage: float = COVERAGE) -> tuple[float, float]:
        """Return the probabilistically symmetric coverage interval of one output (JCGM 101, 7.7)."""
        tail = (1.0 - coverage) / 2.0
        low, high = np.quantile(self.draws[:, output], [tail, 1.0 - tail])
        return float(low), float(high)


def numerical_jacobian(model: Model, values: FloatArray, steps: FloatArray) -> FloatArray:
    """Return the Jacobian (m, n) of ``model`` by central differences.

    Parameters
    ----------
    model : maps (n,) to (m,)
    values, steps : best estimates and step per input (half the distance of the two evaluations); a step of
        zero means that the input is certain, its column is then zero.

    Notes
    -----
    With steps of the size of the standard uncertainties this is GUM 5.1.3, note 2.
    """
    columns = []
    for index, step in enumerate(steps):
        if step == 0.0:
            columns.append(np.zeros_like(np.atleast_1d(model(values))))
            continue
        shift = np.zeros_like(values)
        shift[index] = step
        columns.append(
            (np.atleast_1d(model(values + shift)) - np.atleast_1d(model(values - shift))) / (2 * step)
        )
    return np.stack(columns, axis=1)


def propagate(
    model: Model,
    values: npt.ArrayLike,
    covariance: npt.ArrayLike,
    jacobian: npt.ArrayLike | None = None,
) -> Propagated:
    """Propagate uncertainty linearly through ``model``: J C J^T (GUM 5.2.2, F.1.2.3).

    Parameters
    ----------
    model : maps (n,) inputs to (m,) outputs
    values : (n,) best estimates
    covariance : (n, n) of the inputs
    jacobian : (m, n) if known analytically; else central differences at a hundredth of the standard
        uncertainty

    Raises
    ------
    ValueError
        If ``covariance`` is no symmetric, positive semidefinite (n, n) matrix.
    """
    x = np.asarray(values, dtype=np.float64)
    c = np.asarray(covariance, dtype=np.float64)
    check_covariance(c, len(x))
    outputs = np.atleast_1d(np.asarray(model(x), dtype=np.float64))
    if jacobian is None:
        jac = numerical_jacobian(model, x, 0.01 * np.sqrt(np.diagonal(c)))
    else:
        jac = np.atleast_2d(np.asarray(jacobian, dtype=np.float64))
    return Propagated(outputs, jac @ c @ jac.T, jac)


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


def monte_carlo(model: Model, samples: FloatArray) -> Sampled:
    """Propagate input ``samples`` (k, n) through a model of (k, n) to (k,) or (k, m) (JCGM 101, 7)."""
    outputs = np.asarray(model(samples), dtype=np.float64)
    return Sampled(outputs[:, np.newaxis] if outputs.ndim == 1 else outputs)


def u_rectangular(half_width: float) -> float:
    """Return the standard uncertainty of a value known to lie within +-half_width (GUM 4.3.7)."""
    return half_width / math.sqrt(3.0)


def coverage_factor(freedom: float = math.inf, coverage: float = COVERAGE) -> float:
    """Return k for a two-sided coverage probability with ``freedom`` degrees of freedom (GUM G.3.2)."""
    if math.isinf(freedom):
        return float(stats.norm.ppf(0.5 + coverage / 2.0))
    return float(stats.t.ppf(0.5 + coverage / 2.0, freedom))


def normalised_error(value: float, expanded: float, reference: float, reference_expanded: float) -> float:
    """Return E_n = (x - X) / sqrt(U^2 + U_ref^2) from expanded uncertainties (ISO/IEC 17043, ISO 13528).

    Infinite for different values without uncertainty.
    """
    joint = math.hypot(expanded, reference_expanded)
    if joint == 0.0:
        return 0.0 if value == reference else math.copysign(math.inf, value - reference)
    return (value - reference) / joint
