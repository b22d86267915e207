"""Caliper readings against the photo's figures: verdicts, and slips by name."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hubsight.job.double_check import check_reading, double_check
from hubsight.job.slips import Surroundings
from hubsight.model.figure import Figure
from hubsight.model.result import Check
from hubsight.model.stated import Reading
from hubsight.model.uncertainty import COVERAGE_FACTOR, normalised_error

TRUTH = {
    "flange_diameter": 44.6,
    "boss_width": 8.46,
    "boss_width_across": 6.9,
    "spoke_offset": 2.13,
    "protrusion": 93.4,
    "reach": 97.87,
    "centre_to_flange": 19.2,
}
PHOTO_U = {
    "flange_diameter": 0.2,
    "boss_width": 0.15,
    "boss_width_across": 0.15,
    "spoke_offset": 0.08,
    "protrusion": 0.05,
    "reach": 0.08,
    "centre_to_flange": 0.2,
}
OTHER = {"flange_diameter": 52.3, "boss_width": 10.3, "centre_to_flange": 34.4}
CALIPER_U = 0.12


def figure(value: float, u: float) -> Figure:
    half = COVERAGE_FACTOR * u
    return Figure(value=value, u=u, low=value - half, high=value + half)


AROUND = Surroundings(
    figures={name: figure(value, PHOTO_U[name]) for name, value in TRUTH.items()},
    other_figures={name: figure(value, 0.2) for name, value in OTHER.items()},
    gauge_length=100.6,
    over_locknut=142.0,
)


def check(name: str, stated: float, around: Surroundings = AROUND, u: float = CALIPER_U) -> Check:
    return check_reading("drive", name, Reading(stated, u), around.figures[name], around)


@pytest.mark.parametrize(
    ("name", "stated", "slip"),
    [
        ("boss_width", TRUTH["boss_width"] / 2.0, "half of the boss width"),
        ("boss_width", TRUTH["boss_width"] + 1.0, "off by exactly 1 mm"),
        ("boss_width", TRUTH["boss_width"] - 1.0, "off by exactly 1 mm"),
        ("flange_diameter", TRUTH["flange_diameter"] + 10.0, "off by exactly 10 mm"),
        ("protrusion", TRUTH["protrusion"] - 5.0, "off by exactly 5 mm"),
        ("flange_diameter", TRUTH["flange_diameter"] / 2.0, "the radius was given"),
        ("flange_diameter", TRUTH["flange_diameter"] * 2.0, "twice the diameter"),
        ("flange_diameter", TRUTH["flange_diameter"] + 6.9, "boss's outside"),
        ("flange_diameter", OTHER["flange_diameter"], "two sides were swapped"),
        ("centre_to_flange", OTHER["centre_to_flange"], "two sides were swapped"),
        ("protrusion", 39.4, "transposed"),
        ("boss_width", 4.79, "transposed"),
        ("protrusion", TRUTH["protrusion"] + TRUTH["boss_width"], "boss's other face"),
        ("protrusion", TRUTH["reach"], "from the crossing point"),
        ("reach", TRUTH["protrusion"], "from the boss's face"),
        ("spoke_offset", TRUTH["spoke_offset"] - 0.6, "gauge length of 100 mm was assumed; it is 100.60"),
        ("spoke_offset", TRUTH["spoke_offset"] + TRUTH["boss_width"] / 2.0, "half width was not subtracted"),
        ("spoke_offset", TRUTH["spoke_offset"] - TRUTH["boss_width"] / 2.0, "whole boss width"),
        ("spoke_offset", TRUTH["spoke_offset"] - TRUTH["boss_width"], "boss's other face"),
        ("spoke_offset", -TRUTH["spoke_offset"], "wrong way round"),
        ("centre_to_flange", 71.0 - TRUTH["centre_to_flange"], "distance from the locknut was given"),
        ("centre_to_flange", 71.0 + TRUTH["centre_to_flange"], "whole over-locknut"),
        ("centre_to_flange", TRUTH["centre_to_flange"] - 71.0, "once too often"),
    ],
)
def test_slips_are_named(name: str, stated: float, slip: str) -> None:
    result = check(name, stated + 0.07)
    assert slip in str(result.slip)
    assert result.verdict == ("disagrees" if abs(result.e_n) > 2.0 else "doubt")
    words = "It looks as if" if result.verdict == "disagrees" else "Perhaps"
    assert f"{words} {result.slip}" in result.sentence


def test_offset_by_another_width_is_named() -> None:
    for name, slip in (("boss_width", "another width"), ("boss_width_across", "across the boss")):
        around = dataclasses.replace(AROUND, readings={name: Reading(6.9, 0.1)})
        stated = TRUTH["spoke_offset"] + (TRUTH["boss_width"] - 6.9) / 2.0
        assert slip in str(check("spoke_offset", stated, around).slip)


def test_swapped_sides_need_both_readings_where_both_are_given() -> None:
    swapped = dataclasses.replace(AROUND, other_readings={"flange_diameter": Reading(44.6, 0.1)})
    kept = dataclasses.replace(AROUND, other_readings={"flange_diameter": Reading(52.3, 0.1)})
    assert "swapped" in str(check("flange_diameter", 52.4, swapped).slip)
    assert "swapped" not in str(check("flange_diameter", 52.4, kept).slip)


def test_right_readings_agree() -> None:
    for name, value in TRUTH.items():
        result = check(name, value + 0.05)
        assert result.verdict == "agrees"
        assert result.slip is None


def test_unexplained_difference_gets_no_slip() -> None:
    result = check("boss_width", TRUTH["boss_width"] + 2.6)
    assert result.verdict == "disagrees"
    assert result.slip is None
    assert "they disagree" in result.sentence


def test_vague_photo_agrees_with_nothing() -> None:
    """ISO 13528: agreement with a reference whose uncertainty is large says nothing."""
    around = dataclasses.replace(AROUND, figures={"spoke_offset": figure(2.0, 0.9)})
    result = check("spoke_offset", 2.3, around)
    assert result.verdict == "undecided"


def test_small_excess_is_a_doubt() -> None:
    joint = COVERAGE_FACTOR * np.hypot(CALIPER_U, PHOTO_U["boss_width"])
    result = check("boss_width", TRUTH["boss_width"] + 1.2 * float(joint))
    assert result.verdict == "doubt"
    assert "measure again" in result.sentence


def test_right_readings_are_hardly_ever_called_wrong() -> None:
    """Readings with the stated scatter: one in twenty above |E_n| = 1, not one in a thousand called wrong."""
    rng = np.random.default_rng(4)
    verdicts = []
    for _ in range(600):
        for name, value in TRUTH.items():
            seen = figure(value + rng.normal(0.0, PHOTO_U[name]), PHOTO_U[name])
            around = dataclasses.replace(AROUND, figures={**AROUND.figures, name: seen})
            verdicts.append(check(name, value + rng.normal(0.0, CALIPER_U), around).verdict)
    beyond = sum(verdict in ("doubt", "disagrees") for verdict in verdicts) / len(verdicts)
    assert beyond == pytest.approx(0.05, abs=0.012)
    assert verdicts.count("disagrees") / len(verdicts) < 0.001


def test_planted_slips_are_named_in_spite_of_scatter() -> None:
    """Boss width seen to 0.15, read to 0.06: a half width and a whole millimetre are found.

    A photo that is three standard uncertainties off is no slip of the reading: one in a hundred may be
    missed.
    """
    missed = 0
    rng = np.random.default_rng(5)
    for _ in range(300):
        width = rng.uniform(6.0, 11.0)
        seen = figure(width + rng.normal(0.0, 0.15), 0.15)
        around = Surroundings(figures={"boss_width": seen})
        read = width + rng.uniform(-0.1, 0.1)
        for planted, slip in ((read / 2.0, "half of the boss width"), (read + 1.0, "off by exactly 1 mm")):
            result = check("boss_width", planted, around, u=0.06)
            assert result.verdict in ("doubt", "disagrees")
            missed += slip not in str(result.slip)
    assert missed <= 6


def test_only_readings_with_a_figure_are_compared() -> None:
    readings = {"boss_width": Reading(8.4, 0.1), "erd": Reading(600.0, 0.3)}
    checks = double_check("non_drive", readings, AROUND)
    assert [(item.side, item.reading) for item in checks] == [("non_drive", "boss_width")]


GAUGE = 100.0


def seen_with_faces(inward: float) -> Surroundings:
    """Photos that place the boss's front face too far in by ``inward``; the offset by the reach is right."""
    true = {"spoke_offset": 2.1, "boss_width": 8.4, "protrusion": GAUGE - 2.1 - 4.2}
    seen = {"boss_width": true["boss_width"] - inward, "protrusion": true["protrusion"] + inward}
    return Surroundings(
        figures={name: figure(value, 0.1) for name, value in {**true, **seen}.items()}, gauge_length=GAUGE
    )


