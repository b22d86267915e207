"""The rendering's sheet, lens and cameras: against OpenCV, and whether a phone keeps the place of an edge."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from scipy.special import ndtr

for needed in ("manifold3d", "piexif"):
    pytest.importorskip(needed, reason=f"{needed} is missing: pip install --group render")

from render import draw_lifelike, draw_random  # noqa: E402
from render.optics import View, distort, look_at  # noqa: E402
from render.phone import picture, through_lens  # noqa: E402
from render.sensor import develop  # noqa: E402
from render.sheet import Wave, board, page_image, saddles, wave_height  # noqa: E402


@pytest.fixture
def view():
    """A tilted camera with every kind of distortion."""
    rotation, translation = look_at([120.0, -150.0, 330.0], [-12.0, 5.0, 40.0], 7.0)
    return View(
        width=4032,
        height=3024,
        fx=3052.0,
        fy=3050.0,
        cx=2031.5,
        cy=1498.2,
        distortion=(0.062, -0.118, 0.0006, -0.0004, 0.045),
        rotation=rotation,
        translation=translation,
        aperture=1.9,
        focus_z=340.0,
    )


# ---------- sheet and optics, against OpenCV ----------


def test_opencv_finds_the_saddles_of_the_page_where_truth_says():
    per_mm = 14
    points, numbers = saddles()
    parameters = cv2.aruco.CharucoParameters()
    parameters.minMarkers = 1
    detector = cv2.aruco.CharucoDetector(board(), parameters, cv2.aruco.DetectorParameters())
    corners, found, _, _ = detector.detectBoard(page_image(per_mm))
    at = dict(zip(found.ravel().tolist(), corners.reshape(-1, 2), strict=True))
    assert set(numbers.tolist()) <= set(at)
    for number, (x, y) in zip(numbers.tolist(), points, strict=True):
        expected = np.array([x + 297 / 2, 210 / 2 - y]) * per_mm - 0.5
        assert np.allclose(at[number], expected, atol=0.3)


def test_paper_is_level_under_the_hub_and_in_the_middle():
    wave = Wave(0.5, ((0.03, 0.05, 1.0, 0.5), (-0.02, 0.04, 2.0, 0.5)))
    assert np.all(wave_height([-50.0, 0.0, -60.0], [0.0, 0.0, 30.0], wave) == 0)
    height = wave_height(*saddles()[0].T, wave)
    assert 0.05 < height.max() <= 0.5
    assert height.min() >= 0


def test_projection_agrees_with_opencv(view):
    points = np.random.default_rng(0).uniform([-140, -100, 0], [140, 100, 90], (200, 3))
    matrix = np.array([[view.fx, 0, view.cx], [0, view.fy, view.cy], [0, 0, 1]])
    rotation, _ = cv2.Rodrigues(view.rotation)
    expected, _ = cv2.projectPoints(points, rotation, view.translation, matrix, np.array(view.distortion))
    assert np.allclose(view.project(points), expected.reshape(-1, 2), atol=1e-6)


def test_larger_pixels_see_the_same_points(view):
    points = np.array([[0.0, 0, 0], [100, -60, 20], [-90, 50, 80]])
    assert np.allclose(view.scaled(4).project(points), (view.project(points) + 0.5) / 4 - 0.5)


def test_no_distortion_leaves_points_alone():
    points = np.array([[0.1, -0.2], [0.3, 0.4]])
    assert np.array_equal(distort(points, (0, 0, 0, 0, 0)), points)


# ---------- a phone's picture ----------

SIZE, BAR, BAR_AT, BLUR = (480, 640), 21.4, 300.3, 1.2
"""Rows and columns; width, middle and edges' blur of an upright dark bar, px."""


def bar_picture(middle=BAR_AT):
    """A dark bar on paper, blurred alike on both sides, so that no tone curve moves its middle."""
    columns = np.arange(SIZE[1])
    dark = ndtr((columns - middle + BAR / 2) / BLUR) - ndtr((columns - middle - BAR / 2) / BLUR)
    row = 0.8 * (1 - dark) + 0.04 * dark
    return np.repeat(np.repeat(row[None, :, None], SIZE[0], 0), 3, 2).astype(np.float32)


def bar_middle(rgb, channel, rows=slice(220, 260)):
    """Middle between the bar's two edges at half height, px."""
    row = rgb[rows, :, channel].astype(float).mean(0)
    half = (row.min() + np.median(row)) / 2
    dark = np.flatnonzero(row < half)
    first, last = dark[0], dark[-1]
    left = first - (half - row[first]) / (row[first - 1] - row[first])
    right = last + (half - row[last]) / (row[last + 1] - row[last])
    return (left + right) / 2


@pytest.fixture
def processing():
    """A phone's processing without much noise."""
    return replace(draw_lifelike.design(2103).phone.processing, full_well=60000.0, read_noise=2.0)


def test_a_phone_keeps_the_place_of_an_edge(processing):
    assert bar_middle(picture(bar_picture(), processing, seed=1), 1) == pytest.approx(BAR_AT, abs=0.05)


def test_motion_keeps_the_place_of_an_edge(processing):
    rgb = picture(bar_picture(), processing, seed=1, motion=(5.0, 20.0))
    assert bar_middle(rgb, 1) == pytest.approx(BAR_AT, abs=0.05)


def test_a_plain_camera_keeps_the_place_of_an_edge():
    processing = replace(draw_random.design(3).phone.processing, full_well=60000.0)
    assert bar_middle(develop(bar_picture(), 0.8, processing, seed=1), 1) == pytest.approx(BAR_AT, abs=0.05)


def test_red_and_blue_part_towards_the_edge_of_the_picture(processing):
    """They part by `lateral` in the corners; the bar's middle is about two thirds of the way out."""
    apart = replace(processing, lateral=3.0, lateral_cubic=0.0, vignette=0.0)
    at = 590.0
    rgb = through_lens(bar_picture(at), apart, divisor=1)
    reach = np.hypot(*SIZE) / 2
    red, green, blue = (bar_middle(rgb, channel) for channel in range(3))
    assert green == pytest.approx(at, abs=0.01)
    assert blue - red == pytest.approx(3.0 * (at - (SIZE[1] - 1) / 2) / reach, abs=0.05)
