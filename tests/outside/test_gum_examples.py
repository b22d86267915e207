"""Uncertainty arithmetic against the worked examples of the GUM and against an independent package.

Sources: JCGM 100:2008 (GUM), annexes H.1, H.2, H.3; JCGM 101:2008, clause 9.5; the `uncertainties` package.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest
from uncertainties import correlated_values, covariance_matrix, ufloat, umath

from gum import (
    combine,
    covariance_from_correlation,
    effective_freedom,
    monte_carlo,
    propagate,
    u_arcsine,
    u_triangular,
)
from hubsight.model.uncertainty import COVERAGE_FACTOR, coverage_factor, sample_normal, u_rectangular

FloatArray = npt.NDArray[np.float64]

# H.1: end gauge of 50 mm against a standard; nm and kelvin.
STANDARD, U_STANDARD = 50_000_623.0, 25.0
DIFFERENCE = 215.0
U_DIFFERENCES = (5.8, 3.9, 6.7)
EXPANSION, EXPANSION_HALF = 11.5e-6, 2e-6
EXPANSION_DIFFERENCE_HALF = 1e-6
TEMPERATURE, U_TEMPERATURE = -0.1, 0.2
CYCLE_HALF = 0.5
TEMPERATURE_DIFFERENCE_HALF = 0.05


def end_gauge(x: FloatArray) -> FloatArray:
    """l = l_s + d - l_s (delta_alpha theta + alpha_s delta_theta); equation H.3 with theta = mean + cycle."""
    standard, difference, expansion, expansion_difference, temperature, temperature_difference = x.T
    drift = expansion_difference * temperature + expansion * temperature_difference
    return np.asarray(standard + difference - standard * drift)


def end_gauge_inputs() -> tuple[list[float], list[float]]:
    values = [STANDARD, DIFFERENCE, EXPANSION, 0.0, TEMPERATURE, 0.0]
    u = [
        U_STANDARD,
        combine(*U_DIFFERENCES),
        u_rectangular(EXPANSION_HALF),
        u_rectangular(EXPANSION_DIFFERENCE_HALF),
        combine(U_TEMPERATURE, u_arcsine(CYCLE_HALF)),
        u_rectangular(TEMPERATURE_DIFFERENCE_HALF),
    ]
    return values, u


def test_h1_end_gauge_value_uncertainty_and_budget() -> None:
    values, u = end_gauge_inputs()
    result = propagate(end_gauge, values, np.diag(np.square(u)))
    assert result.values[0] == pytest.approx(50_000_838.0, abs=0.5)
    assert result.u[0] == pytest.approx(32.0, abs=0.5)
    contributions = np.abs(result.jacobian[0]) * u
    np.testing.assert_allclose(contributions, [25.0, 9.7, 0.0, 2.9, 0.0, 16.6], atol=0.05)


def test_h1_effective_degrees_of_freedom() -> None:
    """H.1.6: the difference has 25.6, the length 16.7 degrees of freedom; t for 99 % and 16 of them is
    2.92."""
    assert effective_freedom(U_DIFFERENCES, [24.0, 5.0, 8.0]) == pytest.approx(25.6, abs=0.3)
    parts = [25.0, 9.7, 2.9, 16.6]
    assert effective_freedom(parts, [18.0, 25.6, 50.0, 2.0]) == pytest.approx(16.7, abs=0.3)
    assert coverage_factor(16.0, 0.99) == pytest.approx(2.92, abs=0.005)


def trapezoid(rng: np.random.Generator, half: float, doubt: float, draws: int) -> FloatArray:
    """Rectangular with inexactly known limits (JCGM 101, 6.4.3)."""
    return rng.uniform(-1.0, 1.0, draws) * (half + rng.uniform(-doubt, doubt, draws))


def test_h1_by_monte_carlo_differs_from_linear_as_published() -> None:
    """JCGM 101, 9.5.4: 838 nm, u = 36 nm, 99 % [745, 932] nm, where the GUM's linear u is 32 nm."""
    rng = np.random.default_rng(95)
    n = 400_000
    samples = np.column_stack(
        [
            STANDARD + U_STANDARD * rng.standard_t(18.0, n),
            DIFFERENCE
            + sum(u * rng.standard_t(nu, n) for u, nu in zip(U_DIFFERENCES, (24.0, 5.0, 8.0), strict=True)),
            rng.uniform(EXPANSION - EXPANSION_HALF, EXPANSION + EXPANSION_HALF, n),
            trapezoid(rng, EXPANSION_DIFFERENCE_HALF, 0.1e-6, n),
            rng.normal(TEMPERATURE, U_TEMPERATURE, n)
            + CYCLE_HALF * np.sin(rng.uniform(0.0, 2.0 * math.pi, n)),
            trapezoid(rng, TEMPERATURE_DIFFERENCE_HALF, 0.025, n),
        ]
    )
    result = monte_carlo(end_gauge, samples)
    assert result.values[0] == pytest.approx(50_000_838.0, abs=0.5)
    assert result.u[0] == pytest.approx(36.0, abs=0.5)
    low, high = result.interval(coverage=0.99)
    assert low - 50_000_000.0 == pytest.approx(745.0, abs=3.0)
    assert high - 50_000_000.0 == pytest.approx(932.0, abs=3.0)


# H.2: resistance, reactance and impedance from correlated readings of voltage, current and phase.
IMPEDANCE_INPUTS = (4.999, 0.019661, 1.04446)
IMPEDANCE_U = (0.0032, 9.5e-6, 7.5e-4)
IMPEDANCE_R = ((1.0, -0.36, 0.86), (-0.36, 1.0, -0.65), (0.86, -0.65, 1.0))


