"""The target as OpenCV builds it: an independent description to compare ours with."""

import cv2
import numpy as np

from hubsight.target.geometry import TargetGeometry


def opencv_board(geometry: TargetGeometry):
    """Return the whole board: mm, origin top left, y downwards; its corners are numbered as ``saddle_ids``.

    Corners and markers inside the field are not printed.
    """
    columns, rows = geometry.squares
    ids = geometry.first_marker_id + np.arange(columns * rows // 2, dtype=np.int32)
    return cv2.aruco.CharucoBoard(
        geometry.squares, geometry.square, geometry.marker, geometry.dictionary(), ids
    )


def to_frame(geometry: TargetGeometry, points):
    """Turn the board's coordinates (..., 2 or 3) into the target frame's (..., 2)."""
    width, height = geometry.frame
    return np.asarray(points, float)[..., :2] * [1, -1] + [-width / 2, height / 2]
