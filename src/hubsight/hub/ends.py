"""What is seen of a standing hub above and below its upper flange: end face and lower edges of the bosses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hubsight.camera import View
from hubsight.hub.boss_pattern import PatternPose
from hubsight.hub.boss_shape import BossShape
from hubsight.hub.end_face import EndFace, see_end_face
from hubsight.hub.rings import HubAxis
from hubsight.hub.underside import Underside, see_underside


@dataclass(frozen=True)
class EndsSeen:
    """Upper end face and lower edges of the upper bosses; None where not seen."""

    end_face: EndFace | None = None
    underside: Underside | None = None

    def only_photos(self, keep: Sequence[int]) -> EndsSeen:
        """Return the same as some of the photos show it; the lower edges stay as seen in all of them."""
        return EndsSeen(None if self.end_face is None else self.end_face.only_photos(keep), self.underside)


NOTHING_SEEN = EndsSeen()


def see_ends(
    pictures: Sequence[NDArray[np.uint8]],
    views: Sequence[View],
    pose: PatternPose,
    shape: BossShape | None,
) -> EndsSeen:
    """Look for both.

    Parameters
    ----------
    pictures, views
        Grey photos with their cameras as adjusted; one photo alone tells no heights.
    pose, shape
        The boss pattern as adjusted, and the mean boss; None on radial hubs.
    """
    if len(pictures) < 2:
        return NOTHING_SEEN
    axis = HubAxis(pose.centre, pose.height, -pose.tilt)
    underside = None if shape is None else see_underside(pictures, views, pose, shape)
    return EndsSeen(see_end_face(pictures, views, axis), underside)
