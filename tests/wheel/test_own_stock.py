"""The wheel from the drawer: against brute force over all assignments, and its risks against Monte Carlo."""

from __future__ import annotations

import dataclasses
import itertools
import math

import numpy as np
import pytest

from hubsight.model.stated import Reading, SideName
from hubsight.wheel import RimGeometry, SideGeometry
from hubsight.wheel.length import lengths_of
from hubsight.wheel.lot import Lot, wire_name
from hubsight.wheel.nipple import Stock
from hubsight.wheel.order import Build, WheelPlan, plan_wheel
from hubsight.wheel.own_stock import RISK_ALLOWED, Demand, demands_of, fill, from_drawer, one_length
from hubsight.wheel.wire import bladed, butted, plain


def side(name: SideName = "drive", *, w: float = 19.0, stagger: float = 1.3) -> SideGeometry:
    return SideGeometry(
        name=name,
        kind="paired",
        count=6,
        crosses=2,
        flange_diameter=Reading(46.0, 0.2),
        centre_to_flange=Reading(w, 0.2),
        spoke_offset=Reading(2.1, 0.06),
        stagger=Reading(stagger, 0.1),
    )


def planned(
    lots: tuple[Lot, ...] = (), *, step: float = 2.0, w: tuple[float, float] = (19.0, 33.0)
) -> WheelPlan:
    sides = (side(w=w[0]), side("non_drive", w=w[1]))
    build = Build(stock=Stock(step), drawer=lots)
    plan = plan_wheel(sides, RimGeometry(Reading(600.0, 0.2), 24), build)
    assert isinstance(plan, WheelPlan)
    return plan


def needed(plan: WheelPlan, number: int) -> float:
    """Ideal length of a side: its spokes' ends then lie amid the window."""
    part = plan.sides[number]
    return part.lengths.mean.value - part.tension.sits.value + plan.build.nipple_window.middle


def test_the_drawer_is_used_where_it_fits() -> None:
    plan = planned()
    drive, other = (round(needed(plan, k), 1) for k in (0, 1))
    found = from_drawer(planned((Lot(drive, 14), Lot(other, 9), Lot(drive + 4.0, 50))))
    taken = [(line.side, line.source, line.count, line.length) for line in found.lines]
    assert sum(count for name, source, count, x in taken if name == "drive" and source == "drawer") == 12
    (order,) = found.order
    assert (order.sides, order.spares) == (("non_drive",), 2)
    assert (drive, 2) in {(left.length, left.count) for left in found.left_over}


def test_wire_and_heads_have_to_match() -> None:
    plan = planned()
    drive = round(needed(plan, 0), 1)
    wrong = (Lot(drive, 24, "2.0/1.8/2.0"), Lot(drive, 24, head="J-bend"))
    found = from_drawer(planned(wrong))
    assert all(line.source == "order" for line in found.lines)
    assert any("stay in the drawer" in note for note in found.notes)
    right = from_drawer(planned((*wrong, Lot(drive, 12, "2.0"))))
    assert sum(line.count for line in right.lines if line.source == "drawer") == 12
    unknown = from_drawer(planned((Lot(drive, 12),)))
    assert any("not noted" in note for note in unknown.notes)


def test_bores_that_differ_may_take_lengths_that_differ() -> None:
    """Bores 5 mm apart on a wide flange: half a millimetre and more, with a tight window."""
    sides = (side(w=45.0, stagger=4.0),)
    build = Build(stock=Stock(0.5))
    plan = plan_wheel(sides, RimGeometry(Reading(600.0, 0.1), 24), build)
    assert isinstance(plan, WheelPlan)
    part = plan.sides[0]
    outer, inner = part.lengths.spokes
    assert outer.value - inner.value > 1.0
    fit = [s.value - part.tension.sits.value + build.nipple_window.middle for s in (outer, inner)]
    drawer = (Lot(round(fit[0], 1), 6), Lot(round(fit[1], 1), 6))
    found = from_drawer(dataclasses.replace(plan, build=dataclasses.replace(build, drawer=drawer)))
    assert {(line.bore, line.length) for line in found.lines} == {
        ("outer", drawer[0].length),
        ("inner", drawer[1].length),
    }
    assert not found.order


def test_one_length_serves_both_sides_where_the_risk_allows() -> None:
    near = one_length(planned(w=(29.0, 33.0), step=0.5))
    assert near is not None
    assert len(near.order) == 1
    assert near.order[0].count == 24
    assert all(3.0 * risk.p_too_short + risk.p_too_long <= RISK_ALLOWED for risk in near.risks)
    assert one_length(planned(w=(10.0, 45.0), step=0.5)) is None


def cost(
    demands: tuple[Demand, ...], lots: tuple[Lot, ...], way: list[tuple[str, float]]
) -> tuple[float, ...]:
    """Lengths to order, lengths that sorts take, spokes to order, risk: the order of what matters."""
    places = [d for d, demand in enumerate(demands) for _ in range(demand.spoke.count)]
    ordered = [x for source, x in way if source == "order"]
    mixed = {
        (d, x if source == "order" else lots[int(x)].length)
        for d, (source, x) in zip(places, way, strict=True)
    }
    risk = sum(
        demands[d].orders[x] if source == "order" else demands[d].lots[int(x)]
        for d, (source, x) in zip(places, way, strict=True)
    )
    return (len(set(ordered)), len(mixed), len(ordered), risk)


