"""An adjustment without one photo, from its own linearised observations: nothing is adjusted anew."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hubsight.estimate.problem import Layout, Linearised, Problem, Solution
from hubsight.estimate.robust import CAUCHY_SIGMAS, cauchy_weight

Array = NDArray[np.float64]

ROUNDS = 6
"""Rounds of robust weights on the linearised observations; more change no figure by 0.001 mm."""
HOLD = 1e-9
"""Share of its own weight that holds each unknown, so that what only the missing photo shows stays where it
was, with an uncertainty that says so; raising it holds more."""


@dataclass(frozen=True)
class LinearRows:
    """An adjustment's observations linearised at its solution, each with its photo and its class' factor."""

    solution: Solution
    rows: tuple[tuple[int, float, Linearised], ...]
    prior: Array
    prior_residual: Array

    @classmethod
    def of(cls, problem: Problem, solution: Solution) -> LinearRows:
        """Linearise a problem, all blocks of which are of one photo each, at its solution."""
        rows = tuple(
            (int(block.photo), solution.factors[block.kind], block.linearise(solution.layout, solution.x))  # type: ignore[attr-defined]
            for block in problem.blocks
        )
        prior, value = problem.prior_rows()
        return cls(solution, rows, prior, prior @ solution.x - value)

    def without(self, photo: int) -> tuple[Array, Array]:
        """Return the change (n,) of all unknowns without a photo, and the covariance (n, n) of that change.

        Those of the photo itself do not change.

        Notes
        -----
        Of two least-squares estimates of which one uses part of the other's observations, the difference has
        the difference of the covariances.
        """
        x = self.solution.layout[f"photo{photo}"]
        rest = np.setdiff1d(np.arange(len(self.solution.x)), np.arange(x.start, x.stop))
        kept = [(f, lin) for own, f, lin in self.rows if own != photo]
        change = np.zeros(len(self.solution.x))
        for _ in range(ROUNDS):
            normal, right = self._normal(kept, change, scaled=False)
            normal[np.diag_indices_from(normal)] *= 1 + HOLD
            change[rest] += np.linalg.solve(normal[np.ix_(rest, rest)], right[rest])
        normal, _ = self._normal(kept, np.zeros_like(change), scaled=True)
        normal[np.diag_indices_from(normal)] *= 1 + HOLD
        covariance = np.zeros_like(normal)
        own = np.ix_(rest, rest)
        covariance[own] = np.linalg.inv(normal[own]) - self.solution.covariance[own]
        return change, covariance

    def _normal(
        self, kept: Sequence[tuple[float, Linearised]], change: Array, *, scaled: bool
    ) -> tuple[Array, Array]:
        """Return normal matrix and right side at a change; ``scaled`` by the factors of the classes."""
        normal = self.prior.T @ self.prior
        right = -self.prior.T @ (self.prior_residual + self.prior @ change)
        for factor, lin in kept:
            residual = lin.residual + lin.jacobian @ change
            scale = factor**2 if scaled else 1.0
            squares = np.bincount(lin.group, residual**2) / scale
            weighted = lin.jacobian * (cauchy_weight(squares, CAUCHY_SIGMAS)[lin.group] / scale)[:, None]
            normal += weighted.T @ lin.jacobian
            right -= weighted.T @ residual
        return normal, right


def renumbered(solution: Solution, keep: Sequence[int], change: Array) -> Solution:
    """Return a solution, moved by ``change``, of some of its photos, numbered anew, and without budget."""
    old = solution.layout
    layout, index = Layout(), []
    numbers = {f"photo{k}": f"photo{new}" for new, k in enumerate(keep)}
    for name in old.names:
        if not name.startswith("photo") or name in numbers:
            layout.add(numbers.get(name, name), old[name].stop - old[name].start)
            index.append(np.arange(old[name].start, old[name].stop))
    own = np.concatenate(index)
    return Solution(
        layout,
        (solution.x + change)[own],
        solution.covariance[np.ix_(own, own)],
        solution.factors,
        (),
        (),
        {},
        solution.converged,
    )
