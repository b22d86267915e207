"""The check of orders and caliper readings, on made-up documents: does it count what it says it counts?"""

import pytest
from bench.wheel import RIMS, over_rims, planted
from run_lengths import Tally


def side(value, proposed, *, close=False, u=0.1):
    length = {"value": value, "u": u, "low": value - 2 * u, "high": value + 2 * u, "warnings": []}
    return {
        "length": length,
        "sorts": [{"length": length}],
        "choices": [{"u_end": (u**2 + 0.15**2 + 0.1**2) ** 0.5}],
        "sits": 0.6,
        "window": [-1.0, 1.5],
        "proposed": proposed,
        "close_call": close,
    }


@pytest.fixture
def tally():
    return Tally()


def test_another_length_without_a_flag_is_an_error(tally):
    true = side(295.6, 296)
    tally.lengths("exact", "a drive", side(295.7, 296), true)
    tally.lengths("exact", "b drive", side(294.2, 294, close=True), true)
    assert not tally.errors
    tally.lengths("exact", "c drive", side(294.2, 294), true)
    assert len(tally.errors) == 1
    count = tally.counts["exact"]
    assert (count["sides"], count["as by the truth"], count["other, flagged"]) == (3, 1, 1)
    assert count["other, not flagged"] == 1
    assert count["held"] == 1
    assert not tally.counts["four"]


def test_over_many_rims_the_share_of_close_calls_follows_from_the_uncertainty():
    """A share 2 z u / step is flagged, with z = 1.28 at one in ten: see the constant's docstring."""
    for u in (0.1, 0.2):
        right = over_rims(side(295.6, 296, u=u), side(295.6, 296, u=0.001))
        assert right["rims"] == RIMS
        assert right["close calls"] / RIMS == pytest.approx(2 * 1.28 * u / 2.0, abs=1.01 / RIMS)
        assert right["other, not flagged"] == 0
    off = over_rims(side(296.2, 296, u=0.1), side(295.6, 296, u=0.001))
    assert 0.15 < off["other, not flagged"] / RIMS < 0.35  # of an error of 0.6 mm in steps of 2 mm


def check(verdict, slip=None):
    return {
        "reading": "boss_width",
        "stated": 4.2,
        "photo": 8.4,
        "e_n": -9.0,
        "verdict": verdict,
        "slip": slip,
    }


def test_a_slip_has_to_be_named_by_its_words(tally):
    tally.check("a drive", check("disagrees", "half of the boss width was given"), "half_width")
    assert not tally.errors
    tally.check("a drive", check("disagrees", "two digits were transposed"), "half_width")
    tally.check("a drive", check("agrees"), "off_by_1")
    assert len(tally.errors) == 2
    assert tally.slips == {"named": 1, "not named": 2}


def test_a_right_reading_called_wrong_is_an_error(tally):
    tally.check("a drive", check("agrees"), None)
    tally.check("a drive", check("doubt", "the reading is off by exactly 1 mm"), None)
    assert not tally.errors
    assert tally.verdicts["in doubt, with a slip"] == 1
    tally.check("a drive", check("disagrees"), None)
    assert len(tally.errors) == 1


def test_plants_change_one_reading_each_as_they_say():
    right = {"boss_width": 8.4, "flange_diameter": 45.1, "protrusion": 95.02}
    found = list(planted(right))
    for name, _, changed in found:
        assert [key for key in right if changed[key] != right[key]] == [name]
    assert {
        ("boss_width", 4.2),
        ("flange_diameter", 22.55),
        ("protrusion", 59.02),
        ("protrusion", 103.42),
    } <= {(name, changed[name]) for name, _, changed in found}
    assert {name for name, _, _ in planted({"protrusion": 94.4})} == {"protrusion"}


def test_plants_are_counted_by_name(tally):
    words = "half of the boss width"
    tally.plant(words, check("disagrees", "half of the boss width was given"))
    tally.plant(words, check("doubt"))
    assert tally.plants[f"boss_width: {words}"] == {"named": 1, "not named, doubt": 1}
    assert not tally.errors
