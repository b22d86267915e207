"""Least squares with correlated errors, consistency and few readings against published values and scipy."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.stats

from hubsight.job.joint.gauss import Known, Observation, Slip, System
from hubsight.model.uncertainty import (
    COVERAGE_FACTOR,
    KNOWN_FREEDOM,
    coverage_factor,
    normalised_error,
    u_of_mean,
)


def test_correlated_inputs_as_in_the_gum() -> None:
    """GUM H.2 (JCGM 100:2008): resistance and reactance from correlated voltage, current and phase.

    V 4.9990 (0.0032), I 0.019661 (9.5e-6), phi 1.04446 (7.5e-4); r(V,I) -0.36, r(V,phi) 0.86, r(I,phi) -0.65.
    Results: R 127.732 (0.071), X 219.847 (0.295), Z 254.260 (0.236).
    """
    V, I, phi = 4.9990, 0.019661, 1.04446  # noqa: E741
    u = np.array([0.0032, 9.5e-6, 7.5e-4])
    correlation = np.array([[1.0, -0.36, 0.86], [-0.36, 1.0, -0.65], [0.86, -0.65, 1.0]])
    root = np.linalg.cholesky(correlation) * u[:, None]
    names = ("V", "I", "phi")
    # each input in its own standard uncertainty, so that unlike units go together
    system = System(
        tuple(
            Observation(name, 0.0, 1e-4, {name: 1.0}, {f"e{k}": root[row, k] / u[row] for k in range(3)})
            for row, name in enumerate(names)
        )
    )
    cos, sin = math.cos(phi), math.sin(phi)
    slopes = {
        "R": (cos / I, -V * cos / I**2, -V * sin / I),
        "X": (sin / I, -V * sin / I**2, V * cos / I),
        "Z": (1.0 / I, -V / I**2, 0.0),
    }
    expected = {"R": 0.071, "X": 0.295, "Z": 0.236}
    for name, slope in slopes.items():
        row = {key: s * own for key, s, own in zip(names, slope, u, strict=True)}
        assert system.predict(row).u == pytest.approx(expected[name], rel=0.03)


@pytest.mark.parametrize("apart", [0.0, 0.2, 0.5])
def test_two_values_contradict_as_by_the_normalised_error(apart: float) -> None:
    """ISO 13528, ISO/IEC 17043: E_n of expanded uncertainties; its square over k^2 is one chi-square."""
    system = System(
        (
            Observation("a", 8.0 + apart, 0.1, {"W": 1.0}),
            Observation("b", 8.0, 0.2, {"W": 1.0}),
        )
    )
    e_n = normalised_error(8.0 + apart, COVERAGE_FACTOR * 0.1, 8.0, COVERAGE_FACTOR * 0.2)
    assert system.redundancy == 1
    assert system.chi2() == pytest.approx((COVERAGE_FACTOR * e_n) ** 2, abs=1e-3)


def _made_up(rng: np.random.Generator) -> tuple[System, np.ndarray, np.ndarray, np.ndarray]:
    """Return a random system, its design, covariance and values."""
    n, q = 9, 3
    design, shared = rng.normal(size=(n, q)), rng.normal(size=(n, 2))
    u, values = rng.uniform(0.1, 0.5, n), rng.normal(size=n)
    system = System(
        tuple(
            Observation(
                str(k),
                values[k],
                u[k],
                {f"q{j}": design[k, j] for j in range(q)},
                {f"s{j}": shared[k, j] for j in range(2)},
            )
            for k in range(n)
        )
    )
    return system, design, np.diag(u**2) + shared @ shared.T, values


def test_generalised_least_squares_as_by_textbook() -> None:
    """Aitken's estimator (X' C^-1 X)^-1 X' C^-1 y, by numpy, and the sum of squares of its residuals."""
    system, design, covariance, values = _made_up(np.random.default_rng(2))
    weights = np.linalg.inv(covariance)
    posterior = np.linalg.inv(design.T @ weights @ design)
    found = posterior @ design.T @ weights @ values
    left = values - design @ found
    assert system.chi2() == pytest.approx(float(left @ weights @ left), rel=1e-4)
    for k in range(3):
        known = system.predict({f"q{k}": 1.0})
        assert known.value == pytest.approx(found[k], abs=1e-4)
        assert known.u == pytest.approx(math.sqrt(posterior[k, k]), rel=1e-4)


def test_evidence_of_a_slip_as_by_scipy() -> None:
    """The density of the observations with a slip of normal size, against scipy's multivariate normal."""
    system, design, covariance, values = _made_up(np.random.default_rng(3))
    known = {f"q{k}": Known(0.2, 1.5) for k in range(3)}
    system = System(system.observations, known)
    spread = np.linspace(-1.0, 1.0, 9)
    whole = covariance + 1.5**2 * design @ design.T
    mean = design @ np.full(3, 0.2)
    right = scipy.stats.multivariate_normal(mean, whole).logpdf(values)
    slipped = scipy.stats.multivariate_normal(mean + 0.3, whole + np.outer(spread, spread)).logpdf(values)
    gain = system.evidence(Slip(np.full(9, 0.3), spread)) - system.evidence()
    assert gain == pytest.approx(slipped - right, abs=1e-6)
    other, design, covariance, values = _made_up(np.random.default_rng(4))
    other = System(other.observations, known)
    whole = covariance + 1.5**2 * design @ design.T
    apart = scipy.stats.multivariate_normal(design @ np.full(3, 0.2), whole).logpdf(values)
    assert other.evidence() - system.evidence() == pytest.approx(apart - right, abs=1e-6)
    assert system.redundancy == 9


def test_few_readings_by_students_t() -> None:
    for freedom in (1, 2, 4, 10, 30):
        assert coverage_factor(freedom) == pytest.approx(scipy.stats.t.ppf(0.975, freedom))
    widened = scipy.stats.t.ppf(0.975, 2 + KNOWN_FREEDOM) / scipy.stats.norm.ppf(0.975)
    values = [1.0, 1.4, 1.8]
    assert u_of_mean(values, 0.01) == pytest.approx(widened * 0.4 / math.sqrt(3.0))
    assert u_of_mean(values, 2.0) == pytest.approx(2.0 / math.sqrt(3.0))
    assert u_of_mean([1.0], 0.3) == 0.3


def test_intervals_of_few_readings_hold() -> None:
    """Of means of three readings that scatter as is known beforehand, 95 % lie within 1.96 u, and a few more.

    A larger scatter counts; by the readings' own scatter alone only some 81 % would.
    """
    rng = np.random.default_rng(4)
    readings = rng.normal(0.0, 1.0, (4000, 3))
    held = np.mean([abs(r.mean()) <= COVERAGE_FACTOR * u_of_mean(list(r), 1.0) for r in readings])
    assert 0.94 <= held <= 0.99
