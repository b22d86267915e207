"""Both bores' mouths on the bosses' side faces: the centreline, and the faces where the bores pass them.

A gauge says where one bore runs; the other mirrors it about the centreline at another height. So a few
unknowns tell where all four mouths of a boss lie, and all bosses in all photos show the same four. Where they
may be is found by votes of edge points for the middles of holes; each possibility is fitted to the edge
points near the mouths' rims, and weighed by the edge likelihood, sector by sector of every rim.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from hubsight.camera import View
from hubsight.model.arrays import Array, Picture
from hubsight.scene.bored_boss import FIRST, SECOND, BoredBoss
from hubsight.scene.boss_shape import BossShape
from hubsight.scene.pattern_pose import PatternPose
from hubsight.see.bosses.bore_fit import LAST_ROUNDS, ROUNDS_PX, STEPS, Beforehand, BoreLine, by_photo, fit
from hubsight.see.bosses.bore_rims import evidence_of, shown
from hubsight.see.bosses.bore_votes import POSSIBILITIES, possible
from hubsight.see.bosses.folded import fold

CENTRELINE_U_MM, FACE_U_MM = 0.06, 0.13
"""Light in the bores and faces that are no planes shift centreline, at the crossing point, and faces, mm
(found on rendered hubs)."""
LARGEST_U_MM = 0.2
"""Standard uncertainty of the centreline, at the crossing point, from which too few mouths are seen, mm;
raising it takes in chance edges."""


@dataclass(frozen=True)
class BoreMouths:
    """A boss with its bores as all photos show their mouths.

    Attributes
    ----------
    boss
        As fitted.
    normals, rights
        (P, 18, 18) and (P, 18) what each photo adds to the normal equations of its unknowns.
    known
        (18, 18) normal matrix of what was known beforehand.
    sure
        Log-odds of the left and of the right face's mouths, against edges by chance.
    """

    boss: BoredBoss
    normals: Array
    rights: Array
    known: Array
    sure: tuple[float, float]

    @property
    def covariance(self) -> Array:
        """(18, 18) of the boss' unknowns."""
        return np.linalg.inv(self.normals.sum(0) + self.known)

    def shows(self, side: int) -> bool:
        """Tell whether mouths are seen on a side's face."""
        return self.sure[0 if side > 0 else 1] > 0

    @property
    def shows_centreline(self) -> bool:
        """Whether the second bore's exit is seen: the first one's axis is known by its gauge."""
        known = self.centreline_u * self.boss.left.radius < LARGEST_U_MM
        return known and self.shows(self.boss.exits(SECOND))

    @property
    def shows_boss(self) -> bool:
        """Whether the centreline is seen, and both faces."""
        return self.shows_centreline and all(self.shows(side) for side in (1, -1))

    @property
    def centreline_u(self) -> float:
        """Standard uncertainty of the centreline, rad."""
        own, radius = float(np.sqrt(self.covariance[0, 0])), self.boss.left.radius
        return float(np.hypot(own, CENTRELINE_U_MM / radius))

    def faces(self, turn: float) -> BossShape:
        """Return the faces where a bore passes them, seen along the axis.

        Parameters
        ----------
        turn
            Positive for the bore that leaves by the left face, negative for the other.
        """
        left, right = (self.boss.face(side).seen_at(self._opening(turn, side)[2]) for side in (1, -1))
        return BossShape(left, right, (self.boss.centreline,))

    def face_u(self, turn: float, side: int) -> float:
        """Return the standard uncertainty of a face where a bore passes it, mm along the bore."""
        x = self.boss.unknowns()

        def far(values: Array) -> float:
            moved = replace(self, boss=self.boss.with_unknowns(values))
            return float(moved._opening(turn, side) @ self.boss.bore(self._bore(turn)).along)

        slope = np.array([(far(x + step) - far(x)) / step.sum() for step in np.diag(STEPS)])
        return float(np.hypot(np.sqrt(slope @ self.covariance @ slope), FACE_U_MM))

    def _bore(self, turn: float) -> int:
        return FIRST if turn * self.boss.exits(FIRST) > 0 else SECOND

    def _opening(self, turn: float, side: int) -> Array:
        """Return the (3,) middle of a bore's mouth on a side."""
        bore = self.boss.bore(self._bore(turn))
        return self.boss.face(side).met(bore.foot, bore.along)

    def only_photos(self, keep: Sequence[int]) -> BoreMouths:
        """Return what some of the photos show of it, by the same edge points."""
        own = list(keep)
        less = replace(self, normals=self.normals[own], rights=self.rights[own])
        change = less.covariance @ (less.rights.sum(0) - self.rights.sum(0))
        return replace(less, boss=self.boss.with_unknowns(self.boss.unknowns() + change))


def see_bore_mouths(
    pictures: Sequence[Picture],
    views: Sequence[View],
    pose: PatternPose,
    shape: BossShape,
    gauge: BoreLine,
) -> BoreMouths | None:
    """Return the boss with its two bores as their mouths show them.

    Parameters
    ----------
    pictures, views
        Grey photos with their cameras.
    pose, shape
        The boss pattern as adjusted, and the mean boss by its upper edges.
    gauge
        In one of the bores.

    Returns
    -------
    BoreMouths or None
        None where no photo shows a face of an empty boss.
    """
    before = Beforehand.of(pose, shape, gauge)
    looks, points = fold(pictures, views, pose, before.boss, gauge.held)
    fitted = [fit(start, before, points) for start in possible(before.boss, points)]
    weighed = [(evidence_of(boss, looks, points), boss) for boss in fitted if boss is not None]
    if not weighed:
        return None
    evidence, best = max(weighed, key=lambda one: shown(one[0], 1) + shown(one[0], -1))
    sure = {side: shown(evidence, side) - float(np.log(POSSIBILITIES)) for side in (1, -1)}
    seen = {mouth: (by_look > 0) & (sure[mouth[0]] > 0) for mouth, by_look in evidence.items()}
    boss = fit(best, before, points, ROUNDS_PX[-LAST_ROUNDS:], seen=seen)
    if boss is None:
        return None
    normals, rights = by_photo(boss, looks, points, seen, len(pictures))
    return BoreMouths(boss, normals, rights, before.near(boss).normal, (sure[1], sure[-1]))
