"""Stock lengths: rounding, windows, risks, close calls."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hubsight.model.stated import Reading
from hubsight.wheel import LengthResult, RimGeometry, SideGeometry, side_length
from hubsight.wheel.choice import CLOSE_CALL, CUT_U_MM, Task, choose, judge, least_risk_index, task
from hubsight.wheel.nipple import Nipple, Stock, Window, nipple_window
from hubsight.wheel.simulate import DRAWS, sample_lengths, sampled_risk

SITS = Reading(0.6, 0.1)
WINDOW = nipple_window(Nipple())
STOCK = Stock()
TASK = Task(longest=296.9, shortest=296.7, u_length=0.1, sits=SITS, window=WINDOW, stock=STOCK)

lengths = st.floats(180.0, 320.0)


def at(longest: float, **changes: object) -> Task:
    return dataclasses.replace(TASK, longest=longest, shortest=longest - 0.2, **changes)


def rounded_up(stock: Stock, length: float) -> float:
    return stock.length(stock.index_at_least(length))


@given(
    st.lists(st.integers(500, 640), min_size=1, max_size=12, unique=True).map(
        lambda halves: tuple(sorted(half / 2.0 for half in halves))
    ),
    st.floats(250.0, 320.0),
)
def test_a_list_of_lengths_never_gives_a_shorter_spoke_or_one_that_is_not_there(
    lengths: tuple[float, ...], needed: float
) -> None:
    stock = Stock(lengths=lengths)
    index = stock.index_at_least(needed)
    assert stock.has(index) == (needed <= lengths[-1])
    if not stock.has(index):
        return
    assert rounded_up(stock, needed) == min(length for length in lengths if length >= needed)
    choice = choose(dataclasses.replace(at(needed), stock=stock))
    assert {candidate.length for candidate in choice.candidates} <= set(lengths)
    assert choice.rounded_up.length >= needed
    assert choice.proposed.risk == min(candidate.risk for candidate in choice.candidates)


@given(lengths, st.sampled_from([0.1, 0.5, 1.0, 2.0]), st.floats(0.0, 2.0))
def test_rounding_up_never_returns_a_shorter_spoke(length: float, step: float, anchor: float) -> None:
    stock = Stock(step, anchor)
    rounded = rounded_up(stock, length)
    assert length <= rounded < length + step * (1.0 + 1e-9)
    assert rounded_up(stock, rounded) == rounded


@given(lengths)
def test_rounded_up_choice_is_never_shorter_than_asked(length: float) -> None:
    choice = choose(at(length))
    assert choice.rounded_up.length >= length
    assert choice.rounded_up in choice.candidates
    assert choice.proposed in choice.candidates


@given(lengths, st.sampled_from([0.5, 1.0, 2.0]))
def test_proposed_length_has_the_least_risk_of_all(length: float, step: float) -> None:
    job = at(length, stock=Stock(step))
    choice = choose(job)
    every = [judge(job, job.stock.length(i)).risk for i in range(int(170 / step), int(330 / step))]
    assert choice.proposed.risk <= min(every) * (1.0 + 1e-9)


@given(lengths)
def test_longer_need_never_gets_a_shorter_spoke(length: float) -> None:
    assert choose(at(length + 0.3)).proposed.length >= choose(at(length)).proposed.length


def test_windows() -> None:
    slotted, tall = nipple_window(Nipple()), nipple_window(Nipple(kind="tall_head"))
    assert slotted.low == tall.low < 0.0
    assert slotted.high < tall.high
    assert "head" in slotted.high_reason
    assert "out of thread" in tall.high_reason
    assert nipple_window(Nipple(), spoke_thread=8.0).high == pytest.approx(0.5)
    assert Nipple(14.0, "tall_head").name == "14 mm, tall head"


def test_tension_lets_the_spoke_sit_longer() -> None:
    slack = dataclasses.replace(TASK, sits=Reading(0.0, 0.0))
    assert judge(TASK, 298.0).end - judge(slack, 298.0).end == pytest.approx(0.6)
    assert judge(TASK, 298.0).p_too_long > judge(slack, 298.0).p_too_long


def test_too_short_weighs_more() -> None:
    """With an uncertainty as large as the window the choice leans to the longer spoke."""
    middle = 300.0 + SITS.value - WINDOW.middle
    vague = dataclasses.replace(TASK, longest=middle + 0.97, shortest=middle + 0.97, u_length=0.8)
    assert STOCK.length(least_risk_index(dataclasses.replace(vague, short_weight=1.0))) == 300.0
    assert STOCK.length(least_risk_index(vague)) == 302.0


@settings(max_examples=25)
@given(lengths, st.floats(0.02, 0.4))
def test_probability_of_another_choice_agrees_with_drawing_true_lengths(length: float, u: float) -> None:
    job = at(length, u_length=u)
    choice = choose(job)
    rng = np.random.default_rng(8)
    draws = 300
    proposed = STOCK.index_at_least(choice.proposed.length)
    other = sum(least_risk_index(job, float(error)) != proposed for error in rng.normal(0.0, u, draws))
    spread = math.sqrt(choice.p_other * (1.0 - choice.p_other) / draws)
    assert other / draws == pytest.approx(choice.p_other, abs=4.5 * spread + 0.005)
    assert choice.close_call == (choice.p_other > CLOSE_CALL)


def test_choice_from_a_measured_length_is_that_of_the_true_one_or_a_close_call() -> None:
    """Errors of 0.08 mm, as of a photographed offset; steps of 2 mm."""
    rng = np.random.default_rng(9)
    wrong, flagged, hubs = 0, 0, 400
    for _ in range(hubs):
        true = rng.uniform(260.0, 300.0)
        measured = choose(at(true + rng.normal(0.0, 0.08), u_length=0.08))
        exact = choose(at(true, u_length=0.0))
        flagged += measured.close_call
        wrong += not measured.close_call and measured.proposed.length != exact.proposed.length
    assert wrong <= hubs * 0.01
    assert flagged <= hubs * 0.2


def test_certain_inputs_need_no_case_of_their_own() -> None:
    certain = dataclasses.replace(TASK, u_length=0.0, sits=Reading(0.6, 0.0), u_cut=0.0)
    choice = choose(certain)
    assert choice.p_other == 0.0
    assert choice.proposed.p_too_short == choice.proposed.p_too_long == 0.0


def test_window_narrower_than_the_step_still_gives_a_choice() -> None:
    narrow = dataclasses.replace(TASK, window=Window(-0.1, 0.2))
    for length in np.arange(296.0, 300.0, 0.13):
        choice = choose(dataclasses.replace(narrow, longest=float(length), shortest=float(length)))
        assert choice.proposed.risk == min(candidate.risk for candidate in choice.candidates)


def test_risks_agree_with_monte_carlo() -> None:
    """JCGM 101: the probabilities by propagation against draws of every input through the exact formula."""
    side = SideGeometry(
        name="drive",
        kind="paired",
        count=6,
        crosses=2,
        flange_diameter=Reading(47.0, 0.3),
        centre_to_flange=Reading(33.0, 0.3),
        spoke_offset=Reading(2.0, 0.15),
        stagger=Reading(1.3, 0.2),
        covariance=-0.02,
    )
    rim = RimGeometry(Reading(600.0, 0.6), 24, offset=Reading(1.0, 0.2))
    result = side_length(side, rim)
    assert isinstance(result, LengthResult)
    rng = np.random.default_rng(10)
    drawn = sample_lengths(side, rim, result.spokes, DRAWS, rng)
    assert drawn.mean(axis=0) == pytest.approx([spoke.value for spoke in result.spokes], abs=0.005)
    assert drawn.std(axis=0) == pytest.approx([spoke.u for spoke in result.spokes], rel=0.01)
    job = task(result.spokes, SITS, WINDOW, STOCK)
    counts = [spoke.count for spoke in result.spokes]
    for candidate in choose(job).candidates:
        sampled = sampled_risk(
            drawn, candidate.length, counts=counts, sits=SITS, window=WINDOW, u_cut=CUT_U_MM, rng=rng
        )
        assert sampled.p_too_short == pytest.approx(candidate.p_too_short, abs=0.006)
        assert sampled.p_too_long == pytest.approx(candidate.p_too_long, abs=0.006)


def test_the_worst_of_many_spokes_counts() -> None:
    """Every spoke drawn one by one: what a lot shares, and what each has of its own (2 : 1 of the whole)."""
    rng = np.random.default_rng(12)
    draws, u_cut, u = 200_000, 0.3, 0.2
    needs = ((300.0, 8), (299.7, 4))
    job = Task(300.0, 299.7, u, Reading(0.0, 0.0), Window(-1.0, 1.5), STOCK, u_cut, counts=needs)
    common = rng.normal(0.0, math.hypot(u, u_cut * math.sqrt(5.0) / 3.0), draws)
    ends = np.concatenate(
        [300.2 - need + common + rng.normal(0.0, u_cut * 2.0 / 3.0, (n, draws)) for need, n in needs]
    )
    found = judge(job, 300.2)
    short, long = judge(job, 299.2), judge(job, 300.9)
    assert found.p_too_short == pytest.approx(np.mean(ends.min(axis=0) < -1.0), abs=0.002)
    assert short.p_too_short == pytest.approx(np.mean(ends.min(axis=0) - 1.0 < -1.0), abs=0.004)
    assert long.p_too_long == pytest.approx(np.mean(ends.max(axis=0) + 0.7 > 1.5), abs=0.004)
    one = dataclasses.replace(job, counts=((300.0, 1), (299.7, 1)))
    assert judge(one, 299.2).p_too_short < short.p_too_short - 0.05
