"""Caliper readings of the check bars: the scale they give, and the ones that cannot be right."""

import math

import numpy as np
import pytest

from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading
from hubsight.target.print_scale import (
    FINE,
    bar_uncertainty,
    check_print,
    fit_to_page,
    print_scale,
    read_bar,
    swapped_bars,
)


def test_uncertainties_of_one_reading_and_of_the_mean_of_three():
    """0.1 and 0.06 mm: caliper jaws on paper ticks (common practice, no source)."""
    assert bar_uncertainty([119.5]) == pytest.approx(0.1, abs=0.0005)
    assert bar_uncertainty([119.5, 119.5, 119.5]) == pytest.approx(0.06, abs=0.0005)
    assert bar_uncertainty([119.5] * 1000) > 0.02  # the caliper's own error stays


def test_readings_that_scatter_more_than_usual_count_as_less_certain():
    """t is 2.2281 for 10 degrees of freedom (GUM, table G.2): two of three readings, eight of experience."""
    readings = [119.2, 119.6, 119.9]
    expected = math.hypot(0.02, 2.2281 / 1.95996 * np.std(readings, ddof=1) / math.sqrt(3))
    assert bar_uncertainty(readings) == pytest.approx(expected, rel=1e-4)
    assert expected > 0.06


def test_the_scale_is_the_printed_over_the_nominal_length():
    check = check_print([119.40, 119.46, 119.52], 120.9)
    assert check.usable
    assert check.warnings == ()
    assert (check.scale_x.value, check.scale_x.u) == (
        pytest.approx(0.9955),
        pytest.approx(0.06 / 120, rel=0.01),
    )
    assert (check.scale_y.value, check.scale_y.u) == (
        pytest.approx(1.0075),
        pytest.approx(0.1 / 120, rel=0.01),
    )
    assert print_scale(Reading(60.0, 0.12)) == Reading(0.5, 0.001)
    assert print_scale(None) is None


def test_the_sentences_say_size_scale_and_what_would_help():
    text = " ".join(check_print([119.40, 119.46, 119.52], 120.9).sentences)
    assert (
        "Along the long side (bar x) the print is 0.45 % too small: 119.46 mm instead of 120, known" in text
    )
    assert "Along the short side (bar y) the print is 0.75 % too large: 120.90 mm" in text
    assert "The two scales differ by 1.2 %" in text
    assert "make sure that the readings are not swapped" in text
    assert "Three readings of a bar" in text
    assert (
        check_print([120.0] * 3, [120.0] * 3)
        .sentences[0]
        .startswith("Along the long side (bar x) the print is at 100 %")
    )


def test_good_readings_are_called_fine_and_others_not():
    assert check_print(119.5, 119.2).sentences[-1] == FINE
    assert FINE not in check_print(119.5, None).sentences, "one bar only"
    assert FINE not in check_print(112.85, 112.92, "a4").sentences, "not printed at 100 %"


def test_what_is_said_of_a_print_does_not_contradict_itself():
    """Readings that no print can have are not called usual in the same breath."""
    check = check_print(118.0, 122.0)
    said = " ".join(check.sentences)
    assert "no printer does" in check.refusals[0].reason
    assert "as printers do" not in said
    assert FINE not in said


def test_one_bar_alone_is_usable_but_the_other_is_asked_for():
    check = check_print(119.5, None)
    assert check.usable
    assert check.scale_y is None
    assert any("Measure both bars" in sentence for sentence in check.sentences)
    assert read_bar([], "x") is None


@pytest.mark.parametrize(
    ("x", "words"),
    [
        (132.0, "+10 % off 120 mm, more than any print"),
        (108.5, "-10 % off 120 mm, as when the A4 sheet is shrunk to Letter paper within its margins"),
        (4.70, "looks like inches, 119.38 mm"),
        (11.95, "looks like centimetres, 119.50 mm"),
        (84.9, "-29 % off 120 mm"),
        (0.0, "no length"),
        (-119.5, "no length"),
        (float("nan"), "no length"),
        (float("inf"), "no length"),
        ([119.2, 119.5, 120.9], "differ by 1.70 mm, so one of them is a slip"),
        ([119.5, 195.4], "+63 % off"),
    ],
)
def test_readings_that_cannot_be_are_refused(x, words):
    check = check_print(x, 119.5)
    assert not check.usable
    (refusal,) = check.refusals
    assert isinstance(refusal, Refusal)
    assert refusal.reason.startswith("check bar x: ")
    assert words in refusal.sentence()
    assert refusal.remedy
    assert check.bar_x is check.scale_x is None
    assert check.scale_y.value == pytest.approx(119.5 / 120)


def test_scales_that_no_printer_makes_are_refused():
    check = check_print(118.0, 122.0)
    assert not check.usable
    assert "which no printer does" in check.refusals[0].reason


@pytest.mark.parametrize(
    ("printed", "onto", "percent"),
    [
        # Ratios of the page sizes of ISO 216 (297 x 210, 420 x 297) and of 11 x 8.5 inches.
        ("a4", "letter", 94.07),
        ("letter", "a4", 97.27),
        ("a3", "a4", 70.71),
        ("a4", "a3", 141.4),
    ],
)
def test_a_page_fitted_to_other_paper_is_recognised(printed, onto, percent):
    names = {"a4": "A4", "letter": "Letter", "a3": "A3"}
    likeliest = fit_to_page(percent / 100, printed)[0]
    assert likeliest == f"the {names[printed]} sheet is fitted to {names[onto]} paper"


def test_fit_to_page_is_a_warning_where_the_print_can_still_be_used():
    check = check_print(112.85, 112.92, "a4")
    assert check.usable
    (warning,) = check.warnings
    assert "The print is at 94.1 %" in warning
    assert "as when the A4 sheet is fitted to Letter paper" in warning
    assert "Print again at 100 %" in warning


def test_shrinking_to_the_printers_margins_is_recognised():
    """Fitted to margins of 4.2 mm, a sheet of 210 mm comes out at 96 %."""
    reading = 120 * (210 - 2 * 4.2) / 210
    (warning,) = check_print(reading, reading + 0.05).warnings
    assert "as when the A4 sheet is shrunk to the printer's margins" in warning


def test_a_print_within_two_per_cent_is_no_mistake():
    for scale in (0.981, 0.995, 1.0, 1.019):
        assert check_print(120 * scale, 120 * scale).warnings == ()
    assert fit_to_page(1.0, "a4") == ()


def test_unequal_scales_are_no_fit_to_page():
    (warning,) = check_print(114.0, 116.9).warnings
    assert "The print is at" in warning
    assert "as when" not in warning


SEEN = Reading(119.82 / 118.90, 0.0003)


def test_swapped_bars_are_found_by_what_photos_show():
    refusal = swapped_bars(Reading(118.90, 0.1), Reading(119.82, 0.1), SEEN)
    assert refusal is not None
    assert "seem to be swapped" in refusal.sentence()
    assert "photos show x to be longer" in refusal.sentence()


@pytest.mark.parametrize(
    ("x", "y"),
    [
        (119.82, 118.90),  # right
        (119.60, 119.70),  # off, but not the other way round
        (119.40, 119.45),
        (117.00, 120.00),  # wrong in another way
    ],
)
def test_bars_that_are_not_swapped(x, y):
    assert swapped_bars(Reading(x, 0.1), Reading(y, 0.1), SEEN) is None


def test_a_swap_too_small_to_tell_is_not_claimed():
    assert swapped_bars(Reading(119.8, 0.1), Reading(120.0, 0.1), Reading(1.0017, 0.0003)) is None
