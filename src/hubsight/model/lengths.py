"""Spoke lengths and what to order, as parts of a job's result.

Lengths in mm, tensions in N, angles in degrees. Positions of spoke ends count from the bottom of the nipple's
slot, positive outwards.
"""

from __future__ import annotations

from typing import Literal

from hubsight.model.cautions import CAUTIONS
from hubsight.model.figure import Figure
from hubsight.model.frozen import Frozen
from hubsight.model.own_stock import OwnStock
from hubsight.model.stated import Bore, SideName
from hubsight.model.verdict import Reason

SideKind = Literal["paired", "radial", "j_bend"]


class StockRisk(Frozen):
    """A stock length: where the spokes' ends would lie in the tensioned wheel, and the risk of a bad fit."""

    length: float
    end: float
    p_too_short: float
    p_too_long: float


class SortLength(Frozen):
    """The computed length of one sort of spoke: through which bore, to rim holes at which angle, how many."""

    bore: Bore
    alpha: float | None
    count: int
    length: Figure


class LengthChoice(Frozen):
    """Spokes that are ordered in one length.

    Attributes
    ----------
    count
        How many.
    proposed, rounded_up
        Length of least risk, and the next one that is not shorter than the computed length.
    candidates
        The proposed length, its neighbours and the rounded-up one.
    sampled_too_short, sampled_too_long
        The proposed length's risks by Monte Carlo, as a check.
    p_other, close_call
        Probability that the true length asks for another stock length, and whether that is much.
    u_end
        Standard uncertainty of where the spokes' ends will lie.
    rival
        In a close call the other length.
    """

    count: int
    proposed: StockRisk
    rounded_up: StockRisk
    candidates: tuple[StockRisk, ...]
    sampled_too_short: float
    sampled_too_long: float
    p_other: float
    close_call: bool
    u_end: float
    rival: StockRisk | None = None


class UsedFigure(Frozen):
    """A figure that the lengths rest on: mm, its standard uncertainty, and where it comes from.

    ``per_mm`` is by how much the spoke length changes with it; None where that was not worked out.
    """

    name: str
    value: float
    u: float
    source: str
    per_mm: float | None = None


class Origin(Frozen):
    """What a side's lengths were computed from.

    Attributes
    ----------
    kind, bosses, crosses
        Kind of flange, its bosses (radial: bores, J-bend: holes), and the crosses.
    crosses_stated
        False when they were read off the photos.
    figures
        Every figure that went in.
    """

    kind: SideKind
    bosses: int
    crosses: int
    crosses_stated: bool
    figures: tuple[UsedFigure, ...]

    def figure(self, name: str) -> UsedFigure | None:
        """Return the figure of a name that went in."""
        return next((figure for figure in self.figures if figure.name == name), None)


class SideOrder(Frozen):
    """What to order for a side, and what that does in the tensioned wheel.

    Attributes
    ----------
    proposed
        Stock length to order; of the first of ``choices`` where the side takes several.
    p_too_short, p_too_long, close_call
        Of the proposed length; the worst of several.
    choices
        One where the side is ordered in one length.
    window, window_reasons
        Lowest and highest place for a spoke's end in the nipple, and what happens below and beyond.
    zero, seat
        From where these places count, and where the spoke enters an internal nipple; None for other nipples.
    tension, bracing_angle, stretch, sits
        Of a spoke in the finished wheel; ``sits`` is by how much its end lies farther out than on the bench.
    in_wheel
        Length of the proposed spoke under tension.
    """

    proposed: float
    p_too_short: float
    p_too_long: float
    close_call: bool
    choices: tuple[LengthChoice, ...]
    window: tuple[float, float]
    window_reasons: tuple[str, str] = ("", "")
    zero: str = "the slot's bottom"
    seat: float | None = None
    tension: float
    bracing_angle: float
    stretch: float
    sits: float
    in_wheel: float


class SideLengths(Frozen):
    """The spoke lengths of one side.

    Attributes
    ----------
    origin
        What they were computed from.
    length
        Mean over the side's spokes.
    sorts
        Computed lengths of all sorts of spoke.
    order
        What to order; None where no stock was chosen from.
    warnings, notes
        What may be wrong with them, and what has to be known before cutting or ordering.
    doubts
        What has to be settled before an order.
    """

    origin: Origin
    length: Figure
    sorts: tuple[SortLength, ...]
    order: SideOrder | None = None
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    doubts: tuple[Reason, ...] = ()


class OrderLine(Frozen):
    """One line of the order.

    Attributes
    ----------
    side
        For which side of the wheel.
    count, spares
        Spokes in the wheel, and spare ones on top.
    length
        mm.
    head
        ``"straight-pull"`` or ``"J-bend"``.
    wire, thread, steel
        Standard designations.
    make
        What the trade calls the spoke's shape: plain gauge, butted, bladed.
    measured
        How the length is measured.
    nipple
        What nipples, one a spoke.
    """

    side: SideName
    count: int
    spares: int
    length: float
    head: str
    wire: str
    thread: str
    measured: str
    nipple: str
    steel: str = ""
    make: str = ""


class PlannedWheel(Frozen):
    """What concerns both sides of the planned wheel.

    Attributes
    ----------
    order
        What to order; empty where the verdict is to stop.
    order_notes
        What to mind of it.
    erd, erd_readings
        As it went in, and the single readings.
    rim_offset
        Of the spoke holes from the rim's middle, positive towards the drive side.
    tension_ratio
        Tension of the slacker side over that of the tighter one; None with one side only.
    rim_shrink
        Shrinking of the rim's radius in the tensioned wheel.
    p_wrong
        Probability that at least one spoke of the wheel, on either side, ends outside of the nipple's window.
    own_stock
        The wheel from the drawer; None where no drawer is stated, or the verdict is to stop.
    erd_definition
        What the ERD is.
    inches
        Whether lengths are shown in inches too; the document is in mm.
    cautions
        What everybody has to mind who acts on this.
    warnings, notes
        What may be wrong, and what has to be known.
    """

    order: tuple[OrderLine, ...] = ()
    order_notes: tuple[str, ...] = ()
    erd: UsedFigure | None = None
    erd_readings: tuple[float, ...] = ()
    rim_offset: float = 0.0
    tension_ratio: float | None = None
    rim_shrink: float = 0.0
    p_wrong: float | None = None
    own_stock: OwnStock | None = None
    erd_definition: str = ""
    inches: bool = False
    cautions: tuple[str, ...] = CAUTIONS
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
