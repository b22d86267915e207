"""What is read from a number, several, or a table with an uncertainty."""

import math

import pytest
import scipy.stats
from pydantic_core import PydanticCustomError

from hubsight.job.file.model import CaliperTable
from hubsight.job.file.readings import (
    ERD,
    GAUGE_LENGTH,
    read_check_bar,
    read_erd,
    read_gaps,
    read_reading,
    reader,
)
from hubsight.model.stated import Reading
from hubsight.model.uncertainty import KNOWN_FREEDOM


def test_one_reading_has_the_uncertainty_of_its_kind():
    reading = read_reading(100.02, GAUGE_LENGTH)
    assert reading.value == 100.02
    assert reading.u == pytest.approx(0.03, abs=0.0005)  # design: L of the gauge is known to 0.03 mm


def test_check_bars_have_the_uncertainties_of_the_design():
    # common practice, no source: caliper jaws on paper ticks, 0.1 mm once and 0.06 mm for the mean of three
    assert read_check_bar(119.5, "x").u == pytest.approx(0.1, abs=0.001)
    assert read_check_bar([119.5, 119.48, 119.52], "x").u == pytest.approx(0.06, abs=0.001)


def test_several_readings_are_averaged_and_their_scatter_counts():
    reading = reader(CaliperTable, "protrusion")([95.0, 95.8])
    assert reading.value == pytest.approx(95.4)
    scatter = 0.8 / math.sqrt(2)  # standard deviation of two values
    few = scipy.stats.t.ppf(0.975, 1 + KNOWN_FREEDOM) / scipy.stats.norm.ppf(0.975)
    expected = math.hypot(0.08, few * scatter / math.sqrt(2))
    assert reading.u == pytest.approx(expected)
    assert few > 1.1
    assert reading.count == 2


def test_a_stated_uncertainty_replaces_the_usual_one():
    assert read_reading({"value": [599, 600, 601], "u": 0.4}, ERD) == Reading(600, 0.4)
    assert read_reading({"value": 600}, ERD) == read_reading(600, ERD)


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        ("a hundred", "is not a number"),
        ("100 cm", "is not a number"),
        ("119,52,119,48", "is not a number"),
        (True, "is not a number"),
        (math.nan, "is not a number"),
        ([], "nothing is filled in"),
        (10.0, "not between 30 and 310"),
        ([100.0, 101.0], "differ by 1.00 mm"),
        ({"value": 100.0, "u": 0}, "more than 0"),
        ({"value": 100.0, "sigma": 0.1}, "{ value = 119.5, u = 0.05 }"),
        ({"u": 0.1}, "{ value = 119.5, u = 0.05 }"),
    ],
)
def test_what_is_no_reading_is_refused_in_words(raw, words):
    with pytest.raises(PydanticCustomError) as caught:
        read_reading(raw, GAUGE_LENGTH)
    assert words in caught.value.message()


@pytest.mark.parametrize(("raw", "words"), [(132.0, "10 %"), (4.7, "inches"), ([], "nothing is filled in")])
def test_a_check_bar_that_cannot_be_is_refused_in_words(raw, words):
    with pytest.raises(PydanticCustomError) as caught:
        read_check_bar(raw, "y")
    assert words in caught.value.message()


@pytest.mark.parametrize(
    ("typed", "mm"),
    [
        ("3.937 in", 99.9998),
        ('3,937"', 99.9998),
        ("3 15/16 in", 100.0125),
        ('3-15/16"', 100.0125),
        ("3 15/16″", 100.0125),
    ],
)
def test_inches_are_read(typed, mm):
    """An inch is 25.4 mm (ISO 31-1): 63/16 of it are 100.0125."""
    assert read_reading(typed, GAUGE_LENGTH).value == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize("typed", ["100.08 mm", "100,08 mm", "100,08", "100.08mm", " 100.08 MM ", "100.08"])
def test_millimetres_are_read_with_unit_and_with_comma(typed):
    assert read_reading(typed, GAUGE_LENGTH) == read_reading(100.08, GAUGE_LENGTH)
    assert read_reading([typed, 100.04], GAUGE_LENGTH).value == pytest.approx(100.06)


@pytest.mark.parametrize("raw", [[7, 8], [7, 7], [119, 52], [7, 8, 7, 9]])
def test_a_decimal_comma_is_never_two_readings(raw):
    """TOML reads [7,8] as two numbers: one writes so where the comma is the decimal sign."""
    for read in (reader(CaliperTable, "boss_width"), read_erd, lambda r: read_check_bar(r, "x")):
        with pytest.raises(PydanticCustomError, match="decimal comma") as caught:
            read(raw)
        assert f"[{raw[0]}.{raw[1]}] is one reading" in caught.value.message()
    with pytest.raises(PydanticCustomError, match="decimal comma"):
        read_gaps([96, 4])


def test_readings_that_cannot_be_a_decimal_comma_are_several():
    assert reader(CaliperTable, "boss_width")([7.0, 8.0]).value == 7.5
    assert read_erd([596, 597]).value == pytest.approx(596.5)
    assert read_reading([100, 100, 100], GAUGE_LENGTH).value == 100.0


def test_a_fraction_of_an_inch_is_no_surer_than_the_rules_division():
    """Within half a division either way, evenly probable: the division over the root of twelve."""
    own = read_reading(100.0125, GAUGE_LENGTH).u
    expected = math.hypot(own, 25.4 / 16 / math.sqrt(12))
    assert read_reading("3 15/16 in", GAUGE_LENGTH).u == pytest.approx(expected)
    assert read_reading("3.937 in", GAUGE_LENGTH).u == pytest.approx(own)
    both = read_reading(["3 15/16 in", "3 15/16 in"], GAUGE_LENGTH)
    assert both.u > 25.4 / 16 / math.sqrt(12)
    assert read_reading({"value": "3 15/16 in", "u": 0.1}, GAUGE_LENGTH).u == 0.1
    assert read_reading({"value": "3 15/16 in"}, GAUGE_LENGTH).u == pytest.approx(expected)


def test_check_bars_and_rims_are_read_in_inches_too():
    assert read_check_bar("4 91/128 in", "x").value == pytest.approx(4.7109375 * 25.4)
    assert read_erd(["23 5/8 in", 600.0]).value == pytest.approx(600.0375)


@pytest.mark.parametrize(
    "typed", ["3 15/17 in", "3 17/16 in", "3 15/16", "in", "1e2 in", "3 in 2", "15/0 in"]
)
def test_what_is_no_length_in_inches_is_no_reading(typed):
    with pytest.raises(PydanticCustomError, match="is not a number"):
        read_reading(typed, GAUGE_LENGTH)
