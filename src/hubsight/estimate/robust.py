"""Least squares that wrong edges hardly pull: robust weights, priors, covariance, a check that it settled.

`robust_fit` solves the small linear fits of `see/`; `Problem` adjusts a photo set with the same weights.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hubsight.model.arrays import Array, Flags

CAUCHY_SIGMAS = 2.5
"""Residual at which an observation counts half, in its standard uncertainties; raising it lets far
observations pull more (2.385 keeps 95 % efficiency for normal errors; from memory)."""
MEDIAN_TO_SIGMA = 1.4826
"""Standard deviation of normal values over their median absolute value; a mathematical constant."""
CAUCHY_MEDIANS = 3.0
"""Residual at which an observation counts half, in median residuals, where no uncertainty is known; raising
it lets far observations pull more (two standard deviations of normal errors)."""
SETTLED = 1e-3
"""Change of an unknown in one round, in its standard uncertainties, below which a fit has settled; raising it
stops earlier (found on rendered hubs: figures stay the same to 0.001 mm)."""


@dataclass(frozen=True)
class Threshold:
    """A threshold that grows with what is usual: a share of it, and no less than a value."""

    share: float
    least: float

    def of(self, usual: float) -> float:
        """Return the threshold where this is usual."""
        return max(self.share * usual, self.least)

    def each(self, usual: Array) -> Array:
        """Return the thresholds (...) where these (...) are usual."""
        return np.maximum(self.share * usual, self.least)


@dataclass(frozen=True)
class Growing:
    """A standard uncertainty that grows with a scatter: its own part, and the share of the scatter in it."""

    own: float
    share: float

    def of(self, scatter: float) -> float:
        """Return the standard uncertainty at a scatter."""
        return math.hypot(self.own, self.share * scatter)


def cauchy_weight(squares: Array, scale: float) -> Array:
    """Return the Cauchy weights (N,), 1 to 0, of squared residuals (N,); half at ``scale``."""
    return np.asarray(1 / (1 + squares / scale**2))


def spread(residual: Array) -> float:
    """Return the standard deviation of residuals about zero, by their median: outliers hardly widen it."""
    return MEDIAN_TO_SIGMA * float(np.median(np.abs(residual)))


@dataclass(frozen=True)
class Known:
    """What is known of U unknowns before the observations.

    Attributes
    ----------
    normal, right
        (U, U) normal matrix and (U,) right-hand side, in the weight of an observation of weight 1.
    """

    normal: Array
    right: Array

    @classmethod
    def of(cls, rows: Array, values: Array, sigmas: Array, unit: float) -> Known:
        """Return the priors that ``rows @ x`` is ``values``.

        Parameters
        ----------
        rows, values, sigmas
            (P, U) linear forms of the unknowns, their (P,) values and standard uncertainties.
        unit
            Standard uncertainty of an observation of weight 1.
        """
        weighed = rows.T * (unit / sigmas) ** 2
        return cls(weighed @ rows, weighed @ values)

    @classmethod
    def single(cls, values: Sequence[float] | Array, sigmas: Sequence[float] | Array, unit: float) -> Known:
        """Return priors of each unknown by itself, see `of`; an infinite sigma says nothing of one."""
        return cls.of(np.eye(len(values)), np.array(values), np.array(sigmas), unit)


@dataclass(frozen=True)
class FromMedian:
    """A robust scale found from the residuals: `CAUCHY_MEDIANS` of their median, ``least`` at least."""

    least: float

    def of(self, squares: Array) -> float:
        """Return the scale for squared residuals (N,)."""
        return max(CAUCHY_MEDIANS * float(np.median(np.sqrt(squares))), self.least)


@dataclass(frozen=True)
class RobustFit:
    """A solved fit.

    Attributes
    ----------
    x
        (U,) unknowns.
    normal
        (U, U) normal matrix of the last round, priors among it.
    squares
        (N,) squared residuals.
    converged
        Whether the last round moved no unknown by more than `SETTLED` of its standard uncertainty.
    """

    x: Array
    normal: Array
    squares: Array
    converged: bool

    def covariance(self, unit: float, alike: float = 1.0) -> Array:
        """Return the (U, U) covariance of the unknowns.

        Parameters
        ----------
        unit
            Standard uncertainty of an observation of weight 1.
        alike
            How many neighbouring observations share one error.
        """
        return np.asarray(alike * unit**2 * np.linalg.inv(self.normal))


def robust_fit(
    design: Array,
    off: Array,
    weight: Array | Flags,
    scale: float | FromMedian,
    known: Known,
    *,
    rounds: int = 15,
) -> RobustFit:
    """Return the unknowns that explain offsets best, by iterated Cauchy weights.

    Parameters
    ----------
    design, off
        Derivatives (N, U) of N offsets (N,); or (N, K, U) and (N, K) of offsets whose K coordinates are
        weighed together.
    weight
        (N,) weights beforehand.
    scale
        Offset at which an observation counts half, in the unit of ``off``; or how it is found from the
        residuals, where the first round weighs all as beforehand.
    known
        What is known of the unknowns.
    rounds
        How often the weights are found anew at most.

    Raises
    ------
    numpy.linalg.LinAlgError
        Observations and priors together leave an unknown free.
    """
    together = off.shape[1] if off.ndim > 1 else 1
    rows, right = design.reshape(off.size, -1), off.reshape(-1)
    x: Array = np.zeros(rows.shape[1])
    normal, settled = known.normal, False

    def squares() -> Array:
        return np.asarray(np.sum((right - rows @ x).reshape(-1, together) ** 2, axis=1))

    for turn in range(rounds):
        if isinstance(scale, FromMedian):
            now = scale.of(squares())
            robust = cauchy_weight(squares(), now) if turn else np.ones(len(off))
        else:
            now, robust = scale, cauchy_weight(squares(), scale)
        w = np.repeat(weight * robust, together)
        normal = rows.T @ (rows * w[:, None]) + known.normal
        last, x = x, np.asarray(np.linalg.solve(normal, rows.T @ (w * right) + known.right))
        settled = bool(np.all(np.abs(x - last) * np.sqrt(np.diag(normal)) <= SETTLED * now))
        if settled and turn:
            break
    return RobustFit(x, normal, squares(), settled)
