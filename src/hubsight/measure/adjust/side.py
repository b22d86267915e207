"""The adjustment of one side's photos: sheet, gauges and boss pattern together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hubsight.camera.observe import view_in
from hubsight.estimate.problem import Block, Problem, Solution
from hubsight.measure.adjust.motion import HubBlock
from hubsight.measure.adjust.placed import contradicting, outvoted
from hubsight.model.arrays import Array
from hubsight.model.stated import Reading
from hubsight.scene.bosses import PatternBlock
from hubsight.scene.gauge import GaugeAxisBlock, GaugeEndBlock, gauge_line
from hubsight.scene.pattern_pose import TILT_PRIOR
from hubsight.see.bosses.sighting import BossSighting
from hubsight.see.gauge.sighting import GaugeSighting

MATCH_SIGMA_MM = 0.06
"""Standard uncertainty assumed of one boss' place in one photo; its factor is estimated from the
residuals."""
LOOSE_RADIUS_MM, LOOSE_PHASE_RAD = 5.0, 0.2
"""Priors of a pattern about where it was found; they only keep the equations solvable."""


@dataclass(frozen=True)
class StatedHeights:
    """Heights above the paper as stated, or None: the bosses' faces, the wire's axis at boss and end."""

    faces: Reading | None = None
    gauge_at_boss: Reading | None = None
    gauge_at_end: Reading | None = None


@dataclass(frozen=True)
class SideAdjustment:
    """The solution, with the gauges' reference directions in the order of ``gauge0``, ``gauge1``.

    ``problem`` is what was solved; ``hub_blocks`` are its observations of gauges and bosses. In the photos
    ``set_aside`` something that was seen contradicts what was placed by hand elsewhere; in those
    ``outvoted`` a placed mark goes with nothing else.
    """

    solution: Solution
    references: tuple[Array, ...]
    hub_blocks: tuple[HubBlock, ...] = ()
    set_aside: tuple[int, ...] = ()
    outvoted: tuple[int, ...] = ()
    problem: Problem | None = None


def adjust_side(
    problem: Problem,
    start: Solution,
    gauges: Sequence[GaugeSighting],
    bosses: BossSighting,
    heights: StatedHeights,
    *,
    placed: Sequence[HubBlock] = (),
) -> SideAdjustment:
    """Adjust sheet, gauges and bosses in one.

    Parameters
    ----------
    problem
        The sheet's problem; unknowns and observations are added to it.
    start
        Its solution, from which the gauges and bosses were sighted.
    gauges, bosses
        What was seen of the hub.
    heights
        What the user states.
    placed
        What was placed by hand: it takes the place of what was seen of the same thing in the same photo.
    """
    problem.start[: len(start.x)] = start.x
    references = []
    for k, gauge in enumerate(gauges):
        reference = gauge.line.direction
        where = problem.add(f"gauge{k}", np.concatenate([gauge.end, np.zeros(2)]))
        references.append(reference)
        _add_gauge(problem, f"gauge{k}", reference, gauge)
        _add_heights(problem, where, reference, gauge, heights)
    _add_pattern(problem, start, bosses, heights)
    problem.blocks = [b for b in problem.blocks if not any(_same_thing(b, p) for p in placed)] + [*placed]
    set_aside = contradicting(problem, placed)
    problem.blocks = [b for b in problem.blocks if not any(b is s for s in set_aside)]
    hub = tuple(b for b in problem.blocks if isinstance(b, HubBlock))
    solution = problem.solve()
    return SideAdjustment(
        solution,
        tuple(references),
        hub,
        tuple(sorted({b.photo for b in set_aside})),
        tuple(outvoted(solution, problem.blocks)),
        problem,
    )


def _same_thing(seen: Block, placed: HubBlock) -> bool:
    """Tell whether both observe the same thing in the same photo."""
    return (
        isinstance(seen, GaugeAxisBlock | GaugeEndBlock)
        and type(seen) is type(placed)
        and (seen.photo, seen.gauge) == (placed.photo, getattr(placed, "gauge", None))
    )


def _add_gauge(problem: Problem, name: str, reference: Array, gauge: GaugeSighting) -> None:
    shift = float((gauge.end - gauge.line.end) @ reference)
    for photo, axis in enumerate(gauge.line.axes):
        if len(axis.back):
            problem.blocks.append(
                GaugeAxisBlock(
                    photo, name, reference, axis.back + shift, axis.pixels, axis.normals, axis.sigma_px
                )
            )
    for photo, end in enumerate(gauge.ends):
        if end is not None:
            problem.blocks.append(
                GaugeEndBlock(photo, name, reference, end.pixel, end.tangent, end.rim, end.sigma_px)
            )


def _add_heights(
    problem: Problem, where: slice, reference: Array, gauge: GaugeSighting, heights: StatedHeights
) -> None:
    """State the wire's height at the boss and at the end, linear in the gauge's unknowns."""
    _, _, by_slope = gauge_line(problem.start[where], reference)
    back = float((gauge.end - gauge.start) @ reference)
    for reading, distance in ((heights.gauge_at_boss, back), (heights.gauge_at_end, 0.0)):
        if reading is None:
            continue
        index = np.array([where.start + 2, where.start + 3, where.start + 4])
        coefficient = np.array([1.0, -distance * by_slope[2, 0], -distance * by_slope[2, 1]])
        problem.add_prior(
            "stated heights", index, coefficient, reading.value + distance * reference[2], reading.u
        )


def _add_pattern(problem: Problem, start: Solution, bosses: BossSighting, heights: StatedHeights) -> None:
    pose, matches = bosses.pose, bosses.matches
    values = np.array([*pose.centre, pose.height, *pose.tilt, pose.radius, pose.phase])
    where = problem.add("pattern", values)
    problem.prior("upright hub", where.start + 3, 0.0, TILT_PRIOR)
    problem.prior("upright hub", where.start + 4, 0.0, TILT_PRIOR)
    problem.prior("loose start", where.start + 5, pose.radius, LOOSE_RADIUS_MM)
    problem.prior("loose start", where.start + 6, pose.phase, LOOSE_PHASE_RAD)
    if heights.faces is not None:
        problem.prior("stated heights", where.start + 2, heights.faces.value, heights.faces.u)
    for photo in np.unique(matches.photo):
        own = matches.photo == photo
        world = np.array(
            [
                pose.to_target(int(k), np.array(dx), np.array(dy))
                for k, (dx, dy) in zip(matches.boss[own], matches.shift[own], strict=True)
            ]
        )
        view = view_in(start, int(photo))
        depth = (world - view.position) @ view.rotation[2]
        sigma = MATCH_SIGMA_MM * view.focal / depth / np.clip(matches.quality[own], 0.3, 1.0)
        problem.blocks.append(
            PatternBlock(int(photo), matches.boss[own], pose.count, view.project(world), sigma)
        )
