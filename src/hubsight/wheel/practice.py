"""A builder's own bias of ERD practice, from where the spokes' ends came to lie in his wheels; mm.

Hierarchical normal model. The ERD that is stated of rim g is too large by b + r_g: b is the builder's
practice (rods, how the slot's bottom is taken), r_g ~ N(0, t^2) what differs from rim to rim. A side of a
wheel on that rim ends farther out than predicted by d = s (b + r_g) + e, with s the change of length per
ERD and e of the known uncertainty of everything else. Beforehand b ~ N(0, 1 mm) and t ~ half-Cauchy(0.5
mm). Given t everything is normal and done in closed form; over t it is summed on a grid.

Source: Gelman and others, Bayesian Data Analysis, hierarchical normal model; the prior of t: Gelman, Prior
distributions for variance parameters in hierarchical models, Bayesian Analysis 1 (2006) 515-533.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtr

from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading
from hubsight.model.uncertainty import COVERAGE, FloatArray

PRACTICE_MM = 1.0
"""Standard deviation of a builder's bias of ERD beforehand, mm; lowering it believes few builds less (common
practice, no source)."""
RIMS_MM = 0.5
"""Scale of how stated ERDs scatter from rim to rim about that, mm (common practice, no source)."""
GRID = 400
"""Values of the scatter that are summed over, equally probable beforehand."""
FEWEST_RIMS = 2
"""Rims whose wheels tell a bias of practice from the scatter of rims."""
LEAST_U_MM = 0.05
"""Least standard uncertainty of a side, mm: what ends are read to at best (common practice, no source)."""


@dataclass(frozen=True)
class BuiltOn:
    """A built side.

    Attributes
    ----------
    rim
        Sides with the same word share one stated ERD.
    difference
        Observed less predicted position of the ends, by the ERD as it was stated.
    u
        Standard uncertainty of that without the ERD's.
    slope
        Change of length per change of ERD.
    """

    rim: str
    difference: float
    u: float
    slope: float


@dataclass(frozen=True)
class Posterior:
    """What is known of the bias: for each scatter its probability, and the bias' mean and sd given it."""

    scatter: FloatArray
    weight: FloatArray
    mean: FloatArray
    sd: FloatArray

    @property
    def bias(self) -> Reading:
        """Mean and standard deviation of the bias."""
        mean = float(self.weight @ self.mean)
        return Reading(mean, math.sqrt(float(self.weight @ (self.sd**2 + (self.mean - mean) ** 2))))

    def quantile(self, probability: float) -> float:
        """Return the bias that is not exceeded with a probability."""
        low = float(np.min(self.mean - 12.0 * self.sd))
        high = float(np.max(self.mean + 12.0 * self.sd))
        return float(brentq(lambda b: self._below(b) - probability, low, high, xtol=1e-6))

    def _below(self, bias: float) -> float:
        return float(self.weight @ ndtr((bias - self.mean) / self.sd))


@dataclass(frozen=True)
class Practice:
    """A builder's bias of ERD practice.

    Attributes
    ----------
    rims, sides
        That it rests on.
    bias
        By how much his stated ERDs are too large, and its standard uncertainty.
    low, high
        95 % interval.
    scatter
        How stated ERDs scatter from rim to rim; posterior mean.
    """

    rims: int
    sides: int
    bias: Reading
    low: float
    high: float
    scatter: float

    @property
    def shows(self) -> bool:
        """Whether the interval leaves zero out."""
        return self.low > 0.0 or self.high < 0.0

    def sentences(self) -> tuple[str, ...]:
        """Return what the built wheels say of the builder's ERDs, and what he may do about it."""
        over = f"over {self.rims} rims and {self.sides} sides"
        interval = f"95 %: {self.low:+.2f} to {self.high:+.2f} mm"
        if not self.shows:
            return (f"ERD practice {over}: no bias shows ({interval})",)
        way = "large" if self.bias.value > 0.0 else "small"
        value, u = abs(self.bias.value), self.bias.u
        return (
            f"ERD practice {over}: your ERDs read {value:.2f} ± {u:.2f} mm too {way} ({interval}), and"
            f" scatter by {self.scatter:.2f} mm from rim to rim",
            f"to allow for it in the next wheel, state correction = {{ value = {-self.bias.value:.2f},"
            f" u = {u:.2f} }} in [rim]; nothing was changed",
            "what all wheels share looks the same: how spokes and ends are measured, a tension that is off",
        )


def practice(sides: Sequence[BuiltOn]) -> Practice | Refusal:
    """Return a builder's bias of ERD practice; refused for fewer than `FEWEST_RIMS` rims."""
    rims = {side.rim for side in sides}
    if len(rims) < FEWEST_RIMS:
        return Refusal(
            reason="wheels on fewer than two rims have been built and noted",
            remedy="Note where the spoke ends came to lie after each wheel",
        )
    known = posterior(sides)
    return Practice(
        rims=len(rims),
        sides=len(sides),
        bias=known.bias,
        low=known.quantile((1.0 - COVERAGE) / 2.0),
        high=known.quantile((1.0 + COVERAGE) / 2.0),
        scatter=float(known.weight @ known.scatter),
    )


def posterior(
    sides: Sequence[BuiltOn], bias_sd: float = PRACTICE_MM, scatter_scale: float = RIMS_MM
) -> Posterior:
    """Return what built sides say of the bias.

    Parameters
    ----------
    sides
        At least one.
    bias_sd, scatter_scale
        Standard deviation of the bias and scale of the scatter, beforehand.

    Notes
    -----
    With D the diagonal of u^2, a rim's sides have the covariance D + t^2 s s'. By Sherman and Morrison its
    inverse needs s'D^-1 s, s'D^-1 d and d'D^-1 d only.
    """
    shares = (np.arange(GRID) + 0.5) / GRID
    scatter = scatter_scale * np.tan(shares * math.pi / 2.0)
    precision = np.full(GRID, 1.0 / bias_sd**2)
    pull, log = np.zeros(GRID), np.zeros(GRID)
    for rim in dict.fromkeys(side.rim for side in sides):
        own = [side for side in sides if side.rim == rim]
        slope = np.array([side.slope for side in own])
        seen = np.array([side.difference for side in own])
        weight = 1.0 / np.array([max(side.u, LEAST_U_MM) for side in own]) ** 2
        a, b, c = slope @ (weight * slope), slope @ (weight * seen), seen @ (weight * seen)
        widened = 1.0 + scatter**2 * a
        precision += a / widened
        pull += b / widened
        log -= 0.5 * (np.log(widened) + c - scatter**2 * b**2 / widened)
    mean = pull / precision
    log += 0.5 * (mean**2 * precision - np.log(precision))
    likely = np.exp(log - log.max())
    return Posterior(scatter, likely / likely.sum(), mean, 1.0 / np.sqrt(precision))
