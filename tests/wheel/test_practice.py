"""The builder's own bias of ERD practice: against simulated builders, numbers by brute force, and nothing."""

import numpy as np
import pytest

from hubsight.model.refusal import Refusal
from hubsight.wheel.practice import PRACTICE_MM, RIMS_MM, BuiltOn, posterior, practice

SLOPE = 0.49


def builder(rng, bias, scatter, rims, *, sides=2, u=0.25):
    """One builder's wheels: every rim has its own error about his, every side its own about the rim's."""
    out = []
    for rim in range(rims):
        erd_error = bias + rng.normal(0.0, scatter)
        out += [BuiltOn(f"rim {rim}", SLOPE * erd_error + rng.normal(0.0, u), u, SLOPE) for _ in range(sides)]
    return out


@pytest.mark.parametrize(("rims", "scatter"), [(2, 0.3), (4, 0.3), (8, 0.8), (15, 0.1)])
def test_the_interval_holds_over_simulated_builders(rims, scatter):
    """Coverage of the 95 % interval over 400 builders whose practice is a draw from the prior."""
    rng = np.random.default_rng(31 + rims)
    inside = []
    for _ in range(400):
        bias = rng.normal(0.0, PRACTICE_MM)
        found = practice(builder(rng, bias, scatter, rims))
        inside.append(found.low <= bias <= found.high)
    assert 0.90 <= np.mean(inside) <= 0.98


@pytest.mark.parametrize("bias", [-1.2, 0.0, 0.6])
def test_the_interval_holds_for_builders_of_one_bias(bias):
    rng = np.random.default_rng(7)
    found = [practice(builder(rng, bias, 0.3, 5)) for _ in range(300)]
    assert 0.90 <= np.mean([one.low <= bias <= one.high for one in found]) <= 0.98
    assert np.mean([one.bias.value for one in found]) == pytest.approx(bias, abs=0.12)


def test_two_sides_of_a_rim_are_one_reading_of_its_erd():
    rng = np.random.default_rng(3)
    wheels = builder(rng, 0.8, 0.5, 4, sides=2, u=0.05)
    apart = [BuiltOn(f"{k}", one.difference, one.u, one.slope) for k, one in enumerate(wheels)]
    assert practice(wheels).bias.u > 1.2 * practice(apart).bias.u


def test_sums_agree_with_brute_force_on_a_grid_of_both_unknowns():
    sides = builder(np.random.default_rng(9), 0.7, 0.4, 3)
    bias = np.linspace(-4.0, 4.0, 401)[:, np.newaxis]
    scatter = np.linspace(0.0025, 12.0, 2400)[np.newaxis, :]
    log = -0.5 * (bias / PRACTICE_MM) ** 2 - np.log(1.0 + (scatter / RIMS_MM) ** 2)
    for rim in {one.rim for one in sides}:
        own = [one for one in sides if one.rim == rim]
        s = np.array([one.slope for one in own])
        d = np.array([one.difference for one in own])
        for column in range(scatter.size):
            covariance = np.diag([one.u**2 for one in own]) + scatter[0, column] ** 2 * np.outer(s, s)
            rest = d - s * bias
            inverse = np.linalg.inv(covariance)
            quadratic = np.einsum("ij,jk,ik->i", rest, inverse, rest)
            log[:, column] += -0.5 * (quadratic + np.log(np.linalg.det(covariance)))
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    mean = float((weight * bias).sum())
    known = posterior(sides).bias
    assert known.value == pytest.approx(mean, abs=0.01)
    assert known.u == pytest.approx(float(np.sqrt((weight * (bias - mean) ** 2).sum())), rel=0.03)


def test_a_bias_that_shows_is_offered_with_its_sign():
    rng = np.random.default_rng(1)
    large = practice(builder(rng, 0.9, 0.2, 10)).sentences()
    assert "mm too large" in large[0]
    assert "correction = { value = -0." in large[1]
    assert "nothing was changed" in large[1]
    small = practice(builder(rng, -0.9, 0.2, 10)).sentences()
    assert "mm too small" in small[0]
    assert "correction = { value = 0." in small[1]
    none = practice(builder(rng, 0.0, 0.2, 10))
    assert not none.shows
    assert "no bias shows" in none.sentences()[0]


def test_one_rim_shows_no_practice():
    assert isinstance(practice(builder(np.random.default_rng(1), 0.9, 0.2, 1)), Refusal)
