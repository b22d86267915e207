"""The adjustment against other solvers on the same data, and its covariance against the scatter of refits.

Outside checks: `scipy.optimize.least_squares`, and OpenCV's `solvePnP` and `calibrateCamera`.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from scipy.optimize import check_grad, least_squares, minimize

from hubsight.estimate.problem import Layout, Linearised, Problem
from hubsight.estimate.robust import CAUCHY_SIGMAS
from hubsight.model.stated import Reading
from hubsight.target.sheet import CameraPrior, sheet_problem, start_pose
from scenes import CAMERA, SIZE, scene

EXACT = Reading(1.0, 1e-9)
NOISE_PX = 0.05


def known_camera(sigma=1e-9):
    return CameraPrior(CAMERA, np.diag((sigma * np.maximum(np.abs(CAMERA), 1e-3)) ** 2))


def flat_and_steady(problem):
    """Hold the sheet flat and all photos' cameras alike, as OpenCV does."""
    held = ("paper flatness", "focus and stabilisation")
    problem.priors = [replace(p, sigma=1e-7) if p.kind in held else p for p in problem.priors]
    return problem


def problem_of(board_set, prior, scale=EXACT):
    return sheet_problem(board_set.sightings, prior, (scale, scale), board_set.long_side)


@pytest.mark.parametrize("photo", range(4))
def test_pose_agrees_with_solve_pnp(photo):
    views = scene(seed=None)
    one = replace(s := views.board_set(NOISE_PX, seed=3), sightings=(s.sightings[photo],))
    solution = flat_and_steady(problem_of(one, known_camera())).solve(robust=False, rescale=False)
    points = np.column_stack([views.board.saddles, np.zeros(len(views.board.saddles))])
    matrix = views.views[photo].matrix
    start = start_pose(one.sightings[0], CAMERA)
    _, r, t = cv2.solvePnP(
        points,
        one.sightings[0].pixels,
        matrix,
        CAMERA[3:],
        start[:3],
        start[3:],
        True,
        cv2.SOLVEPNP_ITERATIVE,
    )
    ours = solution["photo0"][3:]
    np.testing.assert_allclose(ours[:3], r.ravel(), atol=2e-6)
    np.testing.assert_allclose(ours[3:], t.ravel(), atol=1e-3)


def test_camera_agrees_with_calibrate_camera():
    """Same data, same model (one focal length, five terms of distortion), no prior to speak of."""
    views = scene()
    data = views.board_set(NOISE_PX, seed=5)
    loose = CameraPrior(CAMERA, np.diag(np.array([1e4, 1e3, 1e3, 10, 10, 1, 1, 10]) ** 2))
    solution = flat_and_steady(problem_of(data, loose)).solve(robust=False, rescale=False)
    points = np.column_stack([views.board.saddles, np.zeros(len(views.board.saddles))]).astype(np.float32)
    start = np.array([[CAMERA[0], 0, CAMERA[1]], [0, CAMERA[0], CAMERA[2]], [0, 0, 1.0]])
    rms, matrix, distortion, *_ = cv2.calibrateCamera(
        [points] * len(data.sightings),
        [s.pixels.astype(np.float32) for s in data.sightings],
        SIZE,
        start,
        CAMERA[3:].copy(),
        flags=cv2.CALIB_FIX_ASPECT_RATIO | cv2.CALIB_USE_INTRINSIC_GUESS,
        criteria=(cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 200, 1e-12),
    )
    ours = solution["camera"]
    u = np.sqrt(np.diag(solution.covariance)[:8])
    theirs = np.array([matrix[0, 0], matrix[0, 2], matrix[1, 2], *distortion.ravel()])
    # single precision of their pixels (2e-4 at 4000 px) is the limit
    assert np.all(np.abs(ours - theirs) < 0.05 * u)
    own = np.sqrt(np.mean(np.sum((np.concatenate(solution.residuals) * NOISE_PX).reshape(-1, 2) ** 2, 1)))
    assert own == pytest.approx(rms, rel=1e-3)


def test_robust_solution_agrees_with_scipy():
    """The whole cost, priors and Cauchy loss included, minimised by another solver from some way off."""
    data = scene(count=4, seed=11).board_set(NOISE_PX, seed=12)
    spoiled = data.sightings[1].pixels.copy()
    spoiled[5] += [3.0, -2.0]
    data = replace(
        data,
        sightings=tuple(replace(s, pixels=spoiled) if k == 1 else s for k, s in enumerate(data.sightings)),
    )
    prior = CameraPrior(CAMERA * 1.001, np.diag(np.maximum(np.abs(CAMERA) * 0.02, 1e-3) ** 2))
    problem = problem_of(data, prior, Reading(1.0, 1e-3))
    ours = problem.solve(rescale=False)
    rows, values = problem.prior_rows()
    root = np.linalg.cholesky(ours.covariance)

    def cost(z):
        """The robust cost at ours plus ``root @ z``, and its gradient by z."""
        x = ours.x + root @ z
        total, gradient = np.sum((values - rows @ x) ** 2), 2 * rows.T @ (rows @ x - values)
        for block in problem.blocks:
            seen = block.linearise(problem.layout, x)
            q = np.sum(seen.residual.reshape(-1, 2) ** 2, 1)
            total += np.sum(CAUCHY_SIGMAS**2 * np.log1p(q / CAUCHY_SIGMAS**2))
            gradient += 2 * seen.jacobian.T @ (seen.residual / np.repeat(1 + q / CAUCHY_SIGMAS**2, 2))
        return total, root.T @ gradient

    aside = np.random.default_rng(1).standard_normal(len(root))
    error = check_grad(lambda z: cost(z)[0], lambda z: cost(z)[1], aside, epsilon=1e-5)
    assert error < 1e-3 * np.linalg.norm(cost(aside)[1])
    theirs = minimize(cost, aside, jac=True, method="BFGS", options={"gtol": 1e-5})
    assert cost(np.zeros(len(root)))[0] == pytest.approx(theirs.fun, abs=1e-3)
    # z counts standard uncertainties along independent directions
    assert np.abs(theirs.x).max() < 0.03
    assert np.abs(ours.weights[1][10]) < 0.01


