"""The frame of a lying hub: its axis, and pictures unrolled about it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hubsight.camera import View
from hubsight.model.arrays import Array, Flags
from hubsight.see.lying.axis import LEVEL_MM, Course

FAR_MM = 60.0
"""Distance either way of the two points that stand for the whole axis, mm."""
_NEXT, _AFTER = np.array([1, 2, 0]), np.array([2, 0, 1])
"""The axes after each axis, in turn."""


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
        """Return the angle about the axis, rad, and distance from it, mm, at which a (3,) point lies."""
        left, up = (eye - self.origin) @ self.left, (eye - self.origin) @ self.up
        return float(np.arctan2(left, up)), float(np.hypot(left, up))

    def moved(self, change: Array) -> LyingFrame:
        """Return the frame shifted by ``change``: to the left at -`FAR_MM` and `FAR_MM`, up at both, mm."""
        first = self.at(-FAR_MM) + change[0] * self.left + change[2] * self.up
        last = self.at(FAR_MM) + change[1] * self.left + change[3] * self.up
        return frame_between(first, last)


def cross(a: Array, b: Array) -> Array:
    """Return the cross products (..., 3) of vectors; of a few, numpy's own takes three times as long."""
    return np.asarray(a[..., _NEXT] * b[..., _AFTER] - a[..., _AFTER] * b[..., _NEXT])


def frame_between(first: Array, last: Array) -> LyingFrame:
    """Return the frame whose axis runs from one (3,) point to another, its origin half way."""
    along = (last - first) / np.linalg.norm(last - first)
    left = np.array([-along[1], along[0], 0.0]) / np.hypot(along[0], along[1])
    return LyingFrame((first + last) / 2, along, left, cross(along, left))


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


def before_paper(view: View, points: Array, field: tuple[float, float]) -> Flags:
    """Tell which points are seen before the target's blank field, rather than before its squares."""
    eye = view.position
    paper = eye + (points - eye) * (eye[2] / (eye[2] - points[..., 2:]))
    return np.asarray((np.abs(paper[..., 0]) < field[0]) & (np.abs(paper[..., 1]) < field[1]))
