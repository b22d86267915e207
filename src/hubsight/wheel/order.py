"""The wheel's plan: lengths, tension and stock lengths of both sides, and the list to order from; mm."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from hubsight.model.lengths import OrderLine
from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading, SideName
from hubsight.wheel.choice import CUT_U_MM, SHORT_WEIGHT, Choice, choose, task
from hubsight.wheel.elastic import RimSection, SideUnderTension, wheel_under_tension
from hubsight.wheel.geometry import RimGeometry, SideGeometry
from hubsight.wheel.length import DIRECTIONS_WARN_MM, LengthResult, SpokeLength, side_length
from hubsight.wheel.lot import Head, Lot
from hubsight.wheel.nipple import SPOKE_THREAD_MM, Nipple, Stock, Window, nipple_window
from hubsight.wheel.simulate import (
    DRAWS,
    OrderedSpokes,
    SampledRisk,
    sample_lengths,
    sampled_risk,
    wheel_risk,
)
from hubsight.wheel.wire import USUAL_WIRE_MM, SpokeWire, plain

WORKING_TENSION_N = Reading(1000.0, 150.0)
"""Tension of a spoke on the tighter side, N (common practice, no source)."""

SPARES = 2
"""Spare spokes of each length (common practice, no source)."""

SEED = 101
"""Seed of the Monte Carlo check, so that the same wheel gives the same numbers."""


@dataclass(frozen=True)
class Build:
    """How the wheel is to be built.

    Attributes
    ----------
    stock
        What lengths can be had.
    nipple, window
        The nipple, and its window where the user knows better than `nipple_window`.
    spoke_thread
        Length of the spokes' thread.
    wires
        Of the drive and the non-drive side.
    tension
        Of a spoke on the tighter side, N.
    section
        Of the rim.
    spares
        Spare spokes of each length.
    u_cut, short_weight
        See `hubsight.wheel.choice`.
    drawer
        Spokes at hand.
    draws
        Of the samples by which risks are checked.
    """

    stock: Stock = field(default_factory=Stock)
    nipple: Nipple = field(default_factory=Nipple)
    window: Window | None = None
    spoke_thread: float = SPOKE_THREAD_MM
    wires: tuple[SpokeWire, SpokeWire] = (plain(USUAL_WIRE_MM), plain(USUAL_WIRE_MM))
    tension: Reading = WORKING_TENSION_N
    section: RimSection = field(default_factory=RimSection)
    spares: int = SPARES
    u_cut: float = CUT_U_MM
    short_weight: float = SHORT_WEIGHT
    drawer: tuple[Lot, ...] = ()
    draws: int = DRAWS

    def wire(self, side: SideName) -> SpokeWire:
        """Return the wire of a side."""
        return self.wires[0] if side == "drive" else self.wires[1]

    @property
    def nipple_window(self) -> Window:
        """Where the spokes' ends may lie."""
        return self.window or nipple_window(self.nipple, self.spoke_thread)


@dataclass(frozen=True)
class PlannedLength:
    """Spokes that are ordered in one length: their sorts, the choice, and its risk by Monte Carlo."""

    spokes: tuple[SpokeLength, ...]
    choice: Choice
    sampled: SampledRisk

    @property
    def count(self) -> int:
        """Number of spokes of this length."""
        return sum(spoke.count for spoke in self.spokes)


@dataclass(frozen=True)
class PlannedSide:
    """One side: geometry, computed lengths, what tension does, and the lengths to order."""

    geometry: SideGeometry
    lengths: LengthResult
    tension: SideUnderTension
    orders: tuple[PlannedLength, ...]


@dataclass(frozen=True)
class WheelPlan:
    """The planned wheel; a side that was refused is in ``refusals``.

    ``p_wrong`` is the probability that at least one of its spokes ends outside of the nipple's window; None
    without a side.
    """

    sides: tuple[PlannedSide, ...]
    refusals: tuple[tuple[SideName, Refusal], ...]
    rim: RimGeometry
    build: Build
    rim_shrink: float
    notes: tuple[str, ...] = ()
    p_wrong: float | None = None


def plan_wheel(sides: Sequence[SideGeometry], rim: RimGeometry, build: Build) -> WheelPlan | Refusal:
    """Plan a wheel from the geometry of one or both sides.

    A side without lengths is refused alone; sides that do not fill the rim together are refused as a wheel.
    """
    if len(sides) == 2 and sum(side.spokes for side in sides) != rim.spokes:
        both = " and ".join(str(side.spokes) for side in sides)
        return Refusal(
            reason=f"the two sides take {both} spokes, the rim has {rim.spokes} holes",
            remedy="Check the boss counts and the number of spokes",
            about="wheel.spokes",
        )
    lengths = [(side, side_length(side, rim)) for side in sides]
    refusals = tuple((side.name, result) for side, result in lengths if isinstance(result, Refusal))
    good = [(side, result) for side, result in lengths if isinstance(result, LengthResult)]
    if not good:
        return WheelPlan((), refusals, rim, build, 0.0)
    loaded = tuple((side, result, build.wire(side.name)) for side, result in good)
    wheel = wheel_under_tension(loaded, rim, build.tension, build.section)
    planned: list[PlannedSide] = []
    for (side, result), tension in zip(good, wheel.sides, strict=True):
        unavailable = _refuse_stock(result, tension, build)
        if unavailable is None:
            planned.append(_plan_side(side, result, rim, tension, build))
        else:
            refusals = (*refusals, (side.name, unavailable))
    wrong = _wheel_risk(planned, rim, build) if planned else None
    return WheelPlan(tuple(planned), refusals, rim, build, wheel.shrink, wheel.warnings, wrong)


