"""What a person placed by hand, as observations of the adjustment and as the mean boss' outline."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from hubsight.camera import View
from hubsight.camera.observe import view_in
from hubsight.estimate.problem import Problem, Solution
from hubsight.measure.adjust.motion import HubBlock
from hubsight.measure.adjust.placed_pattern import pattern_blocks
from hubsight.model.arrays import Array
from hubsight.model.corrections import (
    PLACED,
    Corrections,
    PlacedAxis,
    PlacedCentreline,
    PlacedEnd,
    PlacedFace,
)
from hubsight.model.side import Pixel
from hubsight.model.uncertainty import FAR_SIGMAS
from hubsight.scene.boss_shape import BossShape
from hubsight.scene.gauge import GaugeAxisBlock, GaugeEndBlock
from hubsight.scene.pattern_pose import PatternPose
from hubsight.scene.usual import NIPPLE_RADIUS_MM
from hubsight.see.bosses.sighting import BossSighting
from hubsight.see.gauge.end import RIM_ROUNDING_MM, rim_vector
from hubsight.see.gauge.find import along_line
from hubsight.see.gauge.sighting import GaugeSighting
from hubsight.see.marks import Marks

LEAST_AXES = 2
"""Axes placed in so many photos make a line in space by themselves."""
LEAST_SINE = 0.3
"""A spoke that leaves its boss more steeply hardly passes a face."""
EDGE_U_MM = 0.13
"""A boss' face at the bore against its upper edge as photos show it (found on rendered hubs)."""
OUTVOTED = 0.3
"""A mark whose robust weight is below this does not go with the rest."""


@dataclass(frozen=True)
class AlongSpoke:
    """Uncertainties along a spoke that placed faces bring, mm: to the boss width and to the face ahead."""

    width: float
    ahead: float


@dataclass(frozen=True)
class PlacedOnBoss:
    """What was placed on the bosses.

    Attributes
    ----------
    left_mm, right_mm
        Standard uncertainties that marks bring into the mean boss' faces, mm; 0 where none was placed.
    centreline
        Angle of the centreline as placed, rad in the pattern's frame, with its standard uncertainty; None
        where none was placed.
    rim_mm
        Standard uncertainty that marks bring into the radius of a radial flange's rim, mm.
    """

    left_mm: float = 0.0
    right_mm: float = 0.0
    centreline: tuple[float, float] | None = None
    rim_mm: float = 0.0

    def along(self, sideways: Sequence[float]) -> AlongSpoke:
        """Carry the faces' uncertainties over to a spoke's direction.

        Parameters
        ----------
        sideways
            Per gauge the component of its direction square to the boss' centreline.
        """
        sine = max(float(np.mean(np.abs(sideways))), LEAST_SINE)
        ahead = max(self.left_mm if s > 0 else self.right_mm for s in sideways)
        return AlongSpoke(float(np.hypot(self.left_mm, self.right_mm)) / sine, ahead / sine)


NOTHING_PLACED = PlacedOnBoss()
"""On a boss on which nobody placed anything."""


def placed_blocks(
    corrections: Corrections,
    files: Sequence[str],
    start: Solution,
    gauges: Sequence[GaugeSighting],
    bosses: BossSighting,
) -> list[HubBlock]:
    """Return the placed gauge ends and axes, and the marks of a placed pattern, as observations.

    Parameters
    ----------
    corrections
        Marks in other photos, or of other gauges, are passed over.
    files
        Names of the adjusted photos, in order.
    start
        From which the gauges were sighted.
    gauges, bosses
        As the detector saw them.
    """
    axes = [a for a in corrections.axes if a.photo in files and a.gauge < len(gauges)]
    ends = [e for e in corrections.ends if e.photo in files and e.gauge < len(gauges)]
    return [
        *(_axis_block(a, files.index(a.photo), start, gauges[a.gauge]) for a in axes),
        *(_end_block(e, files.index(e.photo), start, gauges[e.gauge], corrections) for e in ends),
        *pattern_blocks(Marks(corrections, files, [view_in(start, k) for k in range(len(files))]), bosses),
    ]


