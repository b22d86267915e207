"""What was stated and seen of one side, adjusted, and the gauges' geometry as functions of the unknowns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hubsight.estimate.problem import Solution
from hubsight.measure.adjust.placed import NOTHING_PLACED, PlacedOnBoss
from hubsight.measure.adjust.side import SideAdjustment
from hubsight.measure.flange import (
    RIM_INSET_MM,
    GaugeGeometry,
    gauge_of,
    gauge_on_boss,
    gauge_on_rim,
    hub_frame,
)
from hubsight.model.stated import StatedSide, StatedWheel
from hubsight.scene.boss_shape import width_along
from hubsight.see.bosses.holes import GaugeInBoss
from hubsight.see.bosses.mouth import Expected, Mouth
from hubsight.see.bosses.sighting import INSIDE_BOSS_MM, BossSighting
from hubsight.see.gauge.sighting import GaugeSighting
from hubsight.see.turned.ends import NOTHING_SEEN, EndsSeen
from hubsight.target.find import TargetSighting

Array = NDArray[np.float64]

SEEN_SHARE = 0.93
"""Share of a wire's width that is seen before paper (found on rendered gauges)."""


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
    mouths: tuple[Mouth | None, ...] = ()

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
                out.append(gauge_on_rim(end, direction, pattern, self.rim(x)))
            else:
                own = self.angle if angle is None else angle
                at = pattern[6] + own + 2 * np.pi * boss / bosses.pose.count
                out.append(gauge_on_boss(end, direction, pattern, at))
        return out

    def rim(self, x: Array) -> float:
        """Return the radius of a radial flange's outer rim at ``x``, mm.

        It was seen by the sheet's adjustment alone: whatever makes the pattern larger makes the rim larger.
        """
        pose, radius = self.seen.bosses.pose, x[self.seen.solution.layout["pattern"]][5]
        return (self.seen.bosses.rim_radius or 0.0) * float(radius) / pose.radius + RIM_INSET_MM


def boss_of_gauge(
    solution: Solution, bosses: BossSighting, gauge: int, *, start: Array, reference: Array
) -> int:
    """Return the boss whose crossing point lies where it should behind where the gauge comes out.

    Parameters
    ----------
    solution, bosses
        The adjustment and the bosses.
    gauge
        Its number.
    start
        (3,) where it comes out of the hub, roughly.
    reference
        Its reference direction in the adjustment.
    """
    pose, pattern = bosses.pose, solution["pattern"]
    end, direction = gauge_of(solution, solution.x, f"gauge{gauge}", reference)
    if bosses.kind == "radial":
        angle = np.arctan2(direction[1], direction[0])
        return int(np.rint((angle - pattern[6]) / (2 * np.pi / pose.count))) % pose.count
    visible = float((end - start) @ direction)
    crossings = [
        gauge_on_boss(end, direction, pattern, pattern[6] + 2 * np.pi * k / pose.count)
        for k in range(pose.count)
    ]
    near = [k for k, crossing in enumerate(crossings) if crossing.radius > 0]
    return min(near, key=lambda k: abs(crossings[k].reach - visible - INSIDE_BOSS_MM))


def expected_mouth(
    solution: Solution, bosses: BossSighting, gauge: int, *, sighting: GaugeSighting, reference: Array
) -> Expected | None:
    """Return where a gauge should come out of its boss' face; None on a radial hub.

    Parameters are those of `boss_of_gauge`, with the gauge as sighted.
    """
    shape, pattern = bosses.shape, solution["pattern"]
    if shape is None:
        return None
    boss = boss_of_gauge(solution, bosses, gauge, start=sighting.start, reference=reference)
    end, direction = gauge_of(solution, solution.x, f"gauge{gauge}", reference)
    g = gauge_on_boss(end, direction, pattern, pattern[6] + 2 * np.pi * boss / bosses.pose.count)
    start = g.radius - bosses.pose.radius
    ahead, _ = width_along(shape, start, g.outward, g.sideways)
    face = shape.left if g.sideways > 0 else shape.right
    _, _, out, left = hub_frame(pattern, pattern[6] + 2 * np.pi * boss / bosses.pose.count)
    normal = face.side * left - face.slope_at(start + ahead * g.outward) * out
    radius = sighting.line.width / (2 * SEEN_SHARE)
    return Expected(end, direction, g.reach - ahead, normal / np.linalg.norm(normal), radius)


def first_gauge_in_boss(
    solution: Solution, bosses: BossSighting, gauges: Sequence[GaugeSighting], references: Sequence[Array]
) -> GaugeInBoss | None:
    """Return the first gauge against the outline of its boss, and which bosses hold one; None on radial hubs.

    Parameters
    ----------
    solution, bosses
        The adjustment and the bosses.
    gauges, references
        As sighted, and their reference directions in the adjustment.
    """
    shape, pattern = bosses.shape, solution["pattern"]
    if shape is None:
        return None
    held = tuple(
        boss_of_gauge(solution, bosses, k, start=g.start, reference=r)
        for k, (g, r) in enumerate(zip(gauges, references, strict=True))
    )
    end, direction = gauge_of(solution, solution.x, "gauge0", references[0])
    angle = pattern[6] + shape.mirror[0] + 2 * np.pi * held[0] / bosses.pose.count
    g = gauge_on_boss(end, direction, pattern, angle)
    rise = float(direction[2] / np.hypot(direction[0], direction[1]))
    return GaugeInBoss(held, g.radius - float(pattern[5]), g.outward, g.sideways, rise)
