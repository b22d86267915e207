"""What settles a boss' centreline: the gauge in the other bore, or a photo that shows both bores' mouths."""

from __future__ import annotations

import numpy as np

from hubsight.camera.observe import view_in
from hubsight.measure.sightings import Sightings
from hubsight.model.arrays import Array
from hubsight.scene.pattern_pose import PatternPose
from hubsight.see.bosses.walls import face_outward

OTHER_BORE = (
    "Photograph the side once more with the gauge in the same boss' other bore: the mean of the two offsets "
    "is free of the centreline"
)
"""What to do where the bosses' centreline is uncertain."""
EDGES = ("right", "top", "left", "bottom")
"""Edges of the sheet, from +x on, a quarter turn apart."""


def settles_centreline(seen: Sightings) -> str:
    """Return what to do where a boss' centreline is uncertain: another gauge's set, or one more photo."""
    if seen.shape is None or seen.bosses.by_hand:
        return OTHER_BORE
    return (
        f"{OTHER_BORE}. Or add a photo from the sheet's {EDGES[_quarter(seen)]} edge, tilted about 30 "
        "degrees, in which the faces between two bosses show the mouths of both bores"
    )


def _quarter(seen: Sightings) -> int:
    """Return the quarter turn from +x on in which a face looks that the photos so far see least squarely."""
    pose = PatternPose.of_unknowns(seen.solution["pattern"], seen.bosses.pose.count)
    shape = seen.shape
    if shape is None:
        return 0
    looks = np.array([view_in(seen.solution, k).position[:2] - pose.centre for k in range(len(seen.files))])
    outward = np.array(
        [face_outward(pose, boss, face) for boss in range(pose.count) for face in (shape.left, shape.right)]
    )
    angle = np.arctan2(*outward[int(_squareness(looks, outward).argmin())][::-1])
    return round(float(angle) / (np.pi / 2)) % 4


def _squareness(looks: Array, outward: Array) -> Array:
    """Return how far (N,) each direction is faced by the lens that faces it best, mm."""
    return np.asarray((outward @ looks.T).max(1))
