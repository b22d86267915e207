"""What the drawer gives a wheel: spokes to take, spokes to order, and what is left over; lengths in mm."""

from __future__ import annotations

from typing import Literal

from hubsight.model.frozen import Frozen
from hubsight.model.stated import Bore, SideName


class StockLine(Frozen):
    """Spokes of one length for one sort of place in the wheel.

    Attributes
    ----------
    side, bore, alpha, needed
        Where they go: the side, the bore, the angle to the rim hole in degrees, and the computed length.
    source
        Whether they are taken from the drawer, or have to be ordered.
    lot
        Which of the drawer's lots they are, from 0; None for those to order.
    count, length
        How many, and how long.
    end
        Where their ends come to lie in the tensioned wheel, from the nipple's zero, outwards.
    """

    side: SideName
    bore: Bore
    alpha: float
    needed: float
    source: Literal["drawer", "order"]
    lot: int | None = None
    count: int
    length: float
    end: float


class ToOrder(Frozen):
    """What the drawer lacks: spokes of one length, for which sides, with spares."""

    sides: tuple[SideName, ...]
    count: int
    spares: int
    length: float


class LeftOver(Frozen):
    """Spokes that stay in the drawer after the build, of those that would have fitted; for spares."""

    length: float
    count: int


class SideRisk(Frozen):
    """The risk of a side laced like this: probability that any of its spokes is too short, and too long."""

    side: SideName
    p_too_short: float
    p_too_long: float


class OwnStock(Frozen):
    """The wheel from the drawer.

    Attributes
    ----------
    lines
        Which spokes go where.
    order
        What to order; empty where the drawer has them all.
    left_over
        What stays, among the lengths that were looked at.
    risks
        Of each side.
    p_wrong
        Probability that any spoke of the wheel ends outside of its nipple's window.
    allowed
        Weighted risk up to which a length from the drawer was taken rather than a better one ordered.
    notes
        What to know of it.
    """

    lines: tuple[StockLine, ...]
    order: tuple[ToOrder, ...] = ()
    left_over: tuple[LeftOver, ...] = ()
    risks: tuple[SideRisk, ...] = ()
    p_wrong: float = 0.0
    allowed: float = 0.0
    notes: tuple[str, ...] = ()
