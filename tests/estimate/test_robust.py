"""The robust fit that edges go through: against scipy's own Cauchy loss, against scatter, with its priors."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares

from hubsight.estimate.robust import FromMedian, Known, robust_fit

LOOSE = Known.single([0.0, 0.0], [1e4, 1e4], 1.0)


def line(seed, count=200, sigma=0.1, wrong=0.2):
    """Offsets of a line 0.4 + 0.03 t, a share of them, spread along it, far off to one side."""
    rng = np.random.default_rng(seed)
    t = np.linspace(-10, 10, count)
    off = 0.4 + 0.03 * t + rng.normal(0, sigma, count)
    off[rng.permutation(count)[: round(wrong * count)]] += 3.0
    return np.column_stack([np.ones(count), t]), off


def test_it_is_the_minimum_of_the_cauchy_loss():
    """scipy.optimize.least_squares(loss="cauchy") minimises the same cost by another method."""
    design, off = line(1)
    ours = robust_fit(design, off, np.ones(len(off)), 0.25, LOOSE, rounds=100)
    theirs = least_squares(lambda x: off - design @ x, np.zeros(2), loss="cauchy", f_scale=0.25, xtol=1e-12)
    np.testing.assert_allclose(ours.x, theirs.x, atol=2e-5)
    assert ours.converged


@pytest.mark.parametrize("scale", [0.25, FromMedian(0.01)])
def test_wrong_edges_hardly_pull(scale):
    design, off = line(2)
    fit = robust_fit(design, off, np.ones(len(off)), scale, LOOSE)
    plain = np.linalg.lstsq(design, off, rcond=None)[0]
    assert abs(plain[0] - 0.4) > 0.4
    assert fit.x == pytest.approx([0.4, 0.03], abs=0.05)


def test_the_covariance_is_the_scatter_over_seeds():
    """Of fits with normal errors only; the Cauchy weight is wide enough to cost little."""
    fits = [robust_fit(*line(seed, wrong=0.0), np.ones(200), 1.0, LOOSE) for seed in range(300)]
    scatter = np.std([fit.x for fit in fits], axis=0)
    assert np.sqrt(np.diag(fits[0].covariance(0.1))) == pytest.approx(scatter, rel=0.15)
    assert np.sqrt(np.diag(fits[0].covariance(0.1, alike=4.0))) == pytest.approx(2 * scatter, rel=0.15)


def test_a_prior_weighs_as_an_observation_of_its_uncertainty():
    """One observation of 1.0 +- 0.1 and a prior of 0.0 +- 0.2 meet at 0.8 (inverse variances 4 : 1)."""
    known = Known.single([0.0], [0.2], 0.1)
    fit = robust_fit(np.ones((1, 1)), np.ones(1), np.ones(1), 1e6, known)
    assert fit.x[0] == pytest.approx(0.8, abs=1e-6)


def test_coordinates_of_one_point_are_weighed_together():
    """A point far off in one coordinate does not pull in the other."""
    design = np.tile(np.eye(2), (10, 1, 1))
    off = np.zeros((10, 2))
    off[0] = [50.0, 1.0]
    fit = robust_fit(design, off, np.ones(10), 0.1, LOOSE)
    assert np.abs(fit.x).max() < 0.01


def test_a_fit_that_is_cut_short_says_so():
    design, off = line(3)
    assert not robust_fit(design, off, np.ones(len(off)), 0.25, LOOSE, rounds=2).converged