def hand(width: float, protrusion: float = GAUGE - 2.1 - 4.2) -> dict[str, Reading]:
    return {"boss_width": Reading(width, 0.08), "protrusion": Reading(protrusion, 0.08)}


def test_two_readings_that_bear_each_other_out_blame_the_photos_face() -> None:
    width, protrusion = double_check("drive", hand(8.4), seen_with_faces(0.8))
    for item in (width, protrusion):
        assert item.verdict == "doubt"
        assert item.slip is None
        assert "photos have probably misplaced a face" in item.sentence


def test_a_slip_in_one_reading_is_not_blamed_on_the_photos() -> None:
    for slipped, words in ((4.2, "half of the boss width"), (9.4, "off by exactly 1 mm")):
        width, protrusion = double_check("drive", hand(slipped), seen_with_faces(0.0))
        assert width.verdict == "disagrees"
        assert words in str(width.slip)
        assert protrusion.verdict == "agrees"
    # two slips that happen to point the same way, but do not give the offset
    width, _ = double_check("drive", hand(9.4, GAUGE - 2.1 - 4.2 - 5.0), seen_with_faces(0.0))
    assert width.verdict == "disagrees"


def test_one_sided_interval_counts_on_its_side() -> None:
    lopsided = Figure(value=2.0, u=0.1, low=1.9, high=2.45)
    around = Surroundings(figures={"spoke_offset": lopsided})
    assert check("spoke_offset", 2.4, around, u=0.02).verdict == "agrees"
    assert check("spoke_offset", 1.6, around, u=0.02).verdict == "disagrees"


def test_a_figure_with_a_warning_calls_no_reading_wrong() -> None:
    sure = figure(94.6, 0.15)
    for photo, verdict in (
        (sure, "disagrees"),
        (sure.warned("a shoulder may have been taken for it"), "doubt"),
    ):
        result = check("over_locknut", 100.04, Surroundings(figures={"over_locknut": photo}))
        assert result.verdict == verdict
        assert ("a warning of its own" in result.sentence) == (verdict == "doubt")
    assert (
        check("over_locknut", 94.7, Surroundings(figures={"over_locknut": sure.warned("x")})).verdict
        == "agrees"
    )


@given(st.floats(-5.0, 5.0), st.floats(0.01, 1.0), st.floats(0.01, 1.0))
def test_normalised_error_changes_sign_with_the_order(x: float, u: float, v: float) -> None:
    assert normalised_error(x, u, 0.0, v) == pytest.approx(-normalised_error(0.0, v, x, u))
