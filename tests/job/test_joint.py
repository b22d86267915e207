"""The joint test of statements, readings and figures against made-up workshops in which slips were made."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from hubsight.job.centre import one_centre
from hubsight.job.checks import caliper_checks
from hubsight.job.confirmed import unconfirmed
from hubsight.job.joint import cleared, joint_test
from hubsight.model.joint import JointTest
from hubsight.model.stated import Reading
from joint_world import BAR_U, Workshop

Make = Callable[[np.random.Generator], Workshop]
JOBS = 40


def outcome(workshop: Workshop) -> JointTest:
    job, sides = workshop.job()
    found = joint_test(job, one_centre(job, sides, None)[0])
    assert found is not None
    return found


def many(make: Make, jobs: int = JOBS, seed: int = 3) -> list[JointTest]:
    rng = np.random.default_rng(seed)
    return [outcome(make(rng)) for _ in range(jobs)]


def word(test: JointTest) -> str:
    severities = {reason.severity for reason in test.reasons}
    return "stop" if "stop" in severities else "check" if "check" in severities else "order"


def test_right_jobs_are_hardly_ever_doubted() -> None:
    tests = many(Workshop, 150)
    assert np.mean([word(one) != "order" for one in tests]) <= 0.06
    assert not any(word(one) == "stop" for one in tests)
    assert np.mean([one.best is not None for one in tests]) <= 0.03
    # differences scatter as the chi-square distribution says, whose mean is their number
    assert np.mean([one.chi2 / one.redundancy for one in tests]) == pytest.approx(1.0, abs=0.12)


SLIPS: dict[str, tuple[Make, str]] = {
    "both bars 0.8 %": (lambda rng: Workshop(rng, bars=(0.96, 0.96)), "target.bars"),
    "both bars -0.8 %": (lambda rng: Workshop(rng, bars=(-0.96, -0.96)), "target.bars"),
    "both bars 1.5 %": (lambda rng: Workshop(rng, bars=(1.8, 1.8)), "target.bars"),
    "one bar 1 mm": (lambda rng: Workshop(rng, bars=(0.0, 1.0)), "target.bar_y"),
    "over-locknut 5 mm": (lambda rng: Workshop(rng, over_locknut=5.0), "hub.over_locknut"),
    "centre to flange 5 mm": (
        lambda rng: Workshop(rng, centre_stated=True, read={("drive", "centre_to_flange"): 5.0}),
        "drive.caliper.centre_to_flange",
    ),
    "block forgotten": (lambda rng: Workshop(rng, blocks={"drive": 12.0}), "drive.block_thickness"),
    "diameter to the outside": (
        lambda rng: Workshop(rng, read={("drive", "flange_diameter"): rng.uniform(4.0, 12.0)}),
        "drive.caliper.flange_diameter",
    ),
    "a shoulder for the end face": (
        lambda rng: Workshop(rng, seen={("drive", "over_locknut"): -8.0}),
        "drive.photos.over_locknut",
    ),
}


@pytest.mark.parametrize("slip", list(SLIPS))
def test_slips_are_named(slip: str) -> None:
    make, about = SLIPS[slip]
    tests = many(make)
    named = [one.best is not None and one.best.about == about for one in tests]
    assert np.mean(named) >= 0.9
    if not slip.startswith(("diameter", "a shoulder")):  # these move no length
        assert all(word(one) != "order" for one in tests)


def test_bars_0_4_percent_off_are_doubted() -> None:
    tests = many(lambda rng: Workshop(rng, bars=(0.48, 0.48)), 80)
    assert np.mean([word(one) != "order" for one in tests]) >= 0.8


def test_a_gauge_end_or_a_protrusion_misread_by_a_millimetre_is_asked_about() -> None:
    """Which of the two it is no reading tells: the order must wait for it either way."""
    for make in (
        lambda rng: Workshop(rng, seen={("drive", "reach"): 1.0, ("drive", "protrusion"): 1.0}),
        lambda rng: Workshop(rng, read={("drive", "protrusion"): 1.0}),
    ):
        tests = many(make)
        assert np.mean([word(one) == "check" for one in tests]) >= 0.95
        assert "sticks out of the boss, drive side again" in tests[0].settles


def test_right_readings_are_cleared_of_a_slip_of_scale() -> None:
    tests = many(lambda rng: Workshop(rng, bars=(1.8, 1.8)))
    assert np.mean(["hub.over_locknut" in one.exonerated for one in tests]) >= 0.9
    assert not any(one.best is not None and ".caliper." in one.best.about for one in tests)


def test_what_a_slip_adds_to_the_length_is_what_it_took_off() -> None:
    """Both bars 1.5 % too long make the reach, 98 mm, 1.5 % too long, and the spoke by as much too short."""
    tests = many(lambda rng: Workshop(rng, bars=(1.8, 1.8)))
    changes = [one.explanations[0].lengths["drive"] for one in tests]
    assert np.mean(changes) == pytest.approx(0.015 * 98.0, abs=0.15)
    said = [one.explanations[0].sentence for one in tests]
    assert np.mean(["stated 1.5 % too long" in s or "stated 1.4 % too long" in s for s in said]) >= 0.6


def test_exchanged_sides_are_seen() -> None:
    job, sides = Workshop(np.random.default_rng(5)).job()
    one, other = job.sides
    readings = (other.stated.caliper, one.stated.caliper)
    swapped = tuple(
        replace(side, stated=replace(side.stated, caliper=dict(caliper)))
        for side, caliper in zip((one, other), readings, strict=True)
    )
    found = joint_test(replace(job, sides=swapped), sides)
    assert found is not None
    assert found.best is not None
    assert found.best.about == "sides"
    assert word(found) == "check"


def test_two_slips_at_once_stop_the_order() -> None:
    tests = many(lambda rng: Workshop(rng, over_locknut=10.0, read={("drive", "flange_diameter"): -10.0}), 10)
    assert all(word(one) == "stop" for one in tests)


def test_odds_are_what_they_say() -> None:
    """Of explanations that are given a probability, that share is true, slips being as rare as reckoned."""
    rng = np.random.default_rng(8)
    stated, right = [], []
    for _ in range(250):
        slipped = rng.random() < 0.5
        size = rng.normal(0.0, 1.0) if slipped else 0.0
        one = outcome(Workshop(rng, bars=(size, size)))
        odds = next(e.odds for e in one.explanations if e.about == "target.bars") / 0.02
        stated.append(odds / (1.0 + odds))
        right.append(slipped)
    for low, high in ((0.0, 0.3), (0.3, 0.7), (0.7, 1.0)):
        inside = [low <= p <= high for p in stated]
        mean = np.mean(np.array(stated)[inside])
        share = np.mean(np.array(right)[inside])
        assert share == pytest.approx(mean, abs=3.0 * np.sqrt(0.25 / max(sum(inside), 1)) + 0.02)


def test_what_nothing_confirms_is_asked_for_once_the_riskiest_first() -> None:
    job, sides = Workshop(np.random.default_rng(9)).job()
    (reason,) = unconfirmed(job, sides)
    assert reason.severity == "check"
    assert reason.about == "rim.erd"
    assert reason.remedy.startswith("Measure the ERD")
    assert "gauge" in reason.sentence
    assert "gauge" not in reason.remedy  # one reading at a time
    assert "check bar" not in reason.sentence  # the over-locknut would contradict a wrong scale


def test_without_any_caliper_reading_the_print_is_asked_for() -> None:
    job, sides = Workshop(np.random.default_rng(9)).job()
    bare = tuple(
        replace(
            side,
            stated=replace(side.stated, caliper={}),
            wheel=replace(side.wheel, over_locknut=None, erd=Reading(600.0, 0.2, count=4)),
        )
        for side in job.sides
    )
    (reason,) = unconfirmed(replace(job, sides=bare), sides)
    assert reason.about == "target.bars"
    assert "what the photos show of the drive side's gauge" in reason.sentence
    unread = replace(job.target, bar_x=None, bar_y=None)
    (reason,) = unconfirmed(replace(job, sides=bare, target=unread), sides)
    assert "not measured" in reason.sentence


def test_a_caliper_reading_of_the_end_confirms_the_end_and_one_of_another_thing_does_not() -> None:
    job, sides = Workshop(np.random.default_rng(9)).job()

    def said(quantity: str) -> str:
        read = tuple(
            replace(s, stated=replace(s.stated, caliper={quantity: s.stated.caliper[quantity]}))
            for s in job.sides
        )
        return unconfirmed(replace(job, sides=read), sides)[0].sentence

    assert "side's gauge" not in said("protrusion")
    assert "what the photos show of the non-drive side's gauge" in said("flange_diameter")


def test_second_readings_confirm() -> None:
    job, sides = Workshop(np.random.default_rng(9)).job()
    twice = replace(
        job,
        target=replace(
            job.target, bar_x=replace(job.target.bar_x, count=2), bar_y=Reading(120.0, BAR_U, count=2)
        ),
        sides=tuple(
            replace(
                side,
                stated=replace(
                    side.stated,
                    gauges=tuple(replace(g, length=replace(g.length, count=2)) for g in side.stated.gauges),
                ),
                wheel=replace(side.wheel, erd=Reading(600.0, 0.2, count=2)),
            )
            for side in job.sides
        ),
    )
    assert unconfirmed(twice, sides) == ()
    assert unconfirmed(job, sides, proved={"rim.erd", "gauges"}) == ()


def test_a_right_reading_is_accused_no_more() -> None:
    job, sides = Workshop(np.random.default_rng(6), bars=(1.8, 1.8)).job()
    checks = [check for of_side in caliper_checks(job, sides).values() for check in of_side]
    accused = [one for one in checks if one.reading == "over_locknut"]
    assert all(one.verdict in ("doubt", "disagrees") for one in accused)
    after = [one for one in cleared(checks, joint_test(job, sides)) if one.reading == "over_locknut"]
    assert all(one.verdict == "undecided" for one in after)
    assert all("the reading is right, and both check bars" in one.sentence for one in after)
    assert cleared(checks, None) == tuple(checks)
