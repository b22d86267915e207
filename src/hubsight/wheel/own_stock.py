"""A wheel from the spokes in the drawer: which to take for which bores, and what to order. Lengths in mm.

A length may serve a sort of spoke where the risk allows: that of all its spokes in that length is at most
`RISK_ALLOWED`, or no more than that of the best length that can be ordered. Of all ways to fill the wheel
with such lengths the one counts that orders the fewest lengths, then mixes the fewest, then orders the fewest
spokes, then risks least: an integer programme, which `scipy.optimize.milp` solves to the end.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import LinearConstraint, milp

from hubsight.model.own_stock import LeftOver, OwnStock, SideRisk, StockLine, ToOrder
from hubsight.model.stated import SideName
from hubsight.model.uncertainty import FloatArray
from hubsight.wheel.choice import Candidate, Task, judge, least_risk_index, task
from hubsight.wheel.length import SpokeLength
from hubsight.wheel.lot import Lot
from hubsight.wheel.order import SEED, Build, PlannedSide, WheelPlan, head_of
from hubsight.wheel.scatter import Need, log_any_below, lot_and_spoke
from hubsight.wheel.simulate import DRAWS, OrderedSpokes, wheel_risk

RISK_ALLOWED = 0.02
"""Weighted risk of a side up to which a length at hand is taken although a better one could be ordered, too
short counting as in `hubsight.wheel.choice`; raising it orders less and risks more (a guess; no source)."""


@dataclass(frozen=True)
class Demand:
    """One sort of spoke that a wheel needs, and what each length would risk.

    Attributes
    ----------
    side, spoke
        Whose, and which sort.
    lots
        Numbers of the lots that may serve, with the risk of one spoke each.
    orders
        The same of lengths that can be ordered.
    """

    side: PlannedSide
    spoke: SpokeLength
    lots: dict[int, float]
    orders: dict[float, float]


@dataclass(frozen=True)
class Filled:
    """A way to fill the wheel: spokes of each demand by lot, and by length to order."""

    taken: tuple[dict[int, int], ...]
    ordered: tuple[dict[float, int], ...]


def from_drawer(plan: WheelPlan) -> OwnStock:
    """Return what to take from the drawer for a planned wheel, and what to order."""
    lots, build = plan.build.drawer, plan.build
    demands = demands_of(plan.sides, lots, build)
    filled = fill(demands, lots)
    lines = tuple(_lines(demands, filled, lots))
    risks = tuple(_side_risk(side, _of_side(lines, side), build) for side in plan.sides)
    return OwnStock(
        lines=lines,
        order=tuple(_to_order(lines, build)),
        left_over=tuple(_left_over(demands, filled, lots)),
        risks=risks,
        p_wrong=_wheel_risk(plan, demands, filled, lots),
        allowed=RISK_ALLOWED,
        notes=tuple(_notes(demands, filled, lots, plan)),
    )


def demands_of(sides: Sequence[PlannedSide], lots: Sequence[Lot], build: Build) -> tuple[Demand, ...]:
    """Return the sorts of spoke of a wheel, each with the lengths that may serve it."""
    return tuple(
        _demand(side, spoke, lots, build) for side in sides for order in side.orders for spoke in order.spokes
    )


def _demand(side: PlannedSide, spoke: SpokeLength, lots: Sequence[Lot], build: Build) -> Demand:
    job = _task(side, (spoke,), build)
    best = judge(job, job.stock.length(least_risk_index(job)))
    most = max(RISK_ALLOWED, best.risk * (1.0 + 1e-9))
    fitting = {k: judge(job, lot.length) for k, lot in enumerate(lots) if _fits(lot, side, build)}
    ideal = spoke.value - side.tension.sits.value + build.nipple_window.middle
    near = [job.stock.length(n) for n in job.stock.near(ideal, 2.0 * job.u_end) if job.stock.has(n)]
    one = replace(job, counts=((spoke.value, 1),))
    return Demand(
        side,
        spoke,
        {k: judge(one, lots[k].length).risk for k, found in fitting.items() if found.risk <= most},
        {x: judge(one, x).risk for x in near if judge(job, x).risk <= most},
    )


def _fits(lot: Lot, side: PlannedSide, build: Build) -> bool:
    return lot.fits(build.wire(side.geometry.name), head_of(side.geometry))


def _task(side: PlannedSide, spokes: Sequence[SpokeLength], build: Build) -> Task:
    window, sits = build.nipple_window, side.tension.sits
    return task(spokes, sits, window, build.stock, u_cut=build.u_cut, short_weight=build.short_weight)


@dataclass(frozen=True)
class _Way:
    """A length that may serve a demand, from a lot or, with None, to be ordered; the risk of one spoke."""

    demand: int
    lot: int | None
    length: float
    risk: float


def fill(demands: Sequence[Demand], lots: Sequence[Lot]) -> Filled:
    """Return the best way to fill all demands, each with at least one length that can be ordered."""
    ways = [_Way(d, k, lots[k].length, risk) for d, one in enumerate(demands) for k, risk in one.lots.items()]
    ways += [_Way(d, None, x, risk) for d, one in enumerate(demands) for x, risk in one.orders.items()]
    counts = _counts(ways, [demand.spoke.count for demand in demands], [lot.count for lot in lots])
    taken: list[dict[int, int]] = [{} for _ in demands]
    ordered: list[dict[float, int]] = [{} for _ in demands]
    for way, count in zip(ways, counts, strict=True):
        if count and way.lot is not None:
            taken[way.demand][way.lot] = count
        elif count:
            ordered[way.demand][way.length] = count
    return Filled(tuple(taken), tuple(ordered))


def _counts(ways: Sequence[_Way], needed: Sequence[int], at_hand: Sequence[int]) -> list[int]:
    """Return how many spokes each way gets. Unknowns: these; whether a demand takes a length; its order."""
    lengths = sorted({way.length for way in ways if way.lot is None})
    mixes = sorted({(way.demand, way.length) for way in ways})
    size, total = len(ways), sum(needed)

    def rows(*parts: FloatArray) -> FloatArray:
        """Put coefficients of the three groups of unknowns side by side, zeros where there are none."""
        widths = (size, len(mixes), len(lengths))
        blocks = [
            part if part.size else np.zeros((len(parts[0]), n)) for part, n in zip(parts, widths, strict=True)
        ]
        return np.hstack(blocks)

    none = np.zeros((0, 0))
    of_demand = np.array([[float(way.demand == d) for way in ways] for d in range(len(needed))])
    of_lot = np.array([[float(way.lot == k) for way in ways] for k in range(len(at_hand))])
    to_order = np.array([[float(way.lot is None and way.length == x) for way in ways] for x in lengths])
    need = np.array([float(needed[way.demand]) for way in ways])
    of_mix = np.array([[float((way.demand, way.length) == mix) for way in ways] for mix in mixes])
    most_of_mix = np.array([float(needed[d]) for d, _ in mixes])
    rules = [
        LinearConstraint(rows(of_demand, none, none), needed, needed),
        LinearConstraint(rows(of_mix, -np.diag(most_of_mix), none), -np.inf, 0.0),
        LinearConstraint(rows(to_order, none, -total * np.eye(len(lengths))), -np.inf, 0.0),
    ]
    if at_hand:
        rules.append(LinearConstraint(rows(of_lot, none, none), 0.0, at_hand))
    # A length to order outweighs all lengths that a sort of spoke takes, and these all spokes to order.
    a_length, a_mix, a_spoke = 1e5, 1e3, 10.0
    risks = np.array([way.risk for way in ways])
    ordered = np.array([a_spoke * (way.lot is None) for way in ways])
    each = 5.0 * risks / (total * max(float(risks.max()), 1e-12)) + ordered
    cost = np.concatenate([each, np.full(len(mixes), a_mix), np.full(len(lengths), a_length)])
    most = np.concatenate([need, np.ones(len(mixes) + len(lengths))])
    found = milp(
        cost,
        integrality=np.ones(cost.size),
        bounds=(0.0, most),
        constraints=rules,
        options={"mip_rel_gap": 0.0},
    )
    return [round(float(count)) for count in found.x[:size]]


def _lines(demands: Sequence[Demand], filled: Filled, lots: Sequence[Lot]) -> Iterable[StockLine]:
    for demand, taken, ordered in zip(demands, filled.taken, filled.ordered, strict=True):
        mine: list[tuple[int | None, float, int]] = [(k, lots[k].length, n) for k, n in taken.items()]
        mine += [(None, length, count) for length, count in ordered.items()]
        for lot, length, count in mine:
            yield StockLine(
                side=demand.side.geometry.name,
                bore=demand.spoke.bore,
                alpha=demand.spoke.alpha,
                needed=demand.spoke.value,
                source="order" if lot is None else "drawer",
                lot=lot,
                count=count,
                length=length,
                end=length + demand.side.tension.sits.value - demand.spoke.value,
            )


def _of_side(lines: Sequence[StockLine], side: PlannedSide) -> list[StockLine]:
    return [line for line in lines if line.side == side.geometry.name]


def _side_risk(side: PlannedSide, lines: Sequence[StockLine], build: Build) -> SideRisk:
    """Return a side's risk with spokes of several lengths in it: each counts by how far off it is."""
    found = mixed_risk(
        _task(side, [spoke for order in side.orders for spoke in order.spokes], build),
        tuple((line.needed - line.length, line.count) for line in lines),
    )
    return SideRisk(side=side.geometry.name, p_too_short=found.p_too_short, p_too_long=found.p_too_long)


