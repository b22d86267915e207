"""Simulated cameras over a flat board, for tests: true pixels, and the same with seeded noise."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from hubsight.calibrate.boards import BoardSet, PlainBoard, PlainSighting
from hubsight.camera import View
from hubsight.camera.prior import CENTRE_DEPARTURE
from hubsight.model.stated import Reading
from hubsight.target.geometry import target_geometry
from hubsight.target.sheet import FOCAL_DEPARTURE

CAMERA = np.array([3050.0, 2020.0, 1490.0, 0.06, -0.11, 0.0005, -0.0004, 0.04])
"""Of a phone, invented."""
SIZE = (4032, 3024)


def ring():
    """The A4 target's saddles as a plain board."""
    return PlainBoard(target_geometry("a4").saddles)


def look_at(azimuth, tilt, distance, roll=0.0):
    """Rotation vector and shift of a camera that looks at the board's middle; degrees and mm."""
    a, t, r = np.radians([azimuth, tilt, roll])
    eye = distance * np.array([np.sin(t) * np.cos(a), np.sin(t) * np.sin(a), np.cos(t)])
    ahead = -eye / distance
    right = np.cross(ahead, [np.sin(r), np.cos(r), 0.0])
    right /= np.linalg.norm(right)
    rotation = np.stack([right, np.cross(ahead, right), ahead])
    return np.concatenate([cv2.Rodrigues(rotation)[0].ravel(), -rotation @ eye])


def poses(count=8, distance=330.0):
    """Poses from above and tilted to all sides."""
    return [
        look_at(
            360 * k / (count - 1), 0.0 if k == 0 else 24.0 + 4 * (k % 3), distance + 15 * (k % 4), 7 * k - 20
        )
        for k in range(count)
    ]


@dataclass(frozen=True)
class Scene:
    """Views of a board."""

    board: PlainBoard
    views: tuple[View, ...]
    heights: np.ndarray

    def pixels(self, photo):
        points = np.column_stack([self.board.saddles, self.heights])
        return self.views[photo].project(points)

    def board_set(self, noise=0.0, seed=0, *, size=SIZE, focal=None, u_scale=1e-3):
        random = np.random.default_rng(seed)
        index = np.arange(len(self.board.saddles))
        sightings = tuple(
            PlainSighting(self.board, index, self.pixels(k) + noise * random.standard_normal((len(index), 2)))
            for k in range(len(self.views))
        )
        return BoardSet(sightings, *size, focal, (Reading(1.0, u_scale), Reading(1.0, u_scale)))


def scene(camera=CAMERA, *, count=8, seed=None, bend_mm=0.0, board=None, distance=330.0):
    """Build a scene; with a seed each photo's focal length and principal point depart as the priors say."""
    board = board or ring()
    random = np.random.default_rng(seed)
    views = []
    for pose in poses(count, distance):
        departure = np.zeros(3) if seed is None else random.standard_normal(3)
        own = departure * np.array([FOCAL_DEPARTURE, *[4000 * CENTRE_DEPARTURE] * 2])
        views.append(View(camera, np.concatenate([own, pose])))
    x = board.saddles[:, 0] / np.abs(board.saddles[:, 0]).max()
    return Scene(board, tuple(views), bend_mm * (x**2 - np.mean(x**2)))
