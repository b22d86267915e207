"""What the figures' uncertainties consist of, as bars."""

from __future__ import annotations

import math
from dataclasses import dataclass

from hubsight.model.catalogue import OF_SIDE
from hubsight.model.figure import BudgetItem, Figure
from hubsight.model.result import MeasuredSide

SHOWN_SHARES = 6
"""Largest contributions of a budget that are shown one by one; the rest is taken together."""


@dataclass(frozen=True)
class Share:
    """One bar of a budget; ``width`` is its length in parts of the whole uncertainty."""

    source: str
    u: float
    width: float


@dataclass(frozen=True)
class Budget:
    """The bars of one figure."""

    words: str
    u: float
    shares: tuple[Share, ...]


def side_budgets(side: MeasuredSide) -> tuple[Budget, ...]:
    """Return the budgets of a side's figures, the spoke length's first."""
    figures = {} if side.measurement is None else side.measurement.figures
    budgets = [
        _budget(entry.words, figures[name])
        for name, entry in OF_SIDE.items()
        if entry.budgeted and name in figures
    ]
    if side.spoke_lengths is not None:
        budgets.insert(0, _budget("spoke length", side.spoke_lengths.length))
    return tuple(budget for budget in budgets if budget.shares)


def _budget(words: str, figure: Figure) -> Budget:
    """Return the largest contributions and the rest taken together, as lengths of bars."""
    ordered = sorted((item for item in figure.budget if item.u > 0), key=lambda item: -item.u)
    few, rest = ordered[:SHOWN_SHARES], ordered[SHOWN_SHARES:]
    if rest:
        together = math.hypot(*(item.u for item in rest))
        few.append(BudgetItem(source=f"{len(rest)} smaller ones together", u=together))
    whole = max(figure.u, *(item.u for item in few)) if few else 1.0
    return Budget(words, figure.u, tuple(Share(item.source, item.u, item.u / whole) for item in few))
