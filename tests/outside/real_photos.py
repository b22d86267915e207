"""Where the real photographs lie, and what is seen in them: boards by OpenCV's detectors, coins by edge.

The photographs are not part of the repository: a folder ``shared/real`` beside it, or the one that the
environment variable ``HUBSIGHT_REAL_PHOTOS`` names.
"""

from __future__ import annotations

import os
from pathlib import Path

import cv2
import numpy as np
import pytest

from hubsight.calibrate.boards import BoardSet, PlainBoard, PlainSighting
from hubsight.camera.observe import view_in
from hubsight.model.stated import Reading
from hubsight.target.sheet import CameraPrior, sheet_problem

FOLDER = Path(os.environ.get("HUBSIGHT_REAL_PHOTOS", Path(__file__).parents[3] / "shared" / "real"))
AS_STATED = (Reading(1.0, 5e-4), Reading(1.0, 5e-4))
"""A board made as its source says, to half a per mille."""


DEBIAN = Path("/usr/share/doc/opencv-doc/examples/data")
"""Where Debian's package ``opencv-doc`` has the stereo pairs and the ChArUco boards of the OpenCV project."""
IN_DEBIAN = {"opencv-left-right": "left01.jpg", "opencv-charuco": "img_00.jpg"}
"""Sets that the package holds too, and a file by which they are known to be there."""


def folder(name):
    """Return a set's folder, or skip the test."""
    if (FOLDER / name).is_dir():
        return FOLDER / name
    if name in IN_DEBIAN and (DEBIAN / IN_DEBIAN[name]).is_file():
        return DEBIAN
    packaged = "; Debian's opencv-doc has them, too" if name in IN_DEBIAN else ""
    pytest.skip(f"the real photographs {name} are not here: {FOLDER} (see HUBSIGHT_REAL_PHOTOS){packaged}")


def grey(path):
    return cv2.imread(str(path), cv2.IMREAD_GRAYSCALE | cv2.IMREAD_IGNORE_ORIENTATION)


def chessboard(columns, rows, square):
    grid = np.stack(np.meshgrid(np.arange(columns), np.arange(rows)), -1).reshape(-1, 2)
    return PlainBoard(grid * float(square))


def sightings(paths, columns, rows, square):
    """Whole chessboards in the photos that show one, and the photos' size."""
    board, seen = chessboard(columns, rows, square), []
    for path in paths:
        picture = grey(path)
        ok, corners = cv2.findChessboardCornersSB(picture, (columns, rows), flags=cv2.CALIB_CB_ACCURACY)
        if ok:
            pixels = corners.reshape(-1, 2).astype(float)
            seen.append(PlainSighting(board, np.arange(len(board.saddles)), pixels))
    return tuple(seen), picture.shape[::-1]


def parts_of_a_board(paths, square, largest=20):
    """Whatever part of a large chessboard each photo shows; which part is not known."""
    board, seen = chessboard(largest, largest, square), []
    for path in paths:
        picture = grey(path)
        ok, corners, grid = cv2.findChessboardCornersSBWithMeta(
            picture, (5, 5), cv2.CALIB_CB_EXHAUSTIVE | cv2.CALIB_CB_ACCURACY | cv2.CALIB_CB_LARGER
        )
        if ok:
            rows, columns = grid.shape
            index = (np.arange(rows)[:, None] * largest + np.arange(columns)).ravel()
            seen.append(PlainSighting(board, index, corners.reshape(-1, 2).astype(float)))
    return tuple(seen), picture.shape[::-1]


def board_set(seen, size):
    return BoardSet(seen, *size, scales=AS_STATED)


def by_opencv(seen, size, **more):
    """Return OpenCV's reprojection error, focal length (mean of both axes) and centre on the same data."""
    points = [np.column_stack([s.nominal, np.zeros(len(s.index))]).astype(np.float32) for s in seen]
    pixels = [s.pixels.astype(np.float32) for s in seen]
    rms, matrix, *_ = cv2.calibrateCamera(points, pixels, size, None, None, **more)
    return rms, (matrix[0, 0] + matrix[1, 1]) / 2, matrix[:2, 2]


def reprojection_error(found):
    """OpenCV's measure, over all points: outliers count in full."""
    residual = np.concatenate([found.residuals(k) for k in range(len(found.photos.sightings))])
    return float(np.sqrt(np.mean(np.sum(residual**2, 1))))


def pose(found, sighting, size):
    """View of one more photo by the calibrated camera."""
    one = BoardSet((sighting,), *size, scales=AS_STATED)
    prior = CameraPrior(found.camera, found.covariance)
    return view_in(sheet_problem(one.sightings, prior, one.scales, one.long_side).solve(), 0)


def outline(picture, centre, radii, count=360):
    """Pixels (N, 2) of a disc's edge: the steepest grey value on each line from its middle."""
    smooth = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), 1.0)
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
    radius = np.arange(radii[0], radii[1], 0.25)
    towards = np.stack([np.cos(angle), np.sin(angle)], -1)
    places = np.asarray(centre) + radius[None, :, None] * towards[:, None]
    light = cv2.remap(
        smooth, places[..., 0].astype(np.float32), places[..., 1].astype(np.float32), cv2.INTER_LINEAR
    )
    slope = np.abs(np.gradient(light.astype(float), axis=1))
    top = np.clip(slope.argmax(1), 1, len(radius) - 2)
    a, b, c = (slope[np.arange(count), top + k] for k in (-1, 0, 1))
    bend = a - 2 * b + c
    found = radius[top] + 0.25 * np.where(bend < 0, 0.5 * (a - c) / np.where(bend < 0, bend, -1), 0)
    kept = np.abs(found - np.median(found)) < 4
    return np.asarray(centre) + found[kept, None] * towards[kept]


def circle(points):
    """Diameter of the circle through points all around it, by least squares; strays left out twice."""
    for _ in range(3):
        a = np.column_stack([2 * points, np.ones(len(points))])
        x = np.linalg.lstsq(a, np.sum(points**2, 1), rcond=None)[0]
        radius = np.sqrt(x[2] + x[:2] @ x[:2])
        off = np.abs(np.linalg.norm(points - x[:2], axis=1) - radius)
        points = points[off < 3 * np.median(off) + 1e-9]
    return 2 * radius
