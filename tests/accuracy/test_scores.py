"""The benchmark's own statistics and truth, checked apart from the tool."""

import math

import numpy as np
import pytest
from bench.corpus import asymmetric_boss
from bench.scores import COVERAGE, Outcome, binomial_limits, score


def outcome(error=0.0, u=0.1, *, warned=False, figure="spoke_offset", truth=2.0):
    value = truth + error
    return Outcome("hub", "ds", figure, value, u, value - 1.96 * u, value + 1.96 * u, truth, warned)


def test_scores_of_known_errors():
    result = score([outcome(e, u=0.05) for e in (-0.1, 0.0, 0.1, 0.3)], failures=2)
    assert result.number == 4
    assert result.failures == 2
    assert result.bias == pytest.approx(0.075)
    assert result.median == pytest.approx(0.1)
    assert result.largest == pytest.approx(0.3)
    assert result.p90 == pytest.approx(0.24)  # linear between 0.1 and 0.3 at seven tenths
    assert result.held == 1
    assert result.width == pytest.approx(2 * 1.96 * 0.05)
    assert result.blunders == 1


def test_nothing_measured_is_no_zero_error():
    result = score([], failures=3)
    assert result.failures == 3
    assert math.isnan(result.median)
    assert math.isnan(result.bias)


@pytest.mark.parametrize(
    ("error", "u", "warned", "blunder"),
    [
        (0.19, 0.01, False, False),  # many sigmas, but small
        (0.21, 0.06, False, False),  # large, but within its stated uncertainty
        (0.21, 0.05, False, True),
        (-0.21, 0.05, False, True),
        (0.21, 0.05, True, False),  # the user was told
    ],
)
def test_a_blunder_is_large_beyond_its_uncertainty_and_unwarned(error, u, warned, blunder):
    assert outcome(error, u, warned=warned).blunder is blunder


def test_z_is_the_error_in_stated_uncertainties():
    assert outcome(-0.3, 0.1).z == pytest.approx(-3.0)
    assert outcome(-0.3, 0.0).z == -math.inf


def test_binomial_limits_agree_with_drawing():
    rng = np.random.default_rng(5)
    for number in (9, 40, 200):
        low, high = binomial_limits(number)
        shares = rng.binomial(number, COVERAGE, 20_000) / number
        assert np.mean(shares < low) <= 0.03
        assert np.mean(shares > high) <= 0.03
        assert low < COVERAGE <= high


def test_binomial_limits_of_no_interval_are_no_limits():
    assert binomial_limits(0) == (0.0, 1.0)


@pytest.mark.parametrize(
    ("boss", "asymmetric"),
    [
        ({"h": 4.1, "slope": -7}, False),
        ({"h": 5.2, "barrel": 11.0, "crown": 16.0}, False),
        ({"h": [4.0, 4.05], "slope": [-7, -8]}, False),  # too little to matter
        ({"h": [4.0, 4.6], "slope": -7}, True),
        ({"h": 4.0, "slope": [-2, -9]}, True),
        ({"h": 4.0, "lean": 6}, True),
        ({"h": 4.0, "cant": -6}, True),
        ({"h": 4.0, "beak": (1.5, 2.0, 3.0)}, True),
        ({"h": 4.0, "twist": 5}, True),  # the second face follows the first: no mirror image
        ({"h": 4.0, "twist": 5, "twist_l": -5}, True),
        ({"h": 4.0, "twist": 5, "twist_l": 5}, False),
    ],
)
def test_which_bosses_are_counted_apart(boss, asymmetric):
    assert asymmetric_boss(boss) is asymmetric