def mixed_risk(job: Task, off: Sequence[Need]) -> Candidate:
    """Return the risk of spokes of several lengths; ``off`` is needed less given length, with counts."""
    seat = job.sits.value
    _, scatter = lot_and_spoke(job.u_cut)
    low, high = seat - max(away for away, _ in off), seat - min(away for away, _ in off)
    short = log_any_below(low - job.window.low, off, job.u_common, scatter)
    mirrored = [(-away, count) for away, count in off]
    long = log_any_below(job.window.high - high, mirrored, job.u_common, scatter)
    p_short, p_long = math.exp(short), math.exp(long)
    return Candidate(0.0, (low + high) / 2.0, p_short, p_long, job.short_weight * p_short + p_long)


def _to_order(lines: Sequence[StockLine], build: Build) -> Iterable[ToOrder]:
    lengths = sorted({line.length for line in lines if line.source == "order"})
    for length in lengths:
        mine = [line for line in lines if line.source == "order" and line.length == length]
        sides: tuple[SideName, ...] = tuple(dict.fromkeys(line.side for line in mine))
        count = sum(line.count for line in mine)
        yield ToOrder(sides=sides, count=count, spares=build.spares, length=length)


def _left_over(demands: Sequence[Demand], filled: Filled, lots: Sequence[Lot]) -> Iterable[LeftOver]:
    """Yield what stays of the lots that would have served."""
    for k in sorted({k for demand in demands for k in demand.lots}, key=lambda k: lots[k].length):
        stays = lots[k].count - sum(taken.get(k, 0) for taken in filled.taken)
        if stays:
            yield LeftOver(length=lots[k].length, count=stays)


