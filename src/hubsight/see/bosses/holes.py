"""The empty bores' mouths on the bosses' faces: whether a gauge's bore is its boss' upper or lower one.

On each face of a boss one bore ends in a small hole and the other begins with a wide one for the head, one
above the flange's middle and one below it. The gauge says along which lines they lie; every face that looks
towards the camera is unrolled, and the outlines of both holes are laid over it at all heights.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import map_coordinates

from hubsight.camera import View
from hubsight.model.arrays import Array, Light, Picture
from hubsight.scene.boss_shape import BossShape, Face, width_along
from hubsight.scene.pattern_pose import PatternPose
from hubsight.scene.usual import BORE_RADIUS_MM, HEAD_BORE_RADIUS_MM
from hubsight.see.bosses.walls import FACING, face_outward, facing
from hubsight.see.sampling import pixels_of, softened_round

STAGGERS_MM = np.array([s for k in range(8, 21) for s in (-0.1 * k, 0.1 * k)])
"""Heights of a gauge's bore above the flange's middle that are tried, mm; more are slower."""
MIDDLES_MM = np.arange(-7.2, 0.05, 0.1)
"""Heights of the flange's middle from the bosses' visible upper edges that are tried, mm; more are slower."""
STEP_MM = 0.1
"""Step of an unrolled face, mm; raising it is faster and blurs the holes."""
ALONG_MM, DEPTHS_MM = np.arange(-6.0, 5.05, STEP_MM), np.arange(-11.5, 1.55, STEP_MM)
"""What is unrolled of a face, outward from the crossing point's radius and up from the upper edges, mm."""
AROUND = np.radians(np.arange(0.0, 360.0, 10.0))
"""Directions about a hole in which its outline is sampled, rad; more are slower."""
BESIDE_MM = 0.25
"""Distance outside and inside a hole's outline at which light and dark are compared, mm; raising it bears
worse outlines and takes in what lies beside."""
BELOW_EDGE_MM = 0.4
"""Depth below the upper edge from which outlines count, mm; raising it ignores more of high bores. The edge
is dark itself."""
LEAST_CONTRAST = 0.05
"""Contrast of the clearest hole, logarithm of grey, at which a face counts half; raising it trusts faint
faces less."""
DARK = 4.0
"""Grey levels that every picture has; raising it makes contrasts in the dark count less."""
FULL_FACING = 0.6
"""Slope of the line of sight from which a face is not seen better; raising it prefers faces seen squarely."""
BLUR_PX = 0.8
"""Blur of the photo, px; raising it lessens noise and small holes."""


@dataclass(frozen=True)
class GaugeInBoss:
    """A gauge against the frame of its boss.

    Attributes
    ----------
    bosses
        Those that hold gauges, which hide their holes.
    start
        Outward from the pattern's radius to the crossing point, mm.
    outward, sideways
        Components of the gauge's direction along the boss' centreline and to its left.
    rise
        Of the gauge towards its end, per mm seen from above.
    """

    bosses: tuple[int, ...]
    start: float
    outward: float
    sideways: float
    rise: float


@dataclass(frozen=True)
class Holes:
    """How clearly the holes show.

    Attributes
    ----------
    clear
        (M, S) with the middle at `MIDDLES_MM` and the gauge's bore at `STAGGERS_MM` from it; at most 1.
    """

    clear: Array

    def at(self, middle: Array) -> Array:
        """Return the same (K, S) at other heights of the middle, from the upper edges."""
        columns = [np.interp(middle, MIDDLES_MM, column) for column in self.clear.T]
        return np.stack(columns, -1)


@dataclass(frozen=True)
class _Outline:
    """A hole's outline on a face, mm.

    Attributes
    ----------
    along
        Its middle, outward from the crossing point's radius.
    half_width, radius
        Half its extent along the face, and upwards.
    higher
        How much higher it lies than its bore at the crossing point.
    """

    along: float
    half_width: float
    radius: float
    higher: float

    def light(self, face: Array, heights: Array, grown: float) -> Array:
        """Return grey levels (heights, around) of an unrolled face on the outline, grown by some mm."""
        share = (self.radius + grown) / self.radius
        x = self.along + share * self.half_width * np.cos(AROUND)
        z = heights[:, None] + self.higher + share * self.radius * np.sin(AROUND)
        at = [(z - DEPTHS_MM[0]) / STEP_MM, (np.broadcast_to(x, z.shape) - ALONG_MM[0]) / STEP_MM]
        return np.asarray(map_coordinates(face, at, order=1, mode="nearest"))

    def clear(self, face: Array, heights: Array) -> Array:
        """Return how much darker a face is inside the outline than outside, for the bore at these heights."""
        difference = self.light(face, heights, BESIDE_MM) - self.light(face, heights, -BESIDE_MM)
        low = heights[:, None] + self.higher + self.radius * np.sin(AROUND) < -BELOW_EDGE_MM
        return np.asarray(np.where(low, np.clip(difference, -1.0, 1.0), 0.0).mean(1))


