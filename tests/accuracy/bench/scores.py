"""Statistics of errors and intervals: how large, how often held, how many blunders."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

COVERAGE = 0.95
"""What the intervals promise."""

BLUNDER_MM = 0.2
BLUNDER_SIGMAS = 4.0
"""A blunder is an error beyond both, without a warning on the figure."""


@dataclass(frozen=True)
class Outcome:
    """One measured figure beside its truth, mm."""

    hub: str
    side: str
    figure: str
    value: float
    u: float
    low: float
    high: float
    truth: float
    warned: bool

    @property
    def error(self) -> float:
        """Measured minus true."""
        return self.value - self.truth

    @property
    def z(self) -> float:
        """Error in stated standard uncertainties."""
        return self.error / self.u if self.u > 0 else float(np.inf) * (np.sign(self.error) or 1.0)

    @property
    def held(self) -> bool:
        """Whether the interval holds the truth."""
        return self.low <= self.truth <= self.high

    @property
    def blunder(self) -> bool:
        """A wrong figure that nothing warns of."""
        return abs(self.error) > BLUNDER_MM and abs(self.error) > BLUNDER_SIGMAS * self.u and not self.warned


@dataclass(frozen=True)
class Score:
    """Summary of one figure over many sides; errors in mm."""

    number: int
    failures: int
    bias: float
    median: float
    p90: float
    largest: float
    held: int
    width: float
    blunders: int


def binomial_limits(number: int, probability: float = COVERAGE, within: float = 0.95) -> tuple[float, float]:
    """Return between which shares of ``number`` intervals chance alone would leave those that hold.

    Parameters
    ----------
    number
        Of intervals.
    probability
        With which each holds the truth.
    within
        Probability of the limits, half of the rest on either side.

    Examples
    --------
    >>> binomial_limits(20)
    (0.85, 1.0)
    """
    if number == 0:
        return 0.0, 1.0
    tail = (1.0 - within) / 2.0
    low, high = stats.binom.ppf([tail, 1.0 - tail], number, probability)
    return float(low / number), float(high / number)


def score(outcomes: Sequence[Outcome], failures: int = 0) -> Score:
    """Summarise outcomes; with none of them every number but the failures is NaN or 0."""
    if not outcomes:
        nan = float("nan")
        return Score(0, failures, nan, nan, nan, nan, 0, nan, 0)
    errors = np.array([outcome.error for outcome in outcomes])
    size = np.abs(errors)
    return Score(
        number=len(outcomes),
        failures=failures,
        bias=float(errors.mean()),
        median=float(np.median(size)),
        p90=float(np.percentile(size, 90)),
        largest=float(size.max()),
        held=sum(outcome.held for outcome in outcomes),
        width=float(np.median([outcome.high - outcome.low for outcome in outcomes])),
        blunders=sum(outcome.blunder for outcome in outcomes),
    )
