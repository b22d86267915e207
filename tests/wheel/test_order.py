"""The planned wheel: order list, document, sides that differ, refusals."""

from __future__ import annotations

import dataclasses

import pytest

from hubsight.model.lengths import OrderLine, Origin, UsedFigure
from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading, SideName
from hubsight.wheel import RimGeometry, SideGeometry, j_bend_side, pattern_from_letters
from hubsight.wheel.choice import CLOSE_CALL
from hubsight.wheel.lay_out import length_figure, planned_wheel, side_lengths
from hubsight.wheel.nipple import Nipple, Stock, Window
from hubsight.wheel.order import Build, WheelPlan, order_list, order_notes, plan_wheel
from hubsight.wheel.wire import bladed, butted

RIM = RimGeometry(Reading(600.0, 0.2), 24)
BUILD = Build()


def side(name: SideName = "drive", *, w: float = 19.0, count: int = 6, crosses: int = 2) -> SideGeometry:
    return SideGeometry(
        name=name,
        kind="paired",
        count=count,
        crosses=crosses,
        flange_diameter=Reading(46.0, 0.2),
        centre_to_flange=Reading(w, 0.2),
        spoke_offset=Reading(2.1, 0.06),
        stagger=Reading(1.3, 0.2),
    )


SIDES = (side(), side("non_drive", w=33.0))


def planned(
    sides: tuple[SideGeometry, ...] = SIDES, rim: RimGeometry = RIM, build: Build = BUILD
) -> WheelPlan:
    result = plan_wheel(sides, rim, build)
    assert isinstance(result, WheelPlan)
    return result


def lines(sides: tuple[SideGeometry, ...] = SIDES, build: Build = BUILD) -> tuple[OrderLine, ...]:
    return order_list(planned(sides, build=build))


def test_order_has_a_line_for_each_side() -> None:
    build = dataclasses.replace(BUILD, wires=(butted(2.0, 1.8, 2.0), bladed(2.0, 2.2, 1.0)), spares=1)
    drive, other = lines(build=build)
    assert (drive.side, drive.count, drive.wire) == ("drive", 12, "2.0/1.8/2.0")
    assert (drive.make, other.make) == ("double butted", "bladed")
    assert (other.side, other.count, other.wire) == ("non_drive", 12, "2.0/2.2x1.0/2.0")
    for line in (drive, other):
        assert line.length % BUILD.stock.step == 0.0
        assert line.spares == 1
        assert line.measured.startswith("from under the head")
        assert line.thread == "FG 2.3 (DIN 79012), 56 per inch"
        assert line.nipple == "12 mm, slotted, thread FG 2.3"
        assert line.steel == "stainless 1.4310 (EN 10270-3)"


def test_directions_that_differ_much_get_a_length_each() -> None:
    staggered = dataclasses.replace(side(w=40.0), stagger=Reading(2.5, 0.2))
    fine = dataclasses.replace(BUILD, stock=Stock(0.5))
    outer, inner = lines((staggered,), fine)
    assert outer.count == inner.count == 6
    assert outer.length > inner.length
    assert len(lines((side(),), fine)) == 1


def test_proposed_ends_lie_in_the_window() -> None:
    build = dataclasses.replace(BUILD, stock=Stock(1.0))
    plan = planned(build=build)
    for part in plan.sides:
        proposed = part.orders[0].choice.proposed
        assert build.nipple_window.low < proposed.end < build.nipple_window.high
        computed = part.lengths.mean.value
        assert proposed.end == pytest.approx(proposed.length + part.tension.sits.value - computed, abs=0.01)


def test_stated_window_counts() -> None:
    shifted = Window(2.0, 4.0)
    plan = planned(build=dataclasses.replace(BUILD, window=shifted))
    assert all(2.0 < part.orders[0].choice.proposed.end < 4.0 for part in plan.sides)


def test_mirrored_sides_get_the_same_length() -> None:
    drive, other = lines((side(), side("non_drive")))
    assert other.model_copy(update={"side": "drive"}) == drive


def test_sides_of_different_kind() -> None:
    """J-bend on one side, straight-pull pairs on the other: the same bench builds both."""
    bent = j_bend_side(
        "non_drive",
        holes=12,
        crosses=2,
        hole_circle=Reading(45.0, 0.1),
        hole_diameter=Reading(2.5, 0.1),
        centre_to_flange=Reading(34.0, 0.2),
    )
    straight, other = lines((side(), bent))
    assert straight.head == "straight-pull"
    assert other.head == "J-bend"
    assert "elbow" in other.measured


def test_two_to_one_wheel() -> None:
    rim = dataclasses.replace(
        RIM,
        drive_pattern=pattern_from_letters("DND", 24, "drive"),
        non_drive_pattern=pattern_from_letters("DND", 24, "non_drive"),
    )
    drive = side(count=8)
    other = dataclasses.replace(side("non_drive", w=35.0), kind="radial", count=8, crosses=0, stagger=None)
    plan = planned((drive, other), rim)
    assert [line.count for line in order_list(plan)] == [16, 8]
    tight, slack = plan.sides
    assert slack.tension.tension.value > 0.8 * tight.tension.tension.value


