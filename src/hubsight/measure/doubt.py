"""A doubt of a side's figures: what contradicts what, and what figures would be by the other side of it."""

from __future__ import annotations

from dataclasses import dataclass, field

from hubsight.model.verdict import Reason


@dataclass(frozen=True)
class Doubt:
    """A reason, and what figures would be if the other side of the contradiction were right.

    ``source`` names it in their budgets.
    """

    reason: Reason
    instead: dict[str, float] = field(default_factory=dict)
    source: str = "photos that disagree"
