"""Saddle finder and calibration on a chessboard that scikit-image ships, beside OpenCV on the same pictures.

No package of a few megabytes was found that ships photographs of a calibration board: so the board is
somebody else's, its photographs are warped, and their camera is known. Real photographs: `test_real_boards`.
"""

import cv2
import numpy as np
import pytest
from real_photos import board_set, by_opencv, chessboard
from skimage import data

from hubsight.calibrate.boards import PlainBoard, PlainSighting
from hubsight.calibrate.calibrate import calibrate
from hubsight.camera import View
from hubsight.target.find import fit_saddles
from scenes import look_at

CELLS, CELL_PX = 8, 25
"""Of the shipped picture: 200 px for eight squares."""
PX_PER_MM = 1.0
ENLARGED = 8
CAMERA = np.array([1400.0, 655.0, 470.0, 0, 0, 0, 0, 0])
SIZE = (1280, 960)
FINE = 3


def views():
    return [
        View(CAMERA, np.r_[0, 0, 0, look_at(45 * k, 0 if k == 0 else 20 + 3 * k, 330 + 15 * (k % 3), 11 * k)])
        for k in range(8)
    ]


def photographed(view, seed):
    board = cv2.resize(data.checkerboard(), None, fx=ENLARGED, fy=ENLARGED, interpolation=cv2.INTER_NEAREST)
    board = np.clip(board, 30, 220)
    middle = (board.shape[0] - 1) / 2
    scale = ENLARGED * PX_PER_MM
    to_mm = np.array([[1 / scale, 0, -middle / scale], [0, -1 / scale, middle / scale], [0, 0, 1]])
    plane = view.matrix @ np.column_stack([view.rotation[:, 0], view.rotation[:, 1], view.own[6:9]])
    fine = np.array([[FINE, 0, (FINE - 1) / 2], [0, FINE, (FINE - 1) / 2], [0, 0, 1]])
    large = cv2.warpPerspective(
        board, fine @ plane @ to_mm, (SIZE[0] * FINE, SIZE[1] * FINE), flags=cv2.INTER_LINEAR, borderValue=120
    )
    picture = cv2.GaussianBlur(cv2.resize(large, SIZE, interpolation=cv2.INTER_AREA), (0, 0), 0.8)
    noisy = picture + np.random.default_rng(seed).normal(0, 2, picture.shape)
    return np.clip(np.rint(noisy), 0, 255).astype(np.uint8)


@pytest.fixture(scope="module")
def seen():
    """Sightings by our saddle finder, and by OpenCV's sub-pixel corners, of the inner corners."""
    flat = chessboard(CELLS - 1, CELLS - 1, CELL_PX / PX_PER_MM).saddles
    flat = flat - flat.mean(0)
    board = PlainBoard(flat)
    ours, theirs, errors = [], [], []
    for k, view in enumerate(views()):
        picture = photographed(view, k)
        truth = view.project(np.column_stack([flat, np.zeros(len(flat))]))
        start = np.rint(truth)
        found, _, ok = fit_saddles(picture, start, 8.0)
        criteria = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_MAX_ITER, 60, 1e-4)
        corners = np.ascontiguousarray(start[:, None], dtype=np.float32)
        corners = cv2.cornerSubPix(picture, corners, (7, 7), (-1, -1), criteria)
        assert ok.all()
        index = np.arange(len(flat))
        ours.append(PlainSighting(board, index, found))
        theirs.append(PlainSighting(board, index, corners.reshape(-1, 2).astype(float)))
        errors.append(found - truth)
    return tuple(ours), tuple(theirs), np.concatenate(errors)


def test_saddles_lie_where_they_were_put(seen):
    errors = seen[2]
    assert np.abs(errors.mean(0)).max() < 0.01
    assert np.sqrt(np.mean(errors**2)) < 0.05
    apart = np.concatenate([a.pixels - b.pixels for a, b in zip(*seen[:2], strict=True)])
    assert np.sqrt(np.mean(apart**2)) < 0.06


def test_the_camera_is_opencv_s_and_the_true_one(seen):
    found = calibrate(board_set(seen[0], SIZE))
    u = np.sqrt(np.diag(found.covariance))
    rms, focal, centre = by_opencv(seen[0], SIZE)
    assert found.camera[0] == pytest.approx(CAMERA[0], rel=1.5e-3)
    assert found.camera[0] == pytest.approx(focal, rel=1.5e-3)
    assert np.all(np.abs(found.camera[:3] - CAMERA[:3]) < 3 * u[:3])
    assert np.abs(found.camera[1:3] - centre).max() < 3.0
    assert found.residual_px < 1.1 * rms