def _wheel_risk(sides: Sequence[PlannedSide], rim: RimGeometry, build: Build) -> float:
    """Return the probability that either side of the wheel is wrong."""
    orders = [
        OrderedSpokes(side.geometry, order.spokes, order.choice.proposed.length, side.tension.sits)
        for side in sides
        for order in side.orders
    ]
    rng = np.random.default_rng(SEED)
    window, u_cut = build.nipple_window, build.u_cut
    return wheel_risk(orders, rim, window=window, u_cut=u_cut, draws=build.draws, rng=rng)


def _refuse_stock(lengths: LengthResult, tension: SideUnderTension, build: Build) -> Refusal | None:
    """Refuse a stock whose lengths all end short of the nipple's window in the tensioned wheel."""
    longest, stock = max(spoke.value for spoke in lengths.spokes), build.stock
    least = longest - tension.sits.value + build.nipple_window.low
    if stock.has(stock.index_at_least(least)):
        return None
    return Refusal(
        reason=f"no stated stock length reaches {least:.1f} mm: the longest is {stock.lengths[-1]:g} mm",
        remedy="State longer stock_lengths in [spokes], or have the spokes cut to order",
    )


def order_list(plan: WheelPlan) -> tuple[OrderLine, ...]:
    """Return what to order: one line for each side and length."""
    return tuple(_order_line(side, order, plan.build) for side in plan.sides for order in side.orders)


def order_notes(plan: WheelPlan) -> tuple[str, ...]:
    """Return what to mind of an order: like heads, and sides that are laced differently."""
    sides = [side.geometry for side in plan.sides]
    notes = []
    if any(side.kind != "j_bend" for side in sides):
        notes.append(
            "Order spokes with heads like the gauge's: the length counts from where its head seats, and a "
            "head"
            " of another shape seats elsewhere; lay one beside the gauge"
        )
    if len({(side.kind, side.spokes, side.crosses) for side in sides}) > 1:
        each = "; ".join(_laced(side) for side in sides)
        notes.append(f"The sides are laced differently, keep their spokes apart: {each}")
    return tuple(notes)


def _laced(side: SideGeometry) -> str:
    name = side.name.replace("_", "-")
    if side.kind != "paired" and side.crosses == 0:
        return f"{name} side {side.spokes} radial spokes"
    return f"{name} side {side.spokes} spokes, {side.crosses} {'cross' if side.crosses == 1 else 'crosses'}"


def _groups(lengths: LengthResult) -> tuple[tuple[SpokeLength, ...], ...]:
    """Return the sorts that share one length: all of them, unless they differ too much."""
    if lengths.difference <= DIRECTIONS_WARN_MM:
        return (lengths.spokes,)
    return tuple((spoke,) for spoke in lengths.spokes)


def _plan_side(
    side: SideGeometry, lengths: LengthResult, rim: RimGeometry, tension: SideUnderTension, build: Build
) -> PlannedSide:
    """Choose the lengths of one side, and sample their risks."""
    window = build.nipple_window
    rng = np.random.default_rng(SEED)
    orders = []
    for spokes in _groups(lengths):
        job = task(
            spokes, tension.sits, window, build.stock, u_cut=build.u_cut, short_weight=build.short_weight
        )
        choice = choose(job)
        drawn = sample_lengths(side, rim, spokes, build.draws, rng)
        sampled = sampled_risk(
            drawn,
            choice.proposed.length,
            counts=[spoke.count for spoke in spokes],
            sits=tension.sits,
            window=window,
            u_cut=build.u_cut,
            rng=rng,
        )
        orders.append(PlannedLength(spokes, choice, sampled))
    return PlannedSide(side, lengths, tension, tuple(orders))


def head_of(side: SideGeometry) -> Head:
    """Return what heads a side's spokes have."""
    return "J-bend" if side.kind == "j_bend" else "straight-pull"


def _order_line(side: PlannedSide, order: PlannedLength, build: Build) -> OrderLine:
    wire = build.wire(side.geometry.name)
    bent = side.geometry.kind == "j_bend"
    return OrderLine(
        side=side.geometry.name,
        count=order.count,
        spares=build.spares,
        length=order.choice.proposed.length,
        head=head_of(side.geometry),
        wire=wire.name,
        thread=wire.thread_in_full,
        measured="from inside the elbow to the end" if bent else "from under the head to the end",
        nipple=f"{build.nipple.name}, thread {wire.thread}",
        steel=wire.steel,
        make=wire.make,
    )
