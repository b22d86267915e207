"""The projection: its pixel convention, its derivatives against finite differences, its inverse."""

import cv2
import numpy as np
import pytest

from hubsight.camera import View, project_with_derivatives

SHARED = np.array([3050.0, 2020.0, 1490.0, 0.06, -0.11, 0.0005, -0.0004, 0.04])
OWN = np.array([0.001, 1.5, -2.0, 2.9, 0.3, -0.2, 12.0, -8.0, 330.0])
POINTS = np.array([[-126.0, 84.0, 0.0], [0.0, 0.0, 0.0], [126.0, -84.0, 5.0], [40.0, 30.0, 95.0]])


def test_centre_of_the_first_pixel_is_nought():
    """A point on the optical axis falls on (cx, cy): with cx = (width - 1) / 2 in the middle."""
    width, height = 8, 6
    shared = np.array([100.0, (width - 1) / 2, (height - 1) / 2, 0, 0, 0, 0, 0])
    view = View(shared, np.array([0, 0, 0, np.pi, 0, 0, 0, 0, 300.0]))
    pixel = view.project(np.zeros((1, 3)))[0]
    # Painted there, the light spreads evenly over the four middle pixels, whose centres are whole numbers
    row, column = np.mgrid[:height, :width]
    light = np.maximum(0, 1 - np.abs(column - pixel[0])) * np.maximum(0, 1 - np.abs(row - pixel[1]))
    np.testing.assert_allclose(light, light[::-1, ::-1], atol=1e-12)
    assert light.sum() == pytest.approx(1.0)
    assert np.flatnonzero(light.sum(0)).tolist() == [3, 4]


def test_projection_is_that_of_opencv():
    """Pinhole with Brown-Conrady distortion, as `cv2.projectPoints` has it."""
    view = View(SHARED, OWN)
    expected, _ = cv2.projectPoints(
        POINTS.reshape(-1, 1, 3), OWN[3:6], OWN[6:9], view.matrix, view.distortion
    )
    np.testing.assert_allclose(view.project(POINTS), expected.reshape(-1, 2), rtol=0, atol=1e-9)


def _differences(function, x, steps):
    columns = []
    for k, h in enumerate(steps):
        d = np.zeros_like(x)
        d[k] = h
        columns.append((function(x + d) - function(x - d)) / (2 * h))
    return np.stack(columns, -1)


def test_derivatives_agree_with_finite_differences():
    found = project_with_derivatives(View(SHARED, OWN), POINTS)
    by_shared = _differences(lambda s: View(s, OWN).project(POINTS), SHARED, [1e-2] * 3 + [1e-5] * 5)
    by_own = _differences(
        lambda o: View(SHARED, o).project(POINTS), OWN, [1e-6, 1e-3, 1e-3] + [1e-6] * 3 + [1e-3] * 3
    )
    by_point = _differences(lambda d: View(SHARED, OWN).project(POINTS + d), np.zeros(3), [1e-3] * 3)
    for ours, numeric in ((found.shared, by_shared), (found.own, by_own), (found.point, by_point)):
        scale = np.abs(numeric).max((0, 1))
        assert np.all(np.abs(ours - numeric).max((0, 1)) < 2e-6 * scale)


def test_lines_of_sight_lead_back_to_the_points():
    view = View(SHARED, OWN)
    back = view.at_height(view.project(POINTS), POINTS[:, 2])
    np.testing.assert_allclose(back, POINTS, atol=1e-4)