def impedance(x: FloatArray) -> FloatArray:
    z = x[..., 0] / x[..., 1]
    return np.stack([z * np.cos(x[..., 2]), z * np.sin(x[..., 2]), z], axis=-1)


def test_h2_correlated_inputs_and_outputs() -> None:
    covariance = covariance_from_correlation(IMPEDANCE_U, IMPEDANCE_R)
    result = propagate(impedance, IMPEDANCE_INPUTS, covariance)
    np.testing.assert_allclose(result.values, [127.732, 219.847, 254.260], atol=0.001)
    np.testing.assert_allclose(result.u, [0.071, 0.295, 0.236], atol=0.0015)
    r = result.correlation
    np.testing.assert_allclose([r[0, 1], r[0, 2], r[1, 2]], [-0.588, -0.485, 0.993], atol=0.006)


def test_h2_by_monte_carlo() -> None:
    covariance = covariance_from_correlation(IMPEDANCE_U, IMPEDANCE_R)
    samples = sample_normal(IMPEDANCE_INPUTS, covariance, 200_000, np.random.default_rng(7))
    drawn = monte_carlo(impedance, samples)
    linear = propagate(impedance, IMPEDANCE_INPUTS, covariance)
    np.testing.assert_allclose(drawn.u, linear.u, rtol=0.01)
    np.testing.assert_allclose(drawn.covariance, linear.covariance, rtol=0.03)


# H.3: calibration line of a thermometer. Table H.6 (from memory): temperatures and corrections, deg C.
THERMOMETER_T = (21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
THERMOMETER_B = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)
THERMOMETER_T0 = 20.0


def test_h3_line_fit_and_its_prediction() -> None:
    design = np.column_stack([np.ones(11), np.array(THERMOMETER_T) - THERMOMETER_T0])
    solve = np.linalg.pinv(design)
    b = np.array(THERMOMETER_B)
    residual = b - design @ (solve @ b)
    variance = float(residual @ residual) / (11 - 2)
    fit = propagate(lambda x: solve @ x, b, variance * np.eye(11))
    assert fit.values[0] == pytest.approx(-0.1712, abs=5e-5)
    assert fit.values[1] == pytest.approx(0.00218, abs=5e-6)
    assert fit.u[0] == pytest.approx(0.0029, abs=5e-5)
    assert fit.u[1] == pytest.approx(0.00067, abs=5e-6)
    assert fit.correlation[0, 1] == pytest.approx(-0.930, abs=0.001)
    at_30 = propagate(lambda x: np.array([x[0] + 10.0 * x[1]]), fit.values, fit.covariance)
    assert at_30.values[0] == pytest.approx(-0.1494, abs=5e-5)
    assert at_30.u[0] == pytest.approx(0.0041, abs=5e-5)


def test_simple_distributions() -> None:
    """GUM 4.3.7, 4.3.9, H.1.3.4: standard uncertainties of shapes, against the scatter of samples."""
    rng = np.random.default_rng(3)
    n = 200_000
    drawn = {
        u_rectangular(0.3): rng.uniform(-0.3, 0.3, n),
        u_triangular(0.3): rng.triangular(-0.3, 0.0, 0.3, n),
        u_arcsine(0.3): 0.3 * np.sin(rng.uniform(0.0, 2.0 * math.pi, n)),
    }
    for u, samples in drawn.items():
        assert u == pytest.approx(float(np.std(samples)), rel=0.01)
    assert pytest.approx(1.959964, abs=1e-6) == COVERAGE_FACTOR
    assert coverage_factor() == COVERAGE_FACTOR


def test_against_the_uncertainties_package_with_correlation() -> None:
    values, u, r = [600.0, 44.0, 17.0, 2.0], [0.3, 0.2, 0.25, 0.06], np.eye(4)
    r[1, 3] = r[3, 1] = -0.6
    covariance = covariance_from_correlation(u, r)

    def length(x: FloatArray) -> FloatArray:
        R, half_d, w, o = x[0] / 2.0, x[1] / 2.0, x[2], x[3]
        plain = np.sqrt(R**2 + half_d**2 + w**2 - 2.0 * R * half_d * math.cos(1.3))
        return np.array([plain + o, plain * w / R])

    ours = propagate(length, values, covariance)
    erd, d, w, o = correlated_values(values, covariance.tolist())
    R, half_d = erd / 2.0, d / 2.0
    plain = umath.sqrt(R**2 + half_d**2 + w**2 - 2.0 * R * half_d * math.cos(1.3))
    theirs = [plain + o, plain * w / R]
    np.testing.assert_allclose(ours.values, [t.nominal_value for t in theirs], rtol=1e-12)
    np.testing.assert_allclose(ours.covariance, covariance_matrix(theirs), rtol=1e-6)


def test_combine_against_the_uncertainties_package() -> None:
    total = ufloat(0.0, 0.3) + ufloat(0.0, 0.4) + ufloat(1.0, 1.2)
    assert combine(0.3, 0.4, 1.2) == pytest.approx(total.std_dev)


@pytest.mark.parametrize(
    "covariance",
    [
        np.eye(3),
        [[1.0, 0.5], [0.4, 1.0]],
        [[1.0, 1.2], [1.2, 1.0]],
        [[1.0, 0.0], [0.0, -1.0]],
        [[math.nan, 0.0], [0.0, 1.0]],
    ],
)
def test_impossible_covariances_are_refused(covariance: npt.ArrayLike) -> None:
    with pytest.raises(ValueError, match="covariance"):
        propagate(lambda x: x, [1.0, 2.0], covariance)
