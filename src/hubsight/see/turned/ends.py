"""What is seen of a standing hub besides its upper edges: end face, lower edges, mouths of empty bores."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from hubsight.camera import View
from hubsight.model.arrays import Picture
from hubsight.scene.turned import HubAxis
from hubsight.see.bosses.bore_fit import BoreLine
from hubsight.see.bosses.bore_mouths import BoreMouths, see_bore_mouths
from hubsight.see.bosses.holes import GaugeInBoss, Holes, see_holes
from hubsight.see.bosses.sighting import BossSighting
from hubsight.see.bosses.walls import boss_walls, rim_walls
from hubsight.see.turned.end_face import EndFace, see_end_face
from hubsight.see.turned.underside import Underside, see_underside


@dataclass(frozen=True)
class EndsSeen:
    """Upper end face, lower edges of the upper flange and mouths of its empty bores; None where not seen.

    ``holes`` tell how high the bores may lie, ``bores`` where they run.
    """

    end_face: EndFace | None = None
    underside: Underside | None = None
    holes: Holes | None = None
    bores: BoreMouths | None = None

    def only_photos(self, keep: Sequence[int]) -> EndsSeen:
        """Return the same as some of the photos show it; edges and holes stay as seen in all of them."""
        face, bores = self.end_face, self.bores
        return replace(
            self,
            end_face=None if face is None else face.only_photos(keep),
            bores=None if bores is None else bores.only_photos(keep),
        )


NOTHING_SEEN = EndsSeen()
"""Of a hub whose ends no photo shows."""


def see_ends(
    pictures: Sequence[Picture],
    views: Sequence[View],
    bosses: BossSighting,
    gauge: GaugeInBoss | None,
    bore: BoreLine | None,
) -> EndsSeen:
    """Return what is seen of end face, lower edges and mouths.

    Parameters
    ----------
    pictures, views
        Grey photos with their cameras as adjusted; one photo alone tells no heights.
    bosses
        Their pattern as adjusted, and the mean boss.
    gauge
        The first gauge in its boss; None on radial hubs.
    bore
        In which that gauge sits; None on radial hubs.
    """
    if len(pictures) < 2:
        return NOTHING_SEEN
    pose, shape = bosses.pose, bosses.shape
    if shape is None:
        walls = [] if bosses.rim_radius is None else rim_walls(pose, bosses.rim_radius)
    else:
        walls = boss_walls(pose, shape)
    return EndsSeen(
        see_end_face(pictures, views, HubAxis(pose.centre, pose.height, -pose.tilt)),
        see_underside(pictures, views, walls),
        None if shape is None or gauge is None else see_holes(pictures, views, pose, shape, gauge),
        None if shape is None or bore is None else see_bore_mouths(pictures, views, pose, shape, bore),
    )
