"""What was seen of a side and adjusted, free of its pictures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TypeVar

import numpy as np

from hubsight.camera import CameraProfile
from hubsight.estimate.problem import Solution
from hubsight.measure.adjust.judged import Judged
from hubsight.measure.adjust.placed import NOTHING_PLACED, PlacedOnBoss, placed_shape
from hubsight.measure.adjust.placed_edges import Edges
from hubsight.measure.adjust.side import SideAdjustment, StatedHeights
from hubsight.measure.sheet import sheet_of
from hubsight.model.corrections import NO_CORRECTIONS, Corrections
from hubsight.model.stated import StatedSide, StatedTarget, StatedWheel
from hubsight.scene.boss_shape import BossShape
from hubsight.see.bosses.mouth import Mouth
from hubsight.see.bosses.sighting import BossSighting
from hubsight.see.gauge.sighting import GaugeSighting
from hubsight.see.turned.ends import EndsSeen
from hubsight.target.find import TargetSighting
from hubsight.target.sheet import CameraPrior

NO_MARKS = Judged(NO_CORRECTIONS)
"""Of a side in whose photos nobody placed anything."""


@dataclass(frozen=True)
class Stated:
    """All that is stated of a side."""

    side: StatedSide
    target: StatedTarget
    wheel: StatedWheel
    camera_profile: CameraProfile | CameraPrior | None

    def with_corrections(self, corrections: Corrections) -> Stated:
        """Return the same with other corrections."""
        return replace(self, side=replace(self.side, corrections=corrections))


@dataclass(frozen=True)
class Sightings:
    """What was seen of a side in the photos that are used, adjusted; the pictures are no longer needed.

    Attributes
    ----------
    stated
        What is stated, corrections included.
    files, sizes, targets
        Per photo its name, its size as stored and its target.
    prior
        Of the camera.
    sheet
        The adjustment of the sheet alone, from which the hub was sighted.
    heights
        As they enter the adjustment.
    gauges, bosses
        As the detector saw them.
    adjusted, seen_alone
        Everything in one adjustment, and without marks by hand.
    ends
        Upper end face and lower edges of the bosses.
    mouths
        Per gauge where it comes out of its boss; None where not seen, and on radial hubs.
    warnings
        So far.
    by_hand
        Marks from which gauges were looked for, where the detector had found none, or another line.
    marks
        Marks by hand that count, and those that contradict the photos.
    harmless
        What has to be known, but moves no figure: a photo that was left out.
    """

    stated: Stated
    files: tuple[str, ...]
    sizes: tuple[tuple[int, int], ...]
    targets: tuple[TargetSighting, ...]
    prior: CameraPrior
    sheet: Solution
    heights: StatedHeights
    gauges: tuple[GaugeSighting, ...]
    bosses: BossSighting
    adjusted: SideAdjustment
    seen_alone: SideAdjustment
    ends: EndsSeen
    mouths: tuple[Mouth | None, ...]
    warnings: tuple[str, ...]
    by_hand: Corrections = NO_CORRECTIONS
    marks: Judged = NO_MARKS
    harmless: tuple[str, ...] = ()

    @property
    def solution(self) -> Solution:
        """The adjustment's solution."""
        return self.adjusted.solution

    @cached_property
    def side(self) -> StatedSide:
        """What is stated of the side, with the gauges that were seen."""
        return replace(self.stated.side, gauges=self.stated.side.gauges[: len(self.gauges)])

    @property
    def wheel(self) -> StatedWheel:
        """What is stated of the wheel."""
        return self.stated.wheel

    @property
    def shape(self) -> BossShape | None:
        """The mean boss with what was placed on it by hand; None on radial hubs."""
        return self._shape[0]

    @cached_property
    def marked_bosses(self) -> BossSighting:
        """The bosses with what was placed by hand on the mean one, or on a radial flange's rim."""
        return replace(self.bosses, shape=self.shape, rim_radius=self._rim[0])

    @cached_property
    def marked_ends(self) -> EndsSeen:
        """The ends with what was placed on the upper end face by hand."""
        return self.edges.marked_ends(self.marks.believed)

    @property
    def edges(self) -> Edges:
        """The turned edges as seen and adjusted."""
        return Edges(self.files, self.solution, self.bosses, self.ends)

    def edges_judged(self) -> Sightings:
        """Return the same with marks on turned edges judged."""
        seen_alone = Edges(self.files, self.seen_alone.solution, self.bosses, self.ends)
        return replace(self, marks=seen_alone.judged(self.marks))

    @cached_property
    def _rim(self) -> tuple[float | None, float]:
        return self.edges.marked_rim(self.marks.believed)

    @property
    def placed(self) -> PlacedOnBoss:
        """The uncertainties of what was placed on the bosses by hand."""
        return self._shape[1]

    def without_budget(self) -> Sightings:
        """Return the same, of which figures are worked out sooner: their values alone."""
        return replace(self, adjusted=replace(self.adjusted, solution=replace(self.solution, parts={})))

    @cached_property
    def _shape(self) -> tuple[BossShape | None, PlacedOnBoss]:
        shape = self.bosses.shape
        if shape is None:
            return None, replace(NOTHING_PLACED, rim_mm=self._rim[1])
        return placed_shape(self.marks.believed, self.files, self.solution, shape, self.bosses.pose.count)


T = TypeVar("T")
"""What a stage gives."""


def _some(values: Sequence[T], keep: Sequence[int]) -> tuple[T, ...]:
    return tuple(values[k] for k in keep)


def only_photos(seen: Sightings, keep: Sequence[int]) -> Sightings:
    """Leave out photos, as if they had not been there when the adjustment began; ``keep`` counts from 0."""
    if list(keep) == list(range(len(seen.files))):
        return seen

    gauges = tuple(gauge.only_photos(keep) for gauge in seen.gauges)
    return replace(
        seen,
        files=_some(seen.files, keep),
        sizes=_some(seen.sizes, keep),
        targets=_some(seen.targets, keep),
        sheet=_sheet_without(seen, keep),
        gauges=gauges,
        bosses=seen.bosses.only_photos(keep),
        ends=seen.ends.only_photos(keep),
        mouths=tuple(None if m is None else m.only_photos(keep) for m in seen.mouths),
    )


def without_photo(seen: Sightings, k: int) -> Sightings:
    """Leave out photo ``k``, counted from 0, as if it had not been there when the adjustment began."""
    return only_photos(seen, [i for i in range(len(seen.files)) if i != k])


def _sheet_without(seen: Sightings, keep: Sequence[int]) -> Solution:
    """Return the sheet's solution of some photos, each where it was when the hub was sighted."""
    old = seen.sheet
    layout = sheet_of([seen.targets[k] for k in keep], seen.prior, seen.stated.target, seen.sizes[0]).layout
    names = {f"photo{new}": f"photo{k}" for new, k in enumerate(keep)}
    index = np.concatenate([np.arange(old.x.size)[old.layout[names.get(n, n)]] for n in layout.names])
    return replace(
        old, layout=layout, x=old.x[index], covariance=old.covariance[np.ix_(index, index)], parts={}
    )
