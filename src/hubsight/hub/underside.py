"""The lower edges of the bosses, seen from the side: how thick the flange is at its bosses.

Below a boss' face that looks towards the camera, the picture is followed straight down: at the face's lower
edge metal ends and paper or shell begins, at one height on all bosses and in all photos.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from hubsight.camera import View
from hubsight.hub.boss_pattern import PatternPose
from hubsight.hub.boss_shape import BossShape, Face
from hubsight.hub.peak import sub_step

Array = NDArray[np.float64]

BLUR_PX = 1.0
ALONG_MM = np.arange(-1.0, 2.3, 0.2)
"""Where along a boss' face the picture is followed down, outward from the crossing point."""
DEPTH_STEP_MM = 0.1
DEPTHS_MM = np.arange(-13.0, 3.0, DEPTH_STEP_MM)
"""Heights that are looked at, from the bosses' upper edges."""
THICKNESSES_MM = (4.5, 10.5)
"""Visible thickness of bosses (common practice, no source)."""
FACING = 0.2
"""Least slope of the line of sight across a face, so that the face is seen at all."""
QUIET = 3.0
"""Grey levels per step that every picture has."""


@dataclass(frozen=True)
class Underside:
    """Where lower edges of the bosses may be: (K,) heights from the upper ones, mm, and their weights."""

    depth: Array
    weight: Array


def see_underside(
    pictures: Sequence[NDArray[np.uint8]], views: Sequence[View], pose: PatternPose, shape: BossShape
) -> Underside | None:
    """Look for the lower edges of the bosses' faces.

    Parameters
    ----------
    pictures, views
        Grey photos with their cameras.
    pose, shape
        The boss pattern as adjusted, and the mean boss.

    Returns
    -------
    Underside or None
        None where no face is seen from the side.
    """
    profiles = []
    for picture, view in zip(pictures, views, strict=True):
        soft = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), BLUR_PX)
        for boss in range(pose.count):
            for face in (shape.left, shape.right):
                foot = pose.to_target(boss, ALONG_MM, face.y(ALONG_MM))
                if _facing(view, pose, boss, face, foot) > FACING:
                    profiles.append(_profile(np.asarray(soft, dtype=np.float32), view, foot))
    if not profiles:
        return None
    mean = np.mean(profiles, axis=0)
    thin, thick = THICKNESSES_MM
    inside = np.abs(DEPTHS_MM + (thin + thick) / 2) < (thick - thin) / 2
    tops = [k for k in range(2, len(mean) - 2) if inside[k] and mean[k] == mean[k - 2 : k + 3].max()]
    if not tops:
        return None
    depth = [DEPTHS_MM[k] + DEPTH_STEP_MM * sub_step(mean[k - 1 : k + 2]) for k in tops]
    return Underside(np.array(depth), mean[tops])


def _facing(view: View, pose: PatternPose, boss: int, face: Face, foot: Array) -> float:
    """Sideways over downwards of the line of sight, towards the face."""
    angle = pose.phase + 2 * np.pi * boss / pose.count
    outward = face.side * np.array([-np.sin(angle), np.cos(angle)])
    sight = view.position - foot.mean(0)
    return float(sight[:2] @ outward / sight[2])


def _profile(picture: NDArray[np.float32], view: View, foot: Array) -> Array:
    """How strongly grey changes on the way down a face, from 0 to 1."""
    points = foot[:, None, :] + np.array([0.0, 0.0, 1.0]) * DEPTHS_MM[None, :, None]
    at = view.project(points.reshape(-1, 3)).astype(np.float32).reshape(*points.shape[:2], 2)
    grey = cv2.remap(picture, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    change = np.median(np.abs(np.gradient(gaussian_filter1d(grey, 1.5, axis=1), axis=1)), axis=0)
    return np.asarray(change / (change.max() + QUIET), dtype=np.float64)
