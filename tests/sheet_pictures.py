"""Pictures of the printed target, warped from an exact drawing: where every corner falls is known."""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np

from hubsight.camera import View
from hubsight.target.geometry import TargetGeometry, target_geometry

PX_PER_MM = 14
"""Of the drawing: a marker's seven cells are 18 pixels each, a square is 168."""
OVERSAMPLING = 3
INK, PAPER, TABLE = 35, 215, 120


@lru_cache(maxsize=3)
def drawing(paper="a4"):
    """The target as an (H, W) picture of its page, drawn square by square from its geometry."""
    geometry: TargetGeometry = target_geometry(paper)
    width, height = (2 * round(side * PX_PER_MM / 2) for side in geometry.page)
    page = np.full((height, width), PAPER, np.uint8)

    def corner(point):
        x, y = point
        return round(width / 2 + x * PX_PER_MM), round(height / 2 - y * PX_PER_MM)

    side = round(geometry.square * PX_PER_MM)
    frame = geometry.frame
    for column, row in geometry.dark_squares:
        left, top = corner((column * geometry.square - frame[0] / 2, frame[1] / 2 - row * geometry.square))
        page[top : top + side, left : left + side] = INK
    marker = round(geometry.marker * PX_PER_MM)
    for number, corners in zip(geometry.marker_ids, geometry.marker_corners, strict=True):
        left, top = corner(corners[0])
        cells = cv2.aruco.generateImageMarker(geometry.dictionary(), int(number), 7)
        bits = cv2.resize(cells, (marker, marker), interpolation=cv2.INTER_NEAREST)
        page[top : top + marker, left : left + marker] = np.where(bits > 0, PAPER, INK)
    page.setflags(write=False)
    return page


def photograph(view: View, size, paper="a4", *, page=None, blur_px=0.0, noise=0.0, seed=0):
    """Picture (H, W) of the sheet lying in the target frame's plane, through a camera without distortion."""
    page = drawing(paper) if page is None else page
    rotation = view.rotation
    plane = view.matrix @ np.column_stack([rotation[:, 0], rotation[:, 1], view.own[6:9]])
    to_mm = np.array(
        [
            [1 / PX_PER_MM, 0, (0.5 - page.shape[1] / 2) / PX_PER_MM],
            [0, -1 / PX_PER_MM, (page.shape[0] / 2 - 0.5) / PX_PER_MM],
            [0, 0, 1],
        ]
    )
    fine = np.array(
        [[OVERSAMPLING, 0, (OVERSAMPLING - 1) / 2], [0, OVERSAMPLING, (OVERSAMPLING - 1) / 2], [0, 0, 1]]
    )
    large = (size[0] * OVERSAMPLING, size[1] * OVERSAMPLING)
    picture = cv2.warpPerspective(
        page, fine @ plane @ to_mm, large, flags=cv2.INTER_LINEAR, borderValue=TABLE
    )
    picture = cv2.resize(picture, size, interpolation=cv2.INTER_AREA).astype(np.float32)
    if blur_px:
        picture = cv2.GaussianBlur(picture, (0, 0), blur_px)
    if noise:
        picture += noise * np.random.default_rng(seed).standard_normal(picture.shape)
    return np.clip(np.rint(picture), 0, 255).astype(np.uint8)


def errors(sighting, view: View):
    """Found minus true pixels (N, 2) of a sighting."""
    points = np.column_stack([sighting.nominal, np.zeros(len(sighting.index))])
    return sighting.pixels - view.project(points)