def see_holes(
    pictures: Sequence[Picture],
    views: Sequence[View],
    pose: PatternPose,
    shape: BossShape,
    gauge: GaugeInBoss,
) -> Holes | None:
    """Return how clearly the mouths of the empty bores show.

    Parameters
    ----------
    pictures, views
        Grey photos with their cameras.
    pose, shape
        The boss pattern as adjusted, and the mean boss.
    gauge
        The first gauge.

    Returns
    -------
    Holes or None
        None where no face of an empty boss is seen.
    """
    outlines = {face.side: _outlines(face, shape, gauge) for face in (shape.left, shape.right)}
    own = 1 if gauge.sideways > 0 else -1
    clear, weights = [], []
    for picture, view in zip(pictures, views, strict=True):
        shown = []
        for boss in set(range(pose.count)) - set(gauge.bosses):
            for face in (shape.left, shape.right):
                foot = pose.to_target(boss, ALONG_MM, face.y(ALONG_MM))
                slope = facing(view, foot, face_outward(pose, boss, face))
                if slope > FACING:
                    shown.append((face, _places(view, foot)))
                    weights.append(min(slope, FULL_FACING))
        if shown:
            soft = softened_round(picture, [at for _, at in shown], BLUR_PX)
            for face, at in shown:
                tone = np.log(soft.sampled(at) + DARK)
                clear.append(_clear(tone, outlines[face.side], own=face.side == own))
    if not clear:
        return None
    return Holes(np.average(clear, 0, weights))


def _outlines(face: Face, shape: BossShape, gauge: GaugeInBoss) -> tuple[_Outline, _Outline]:
    """Return the small hole that a bore ends in on a face, and the wide one that the other begins with."""
    flat = np.hypot(gauge.outward, gauge.sideways)
    cosine, sine = gauge.outward / flat, face.side * abs(gauge.sideways) / flat
    ahead, _ = width_along(shape, gauge.start, cosine, sine)
    _, behind = width_along(shape, gauge.start, cosine, -sine)
    return (
        _outline(face, gauge, ahead, (cosine, sine), BORE_RADIUS_MM),
        _outline(face, gauge, -behind, (cosine, -sine), HEAD_BORE_RADIUS_MM),
    )


def _outline(
    face: Face, gauge: GaugeInBoss, distance: float, direction: tuple[float, float], radius: float
) -> _Outline:
    """Return the outline in which a bore along (outward, left) meets a face after a distance."""
    along = gauge.start + distance * direction[0]
    slope = face.side * face.slope_at(along)
    # Along the face's foot, measured outward, a slanting bore is cut longer than wide.
    half_width = radius / max(abs(direction[1] - slope * direction[0]), 0.3)
    return _Outline(along, half_width, radius, gauge.rise * distance)


def _places(view: View, foot: Array) -> Light:
    """Return the pixels (depths, along, 2) above and below the foot points (N, 3) of a face."""
    return pixels_of(view, foot[None] + np.array([0.0, 0.0, 1.0]) * DEPTHS_MM[:, None, None])


def _clear(tone: Array, outlines: tuple[_Outline, _Outline], *, own: bool) -> Array:
    """Return how clearly both holes show on a face, (M, S); bores like the gauge's end on ``own`` faces."""
    small, wide = outlines
    sign = 1 if own else -1
    upper, lower = MIDDLES_MM[:, None] + sign * STAGGERS_MM, MIDDLES_MM[:, None] - sign * STAGGERS_MM
    heights = np.arange(upper.min(), upper.max() + STEP_MM / 2, STEP_MM / 2)
    sum_ = np.interp(upper, heights, small.clear(tone, heights))
    sum_ += np.interp(lower, heights, wide.clear(tone, heights))
    return np.asarray(sum_ / (np.abs(sum_).max() + LEAST_CONTRAST))
