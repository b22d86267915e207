"""Where bright metal that is turned about a lying hub's axis stops mirroring the paper.

Near its outlines such metal mirrors the white field of the target and is lost before it. What is seen is
where the mirrored field ends: there the surface's normal halves the angle between the way to the camera and
the way to the field's edge (law of reflection). Both ends are turned less towards a tilted camera than the
outlines are; taken for outlines, they would set the axis several millimetres too high.
"""

from __future__ import annotations

import math

from hubsight.model.arrays import Array
from hubsight.see.lying.frame import LyingFrame

USUAL_ANGLE = math.radians(55.0)
"""Angle from straight up at which the mirrored field's end is looked for first, rad."""


def mirror_ends(
    frame: LyingFrame, eye: Array, white: tuple[float, float], place: float, radius: float
) -> tuple[float, float]:
    """Return the angles about the axis, rad from straight up, at which the mirrored field ends on both sides.

    Parameters
    ----------
    frame
        Of the axis.
    eye
        (3,) place of the camera.
    white
        Half length and half width of the white field, mm.
    place, radius
        Along the axis and of the surface, mm.
    """
    centre = frame.at(place)
    seen_from = float((eye - centre) @ frame.left), float((eye - centre) @ frame.up)
    left, right = (
        _end(seen_from, centre[2], _to_edge(centre, side * frame.left, white), side * radius)
        for side in (1, -1)
    )
    return left, right


def _end(eye: tuple[float, float], height: float, aside: float, radius: float) -> float:
    """Return the angle on the side of ``radius``' sign.

    The camera is ``eye`` to the left of the axis and above it, the field's edge is ``aside``, mm.
    """
    side, angle = math.copysign(1.0, radius), math.copysign(USUAL_ANGLE, radius)
    for _ in range(4):
        out, up = radius * side * math.sin(angle), abs(radius) * math.cos(angle)
        towards = math.atan2(eye[0] - out, eye[1] - up)
        below = math.atan2(height + up, aside - side * out)
        angle = (towards + side * (math.pi / 2 + below)) / 2
    return angle


def _to_edge(centre: Array, way: Array, white: tuple[float, float]) -> float:
    """Return how far the field's edge is from a (3,) point of the axis along a level (3,) way, mm."""
    reach = [(math.copysign(white[k], way[k]) - centre[k]) / way[k] for k in (0, 1) if way[k] != 0.0]
    return float(min(reach))