def test_covariance_without_loss_is_the_inverse_normal_matrix_of_scipy():
    data = scene(count=4, seed=11).board_set(NOISE_PX, seed=12)
    prior = CameraPrior(CAMERA, np.diag(np.maximum(np.abs(CAMERA) * 0.02, 1e-3) ** 2))
    problem = problem_of(data, prior, Reading(1.0, 1e-3))
    ours = problem.solve(robust=False, rescale=False)
    rows, values = problem.prior_rows()

    def residuals(x):
        seen = [b.linearise(problem.layout, x).residual for b in problem.blocks]
        return np.concatenate([values - rows @ x, *seen])

    u = np.sqrt(np.diag(ours.covariance))
    theirs = least_squares(residuals, ours.x, x_scale=u, xtol=1e-12, ftol=1e-12, gtol=1e-12, jac="3-point")
    assert np.all(np.abs(ours.x - theirs.x) < 0.01 * u)
    scaled = theirs.jac * u
    covariance = np.linalg.inv(scaled.T @ scaled)
    np.testing.assert_allclose(np.sqrt(np.diag(covariance)), 1.0, rtol=1e-3)
    np.testing.assert_allclose(covariance, ours.covariance / np.outer(u, u), atol=2e-3)


def test_predicted_covariance_is_the_scatter_of_refits():
    """Monte Carlo: truth drawn from the priors, noise anew in each of 150 refits; sd within 20 %.

    With 150 draws the sd of an sd is 6 %: 20 % is three of these.
    """
    draws, errors = 150, []
    predicted = None
    random = np.random.default_rng(71)
    sigma = np.array([90.0, 10.0, 10.0, 0.05, 0.08, 0.001, 0.001, 0.05])
    for draw in range(draws):
        camera = CAMERA + sigma * random.standard_normal(8)
        scale = 1 + 1e-3 * random.standard_normal(2)
        views = scene(camera, count=5, seed=1000 + draw)
        board = replace(views.board, saddles=views.board.saddles * scale)
        heights = 0.12 * random.standard_normal(len(board.saddles))
        data = replace(views, board=board, heights=heights).board_set(NOISE_PX, seed=draw)
        nominal = tuple(replace(s, geometry=views.board) for s in data.sightings)
        problem = problem_of(
            replace(data, sightings=nominal), CameraPrior(CAMERA, np.diag(sigma**2)), Reading(1.0, 1e-3)
        )
        solution = problem.solve(robust=False, rescale=False)
        assert solution.converged
        camera_error = solution["camera"] - camera
        errors.append(np.concatenate([camera_error, solution["scale"] - scale]))
        if predicted is None:
            at = [solution.layout["camera"], solution.layout["scale"]]
            predicted = np.sqrt(np.concatenate([np.diag(solution.covariance)[s] for s in at]))
    scatter = np.sqrt(np.mean(np.array(errors) ** 2, axis=0))
    ratio = scatter / predicted
    assert np.all((ratio > 0.8) & (ratio < 1.2)), ratio


def test_parts_of_the_covariance_sum_to_it():
    data = scene(count=4).board_set(NOISE_PX, seed=2)
    solution = problem_of(data, known_camera(0.02), Reading(1.0, 1e-3)).solve()
    total = sum(solution.parts.values())
    u = np.sqrt(np.diag(solution.covariance))
    np.testing.assert_allclose(total / np.outer(u, u), solution.covariance / np.outer(u, u), atol=1e-6)


def test_variance_factor_finds_noise_larger_than_assumed():
    data = scene().board_set(3 * NOISE_PX, seed=4)
    solution = problem_of(data, known_camera(0.02), Reading(1.0, 1e-3)).solve(robust=False)
    # 1120 observations less what the unknowns take: the factor is known to about 3 %
    assert solution.factors["target corners"] == pytest.approx(3.0, rel=0.1)


class Line:
    """A straight line through points, for the solver alone."""

    kind = "points"

    def __init__(self, x, y):
        self.x, self.y = x, y

    def linearise(self, layout, unknown):
        where = layout["line"]
        jacobian = np.zeros((len(self.x), layout.size))
        jacobian[:, where] = np.stack([np.ones_like(self.x), self.x], -1)
        return Linearised(jacobian @ unknown - self.y, jacobian, np.arange(len(self.x)))


def test_linear_problem_is_solved_as_by_the_normal_equations():
    random = np.random.default_rng(1)
    x = np.linspace(0, 1, 30)
    y = 2 + 3 * x + random.standard_normal(30)
    layout = Layout()
    layout.add("line", 2)
    problem = Problem(layout, np.zeros(2), [Line(x, y)])
    problem.prior("slope", 1, 2.5, 0.5)
    solution = problem.solve(robust=False, rescale=False)
    a = np.vstack([np.stack([np.ones_like(x), x], -1), [0, 2]])
    expected, *_ = np.linalg.lstsq(a, np.append(y, 5.0), rcond=None)
    np.testing.assert_allclose(solution.x, expected, rtol=1e-6)
    np.testing.assert_allclose(solution.covariance, np.linalg.inv(a.T @ a), rtol=1e-6)


def test_a_name_is_taken_once():
    layout = Layout()
    layout.add("camera", 8)
    with pytest.raises(KeyError, match="camera"):
        layout.add("camera", 8)
