"""The hierarchical model on the eight schools (Gelman and others, Bayesian Data Analysis, table 5.2).

Effects and standard errors as printed in many places, for example https://notes.club/borodark/eXMC. With mu ~
N(0, 5) and tau ~ half-Cauchy(5), the form in which programs for sampling are shown, mu is 4.4 with a standard
deviation of 3.3, and the mean of tau 3.6 (from memory).
"""

from __future__ import annotations

import pytest

from hubsight.wheel.practice import BuiltOn, posterior

EFFECTS = (28.0, 8.0, -3.0, 7.0, -1.0, 1.0, 18.0, 12.0)
ERRORS = (15.0, 10.0, 16.0, 11.0, 9.0, 11.0, 10.0, 18.0)


def test_eight_schools() -> None:
    schools = [BuiltOn(str(k), y, u, 1.0) for k, (y, u) in enumerate(zip(EFFECTS, ERRORS, strict=True))]
    known = posterior(schools, bias_sd=5.0, scatter_scale=5.0)
    assert known.bias.value == pytest.approx(4.4, abs=0.1)
    assert known.bias.u == pytest.approx(3.3, abs=0.1)
    assert float(known.weight @ known.scatter) == pytest.approx(3.6, abs=0.2)