def _axis_block(mark: PlacedAxis, photo: int, start: Solution, gauge: GaugeSighting) -> GaugeAxisBlock:
    pixels = np.array(mark.pixels)
    along = (pixels[1] - pixels[0]) / max(float(np.linalg.norm(pixels[1] - pixels[0])), 1e-9)
    return GaugeAxisBlock(
        photo,
        f"gauge{mark.gauge}",
        gauge.line.direction,
        _back(view_in(start, photo), pixels, gauge),
        pixels,
        np.tile([-along[1], along[0]], (2, 1)),
        np.full(2, mark.u_px),
        PLACED,
    )


def _back(view: View, pixels: Array, gauge: GaugeSighting) -> Array:
    """Distances before the gauge's end, mm, of its axis' points nearest to the lines of sight."""
    return -along_line(gauge.end, gauge.line.direction, view.position, view.rays(pixels))


def _end_block(
    mark: PlacedEnd, photo: int, start: Solution, gauge: GaugeSighting, corrections: Corrections
) -> GaugeEndBlock:
    view, direction = view_in(start, photo), gauge.line.direction
    seen = gauge.ends[photo]
    pixel = np.array(mark.pixel)
    end = gauge.end - float(_back(view, pixel[None], gauge)[0]) * direction
    if seen is not None:
        rim = seen.rim
    else:
        half = gauge.line.width / 2 if gauge.tip == "flat" else NIPPLE_RADIUS_MM.mean
        rim = rim_vector(view, end, direction, half, RIM_ROUNDING_MM[gauge.tip])
    before, after = view.project(np.array([end - direction, end + direction]))
    axis = next((a for a in corrections.axes if (a.photo, a.gauge) == (mark.photo, mark.gauge)), None)
    tangent = after - before
    if axis is not None:
        placed = np.array(axis.pixels[1]) - np.array(axis.pixels[0])
        tangent = placed * np.sign(placed @ tangent)
    tangent = tangent / np.linalg.norm(tangent)
    return GaugeEndBlock(photo, f"gauge{mark.gauge}", direction, pixel, tangent, rim, mark.u_px, PLACED)


def is_placed(block: object) -> bool:
    """Tell whether an observation was placed by hand."""
    return getattr(block, "kind", None) == PLACED


def contradicting(problem: Problem, placed: Sequence[HubBlock]) -> list[HubBlock]:
    """Find what the detector saw of the same gauges that cannot be true if what was placed is.

    Ends are doubted as soon as one was placed, axes when two were: one alone is no line in space.
    """
    doubted: list[HubBlock] = []
    for block in problem.blocks:
        if not isinstance(block, GaugeAxisBlock | GaugeEndBlock) or is_placed(block):
            continue
        same = [p for p in placed if type(p) is type(block) and getattr(p, "gauge", "") == block.gauge]
        if len(same) >= (1 if isinstance(block, GaugeEndBlock) else LEAST_AXES):
            doubted.append(block)
    if not doubted:
        return []
    rest = [b for b in problem.blocks if not any(b is d for d in doubted)]
    trial = Problem(problem.layout, problem.start, rest, problem.priors).solve()
    return [block for block in doubted if _contradicts(block, trial)] if trial.converged else []


def _contradicts(block: HubBlock, solution: Solution) -> bool:
    lin = block.linearise(solution.layout, solution.x)
    predicted = np.einsum("ij,jk,ik->i", lin.jacobian, solution.covariance, lin.jacobian)
    return bool(np.median(np.abs(lin.residual) / np.sqrt(1 + predicted)) > FAR_SIGMAS)


def outvoted(solution: Solution, blocks: Sequence[object]) -> list[int]:
    """Return the photos whose placed marks do not go with the rest."""
    return [
        int(getattr(block, "photo", -1))
        for block, weight in zip(blocks, solution.weights, strict=True)
        if is_placed(block) and float(np.min(weight)) < OUTVOTED
    ]


