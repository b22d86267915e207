"""What was stated and seen of one side, adjusted, and the gauges' geometry as functions of the unknowns."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hubsight.adjust.placed import NOTHING_PLACED, PlacedOnBoss
from hubsight.adjust.problem import Solution
from hubsight.adjust.side import SideAdjustment
from hubsight.flange import (
    RIM_INSET_MM,
    GaugeGeometry,
    gauge_of,
    gauge_on_boss,
    gauge_on_rim,
)
from hubsight.hub.bosses import BossSighting
from hubsight.hub.ends import NOTHING_SEEN, EndsSeen
from hubsight.hub.gauge import GaugeSighting
from hubsight.stated import StatedSide, StatedWheel
from hubsight.target.find import TargetSighting

Array = NDArray[np.float64]


@dataclass(frozen=True)
class SideSeen:
    """Everything that was stated and seen of a side, adjusted."""

    side: StatedSide
    wheel: StatedWheel
    adjusted: SideAdjustment
    gauges: tuple[GaugeSighting, ...]
    bosses: BossSighting
    files: tuple[str, ...]
    sizes: tuple[tuple[int, int], ...]
    sightings: tuple[TargetSighting, ...]
    warnings: tuple[str, ...]
    placed: PlacedOnBoss = NOTHING_PLACED
    ends: EndsSeen = NOTHING_SEEN

    @property
    def solution(self) -> Solution:
        """The adjustment's solution."""
        return self.adjusted.solution


@dataclass(frozen=True)
class SideGeometry:
    """Functions of the unknowns: each gauge against its boss."""

    seen: SideSeen
    bosses: tuple[int, ...]
    angle: float

    def gauges(self, x: Array, angle: float | None = None) -> list[GaugeGeometry]:
        """Return the gauges' geometry at ``x``, for another ``angle`` of the centreline if given."""
        solution, bosses = self.seen.solution, self.seen.bosses
        pattern = x[solution.layout["pattern"]]
        out = []
        for k, boss in enumerate(self.bosses):
            end, direction = gauge_of(solution, x, f"gauge{k}", self.seen.adjusted.references[k])
            if bosses.kind == "radial":
                out.append(gauge_on_rim(end, direction, pattern, (bosses.rim_radius or 0.0) + RIM_INSET_MM))
            else:
                own = self.angle if angle is None else angle
                at = pattern[6] + own + 2 * np.pi * boss / bosses.pose.count
                out.append(gauge_on_boss(end, direction, pattern, at))
        return out
