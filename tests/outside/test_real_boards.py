"""Our calibration on real photographs, beside OpenCV's on the same corners and beside published values.

The photographs and their sources (see each folder's ``SOURCE.md``): stereo pairs of the OpenCV project with
``left_intrinsics.yml``; ChArUco boards of the same project with ``tutorial_camera_charuco.yml``; a webcam
with two published calibrations; a phone with intrinsics published with standard errors; a fixed camera with
coins, whose diameters are stated there (10 cent) or are published coin sizes (50 cent, from memory).

Our residual is weighed robustly, and the board may depart from a plane; OpenCV's is neither. So ours is
smaller, more so on boards of cardboard, and the focal lengths differ by what the flat board has cost.
"""

import cv2
import numpy as np
import pytest
from real_photos import (
    board_set,
    by_opencv,
    chessboard,
    circle,
    folder,
    grey,
    outline,
    parts_of_a_board,
    pose,
    reprojection_error,
    sightings,
)

from hubsight.calibrate.boards import PlainSighting
from hubsight.calibrate.calibrate import calibrate
from hubsight.calibrate.conditions import advice
from hubsight.photo import check_photo_set, load_photo


def calibrated(seen, size):
    found = calibrate(board_set(seen, size))
    assert found, getattr(found, "reason", "")
    return found


def u_focal(found):
    return float(np.sqrt(found.covariance[0, 0]))


def sentences(found):
    return " ".join(advice(found, [str(k) for k in range(len(found.photos.sightings))]))


def test_left_camera_of_the_opencv_pairs():
    """Published 535.9 carries a view with a corner error of 1.2 px; a careful fit gives 532 (SOURCE.md)."""
    seen, size = sightings(sorted(folder("opencv-left-right").glob("left*.jpg")), 9, 6, 25.0)
    assert len(seen) >= 12
    found = calibrated(seen, size)
    rms, focal, centre = by_opencv(seen, size)
    assert found.camera[0] == pytest.approx(532, abs=2)
    assert abs(found.camera[0] - focal) < 2 * u_focal(found)
    assert np.abs(found.camera[1:3] - centre).max() < 3.0
    assert reprojection_error(found) < 1.05 * rms


def test_right_camera_of_the_opencv_pairs():
    seen, size = sightings(sorted(folder("opencv-left-right").glob("right*.jpg")), 9, 6, 25.0)
    found = calibrated(seen, size)
    rms, focal, centre = by_opencv(seen, size)
    assert abs(found.camera[0] - focal) < 2 * u_focal(found)
    assert np.abs(found.camera[1:3] - centre).max() < 3.0
    assert reprojection_error(found) < 1.05 * rms


@pytest.mark.parametrize(
    ("photos", "published"), [("static_camera", (824.56, 823.63)), ("static_board", (822.64, 821.24))]
)
def test_webcam_with_published_focal_lengths(photos, published):
    """Published by the photographs' author for each axis: compared with the mean of both."""
    every = sorted((folder("webcam-chessboard") / photos).glob("*.jpg"))
    seen, size = sightings(every, 9, 7, 30.0)
    assert len(seen) > 0.8 * len(every)
    found = calibrated(seen, size)
    rms, focal, _ = by_opencv(seen, size)
    assert found.camera[0] == pytest.approx(np.mean(published), rel=0.003)
    assert found.camera[0] == pytest.approx(focal, rel=0.006)
    assert reprojection_error(found) < rms
    assert found.held_out_px < 1.3 * found.residual_px


