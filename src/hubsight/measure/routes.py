"""Whether the spoke offset by the reach and that by the boss' width agree. Lengths in mm."""

from __future__ import annotations

import math
from collections.abc import Mapping

from hubsight.model.figure import Figure
from hubsight.model.side import FigureName
from hubsight.model.uncertainty import chance_limit


def routes_apart(figures: Mapping[FigureName, Figure]) -> list[str]:
    """Say so where the offset by the boss' width contradicts that by the reach.

    By more than their difference may be off by chance, `hubsight.model.uncertainty.chance_limit`: how far a
    boss may be lopsided stands in the budget of the width's route.
    """
    by_width, by_reach = figures.get("spoke_offset_by_width"), figures.get("spoke_offset")
    if by_width is None or by_reach is None:
        return []
    apart = abs(by_width.value - by_reach.value)
    if apart <= chance_limit() * u_of_difference(by_width, by_reach):
        return []
    return [
        f"the offset by the boss' width lies {apart:.1f} mm from that by the reach: the boss is lopsided, or "
        "one of its faces was misread; compare boss width and protrusion with a caliper"
    ]


def u_of_difference(one: Figure, other: Figure) -> float:
    """Return the standard uncertainty of the difference of two figures of one side.

    A source in both budgets (the gauge's length, its end, its seating) moves both alike: only what it does
    more to one of them counts.
    """
    first, second = ({item.source: item.u for item in figure.budget} for figure in (one, other))
    return math.hypot(*(first.get(source, 0.0) - second.get(source, 0.0) for source in first | second))
