"""What the drawer gives a wheel, as sentences that every place shows."""

from __future__ import annotations

from collections.abc import Iterable

from hubsight.model.catalogue import SIDE_WORDS
from hubsight.model.own_stock import OwnStock, StockLine
from hubsight.show.chance import percent

PLACES = {"mean": "", "outer": " in outer bores", "inner": " in inner bores"}
"""What is said of the bores that a length goes into."""


def own_stock_sentences(own: OwnStock) -> tuple[str, ...]:
    """Return what to take, what to order, what is left over, and the risk."""
    return tuple(_sentences(own))


def _sentences(own: OwnStock) -> Iterable[str]:
    taken = [line for line in own.lines if line.source == "drawer"]
    if not taken:
        yield "The drawer has no spokes that fit"
    for line in taken:
        yield f"Take {_words(own, line)}"
    for order in own.order:
        sides = " and ".join(SIDE_WORDS[side].lower() for side in order.sides)
        yield f"Order {order.count} of {order.length:g} mm for the {sides}, and {order.spares} spare"
    ordered = [line for line in own.lines if line.source == "order"]
    for line in ordered if len(ordered) > len(own.order) else ():
        yield f"Of those ordered, {_words(own, line)}"
    if taken and not own.order:
        yield "Nothing has to be ordered"
    if own.left_over:
        left = ", ".join(f"{one.count} of {one.length:g} mm" for one in own.left_over)
        yield f"Left over for spares: {left}"
    each = ", ".join(
        f"{SIDE_WORDS[risk.side].lower()} {percent(risk.p_too_short)} too short and "
        f"{percent(risk.p_too_long)} too long"
        for risk in own.risks
    )
    yield f"Risk with these spokes: {each}; of the whole wheel {percent(own.p_wrong)}"
    yield from own.notes


def _words(own: OwnStock, line: StockLine) -> str:
    """Say how many of which length go where; rim holes are named where a side's differ."""
    angles = {one.alpha for one in own.lines if (one.side, one.bore) == (line.side, line.bore)}
    angle = f", to rim holes at {line.alpha:.1f}°" if len(angles) > 1 else ""
    side = SIDE_WORDS[line.side].lower()
    return f"{line.count} of {line.length:g} mm for the {side}{PLACES[line.bore]}{angle}"
