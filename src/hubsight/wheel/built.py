"""What the real wheel says: where spoke ends came to lie, whether a wheel's spokes fit the computed length.

Lengths in mm; positions of spoke ends from the bottom of the nipple's slot, positive outwards.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, stdev
from typing import Literal

from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading
from hubsight.model.uncertainty import COVERAGE_FACTOR, coverage_factor, fewest_inside, normalised_error
from hubsight.wheel.choice import Task

END_READING_U_MM = 0.3
"""Standard uncertainty of where a spoke's end lies, as read in one nipple (common practice, no source)."""

SPOKE_READING_U_MM = 0.3
"""Standard uncertainty of a spoke's length, as read with a tape or ruler (common practice, no source)."""


@dataclass(frozen=True)
class AsBuilt:
    """One side after lacing and truing.

    Attributes
    ----------
    predicted, observed
        Mean position of the spokes' ends.
    difference
        Observed minus predicted: positive if the side needed shorter spokes than computed.
    e_n
        Normalised error.
    zero
        From where the ends count.
    """

    predicted: Reading
    observed: Reading
    difference: float
    e_n: float
    zero: str = "the slot's bottom"

    def sentence(self) -> str:
        """Return one sentence for the user."""
        seen = (
            f"the ends lie {self.observed.value:+.1f} mm from {self.zero},"
            f" {self.predicted.value:+.1f} mm predicted"
        )
        if abs(self.e_n) <= 1.0:
            return f"{seen}: as computed"
        way = "shorter" if self.difference > 0.0 else "longer"
        return f"{seen}: this side needed spokes {abs(self.difference):.1f} mm {way} than computed"


def as_built(
    predicted: Reading,
    ends: Sequence[float],
    u_reading: float = END_READING_U_MM,
    zero: str = "the slot's bottom",
) -> AsBuilt | Refusal:
    """Compare where the ends came to lie with the prediction.

    Parameters
    ----------
    predicted
        Position of the ends for the spokes that were built in (`hubsight.wheel.choice.Candidate.end`).
    ends
        Readings on one or several spokes of the side.
    u_reading
        Of one reading; a larger scatter among them counts instead.
    zero
        From where they count.
    """
    if not ends or not all(math.isfinite(end) for end in ends):
        return Refusal(
            reason="it is not noted where the spokes' ends came to lie",
            remedy="Note for a few spokes how far the end lies from the bottom of the nipple's slot",
        )
    scatter = max(u_reading, stdev(ends)) if len(ends) > 1 else u_reading
    observed = Reading(fmean(ends), scatter / math.sqrt(len(ends)))
    e_n = normalised_error(
        observed.value, COVERAGE_FACTOR * observed.u, predicted.value, COVERAGE_FACTOR * predicted.u
    )
    return AsBuilt(predicted, observed, observed.value - predicted.value, e_n, zero)


@dataclass(frozen=True)
class OverJobs:
    """All sides built so far.

    Attributes
    ----------
    sides
        How many.
    bias
        Mean difference and its standard uncertainty.
    scatter
        Standard deviation of the differences.
    inside, least_inside
        Sides whose 95 % interval held, and the fewest to be expected (binomial, 95 %).
    """

    sides: int
    bias: Reading
    scatter: float
    inside: int
    least_inside: int

    def sentence(self) -> str:
        """Return what the built wheels say of the computed lengths."""
        parts = [f"{self.sides} sides built: ends {self.bias.value:+.2f} mm from where predicted on average"]
        if abs(self.bias.value) > coverage_factor(self.sides - 1) * self.bias.u:
            way = "shorter" if self.bias.value > 0.0 else "longer"
            parts.append(f"the spokes were needed {way} than computed, more than by chance")
        if self.inside < self.least_inside:
            parts.append("the uncertainties are stated too small")
        return "; ".join(parts)


def over_jobs(sides: Sequence[AsBuilt]) -> OverJobs | Refusal:
    """Sum up what the built wheels say: bias, scatter, and whether the intervals held."""
    if len(sides) < 2:
        return Refusal(
            reason="fewer than two sides have been built and noted",
            remedy="Note where the spoke ends came to lie after each wheel",
        )
    differences = [side.difference for side in sides]
    scatter = stdev(differences)
    return OverJobs(
        sides=len(sides),
        bias=Reading(fmean(differences), scatter / math.sqrt(len(sides))),
        scatter=scatter,
        inside=sum(abs(side.e_n) <= 1.0 for side in sides),
        least_inside=fewest_inside(len(sides)),
    )


@dataclass(frozen=True)
class Replacement:
    """Whether a wheel's spokes fit the computed length, and what to order for a broken one.

    Attributes
    ----------
    measured
        Length of the wheel's spokes without tension.
    fit
        Whether such a spoke ends inside of the nipple's window by the computed length.
    order
        Nearest stock length to the measured one: the new spoke is to be like the others.
    sentence
        For the user.
    """

    measured: Reading
    fit: Literal["fits", "doubtful", "does not fit"]
    order: float
    sentence: str


def replacement(
    job: Task,
    spokes: Sequence[float],
    *,
    stretch: float = 0.0,
    u_reading: float = SPOKE_READING_U_MM,
) -> Replacement | Refusal:
    """Compare the wheel's other spokes, or the broken one, with the computed length.

    Parameters
    ----------
    job
        The side's task, see `hubsight.wheel.choice.task`.
    spokes
        Measured lengths.
    stretch
        Of a spoke under tension if they were measured in the wheel, else 0.
    u_reading
        Of one reading.
    """
    if not spokes or not all(math.isfinite(length) and length > 0.0 for length in spokes):
        return Refusal(
            reason="there is no spoke length to compare with",
            remedy="Measure the broken spoke, or one of the same side in the wheel",
        )
    measured = Reading(fmean(spokes) - stretch, u_reading / math.sqrt(len(spokes)))
    expanded = COVERAGE_FACTOR * math.hypot(measured.u, job.u_length, job.sits.u)
    seat = measured.value + job.sits.value
    short = job.window.low - (seat - job.longest)
    long = (seat - job.shortest) - job.window.high
    beyond = max(short, long)
    above = job.stock.index_at_least(measured.value)
    order = min((job.stock.length(above - 1), job.stock.length(above)), key=lambda x: abs(x - measured.value))
    known = f"the wheel's spokes measure {measured.value:.1f} mm, computed are {job.longest:.1f} mm"
    if beyond <= 0.0:
        return Replacement(measured, "fits", order, f"{known}: they fit; order {order:g} mm")
    what = "shorter" if short > long else "longer"
    if beyond <= expanded:
        return Replacement(
            measured,
            "doubtful",
            order,
            f"{known}: they may be {what} than fits; order {order:g} mm like the others",
        )
    return Replacement(
        measured,
        "does not fit",
        order,
        f"{known}: they are {beyond:.1f} mm {what} than fits; check side, crosses, ERD and the figures first",
    )
