"""Where bright metal that is turned about a lying hub's axis stops mirroring the paper.

Near its outlines such metal mirrors the white field of the target and is lost before it. What is seen is where
the mirrored field ends: there the surface's normal halves the angle between the way to the camera and the way
to the field's edge (the law of reflection). On both sides that is farther from the camera's side of the axis
than the outlines are; taken for outlines, such edges would set the axis several millimetres too high.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from hubsight.lying.frame import LyingFrame

Array = NDArray[np.float64]

USUAL_ANGLE = np.radians(55.0)
ROUNDS = 4


def mirror_ends(
    frame: LyingFrame, eye: Array, white: tuple[float, float], places: Array, radii: Array, side: int
) -> Array:
    """Return the angles about the axis, from straight up, at which the mirrored field ends on one side.

    Parameters
    ----------
    frame
        Of the axis.
    eye
        (3,) place of the camera.
    white
        Half length and half width of the white field, mm.
    places, radii
        Along the axis and of the surface, mm; they are broadcast together.
    side
        1 to the left of the axis, -1 to the right.
    """
    towards, _ = frame.towards(eye)
    aside = _to_edge(frame, white, places, side)
    height = frame.origin[2] + places * frame.along[2]
    angle = np.full(np.broadcast_shapes(places.shape, radii.shape), towards / 2 + side * USUAL_ANGLE)
    for _ in range(ROUNDS):
        below = np.arctan2(height + radii * np.cos(angle), aside - radii * side * np.sin(angle))
        angle = (towards + side * (np.pi / 2 + below)) / 2
    return angle


def _to_edge(frame: LyingFrame, white: tuple[float, float], places: Array, side: int) -> Array:
    """Return how far the field's edge is from the axis on one side, level, mm."""
    reach = np.full(places.shape, np.inf)
    for k in (0, 1):
        way = side * frame.left[k]
        if way != 0.0:
            start = frame.origin[k] + places * frame.along[k]
            reach = np.minimum(reach, (np.sign(way) * white[k] - start) / way)
    return reach