def placed_shape(
    corrections: Corrections, files: Sequence[str], solution: Solution, shape: BossShape, count: int
) -> tuple[BossShape, PlacedOnBoss]:
    """Put placed faces and centrelines into the mean boss.

    Parameters
    ----------
    corrections
        Marks in photos that were not adjusted are passed over.
    files
        Names of the adjusted photos, in order.
    solution
        The side's adjustment.
    shape, count
        The mean boss as seen, and the number of bosses.

    Returns
    -------
    shape, added
        The mean boss with them, and the uncertainties that they bring.
    """
    faces: dict[int, list[tuple[float, float]]] = {1: [], -1: []}
    for face in corrections.faces:
        if face.photo in files:
            on = on_face(face, files, solution, shape, count)
            faces[on.side].append((on.seen + on.off, on.u))
    # The centrelines of a placed pattern have made it already.
    marks = corrections.centrelines if corrections.bosses is None else ()
    lines = [centreline_angle(m, files, solution, count) for m in marks if m.photo in files]
    seen_u = EDGE_U_MM if corrections.bosses is None else math.inf
    left, left_u = between(faces[1], shape.left.offset, seen_u)
    right, right_u = between(faces[-1], shape.right.offset, seen_u)
    return (
        replace(shape, left=replace(shape.left, offset=left), right=replace(shape.right, offset=right)),
        PlacedOnBoss(left_u, right_u, _mean(lines) if lines else None),
    )


@dataclass(frozen=True)
class OnFace:
    """A mark on a boss' face: side, where the photos see it, how far beyond that it was placed, its u, mm."""

    side: int
    seen: float
    off: float
    u: float


def on_face(
    mark: PlacedFace, files: Sequence[str], solution: Solution, shape: BossShape, count: int
) -> OnFace:
    """Compare a mark with the mean boss' face nearest to it; parameters are those of `placed_shape`."""
    pose = PatternPose.of_unknowns(solution["pattern"], count)
    x, y, u = _on_boss(mark.pixel, mark.u_px, view_in(solution, files.index(mark.photo)), pose)
    face = shape.left if y > 0 else shape.right
    return OnFace(face.side, face.offset, abs(y) - face.slope * x - face.bend * x**2 - face.offset, u)


def centreline_angle(
    mark: PlacedCentreline, files: Sequence[str], solution: Solution, count: int
) -> tuple[float, float]:
    """Return the angle, rad in the pattern's frame, on which a mark puts the centreline, and its u."""
    pose = PatternPose.of_unknowns(solution["pattern"], count)
    x, y, u = _on_boss(mark.pixel, mark.u_px, view_in(solution, files.index(mark.photo)), pose)
    rho = float(np.hypot(pose.radius + x, y))
    return float(np.arctan2(y, pose.radius + x)), u / rho


def between(placed: Sequence[tuple[float, float]], seen: float, seen_u: float) -> tuple[float, float]:
    """Return the weighted mean of what was placed and seen, and what the marks' uncertainty adds to it.

    That of what was seen stays: both look at the same edge.
    """
    if not placed:
        return seen, 0.0
    value, u = _mean(placed)
    weight = 1.0 if math.isinf(seen_u) else seen_u**2 / (seen_u**2 + u**2)
    return seen + weight * (value - seen), weight * u


def _mean(placed: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Mean of values and their standard uncertainties, and its own."""
    values, u = np.array(placed).T
    return float(values.mean()), float(np.sqrt(np.sum(u**2)) / len(u))


def _on_boss(pixel: Pixel, u_px: float, view: View, pose: PatternPose) -> tuple[float, float, float]:
    """Carry a pixel to the frame of the nearest boss' upper face: X, y and their uncertainty, mm."""
    point = view.at_height(np.array([pixel]), pose.height)[0]
    for _ in range(3):  # the faces' plane leans a little
        level = pose.height + float(pose.tilt @ (point[:2] - pose.centre))
        point = view.at_height(np.array([pixel]), level)[0]
    offset = point[:2] - pose.centre
    step = 2 * np.pi / pose.count
    angle = np.arctan2(offset[1], offset[0]) - pose.phase
    angle -= step * np.rint(angle / step)
    rho = float(np.hypot(*offset))
    depth = float((point - view.position) @ view.rotation[2])
    return rho * np.cos(angle) - pose.radius, rho * np.sin(angle), u_px * depth / view.focal
