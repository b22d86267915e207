"""Marks by hand against the photos: which go with what was seen, and which contradict it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hubsight.estimate.problem import Solution
from hubsight.measure.adjust.centreline import ASYMMETRIC_SIGMA_MM, SYMMETRIC_SIGMA_MM, outline_doubt
from hubsight.measure.adjust.motion import HubBlock
from hubsight.measure.adjust.placed import EDGE_U_MM, centreline_angle, on_face, placed_blocks
from hubsight.model.corrections import Corrections, Mark, PlacedAxis, PlacedEdge, PlacedEnd, PlacedFace
from hubsight.scene.boss_shape import BossShape
from hubsight.scene.gauge import GaugeAxisBlock, GaugeEndBlock
from hubsight.see.bosses.sighting import BossSighting
from hubsight.see.gauge.sighting import GaugeSighting

CONTRADICTS_SIGMAS = 2.5
"""A mark contradicts the photos from this departure on, in its standard deviations. Raising it believes marks
that are further off."""
LEAST_AXES = 2
"""Photos that show a gauge's axis, of which a mark is judged: fewer make no line in space."""


@dataclass(frozen=True)
class Conflict:
    """A mark that contradicts the photos: by how many standard deviations, and what photos say otherwise."""

    mark: Mark
    sigmas: float
    photos: tuple[str, ...]


@dataclass(frozen=True)
class Judged:
    """Marks by hand, judged.

    Attributes
    ----------
    believed
        The corrections with the marks that count.
    conflicts
        Those that contradict the photos, and of which nobody said yet which is right.
    """

    believed: Corrections
    conflicts: tuple[Conflict, ...] = ()


def judge(
    corrections: Corrections,
    files: Sequence[str],
    seen_alone: Solution,
    gauges: Sequence[GaugeSighting],
    bosses: BossSighting,
) -> Judged:
    """Judge each mark by what the photos show without it.

    Parameters
    ----------
    corrections, files
        What was placed, and the names of the photos.
    seen_alone
        The adjustment of what was seen.
    gauges, bosses
        As seen.

    Notes
    -----
    A mark of what no photo shows is believed; so is one that was answered to be right. One that was answered
    to be wrong is left out.
    """
    photos = _Photos(corrections, files, seen_alone, gauges, bosses)
    conflicts, wrong = [], []
    for mark in corrections.marks():
        if mark.photo not in files:
            continue
        answer = corrections.believed(mark)
        if answer == "photos":
            wrong.append(mark)
        if answer is not None:
            continue
        conflict = photos.against(mark)
        if conflict is not None and conflict.sigmas > CONTRADICTS_SIGMAS:
            conflicts.append(conflict)
    left_out = [*wrong, *(c.mark for c in conflicts)]
    return Judged(corrections.without_marks(left_out) if left_out else corrections, tuple(conflicts))


@dataclass(frozen=True)
class _Photos:
    """What was seen without marks by hand, to compare one with."""

    corrections: Corrections
    files: Sequence[str]
    seen: Solution
    gauges: Sequence[GaugeSighting]
    bosses: BossSighting

    def against(self, mark: Mark) -> Conflict | None:
        """Compare a mark with what was seen; None where nothing was seen of the same thing."""
        if isinstance(mark, PlacedEnd | PlacedAxis):
            return self._on_gauge(mark)
        shape, count = self.bosses.shape, self.bosses.pose.count
        if shape is None or self.bosses.by_hand or self.corrections.bosses is not None:
            return None
        photos = tuple(self.files[k] for k in np.unique(self.bosses.matches.photo))
        if isinstance(mark, PlacedEdge):  # edges are judged apart, once they were looked for
            return None
        if isinstance(mark, PlacedFace):
            face = on_face(mark, self.files, self.seen, shape, count)
            return Conflict(mark, abs(face.off) / float(np.hypot(face.u, EDGE_U_MM)), photos)
        angle, u = centreline_angle(mark, self.files, self.seen, count)
        return Conflict(mark, _off_centreline(angle, u, shape, float(self.seen["pattern"][5])), photos)

    def _on_gauge(self, mark: PlacedEnd | PlacedAxis) -> Conflict | None:
        if mark.gauge >= len(self.gauges):
            return None
        photos = _photos_of(mark, self.files, self.gauges[mark.gauge])
        if len(photos) < (LEAST_AXES if isinstance(mark, PlacedAxis) else 1):
            return None
        kind = "ends" if isinstance(mark, PlacedEnd) else "axes"
        # An end is told along the axis that was placed with it.
        alone = Corrections(axes=self.corrections.axes).model_copy(update={kind: (mark,)})
        blocks = placed_blocks(alone, self.files, self.seen, self.gauges, self.bosses)
        own = next(b for b in blocks if b.photo == self.files.index(mark.photo) and _observes(b, mark))
        return Conflict(mark, _departure(own, self.seen), photos)


def _photos_of(mark: PlacedEnd | PlacedAxis, files: Sequence[str], gauge: GaugeSighting) -> tuple[str, ...]:
    if isinstance(mark, PlacedEnd):
        return tuple(f for f, end in zip(files, gauge.ends, strict=True) if end is not None)
    return tuple(f for f, axis in zip(files, gauge.line.axes, strict=True) if len(axis.back))


def _observes(block: HubBlock, mark: PlacedEnd | PlacedAxis) -> bool:
    kind = GaugeEndBlock if isinstance(mark, PlacedEnd) else GaugeAxisBlock
    return isinstance(block, kind) and block.gauge == f"gauge{mark.gauge}"


def _departure(block: HubBlock, seen: Solution) -> float:
    """Largest residual of a mark against what was seen, in standard deviations of the difference."""
    lin = block.linearise(seen.layout, seen.x)
    predicted = np.einsum("ij,jk,ik->i", lin.jacobian, seen.covariance, lin.jacobian)
    return float(np.max(np.abs(lin.residual) / np.sqrt(1 + predicted)))


def _off_centreline(angle: float, u: float, shape: BossShape, radius: float) -> float:
    """How far a placed centreline lies off the mean boss', in standard deviations of the difference."""
    doubt = outline_doubt(shape, radius)
    own = np.sqrt((1 - doubt) * SYMMETRIC_SIGMA_MM**2 + doubt * ASYMMETRIC_SIGMA_MM**2) / radius
    return float(abs(angle - shape.mirror[0]) / np.hypot(own, u))