@pytest.mark.parametrize("seed", range(25))
def test_against_brute_force_over_all_assignments(seed: int) -> None:
    """Small made-up wheels: every spoke tried with every length that may serve it."""
    rng = np.random.default_rng(seed)
    part = planned().sides[0]
    spoke = part.lengths.spokes[0]
    lots = tuple(
        Lot(float(x), int(rng.integers(0, 4))) for x in rng.choice(range(280, 286), 3, replace=False)
    )
    counts = [int(rng.integers(1, 4)) for _ in range(rng.integers(1, 4))][:2]
    demands = tuple(
        Demand(
            part,
            dataclasses.replace(spoke, count=count),
            {k: float(rng.uniform(0.0, 0.02)) for k in range(3) if rng.random() < 0.6},
            {float(x): float(rng.uniform(0.0, 0.02)) for x in rng.choice(range(280, 284), 2, replace=False)},
        )
        for count in counts
    )
    choices = [
        [("drawer", float(k)) for k in demand.lots] + [("order", x) for x in demand.orders]
        for demand in demands
        for _ in range(demand.spoke.count)
    ]
    possible = [
        list(way)
        for way in itertools.product(*choices)
        if all(sum(one == ("drawer", k) for one in way) <= lot.count for k, lot in enumerate(lots))
    ]
    best = min(cost(demands, lots, way) for way in possible)
    found = fill(demands, lots)
    way = [
        one
        for taken, ordered in zip(found.taken, found.ordered, strict=True)
        for one in (
            *(("drawer", float(k)) for k, n in taken.items() for _ in range(n)),
            *(("order", x) for x, n in ordered.items() for _ in range(n)),
        )
    ]
    assert [
        sum(t.values()) + sum(o.values()) for t, o in zip(found.taken, found.ordered, strict=True)
    ] == counts
    assert all(sum(taken.get(k, 0) for taken in found.taken) <= lot.count for k, lot in enumerate(lots))
    assert cost(demands, lots, way)[:3] == best[:3]
    assert cost(demands, lots, way)[3] == pytest.approx(best[3], abs=1e-6)


def test_only_lengths_within_the_allowed_risk_are_taken() -> None:
    plan = planned()
    ideal = needed(plan, 0)
    lots = tuple(Lot(round(ideal + away, 2), 12) for away in (-1.4, -0.4, 0.0, 0.4, 1.4))
    demands = [one for one in demands_of(plan.sides, lots, plan.build) if one.side is plan.sides[0]]
    assert all(set(demand.lots) == {1, 2, 3} for demand in demands)


def test_the_risk_of_mixed_lengths_agrees_with_drawing_every_spoke() -> None:
    """JCGM 101: every input, the lot and every single spoke drawn; two lengths on one side."""
    plan = planned()
    part, window = plan.sides[0], plan.build.nipple_window
    ideal = needed(plan, 0)
    lots = (Lot(round(ideal + 0.85, 1), 7), Lot(round(ideal - 0.8, 1), 20))
    build = dataclasses.replace(plan.build, u_cut=0.2, drawer=lots)
    wide = dataclasses.replace(plan, build=build, sides=(part,))
    found = from_drawer(wide)
    lines = [line for line in found.lines if line.side == "drive"]
    assert sum(line.count for line in lines) == 12
    rng = np.random.default_rng(3)
    draws = 150_000
    geometry = part.geometry
    readings = (geometry.flange_diameter, geometry.spoke_offset, plan.rim.erd, geometry.centre_to_flange)
    drawn = np.column_stack(
        [rng.normal(one.value, one.u, draws) for one in readings]
        + [np.zeros(draws), np.zeros(draws), rng.normal(1.3, 0.1, draws)]
    )
    common = rng.normal(part.tension.sits.value, part.tension.sits.u, draws)
    common += rng.normal(0.0, 0.2 * math.sqrt(5.0) / 3.0, draws)
    short, long = np.zeros(draws, bool), np.zeros(draws, bool)
    for line in lines:
        need = lengths_of(drawn, "drive", line.alpha, line.bore)
        for _ in range(line.count):
            end = line.length + common + rng.normal(0.0, 0.2 * 2.0 / 3.0, draws) - need
            short |= end < window.low
            long |= end > window.high
    (risk,) = found.risks
    assert risk.p_too_short == pytest.approx(short.mean(), abs=0.003)
    assert risk.p_too_long == pytest.approx(long.mean(), abs=0.003)
    assert found.p_wrong == pytest.approx((short | long).mean(), abs=0.003)


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("2", plain(2.0).name),
        ("2,0 / 1.8 / 2.0 mm", butted(2.0, 1.8, 2.0).name),
        ("2.0/2.2×1.0/2.0", bladed(2.0, 2.2, 1.0).name),
        ("2/2/2", plain(2.0).name),
        (" ", ""),
    ],
)
def test_wires_are_called_as_the_order_calls_them(typed: str, name: str) -> None:
    assert wire_name(typed) == name


@pytest.mark.parametrize("typed", ["thick", "2.0/1.8", "2.0x1.0", "2.0/x/2.0", "2/1/2/1"])
def test_what_is_no_wire_is_refused(typed: str) -> None:
    with pytest.raises(ValueError, match="no wire"):
        wire_name(typed)
