"""Crosses from the gauge's direction and back."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading
from hubsight.wheel.crosses import DrilledCrosses, alpha_from_beta, drilled_crosses, expected_beta
from hubsight.wheel.lacing import beta_from_alpha

bosses = st.integers(4, 10)
diameters = st.floats(36.0, 62.0)
erds = st.floats(260.0, 630.0)


def read(beta: float, n: int, d: float, erd: Reading | None = None, u: float = 0.3) -> DrilledCrosses:
    result = drilled_crosses(Reading(beta, u), n, Reading(d, 0.3), erd)
    assert isinstance(result, DrilledCrosses)
    return result


def buildable(n: int) -> int:
    """Most crosses that keep alpha at 90 degrees or less."""
    return int(n / 2 - 0.5)


@given(bosses, diameters, erds, st.data())
def test_crosses_come_back_from_their_own_direction(
    n: int, d: float, erd: float, data: st.DataObject
) -> None:
    crosses = data.draw(st.integers(0, buildable(n)))
    beta, _ = expected_beta(crosses, n, d, erd)
    known = read(beta, n, d, Reading(erd, 2.0))
    assert known.crosses == crosses
    assert known.exact == pytest.approx(crosses, abs=1e-9)
    assert known.clear
    assert known.expected_beta == pytest.approx(beta)
    assert read(-beta, n, d, Reading(erd, 2.0)).crosses == crosses


@given(bosses, diameters, st.floats(500.0, 630.0), st.data())
def test_crosses_are_read_without_an_erd(n: int, d: float, erd: float, data: st.DataObject) -> None:
    """Full-size wheels; the read number is within its stated uncertainty of the true one."""
    crosses = data.draw(st.integers(0, buildable(n)))
    unknown = read(expected_beta(crosses, n, d, erd)[0], n, d)
    assert unknown.crosses == crosses
    assert abs(unknown.exact - crosses) < 3.0 * unknown.u


@given(st.floats(1.0, 170.0), diameters, erds)
def test_direction_and_rim_hole_belong_together(alpha: float, d: float, erd: float) -> None:
    assert alpha_from_beta(beta_from_alpha(alpha, erd, d), erd, d) == pytest.approx(alpha, abs=1e-9)


@given(bosses, diameters, erds, st.data())
def test_derivative_by_erd(n: int, d: float, erd: float, data: st.DataObject) -> None:
    crosses = data.draw(st.integers(0, buildable(n)))
    _, slope = expected_beta(crosses, n, d, erd)
    step = 0.01
    higher, lower = (expected_beta(crosses, n, d, erd + sign * step)[0] for sign in (1, -1))
    numeric = (higher - lower) / (2.0 * step)
    assert slope == pytest.approx(numeric, rel=1e-5)


def test_uncertainty_of_the_read_crosses_agrees_with_scatter() -> None:
    rng = np.random.default_rng(2)
    beta = expected_beta(2, 6, 44.0, 600.0)[0]
    drawn = [
        alpha_from_beta(b, e, d) * 12.0 / 360.0 - 0.5
        for b, e, d in zip(
            rng.normal(beta, math.hypot(2.0, 1.0), 4000),
            rng.normal(600.0, 15.0, 4000),
            rng.normal(44.0, 0.3, 4000),
            strict=True,
        )
    ]
    assert read(beta, 6, 44.0, Reading(600.0, 15.0), u=2.0).u == pytest.approx(float(np.std(drawn)), rel=0.05)


def test_direction_between_two_crosses_is_unclear() -> None:
    between = (expected_beta(2, 6, 44.0, 600.0)[0] + expected_beta(1, 6, 44.0, 600.0)[0]) / 2.0
    assert not read(between, 6, 44.0, Reading(600.0, 1.0)).clear


def test_radial_spokes_have_no_crosses() -> None:
    assert read(0.8, 10, 42.0).crosses == 0
    assert read(0.8, 10, 42.0).clear


@pytest.mark.parametrize(("beta", "n", "d"), [(190.0, 6, 44.0), (80.0, 1, 44.0), (80.0, 6, 700.0)])
def test_impossible_directions_are_refused(beta: float, n: int, d: float) -> None:
    assert isinstance(drilled_crosses(Reading(beta, 0.3), n, Reading(d, 0.3)), Refusal)
