"""Pictures of gauges and bosses drawn from known shapes in space, without distortion: the truth is exact.

A wire is convex, so its outline in a picture is the convex hull of its two projected end circles. Shapes are
filled on a finer grid, averaged in linear light, blurred as by a lens, and encoded as sRGB.
"""

from __future__ import annotations

import cv2
import numpy as np

from hubsight.camera import View
from scenes import look_at

CAMERA = np.array([1525.0, 1010.0, 745.0, 0, 0, 0, 0, 0])
SIZE = (2016, 1512)
FINE = 4
TILT_DEG = 24.0
PAPER, STEEL, SHADE = 0.65, 0.12, 0.45
"""Linear light."""
LENS_BLUR_PX = 0.7
NOISE_GREY = 2.0


def views(count=4, distance=430.0, roll=20.0):
    """Photos from above and around, looking at the sheet's middle; without ``roll`` +x is to the right."""
    poses = [look_at(120 * k - 40, 0.0 if k == 0 else TILT_DEG, distance, roll * k) for k in range(count)]
    return [View(CAMERA, np.concatenate([np.zeros(3), pose])) for pose in poses]


def circle(centre, direction, radius):
    """64 points of the circle square to a direction."""
    helper = np.cross(direction, [0.0, 0.0, 1.0] if abs(direction[2]) < 0.99 else [1.0, 0.0, 0.0])
    first = helper / np.linalg.norm(helper)
    second = np.cross(direction, first)
    a = np.linspace(0, 2 * np.pi, 64, endpoint=False)[:, None]
    return centre + radius * (np.cos(a) * first + np.sin(a) * second)


def rod(end, direction, length, diameter, rounding=0.08):
    """Outline points (N, 3) of a cylinder with a rounded rim at ``end``; their convex hull is its outline."""
    r = diameter / 2
    rim = [
        circle(end - rounding * (1 - np.cos(a)) * direction, direction, r - rounding * (1 - np.sin(a)))
        for a in np.linspace(0, np.pi / 2, 9)
    ]
    return np.concatenate([*rim, circle(end - length * direction, direction, r)])


class Picture:
    """A picture being drawn."""

    def __init__(self, view, light=PAPER):
        self.view = view
        self.canvas = np.full((SIZE[1] * FINE, SIZE[0] * FINE), light, np.float32)

    def fill(self, points, light, *, hull=True):
        """Fill the convex hull, or the polygon, of (N, 3) points."""
        px = ((self.view.project(points) + 0.5) * FINE - 0.5).astype(np.float32)
        outline = cv2.convexHull(px) if hull else px
        shift = 4
        fixed = np.rint(outline.reshape(-1, 1, 2) * 2**shift).astype(np.int32)
        cv2.fillPoly(self.canvas, [fixed], float(light), cv2.LINE_8, shift)

    def developed(self, *, noise=NOISE_GREY, seed=0):
        """Return the picture as a phone would write it."""
        light = cv2.resize(self.canvas, SIZE, interpolation=cv2.INTER_AREA)
        light = cv2.GaussianBlur(light, (0, 0), LENS_BLUR_PX)
        srgb = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
        grains = noise * np.random.default_rng(seed).standard_normal(light.shape)
        return np.clip(np.rint(255 * srgb + grains), 0, 255).astype(np.uint8)
