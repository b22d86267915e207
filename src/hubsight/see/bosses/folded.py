"""Edge points of all photos about the side faces of all bosses, folded into the frame of one boss."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from hubsight.camera import View
from hubsight.model.arrays import Array, Flags, Indices, Picture
from hubsight.scene.bored_boss import MIDDLE_MM, BoredBoss
from hubsight.scene.pattern_pose import PatternPose
from hubsight.see.ribbon import linear_light
from hubsight.see.sampling import softened
from hubsight.see.turned.edge_points import BLUR_PX, MARGIN_PX, steepest

FACING = 0.12
"""Least slope of the line of sight across a face, sideways over downwards; raising it leaves fewer faces,
seen better."""
ALONG_MM, HEIGHTS_MM = (-7.0, 6.0), (-11.5, 0.5)
"""What is looked at of a face: outward from the pattern's radius, and up from the upper edges, mm; more is
slower."""
STEP_PX = 0.5
"""Step of the derivatives by a picture's pixels, px; uncritical."""


@dataclass(frozen=True)
class Look:
    """One face of one boss in one photo: ``view`` shows the boss whose frame is ``axes`` about ``origin``."""

    photo: int
    side: int
    view: View
    origin: Array
    axes: Array

    def pixels(self, points: Array) -> Array:
        """Return the (N, 2) pixels of points (N, 3) in the boss' frame."""
        return self.view.project(points @ self.axes + self.origin)


@dataclass(frozen=True)
class Folded:
    """Edge points of one side's faces in the frame of a boss.

    Attributes
    ----------
    look
        (N,) the number of the look that each point belongs to.
    eye, moves
        (N, 3) the lens, and (N, 3, 2) how it moves when the hub's axis does, per mm in the target's frame.
    rays
        (3, N, 3) directions of the points' lines of sight; a step against the light's slope's direction
        further, `STEP_PX`; and a step along the edge.
    """

    look: Indices
    eye: Array
    moves: Array
    rays: Array

    def only(self, keep: Flags) -> Folded:
        """Return some of the points."""
        return Folded(self.look[keep], self.eye[keep], self.moves[keep], self.rays[:, keep])

    def on_face(self, boss: BoredBoss, side: int) -> Array:
        """Return the (3, N, 3) points in which lines of sight, and those a step off, meet a boss' face."""
        return boss.face(side).met(self._eye(boss), self.rays)

    def centres(self, boss: BoredBoss, side: int) -> Array:
        """Return the (N, 3) points in which the lines of sight alone meet a boss' face."""
        return boss.face(side).met(self._eye(boss), self.rays[0])

    def _eye(self, boss: BoredBoss) -> Array:
        return np.asarray(self.eye + self.moves @ np.array(boss.shift))


def fold(
    pictures: Sequence[Picture],
    views: Sequence[View],
    pose: PatternPose,
    boss: BoredBoss,
    held: Collection[int],
) -> tuple[list[Look], dict[int, Folded]]:
    """Return the looks at the side faces of empty bosses, and by side the edge points about them.

    Parameters
    ----------
    pictures, views
        Grey photos with their cameras.
    pose, boss
        The pattern, and a boss as far as it is known.
    held
        Bosses that hold gauges, which hide their mouths.
    """
    looks: list[Look] = []
    parts: dict[int, list[Folded]] = {1: [], -1: []}
    frames = [pose.frame(k) for k in range(pose.count) if k not in held]
    for photo, (picture, view) in enumerate(zip(pictures, views, strict=True)):
        own = [
            Look(photo, side, view, *frame)
            for frame in frames
            for side in (1, -1)
            if _slope(view, *frame, boss, side) > FACING
        ]
        if not own:
            continue
        pixels, normals = _edges(picture, np.concatenate([_outline(look, boss) for look in own]))
        tangents = np.stack([-normals[:, 1], normals[:, 0]], -1)
        rays = np.stack([view.rays(pixels + STEP_PX * step) for step in (0.0, normals, tangents)])
        for look in own:
            near = _near(look, boss, rays)
            if near is not None:
                parts[look.side].append(_numbered(near, len(looks)))
                looks.append(look)
    return looks, {side: _joined(of_side) for side, of_side in parts.items() if of_side}


def _slope(view: View, origin: Array, axes: Array, boss: BoredBoss, side: int) -> float:
    """Return the slope of the line of sight across a face, sideways over downwards."""
    face = boss.face(side)
    sight = axes @ (view.position - origin) - np.array([face.radius, side * face.offset, MIDDLE_MM])
    return float(side * sight[1] / sight[2])


def _outline(look: Look, boss: BoredBoss) -> Array:
    """Return the pixels (4, 2) of what is looked at of a face."""
    face = boss.face(look.side)
    corners = [
        [face.radius + x, look.side * (face.offset + face.slope * x), z] for x in ALONG_MM for z in HEIGHTS_MM
    ]
    return look.pixels(np.array(corners))


def _edges(picture: Picture, around: Array) -> tuple[Array, Array]:
    """Return the edge points (N, 2) of a photo's part around some pixels, and (N, 2) the light's slopes."""
    size = np.array(picture.shape[::-1])
    low = np.clip(np.floor(around.min(0)).astype(int) - MARGIN_PX, 0, size - 1)
    high = np.clip(np.ceil(around.max(0)).astype(int) + MARGIN_PX, low + 1, size)
    part = linear_light(picture[low[1] : high[1], low[0] : high[0]])
    pixels, normals = steepest(softened(part, BLUR_PX))
    return pixels + low, normals


def _near(look: Look, boss: BoredBoss, rays: Array) -> Folded | None:
    """Return the points on a face, None if there are none."""
    eye = look.axes @ (look.view.position - look.origin)
    along = rays @ look.axes.T
    face = boss.face(look.side)
    at = face.met(eye, along[0])
    x, z = at[:, 0] - face.radius, at[:, 2]
    near = (x > ALONG_MM[0]) & (x < ALONG_MM[1]) & (z > HEIGHTS_MM[0]) & (z < HEIGHTS_MM[1])
    if not near.any():
        return None
    count = int(near.sum())
    return Folded(
        np.zeros(count, int),
        np.broadcast_to(eye, (count, 3)),
        np.broadcast_to(-look.axes[:, :2], (count, 3, 2)),
        along[:, near],
    )


def _numbered(points: Folded, number: int) -> Folded:
    return Folded(np.full(len(points.look), number), points.eye, points.moves, points.rays)


def _joined(parts: Sequence[Folded]) -> Folded:
    return Folded(
        np.concatenate([p.look for p in parts]),
        np.concatenate([p.eye for p in parts]),
        np.concatenate([p.moves for p in parts]),
        np.concatenate([p.rays for p in parts], axis=1),
    )
