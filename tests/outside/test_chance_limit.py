"""The limit that right differences exceed by chance: against scipy's normal distribution, and by counting."""

import numpy as np
import pytest
from scipy.stats import norm

from hubsight.model.uncertainty import FALSE_ALARM, chance_limit


@pytest.mark.parametrize("tests", [1, 2, 28])
@pytest.mark.parametrize("false_alarm", [FALSE_ALARM, 0.05])
def test_the_limit_is_bonferronis(tests, false_alarm):
    """Bonferroni's inequality: n tests at a / n each (textbook, from memory); quantile by scipy."""
    assert chance_limit(tests, false_alarm) == pytest.approx(norm.isf(false_alarm / 2 / tests))


def test_one_right_set_in_a_hundred_is_doubted():
    """Counted: the largest of eight normal differences, alike and independent."""
    z = np.abs(np.random.default_rng(5).normal(size=(40_000, 8))).max(1)
    assert np.mean(z > chance_limit(8)) == pytest.approx(FALSE_ALARM, abs=0.0015)
