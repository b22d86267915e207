"""The camera: pinhole with Brown-Conrady distortion, its projection and all derivatives.

Pixels follow OpenCV: the centre of the first pixel is (0, 0), columns first, in the array as stored. World
points are in the target frame, mm. The derivatives are OpenCV's, and so is the model; where they are not
needed, the projection alone is several times faster written out. This module adds the derivative by the world
point and splits a camera into what all photos share and one photo's departure from it.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from hubsight.model.arrays import Array

SHARED = ("f", "cx", "cy", "k1", "k2", "p1", "p2", "k3")
"""Parameters of the shared camera, px and 1."""
OWN = ("df", "dcx", "dcy", "rx", "ry", "rz", "tx", "ty", "tz")
"""Parameters of one photo: relative focal departure, principal point departure (px), pose (rad, mm)."""


TILE = 16384
"""Points that are projected at a time; raising it lets the arrays between the steps fall out of the
processor's cache, which took three times as long for 300,000 points."""


@dataclass(frozen=True)
class View:
    """One photo's camera and pose.

    Attributes
    ----------
    shared
        (8,) shared camera, see `SHARED`.
    own
        (9,) departures and pose, see `OWN`.
    """

    shared: Array
    own: Array

    @property
    def focal(self) -> float:
        """Focal length of this photo, px."""
        return float(self.shared[0] * (1 + self.own[0]))

    @property
    def matrix(self) -> Array:
        """(3, 3) camera matrix of this photo."""
        f, (cx, cy) = self.focal, self.shared[1:3] + self.own[1:3]
        return np.array([[f, 0, cx], [0, f, cy], [0, 0, 1.0]])

    @property
    def distortion(self) -> Array:
        """(5,) OpenCV order k1 k2 p1 p2 k3."""
        return self.shared[3:8]

    @property
    def rotation(self) -> Array:
        """(3, 3) from the target frame to the camera frame."""
        return np.asarray(cv2.Rodrigues(self.own[3:6])[0], dtype=np.float64)

    @property
    def position(self) -> Array:
        """(3,) centre of the lens in the target frame, mm."""
        return np.asarray(-self.rotation.T @ self.own[6:9], dtype=np.float64)

    def project(self, points: Array) -> Array:
        """Return the pixels (N, 2) of points (N, 3), mm."""
        points = np.reshape(points, (-1, 3))
        if len(points) <= TILE:
            return self._project_tile(points)
        pixels = np.empty((len(points), 2))
        for begin in range(0, len(points), TILE):
            pixels[begin : begin + TILE] = self._project_tile(points[begin : begin + TILE])
        return pixels

    def _project_tile(self, points: Array) -> Array:
        x, y, z = self.rotation @ points.T + self.own[6:9, None]
        x, y = x / z, y / z
        k1, k2, p1, p2, k3 = self.distortion
        xx, yy, xy2 = x * x, y * y, 2 * x * y
        r2 = xx + yy
        radial = 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
        bent = np.empty((len(x), 2))
        bent[:, 0] = x * radial + p1 * xy2 + p2 * (r2 + 2 * xx)
        bent[:, 1] = y * radial + p1 * (r2 + 2 * yy) + p2 * xy2
        return np.asarray(self.focal * bent + self.shared[1:3] + self.own[1:3])

    def rays(self, pixels: Array) -> Array:
        """Return (N, 3) unit directions in the target frame of the lines of sight through (N, 2) pixels."""
        criteria = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 40, 1e-10)
        flat = cv2.undistortPoints(
            np.ascontiguousarray(pixels, dtype=np.float64).reshape(-1, 1, 2),
            self.matrix,
            self.distortion,
            criteria=criteria,
        ).reshape(-1, 2)
        rays = np.column_stack([flat, np.ones(len(flat))]) @ self.rotation
        return np.asarray(rays / np.linalg.norm(rays, axis=1, keepdims=True), dtype=np.float64)

    def at_height(self, pixels: Array, height: float | Array) -> Array:
        """Return (N, 3) points where the lines of sight through (N, 2) pixels pass ``height`` mm."""
        rays, eye = self.rays(pixels), self.position
        reach = (np.asarray(height) - eye[2]) / rays[:, 2]
        return np.asarray(eye + reach[:, None] * rays, dtype=np.float64)


@dataclass(frozen=True)
class Projection:
    """Pixels of N points and their derivatives: ``shared`` (N,2,8), ``own`` (N,2,9), ``point`` (N,2,3)."""

    pixels: Array
    shared: Array
    own: Array
    point: Array


def project_with_derivatives(view: View, points: Array) -> Projection:
    """Return the pixels of points (N, 3), with derivatives by shared camera, own parameters and point."""
    n = len(points)
    pixels, jac = cv2.projectPoints(
        np.ascontiguousarray(points, dtype=np.float64).reshape(-1, 1, 3),
        view.own[3:6],
        view.own[6:9],
        view.matrix,
        view.distortion,
    )
    j = np.asarray(jac, dtype=np.float64).reshape(n, 2, -1)
    rotation, shift = j[..., 0:3], j[..., 3:6]
    focal = j[..., 6] + j[..., 7]
    shared = np.concatenate([focal[..., None] * (1 + view.own[0]), j[..., 8:15]], axis=-1)
    own = np.concatenate([focal[..., None] * view.shared[0], j[..., 8:10], rotation, shift], axis=-1)
    return Projection(np.asarray(pixels, dtype=np.float64).reshape(n, 2), shared, own, shift @ view.rotation)
