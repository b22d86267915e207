"""Walls of a flange that run straight down from its visible upper edges: the bosses' faces, a radial rim."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hubsight.camera import View
from hubsight.model.arrays import Array
from hubsight.scene.boss_shape import BossShape, Face
from hubsight.scene.pattern_pose import PatternPose

FACING = 0.2
"""Least slope of the line of sight across a wall at which the wall is seen at all, sideways over downwards;
raising it leaves fewer walls, seen better."""
ALONG_MM = np.arange(-1.0, 2.3, 0.2)
"""Where along a boss' face it is looked at, outward from the crossing point, mm."""
RIM_STRETCH_MM = np.arange(-1.6, 1.7, 0.2)
"""Stretch of a radial rim that is looked at in one place, mm; a longer one reaches into the slots."""


@dataclass(frozen=True)
class Wall:
    """A stretch of wall: (N, 3) points of its upper edge, and (2,) the direction in which it looks."""

    foot: Array
    outward: Array


def boss_walls(pose: PatternPose, shape: BossShape) -> list[Wall]:
    """Return both faces of every boss."""
    return [
        Wall(pose.to_target(boss, ALONG_MM, face.y(ALONG_MM)), face_outward(pose, boss, face))
        for boss in range(pose.count)
        for face in (shape.left, shape.right)
    ]


def rim_walls(pose: PatternPose, radius: float) -> list[Wall]:
    """Return stretches of a radial flange's rim, on either side of every bore, clear of its slot."""
    out = []
    for quarter in range(1, 4 * pose.count, 2):
        middle = pose.phase + np.pi / 2 / pose.count * quarter
        angle = middle + RIM_STRETCH_MM / radius
        flat = radius * np.stack([np.cos(angle), np.sin(angle)], -1)
        foot = np.column_stack([pose.centre + flat, pose.height + flat @ pose.tilt])
        out.append(Wall(foot, np.array([np.cos(middle), np.sin(middle)])))
    return out


def face_outward(pose: PatternPose, boss: int, face: Face) -> Array:
    """Return (2,) the direction in which a boss' face looks, square to the boss' centreline."""
    angle = pose.phase + 2 * np.pi * boss / pose.count
    return face.side * np.array([-np.sin(angle), np.cos(angle)])


def facing(view: View, foot: Array, outward: Array) -> float:
    """Return sideways over downwards of the line of sight, towards a wall."""
    sight = view.position - foot.mean(0)
    return float(sight[:2] @ outward / sight[2])


def faces_seen(view: View, walls: Sequence[Wall]) -> list[Wall]:
    """Return the walls that a photo shows."""
    return [wall for wall in walls if facing(view, wall.foot, wall.outward) > FACING]
