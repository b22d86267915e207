"""The one least-squares adjustment: named unknowns, observation blocks, priors, solution, covariance.

The estimator is a Gauss-Newton bundle adjustment with a Cauchy loss by iterated weights. Each class of
observation carries its own variance factor, estimated from its residuals, so that the covariance says what
the photos show and not what was assumed of them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from threadpoolctl import threadpool_limits

from hubsight.estimate.robust import CAUCHY_SIGMAS, cauchy_weight
from hubsight.model.arrays import Array, Indices

MAX_ITERATIONS = 120
"""Steps of the adjustment before it counts as not converged; raising it costs time only. Photos whose robust
weights settle slowly take 60."""
COST_TOLERANCE = 1e-7
"""Relative drop of the cost below which a step ends the adjustment; raising it stops earlier."""
LEAST_FACTOR = 0.5
"""Least scale of a class' residuals against what was assumed; raising it widens the uncertainty of classes
that scatter little: few residuals can look good by luck."""


class Layout:
    """Names of unknowns and where they lie in the vector."""

    def __init__(self) -> None:
        self._slices: dict[str, slice] = {}
        self.size = 0

    def add(self, name: str, count: int) -> slice:
        """Reserve ``count`` unknowns; raises KeyError if the name is taken."""
        if name in self._slices:
            raise KeyError(name)
        self._slices[name] = slice(self.size, self.size + count)
        self.size += count
        return self._slices[name]

    def __getitem__(self, name: str) -> slice:
        """Return where a group of unknowns lies."""
        return self._slices[name]

    def __contains__(self, name: str) -> bool:
        """Tell whether there is such a group."""
        return name in self._slices

    @property
    def names(self) -> tuple[str, ...]:
        """All names in order."""
        return tuple(self._slices)


@dataclass(frozen=True)
class Linearised:
    """Residuals (observed minus computed sign does not matter) over their sigma, (M,), and Jacobian (M, n).

    ``group`` (M,) ties residuals that are weighed together, such as the two coordinates of a point.
    """

    residual: Array
    jacobian: Array
    group: Indices


class Block(Protocol):
    """A set of observations of one class."""

    @property
    def kind(self) -> str:
        """Class of observation, for its variance factor and the budget."""
        ...

    def linearise(self, layout: Layout, x: Array) -> Linearised:
        """Return normalised residuals and their derivatives at ``x``."""
        ...


@dataclass(frozen=True)
class Prior:
    """What is known of one unknown (or of a linear form of several) before the photos are looked at."""

    kind: str
    index: tuple[int, ...]
    coefficient: tuple[float, ...]
    value: float
    sigma: float


@dataclass(frozen=True)
class Solution:
    """The adjusted unknowns.

    Attributes
    ----------
    x, covariance
        (n,) and (n, n).
    factors
        Square root of the variance factor per observation class: above 1, the residuals are larger than
        assumed.
    residuals
        Per block (M,) normalised residuals, and their (M,) robust weights in ``weights``.
    parts
        Covariance split by input: ``parts[kind]`` sums over kinds to ``covariance``.
    """

    layout: Layout
    x: Array
    covariance: Array
    factors: dict[str, float]
    residuals: tuple[Array, ...]
    weights: tuple[Array, ...]
    parts: dict[str, Array]
    converged: bool

    def __getitem__(self, name: str) -> Array:
        """Return the values of a group of unknowns."""
        return self.x[self.layout[name]]


@dataclass
class Problem:
    """Unknowns with starting values, observation blocks and priors."""

    layout: Layout
    start: Array
    blocks: list[Block] = field(default_factory=list)
    priors: list[Prior] = field(default_factory=list)

    def add(self, name: str, values: Array) -> slice:
        """Add unknowns with their starting values."""
        where = self.layout.add(name, len(values))
        self.start = np.concatenate([self.start, values])
        return where

    def prior(self, kind: str, index: int, value: float, sigma: float) -> None:
        """State one unknown's value with its standard uncertainty."""
        self.priors.append(Prior(kind, (index,), (1.0,), value, sigma))

    def add_prior(
        self, kind: str, index: Indices, coefficient: Array, value: float, sigma: float = 1.0
    ) -> None:
        """State a linear form of several unknowns with its standard uncertainty."""
        self.priors.append(Prior(kind, tuple(map(int, index)), tuple(map(float, coefficient)), value, sigma))

    def solve(self, *, robust: bool = True, rescale: bool = True) -> Solution:
        """Return the adjusted unknowns.

        Parameters
        ----------
        robust
            Give far residuals less weight.
        rescale
            Estimate each class' variance factor from its residuals.
        """
        # Threads gain nothing on matrices this small, and cost a hundredfold when they wait for a busy core.
        with threadpool_limits(limits=1, user_api="blas"):
            return self._solve(robust, rescale)

    def _solve(self, robust: bool, rescale: bool) -> Solution:
        x = self.start.copy()
        factors = {block.kind: 1.0 for block in self.blocks}
        prior_j, prior_r0 = self.prior_rows()
        damping, converged = 1e-6, False
        cost = np.inf
        state = [block.linearise(self.layout, x) for block in self.blocks]
        for _ in range(MAX_ITERATIONS):
            weights = self._weights(state, factors, robust)
            normal = prior_j.T @ prior_j
            right = prior_j.T @ (prior_r0 - prior_j @ x)
            for lin, w in zip(state, weights, strict=True):
                jw = lin.jacobian * w[:, None]
                normal += jw.T @ lin.jacobian
                right -= jw.T @ lin.residual
            step = _solve_scaled(normal, right, damping)
            trial = x + step
            trial_state = [block.linearise(self.layout, trial) for block in self.blocks]
            new_cost = self._cost(trial_state, factors, robust) + float(
                np.sum((prior_r0 - prior_j @ trial) ** 2)
            )
            if new_cost <= cost * (1 + 1e-9) or not np.isfinite(cost):
                done = (
                    abs(cost - new_cost) < COST_TOLERANCE * max(new_cost, 1.0) if np.isfinite(cost) else False
                )
                x, state, cost = trial, trial_state, new_cost
                damping = max(damping * 0.1, 1e-12)
                if done:
                    converged = True
                    break
            else:
                damping = max(damping, 1e-9) * 10
                if damping > 1e3:
                    break
        if rescale:
            factors = self._class_factors(state, robust)
        return self._finish(x, state, factors, robust, converged)

    def _cost(self, state: list[Linearised], factors: dict[str, float], robust: bool) -> float:
        total = 0.0
        for block, lin in zip(self.blocks, state, strict=True):
            q = _group_squares(lin) / factors[block.kind] ** 2
            c2 = CAUCHY_SIGMAS**2
            total += float(np.sum(c2 * np.log1p(q / c2)) if robust else np.sum(q))
        return total

    def _weights(self, state: list[Linearised], factors: dict[str, float], robust: bool) -> list[Array]:
        out = []
        for block, lin in zip(self.blocks, state, strict=True):
            s2 = factors[block.kind] ** 2
            q = _group_squares(lin) / s2
            w = cauchy_weight(q, CAUCHY_SIGMAS) if robust else np.ones_like(q)
            out.append(w[lin.group] / s2)
        return out

    def _class_factors(self, state: list[Linearised], robust: bool) -> dict[str, float]:
        """Return each class' scale by residuals and redundancy (observations less what they fix)."""
        ones = {block.kind: 1.0 for block in self.blocks}
        weights = self._weights(state, ones, robust)
        info = self._information(state, weights)
        covariance = _inverse(np.sum(list(info.values()), axis=0))
        out = {}
        for kind in ones:
            own = [k for k, block in enumerate(self.blocks) if block.kind == kind]
            r = np.abs(np.concatenate([state[k].residual for k in own]))
            w = np.concatenate([weights[k] for k in own])
            redundancy = float(w.sum() - np.sum(covariance * info[kind]))
            out[kind] = (
                max(LEAST_FACTOR, float(np.sqrt(np.sum(w * r**2) / redundancy))) if redundancy > 1 else 1.0
            )
        return out

    def _information(self, state: list[Linearised], weights: list[Array]) -> dict[str, Array]:
        """Return the normal matrix of each kind of prior and observation."""
        info: dict[str, Array] = {}
        rows, _ = self.prior_rows()
        kinds = [p.kind for p in self.priors]
        for kind in dict.fromkeys(kinds):
            own = rows[[k == kind for k in kinds]]
            info[kind] = own.T @ own
        for block, lin, w in zip(self.blocks, state, weights, strict=True):
            part = (lin.jacobian * w[:, None]).T @ lin.jacobian
            info[block.kind] = info.get(block.kind, np.zeros_like(part)) + part
        return info

    def prior_rows(self) -> tuple[Array, Array]:
        """Return the priors' rows (K, n) and values (K,), over their standard uncertainties."""
        j = np.zeros((len(self.priors), self.layout.size))
        r = np.zeros(len(self.priors))
        for row, p in enumerate(self.priors):
            j[row, list(p.index)] = np.array(p.coefficient) / p.sigma
            r[row] = p.value / p.sigma
        return j, r

    def _finish(
        self, x: Array, state: list[Linearised], factors: dict[str, float], robust: bool, converged: bool
    ) -> Solution:
        weights = self._weights(state, factors, robust)
        info = self._information(state, weights)
        covariance = _inverse(np.sum(list(info.values()), axis=0))
        return Solution(
            self.layout,
            x,
            covariance,
            factors,
            tuple(lin.residual for lin in state),
            tuple(w * factors[b.kind] ** 2 for b, w in zip(self.blocks, weights, strict=True)),
            {kind: covariance @ part @ covariance for kind, part in info.items()},
            converged,
        )


def _inverse(normal: Array) -> Array:
    scale = 1 / np.sqrt(np.maximum(np.diag(normal), 1e-30))
    return np.asarray(
        np.linalg.pinv(normal * np.outer(scale, scale), hermitian=True) * np.outer(scale, scale)
    )


def _group_squares(lin: Linearised) -> Array:
    return np.asarray(np.bincount(lin.group, lin.residual**2), dtype=np.float64)


def _solve_scaled(normal: Array, right: Array, damping: float) -> Array:
    scale = 1 / np.sqrt(np.maximum(np.diag(normal), 1e-30))
    scaled = normal * np.outer(scale, scale) + damping * np.eye(len(right))
    return np.asarray(scale * np.linalg.solve(scaled, scale * right), dtype=np.float64)