def _wheel_risk(plan: WheelPlan, demands: Sequence[Demand], filled: Filled, lots: Sequence[Lot]) -> float:
    orders = []
    for demand, taken, ordered in zip(demands, filled.taken, filled.ordered, strict=True):
        given = [(lots[k].length, count) for k, count in taken.items()] + list(ordered.items())
        sits = demand.side.tension.sits
        orders += [
            OrderedSpokes(demand.side.geometry, (replace(demand.spoke, count=count),), length, sits)
            for length, count in given
        ]
    rng, build = np.random.default_rng(SEED), plan.build
    return wheel_risk(orders, plan.rim, window=build.nipple_window, u_cut=build.u_cut, draws=DRAWS, rng=rng)


def one_length(plan: WheelPlan) -> OwnStock | None:
    """Return the order of one length for both sides where the risk allows it; None where it does not."""
    demands = demands_of(plan.sides, (), plan.build)
    filled = fill(demands, ())
    if len(plan.sides) < 2 or len({length for ordered in filled.ordered for length in ordered}) > 1:
        return None
    return from_drawer(replace(plan, build=replace(plan.build, drawer=())))


def _notes(demands: Sequence[Demand], filled: Filled, lots: Sequence[Lot], plan: WheelPlan) -> Iterable[str]:
    used = {k for taken in filled.taken for k in taken}
    if any(not lots[k].wire for k in used):
        yield "The wire of some of these spokes is not noted in the drawer: look at it before taking them"
    if any(not any(_fits(lot, side, plan.build) for side in plan.sides) for lot in lots):
        yield "Spokes of other wire or with other heads stay in the drawer"
    of_side: dict[SideName, set[float]] = {}
    for demand, taken, ordered in zip(demands, filled.taken, filled.ordered, strict=True):
        mine = of_side.setdefault(demand.side.geometry.name, set())
        mine |= {lots[k].length for k in taken} | set(ordered)
    if len(of_side) == 2 and len(set.union(*of_side.values())) == 1:
        yield "One length serves both sides"
    for name, lengths in of_side.items():
        if len(lengths) > 1:
            each = " and ".join(f"{length:g} mm" for length in sorted(lengths))
            yield f"The {name.replace('_', '-')} side mixes {each}: keep them apart"
