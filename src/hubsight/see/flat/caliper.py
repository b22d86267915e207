"""See a locked caliper that lies on the sheet: the inner faces of its two jaws."""

from __future__ import annotations

import numpy as np

from hubsight.camera import View
from hubsight.model.arrays import Array, Picture
from hubsight.model.refusal import Refusal
from hubsight.see.flat.ends import LENGTH_SLACK, RulerEnds, field_segments, steepest
from hubsight.see.ribbon import STEP_MM, unroll
from hubsight.target.geometry import TargetGeometry

LEAST_FACE_MM, LEAST_SHARED_MM = 6.0, 5.0
"""Shortest edge of a jaw, and what two jaws have in common at least, mm; raising them loses small
calipers."""
PARALLEL_RAD = 0.02
"""Largest angle between the two jaws, rad; raising it takes other edges for jaws."""
REACH_MM = 1.2
"""Distance from its expected place within which a face is looked for, mm; raising it takes in other edges."""
FACE_U_MM, FACE_COMMON_U_MM = 0.01, 0.03
"""Standard uncertainty of a face in one photo, and of what all photos share, mm: the soft shadow at its foot
(drawn calipers come out 0.02 short and repeat to 0.005)."""
HEIGHT_U_MM = 0.25
"""Standard uncertainty of the height of a jaw's lower edge above the paper, mm: the caliper rests on its
beam."""
FACE_STRIP = 0.35
"""Half the strip in which the faces are read, as a share of what the jaws have in common; raising it reads
rounded ends too."""


def see_lying_caliper(
    picture: Picture, view: View, geometry: TargetGeometry, opening: float
) -> RulerEnds | Refusal:
    """Return the inner faces of a locked caliper's jaws.

    Parameters
    ----------
    picture
        (H, W) grey picture as stored.
    view
        Camera and pose.
    geometry
        The sheet.
    opening
        What the caliper shows, mm.

    Returns
    -------
    RulerEnds or Refusal
        The two faces.
    """
    _, ends = field_segments(picture, view, geometry, 0.0)
    pair = _facing(ends, opening)
    if pair is None:
        return Refusal(
            reason=f"no two jaws {opening:.1f} mm apart are seen on the sheet's blank field",
            remedy="Lay the locked caliper there, both jaws on white paper, and photograph it from above",
        )
    middle, along, shared = pair
    reach = round(REACH_MM / STEP_MM)
    steps: Array = np.arange(-3.0 * reach, 3.0 * reach + 1) * STEP_MM
    across = np.linspace(-FACE_STRIP * shared, FACE_STRIP * shared, 100)
    if not _between(view, middle, along, opening):
        return Refusal(
            reason="the photo was not taken from above the space between the jaws",
            remedy="Hold the phone over the middle between them: how thick the jaws are is not known",
        )
    pixels = []
    for sign in (-1.0, 1.0):
        face = np.append(middle + sign * opening / 2 * along, 0.0)
        ribbon = unroll(picture, view, face, np.append(along, 0.0), back=-steps, across=across)
        found = steepest(ribbon.light.mean(1), 2 * reach, 4 * reach)
        if found is None:
            return Refusal(
                reason="a jaw's inner face is not seen clearly",
                remedy="Photograph the caliper sharp and in soft light, from above its middle",
            )
        rows = np.arange(len(steps))
        pixels.append([np.interp(found[0], rows, ribbon.pixels[:, axis]) for axis in (0, 1)])
    height_u, u, common_u = (np.full(2, u) for u in (HEIGHT_U_MM, FACE_U_MM, FACE_COMMON_U_MM))
    return RulerEnds(np.array(pixels), np.zeros(2), height_u, u, common_u)


def _between(view: View, middle: Array, along: Array, opening: float) -> bool:
    """Tell whether the lens is above the space between the faces, whose lower edges it then sees."""
    return abs(float((view.position[:2] - middle) @ along)) < 0.8 * opening / 2


def _facing(ends: Array, opening: float) -> tuple[Array, Array, float] | None:
    """Return middle (2,), direction (2,) from face to face and shared length of the best pair of edges."""
    across = ends[:, 1] - ends[:, 0]
    size = np.linalg.norm(across, axis=1)
    ends, across, size = (values[size > LEAST_FACE_MM] for values in (ends, across, size))
    best: tuple[float, Array, Array] | None = None
    for k in range(len(size)):
        unit = across[k] / size[k]
        normal = np.array([-unit[1], unit[0]])
        offset = (ends - ends[k, 0]) @ normal
        place = (ends - ends[k, 0]) @ unit
        own = np.sort(place[k])
        low, high = np.maximum(place.min(1), own[0]), np.minimum(place.max(1), own[1])
        fits = (
            (np.abs(np.abs(offset.mean(1)) / opening - 1) < LENGTH_SLACK)
            & (np.abs(across @ normal) < PARALLEL_RAD * size)
            & (high - low > LEAST_SHARED_MM)
        )
        for j in np.flatnonzero(fits):
            shared = float(high[j] - low[j])
            if best is None or shared > best[0]:
                sign = np.sign(offset[j].mean())
                centre = ends[k, 0] + (low[j] + high[j]) / 2 * unit + offset[j].mean() / 2 * normal
                best = shared, centre, sign * normal
    return None if best is None else (best[1], best[2], best[0])
