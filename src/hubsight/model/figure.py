"""A measured figure: value, standard uncertainty, 95 % interval, budget and how it was seen."""

from __future__ import annotations

import math
from typing import Literal

from hubsight.model.frozen import Frozen
from hubsight.model.stated import Reading
from hubsight.model.uncertainty import COVERAGE_FACTOR

Confidence = Literal["good", "fair", "poor"]

GOOD_U_MM, FAIR_U_MM = 0.15, 0.4
"""Limits of the words good and fair: a nipple forgives about 1 mm either way."""


def confidence_word(u: float, *, warned: bool) -> Confidence:
    """Return the word for a standard uncertainty in mm; what has a warning is never good."""
    if u < GOOD_U_MM and not warned:
        return "good"
    return "fair" if u < FAIR_U_MM else "poor"


class BudgetItem(Frozen):
    """One input's share of a figure's standard uncertainty."""

    source: str
    u: float


class Figure(Frozen):
    """A measured figure.

    Attributes
    ----------
    value, u, low, high
        Best estimate, standard uncertainty and the limits of the 95 % interval, in ``unit``.
    unit
        ``"mm"``, ``"deg"`` or ``"1"`` (a ratio).
    budget
        Contributions whose root sum of squares is ``u``.
    seen
        What the figure rests on, in a few words.
    confidence, reasons
        A plain word of confidence and why it is not better.
    warnings
        Sentences that the user has to read before using the figure.
    """

    value: float
    u: float
    low: float
    high: float
    unit: Literal["mm", "deg", "1"] = "mm"
    budget: tuple[BudgetItem, ...] = ()
    seen: str = ""
    confidence: Confidence = "good"
    reasons: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def reading(self) -> Reading:
        """Value and standard uncertainty alone."""
        return Reading(self.value, self.u)

    def warned(self, *sentences: str) -> Figure:
        """Return the figure with further warnings, and the word of confidence that goes with them."""
        if not sentences:
            return self
        word = confidence_word(self.u, warned=True)
        return self.model_copy(update={"warnings": (*self.warnings, *sentences), "confidence": word})

    def holding(self, other: float, source: str) -> Figure:
        """Return the figure with an interval that holds another value too.

        ``source`` says in the budget what makes it so wide.
        """
        more = abs(other - self.value) / COVERAGE_FACTOR
        u = math.hypot(self.u, more)
        return self.model_copy(
            update={
                "u": u,
                "low": self.value - COVERAGE_FACTOR * u,
                "high": self.value + COVERAGE_FACTOR * u,
                "budget": _with_share(self.budget, source, more),
                "confidence": confidence_word(u, warned=bool(self.warnings)),
            }
        )


def _with_share(budget: tuple[BudgetItem, ...], source: str, u: float) -> tuple[BudgetItem, ...]:
    """Return a budget with one more share, the largest first."""
    items = {item.source: item.u for item in budget}
    items[source] = math.hypot(items.get(source, 0.0), u)
    ordered = sorted(items.items(), key=lambda item: -item[1])
    return tuple(BudgetItem(source=name, u=share) for name, share in ordered)


def normal_figure(value: float, budget: tuple[BudgetItem, ...], seen: str) -> Figure:
    """Return a figure in mm with a normal 95 % interval, its uncertainty that of the budget."""
    u = math.hypot(*(item.u for item in budget))
    half = COVERAGE_FACTOR * u
    return Figure(
        value=value,
        u=u,
        low=value - half,
        high=value + half,
        budget=budget,
        seen=seen,
        confidence=confidence_word(u, warned=False),
    )