def test_an_order_says_what_to_mind() -> None:
    like = side(), side("non_drive", w=35.0)
    (heads,) = order_notes(planned(like))
    assert "heads like the gauge's" in heads
    _, mixed = order_notes(planned((side(), side("non_drive", w=35.0, crosses=1))))
    assert "drive side 12 spokes, 2 crosses; non-drive side 12 spokes, 1 cross" in mixed
    document = planned_wheel(planned(like))
    assert document.order_notes == (heads,)


def test_sides_that_do_not_fill_the_rim_are_refused() -> None:
    result = plan_wheel((side(), side("non_drive", count=5)), RIM, BUILD)
    assert isinstance(result, Refusal)
    assert "12 and 10 spokes" in result.reason


def test_refused_side_leaves_the_other() -> None:
    plan = planned((side(), side("non_drive", crosses=4)))
    assert [part.geometry.name for part in plan.sides] == ["drive"]
    assert plan.refusals[0][0] == "non_drive"
    assert "neighbouring boss" in plan.refusals[0][1].reason
    assert not planned((side(crosses=4),)).sides


ORIGIN = Origin(
    kind="paired",
    bosses=6,
    crosses=2,
    crosses_stated=True,
    figures=(UsedFigure(name="flange_diameter", value=46.0, u=0.2, source="photos"),),
)


def test_what_is_laid_out_is_what_the_plan_found() -> None:
    plan = planned()
    part = plan.sides[1]
    other = side_lengths(part, plan, ORIGIN, length_figure)
    assert other.length.value == part.lengths.mean.value
    assert other.origin.figures[0].per_mm == part.lengths.mean.sensitivities.flange_diameter
    assert other.order is not None
    assert other.order.proposed == part.orders[0].choice.proposed.length
    choice = other.order.choices[0]
    assert choice.close_call == (choice.p_other > CLOSE_CALL) == other.order.close_call
    assert (choice.rival is not None) == choice.close_call
    assert choice.sampled_too_short == pytest.approx(other.order.p_too_short, abs=0.005)
    assert choice.sampled_too_long == pytest.approx(other.order.p_too_long, abs=0.005)
    assert choice.rounded_up.length >= other.length.value
    assert [risk.length for risk in choice.candidates] == sorted(risk.length for risk in choice.candidates)
    wheel = planned_wheel(plan)
    assert len(wheel.order) == 2
    assert wheel.tension_ratio is not None
    assert 0.0 < wheel.tension_ratio < 1.0


def test_taller_head_leaves_more_room() -> None:
    tall = dataclasses.replace(BUILD, nipple=Nipple(kind="tall_head"))
    plain_risk = [part.orders[0].choice.rounded_up.p_too_long for part in planned().sides]
    tall_risk = [part.orders[0].choice.rounded_up.p_too_long for part in planned(build=tall).sides]
    assert all(more >= less for more, less in zip(plain_risk, tall_risk, strict=True))
    assert sum(plain_risk) > sum(tall_risk)


def test_stock_is_judged_in_the_tensioned_wheel() -> None:
    """Tension brings the end out, so that a spoke a little shorter than computed may be the one to take."""
    longest = max(spoke.value for spoke in planned((side(),)).sides[0].lengths.spokes)
    sits = planned((side(),)).sides[0].tension.sits.value
    assert sits > 0.3
    short = longest - 0.5 * sits
    plan = planned((side(),), build=dataclasses.replace(BUILD, stock=Stock(lengths=(short - 4.0, short))))
    assert not plan.refusals
    proposed = plan.sides[0].orders[0].choice.proposed
    assert proposed.length == short
    assert BUILD.nipple_window.low < proposed.end < BUILD.nipple_window.high
    too_short = planned((side(),), build=dataclasses.replace(BUILD, stock=Stock(lengths=(longest - 3.0,))))
    assert isinstance(too_short.refusals[0][1], Refusal)


def test_the_risk_of_the_wheel_is_that_of_either_side() -> None:
    """More than the worse side's alone, at most both together; the ERD, which both share, ties them."""
    build = dataclasses.replace(BUILD, stock=Stock(2.0))

    def risks(erd_u: float, offset_u: float) -> tuple[float, float, float]:
        sides = tuple(dataclasses.replace(s, spoke_offset=Reading(2.1, offset_u)) for s in SIDES)
        plan = planned(sides, RimGeometry(Reading(600.0, erd_u), 24), build)
        one, other = (
            part.orders[0].sampled.p_too_short + part.orders[0].sampled.p_too_long for part in plan.sides
        )
        assert plan.p_wrong is not None
        return one, other, plan.p_wrong

    one, other, both = risks(0.1, 0.8)
    assert max(one, other) + 0.02 < both < one + other
    assert both == pytest.approx(1.0 - (1.0 - one) * (1.0 - other), abs=0.02)  # hardly tied
    one, other, tied = risks(3.0, 0.05)
    assert tied < 1.0 - (1.0 - one) * (1.0 - other) - 0.02
    assert planned_wheel(planned()).p_wrong == planned().p_wrong
