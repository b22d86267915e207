"""Linear observations of unknown quantities with normal errors: evidence and posterior.

An observation is y = a . q + e: a known row ``a`` over the true quantities q, an error e with parts that it
shares with other observations. Generalised least squares with q as wide normal priors (Aitken's estimator in
the limit), which leaves the densities of different explanations of the same observations comparable.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

WIDE_MM = 300.0
"""Standard deviation of a true quantity of which nothing is known beforehand, mm. Raising it changes nothing
but digits."""


@dataclass(frozen=True)
class Observation:
    """One observed value, mm.

    Attributes
    ----------
    name
        Its path, such as ``drive.caliper.protrusion``.
    value, u
        The value, and the standard uncertainty of what no other observation shares.
    of
        Coefficients over the true quantities.
    shared
        Standard uncertainties, with sign, of errors shared with others, by the error's name.
    """

    name: str
    value: float
    u: float
    of: Mapping[str, float]
    shared: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Known:
    """What is known of a true quantity before anything is observed, mm."""

    value: float
    u: float


@dataclass(frozen=True)
class Slip:
    """An error on top of the usual ones: ``shift`` plus ``spread`` times a standard normal number.

    Attributes
    ----------
    shift, spread
        (n,) over the observations, mm.
    """

    shift: Array
    spread: Array


@dataclass(frozen=True)
class System:
    """Observations and what is known of the quantities beforehand."""

    observations: tuple[Observation, ...]
    known: Mapping[str, Known] = field(default_factory=dict)

    @cached_property
    def quantities(self) -> tuple[str, ...]:
        """Names of the true quantities, in the order of the columns of `design`."""
        return tuple(dict.fromkeys(name for one in self.observations for name in one.of))

    @cached_property
    def index(self) -> dict[str, int]:
        """Where each observation stands."""
        return {one.name: k for k, one in enumerate(self.observations)}

    @cached_property
    def design(self) -> Array:
        """(n, q) derivatives of the observations by the quantities."""
        out = np.zeros((len(self.observations), len(self.quantities)))
        columns = {name: k for k, name in enumerate(self.quantities)}
        for row, one in enumerate(self.observations):
            for name, slope in one.of.items():
                out[row, columns[name]] = slope
        return out

    @cached_property
    def errors(self) -> Array:
        """(n, n) covariance of the observations' usual errors."""
        sources = list(dict.fromkeys(name for one in self.observations for name in one.shared))
        shared = np.array([[one.shared.get(name, 0.0) for name in sources] for one in self.observations])
        own = np.diag([one.u**2 for one in self.observations])
        return np.asarray(own + shared @ shared.T) if sources else own

    @cached_property
    def prior(self) -> tuple[Array, Array]:
        """(q,) values and variances of the quantities beforehand."""
        wide = Known(0.0, WIDE_MM)
        known = [self.known.get(name, wide) for name in self.quantities]
        return np.array([k.value for k in known]), np.array([k.u**2 for k in known])

    @cached_property
    def redundancy(self) -> int:
        """How many differences are compared: observations less the quantities that only they show."""
        free = [k for k, name in enumerate(self.quantities) if name not in self.known]
        return len(self.observations) - (int(np.linalg.matrix_rank(self.design[:, free])) if free else 0)

    @cached_property
    def _weights(self) -> Array:
        """(n, n) inverse of `errors`."""
        return np.asarray(np.linalg.inv(self.errors))

    @cached_property
    def _posterior(self) -> Array:
        """(q, q) covariance of the quantities, given the observations."""
        information = self.design.T @ self._weights @ self.design + np.diag(1.0 / self.prior[1])
        return np.asarray(np.linalg.inv(information))

    @cached_property
    def _gain(self) -> Array:
        """(q, n) derivatives of the estimated quantities by the observations."""
        return np.asarray(self._posterior @ self.design.T @ self._weights)

    @cached_property
    def _log_volume(self) -> float:
        """Log determinant of the observations' covariance, quantities included (matrix determinant lemma)."""
        parts = (self.errors, np.diag(self.prior[1]), np.linalg.inv(self._posterior))
        return float(sum(np.linalg.slogdet(part)[1] for part in parts))

    def weighed(self, vector: Array) -> Array:
        """Return the inverse covariance of the observations times a vector (n,)."""
        return np.asarray(self._weights @ (vector - self.design @ (self._gain @ vector)))

    @cached_property
    def residual(self) -> Array:
        """(n,) observations less what they are expected to be beforehand."""
        values = np.array([one.value for one in self.observations])
        return np.asarray(values - self.design @ self.prior[0])

    def chi2(self, slip: Slip | None = None) -> float:
        """Return the weighed sum of squares, a slip's likeliest amplitude taken out."""
        return -2.0 * self._terms(slip)[0]

    def evidence(self, slip: Slip | None = None) -> float:
        """Return the log density of the observations, but for a constant that only their number decides."""
        fit, _, occam = self._terms(slip)
        return fit - occam - 0.5 * self._log_volume

    def amplitude(self, slip: Slip) -> tuple[float, float]:
        """Return the slip's amplitude in units of its spread, given the observations, and its u."""
        _, (value, u), _ = self._terms(slip)
        return value, u

    def _terms(self, slip: Slip | None) -> tuple[float, tuple[float, float], float]:
        """Log density of the best fit, the amplitude, and the price of its freedom (rank-one update)."""
        r = self.residual if slip is None else self.residual - slip.shift
        weighed = self.weighed(r)
        q = float(r @ weighed)
        if slip is None or not slip.spread.any():
            return -0.5 * q, (0.0, 0.0), 0.0
        v = float(slip.spread @ self.weighed(slip.spread))
        c = float(slip.spread @ weighed)
        u = 1.0 / math.sqrt(1.0 + v)
        return -0.5 * (q - c * c * u * u), (c * u * u, u), 0.5 * math.log1p(v)

    def slip_error(self, slip: Slip) -> Array:
        """(n,) errors that the slip makes, given the observations."""
        return np.asarray(slip.shift + self.amplitude(slip)[0] * slip.spread)

    def predict(self, of: Mapping[str, float], slip: Slip | None = None) -> Known:
        """Return what a combination of quantities is, given the observations and the slip."""
        row = np.array([of.get(name, 0.0) for name in self.quantities])
        r = self.residual if slip is None else self.residual - slip.shift
        value = float(row @ (self.prior[0] + self._gain @ r))
        variance = float(row @ self._posterior @ row)
        if slip is not None:
            amplitude, u = self.amplitude(slip)
            lever = float(row @ self._gain @ slip.spread)
            value -= lever * amplitude
            variance += (lever * u) ** 2
        return Known(value, math.sqrt(max(variance, 0.0)))


def stacked(observations: Sequence[Observation], known: Mapping[str, Known]) -> System:
    """Return the system of observations; what is known of quantities that none shows is left out."""
    used = {name for one in observations for name in one.of}
    return System(tuple(observations), {name: k for name, k in known.items() if name in used})
