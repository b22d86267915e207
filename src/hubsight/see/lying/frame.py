"""The frame of a lying hub: its axis, and pictures unrolled about it."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from hubsight.camera import View
from hubsight.see.lying.axis import LEVEL_MM, Course

Array = NDArray[np.float64]
Picture = NDArray[np.uint8]

FAR_MM = 60.0
"""Two points of the axis this far either way stand for all of it."""


@dataclass(frozen=True)
class LyingFrame:
    """The axis of a lying hub in the target frame.

    Attributes
    ----------
    origin
        (3,) a point of the axis.
    along, left, up
        (3,) unit vectors: along the axis, level to the left of it, and up, square to both.
    """

    origin: Array
    along: Array
    left: Array
    up: Array

    def points(self, s: Array, t: Array, height: Array) -> Array:
        """Return (len(s), len(t), 3) points ``t`` mm to the left and ``height`` mm up at ``s`` along it."""
        aside = t[:, None] * self.left + height[:, None] * self.up
        return np.asarray(self.origin + s[:, None, None] * self.along + aside)

    def round(self, s: Array, radius: float, angle: Array) -> Array:
        """Return (len(s), len(angle), 3) points on a cylinder about the axis; angles from straight up."""
        return self.points(s, radius * np.sin(angle), radius * np.cos(angle))

    def outward(self, angle: Array | float) -> Array:
        """Return (..., 3) unit directions away from the axis at (...) angles from straight up."""
        turned = np.asarray(angle)[..., None]
        return np.asarray(np.sin(turned) * self.left + np.cos(turned) * self.up)

    def at(self, s: float) -> Array:
        """Return the (3,) point of the axis at ``s``."""
        return np.asarray(self.origin + s * self.along)

    def towards(self, eye: Array) -> tuple[float, float]:
        """Return angle about the axis, rad, and distance from it, mm, at which a (3,) point lies."""
        left, up = (eye - self.origin) @ self.left, (eye - self.origin) @ self.up
        return float(np.arctan2(left, up)), float(np.hypot(left, up))

    def moved(self, change: Array) -> LyingFrame:
        """Return the frame shifted by ``change``: to the left at -`FAR_MM` and `FAR_MM`, up at both, mm."""
        first = self.at(-FAR_MM) + change[0] * self.left + change[2] * self.up
        last = self.at(FAR_MM) + change[1] * self.left + change[3] * self.up
        return frame_between(first, last)


def frame_between(first: Array, last: Array) -> LyingFrame:
    """Return the frame whose axis runs from one (3,) point to another, its origin half way."""
    along = (last - first) / np.linalg.norm(last - first)
    left = np.array([-along[1], along[0], 0.0]) / np.hypot(along[0], along[1])
    return LyingFrame((first + last) / 2, along, left, np.cross(along, left))


def frame_of(course: Course, view: View, height: float, slope: float) -> LyingFrame:
    """Return the frame whose axis is seen on ``course`` by ``view``.

    Parameters
    ----------
    course
        As seen at `LEVEL_MM`.
    view
        By which it was seen.
    height, slope
        Of the axis at the sheet's middle along it, mm, and its rise per mm.
    """
    eye = view.position
    ends = []
    for s in (-FAR_MM, FAR_MM):
        level = np.append(s * course.along + course.sideways * course.left, LEVEL_MM)
        ends.append(eye + (level - eye) * ((eye[2] - height - slope * s) / (eye[2] - LEVEL_MM)))
    frame = frame_between(*ends)
    start = frame.origin - frame.along * (frame.origin[:2] @ course.along) / (frame.along[:2] @ course.along)
    return LyingFrame(start, frame.along, frame.left, frame.up)


def grey_at(picture: Picture, view: View, points: Array) -> Array:
    """Return the grey levels at (..., 3) points."""
    return sampled(picture, pixels_of(view, points))


def pixels_of(view: View, points: Array) -> NDArray[np.float32]:
    """Project (..., 3) points."""
    return view.project(points.reshape(-1, 3)).astype(np.float32).reshape(*points.shape[:-1], 2)


def sampled(picture: Picture | NDArray[np.float32], at: NDArray[np.float32]) -> Array:
    """Return a picture's values at (..., 2) pixels."""
    grey = cv2.remap(picture, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(grey, dtype=np.float64)


def before_paper(view: View, points: Array, field: tuple[float, float]) -> NDArray[np.bool_]:
    """Tell which points are seen before the target's blank field, rather than before its squares."""
    eye = view.position
    paper = eye + (points - eye) * (eye[2] / (eye[2] - points[..., 2:]))
    return np.asarray((np.abs(paper[..., 0]) < field[0]) & (np.abs(paper[..., 1]) < field[1]))
