"""Drawn pictures of a gauge or a locked caliper on the sheet: true shapes in space, no lens distortion."""

from __future__ import annotations

import cv2
import numpy as np

from hub_pictures import LENS_BLUR_PX, NOISE_GREY, circle, rod
from hubsight.camera import View
from hubsight.see.ribbon import SRGB_TO_LINEAR
from scenes import look_at
from sheet_pictures import PX_PER_MM, TABLE, drawing

CAMERA = np.array([2290.0, 1515.0, 1128.0, 0, 0, 0, 0, 0])
SIZE = (3024, 2268)
FINE, MASK = 2, 8
WIRE, HEAD, STREAK, SHADE, JAW = 0.16, 0.20, 0.55, 0.88, 0.22
"""Linear light."""
HEAD_RADIUS = 1.8


def view(tilt=0.0, azimuth=0.0, distance=340.0, roll=3.0):
    return View(CAMERA, np.concatenate([np.zeros(3), look_at(azimuth, tilt, distance, roll)]))


class FlatPicture:
    """The sheet in linear light on a fine grid, to be drawn on; ``scales`` are those of the print."""

    def __init__(self, view, scales=(1.0, 1.0), size=SIZE):
        self.view, self.size = view, size
        page = SRGB_TO_LINEAR[drawing("a4")]
        plane = view.matrix @ np.column_stack([view.rotation[:, 0], view.rotation[:, 1], view.own[6:9]])
        to_mm = np.array(
            [
                [1 / PX_PER_MM, 0, (0.5 - page.shape[1] / 2) / PX_PER_MM],
                [0, -1 / PX_PER_MM, (page.shape[0] / 2 - 0.5) / PX_PER_MM],
                [0, 0, 1],
            ]
        )
        fine = np.array([[FINE, 0, (FINE - 1) / 2], [0, FINE, (FINE - 1) / 2], [0, 0, 1]])
        self.canvas = cv2.warpPerspective(
            page,
            fine @ plane @ np.diag([*scales, 1.0]) @ to_mm,
            (size[0] * FINE, size[1] * FINE),
            flags=cv2.INTER_LINEAR,
            borderValue=float(SRGB_TO_LINEAR[TABLE]),
        )

    def fill(self, points, light):
        """Fill the convex hull of (N, 3) points."""
        part, mask = self._mask(points)
        self.canvas[part] += mask * (light - self.canvas[part])

    def _mask(self, points):
        """Where in the canvas the hull lies, and which share of each pixel it covers.

        OpenCV fills a polygon's border too, half a pixel too far: so the mask is drawn much finer.
        """
        px = (self.view.project(np.asarray(points, float)) + 0.5) * FINE
        low = np.floor(px.min(0)).astype(int) - 1
        high = np.ceil(px.max(0)).astype(int) + 1
        size = (high - low) * MASK
        hull = cv2.convexHull(((px - low) * MASK - 0.5).astype(np.float32))
        fine = np.zeros((size[1], size[0]), np.float32)
        cv2.fillPoly(fine, [np.rint(hull * 16).astype(np.int32)], 1.0, cv2.LINE_8, 4)
        mask = cv2.resize(fine, tuple(int(side) for side in high - low), interpolation=cv2.INTER_AREA)
        first, last = np.maximum(low, 0), np.minimum(high, self.canvas.shape[::-1])
        cut = slice(first[1] - low[1], last[1] - low[1]), slice(first[0] - low[0], last[0] - low[0])
        return (slice(first[1], last[1]), slice(first[0], last[0])), mask[cut]

    def shade(self, points, shift, softness=1.0, shade=SHADE):
        """Darken the paper where points cast a shadow, their heights times ``shift`` (2,) away."""
        on_paper = np.array(points, float)
        on_paper[:, :2] += on_paper[:, 2:] * np.asarray(shift)
        on_paper[:, 2] = 0
        part, mask = self._mask(on_paper)
        whole = np.zeros_like(self.canvas)
        whole[part] = mask
        self.canvas *= 1 - (1 - shade) * cv2.GaussianBlur(whole, (0, 0), softness * FINE * 2)

    def developed(self, *, noise=NOISE_GREY, seed=0):
        light = cv2.GaussianBlur(
            cv2.resize(self.canvas, self.size, interpolation=cv2.INTER_AREA), (0, 0), LENS_BLUR_PX
        )
        srgb = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
        grains = noise * np.random.default_rng(seed).standard_normal(light.shape)
        return np.clip(np.rint(255 * srgb + grains), 0, 255).astype(np.uint8)


def lying_gauge(
    view,
    length=100.0,
    *,
    middle=(0.0, 0.0),
    turned=0.0,
    diameter=2.0,
    scales=(1.0, 1.0),
    light=WIRE,
    shift=(0.5, 0.3),
    shade=SHADE,
    seed=0,
):
    """A gauge whose head's rim and far end rest on the paper."""
    picture = FlatPicture(view, scales)
    a, r = np.radians(turned), diameter / 2
    flat = np.array([np.cos(a), np.sin(a), 0.0])
    drop = HEAD_RADIUS - r
    direction = np.sqrt(1 - (drop / length) ** 2) * flat - np.array([0, 0, drop / length])
    seat = np.array([*middle, HEAD_RADIUS]) - length / 2 * flat
    end = seat + length * direction
    wire = rod(end, direction, length, diameter)
    head = np.concatenate(
        [circle(seat, direction, HEAD_RADIUS), circle(seat - 1.5 * direction, direction, HEAD_RADIUS)]
    )
    picture.shade(wire, shift, shade=shade)
    picture.shade(head, shift, shade=shade)
    picture.fill(wire, light)
    streak = np.array([end - 3 * direction, seat]) + np.array([0, 0, 0.9 * r])
    picture.fill(np.concatenate([streak, streak + 0.25 * np.array([-flat[1], flat[0], 0])]), STREAK)
    picture.fill(head, HEAD)
    return picture.developed(seed=seed)


def locked_caliper(view, opening=100.0, *, middle=(0.0, 0.0), turned=0.0, scales=(1.0, 1.0), seed=0):
    """Two jaws of a caliper, 3.5 mm thick, their inner faces ``opening`` apart."""
    picture = FlatPicture(view, scales)
    a = np.radians(turned)
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])

    def box(x, y):
        corners = np.array([[u, v] for u in x for v in y]) @ turn.T + middle
        return np.concatenate([np.column_stack([corners, np.full(4, z)]) for z in (0.0, 3.5)])

    half = opening / 2
    solids = [box((-half - 6, -half), (-20, 18)), box((half, half + 6), (-20, 18))]
    for solid in solids:
        picture.shade(solid, (0.2, 0.15))
    for solid in solids:
        picture.fill(solid, JAW)
    return picture.developed(seed=seed)