def test_phone_with_a_board_of_bent_cardboard():
    """Published 2700.1 and 2704.0 (standard error 2.7) from 20 photos, of which these are 8.

    Ours is 0.6 % above, which is less than these photos can decide: the board is up to 3 mm off a plane, and
    the published value is a flat board's. On these eight such a fit gives 2702 to 2704, but anything from
    2681 to 2723 when one photo is left out (jackknife 31 px, 1.2 %): its standard error tells the scatter of
    the corners only. OpenCV's board with every point free gives 2725 to 2734; ours, free in height, 2701 to
    2723 (jackknife 17 px, stated uncertainty 19). Tried in vain: a bend of its own (quadratic) for the board
    in each photo leaves focal length and residual as they are.
    """
    every = sorted((folder("phone-chessboard") / "images").glob("*.jpg"))
    seen, size = sightings(every, 9, 7, 30.0)
    assert len(seen) == 8
    found = calibrated(seen, size)
    rms, _, _ = by_opencv(seen, size)
    published = np.mean([2700.1, 2704.0])
    assert abs(found.camera[0] - published) < 2 * u_focal(found)
    assert found.camera[0] == pytest.approx(published, rel=0.01)
    assert reprojection_error(found) < 0.8 * rms
    said = sentences(found)
    assert "not flat" in said
    assert "uncertainties were widened" in said
    flat_boards = [by_opencv(seen[:k] + seen[k + 1 :], size)[1] for k in range(len(seen))]
    assert np.ptp(flat_boards) > 0.01 * published
    jackknife = np.sqrt((len(seen) - 1) * np.var(flat_boards))
    assert u_focal(found) > 0.5 * jackknife


def test_cropped_copies_that_kept_their_tags_do_not_slip_in():
    whole = sorted((folder("phone-chessboard") / "images").glob("*.jpg"))[:3]
    cropped = sorted((folder("phone-chessboard") / "cropped-same-photos").glob("*.jpg"))
    read = [load_photo(path).without_pixels() for path in (*whole, *cropped)]
    assert {refusal.photo for refusal in check_photo_set(read)} == {path.name for path in cropped}


def charuco():
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_6X6_250)
    return cv2.aruco.CharucoBoard((5, 7), 40.0, 20.0, dictionary)


def charuco_corners(path):
    corners, ids, _, _ = cv2.aruco.CharucoDetector(charuco()).detectBoard(grey(path))
    return np.asarray(corners, float).reshape(-1, 2), np.asarray(ids).ravel().astype(int)


def test_charuco_boards_whose_views_are_too_much_alike():
    """Published 452.5 and 456.8 without uncertainty; OpenCV's own standard deviation is 16 (SOURCE.md)."""
    place = folder("opencv-charuco")
    board = chessboard(4, 6, 40.0)
    seen = []
    for path in sorted(place.glob("img_0*.jpg")):
        pixels, ids = charuco_corners(path)
        assert len(ids) == 24
        seen.append(PlainSighting(board, ids, pixels))
    found = calibrated(tuple(seen), (640, 480))
    assert u_focal(found) > 0.03 * found.camera[0]
    assert abs(found.camera[0] - np.mean([452.5, 456.8])) < 2 * u_focal(found)
    said = sentences(found)
    assert "too much alike" in said
    assert "Too few tilts" in said
    assert len(charuco_corners(place / "chocclusion_original.jpg")[1]) == 16


COINS = (((288, 613), 24.25, 2.38), ((756, 582), 19.75, 1.93), ((500, 386), 19.75, 1.93))
"""50, 10 and 10 cent: where (px), diameter and thickness (mm; thicknesses from memory)."""


def test_coins_are_measured_at_their_own_height():
    """Coins on the plane of a board that was taken away: within 0.15 mm, further off at the plane's scale."""
    place = folder("coins-on-chessboard")
    square = 166 / 11
    seen, size = parts_of_a_board(sorted((place / "calibration").glob("*.png")), square)
    assert len(seen) == 10
    found = calibrated(seen, size)
    (board,), _ = parts_of_a_board([place / "pose.png"], square)
    view = pose(found, board, size)
    up = np.sign(view.position[2])
    picture = grey(place / "coins.png")
    at_top, at_plane = [], []
    for centre, diameter, thickness in COINS:
        scale = found.camera[0] / abs(view.position[2])
        edge = outline(picture, centre, (0.35 * diameter * scale, 0.65 * diameter * scale))
        for height, errors in ((up * thickness, at_top), (0.0, at_plane)):
            errors.append(circle(view.at_height(edge, height)[:, :2]) - diameter)
    assert np.abs(at_top).max() < 0.15, at_top
    assert np.abs(np.mean(at_top)) < np.abs(np.mean(at_plane))
