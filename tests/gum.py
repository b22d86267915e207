"""Uncertainty by the book, to compare the program's own with: linear propagation, Monte Carlo, combination.

Sources: GUM (JCGM 100:2008) for linear propagation (5.1, 5.2, G.4.1) and Type A and B evaluation (4.2, 4.3);
JCGM 101:2008 for Monte Carlo (clauses 5.3 and 7). `outside/test_gum_examples.py` holds it to the examples.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from hubsight.model.uncertainty import COVERAGE, FloatArray, check_covariance

Model = Callable[[FloatArray], FloatArray]
"""A measurement model: inputs along the last axis (..., n) to outputs (..., m)."""


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


def covariance_from_correlation(u: npt.ArrayLike, correlation: npt.ArrayLike) -> FloatArray:
    """Return the covariance matrix of inputs with standard uncertainties ``u`` and a correlation matrix."""
    scale = np.asarray(u, dtype=np.float64)
    return np.outer(scale, scale) * np.asarray(correlation, dtype=np.float64)


def monte_carlo(model: Model, samples: FloatArray) -> Sampled:
    """Propagate input ``samples`` (k, n) through a model of (k, n) to (k,) or (k, m) (JCGM 101, 7)."""
    outputs = np.asarray(model(samples), dtype=np.float64)
    return Sampled(outputs[:, np.newaxis] if outputs.ndim == 1 else outputs)


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
