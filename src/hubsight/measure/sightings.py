"""What was seen of a side, free of its pictures: turned into figures, and adjusted anew with corrections."""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from hubsight.camera import CameraProfile, prior_for
from hubsight.camera.observe import view_in
from hubsight.estimate.problem import Problem, Solution
from hubsight.measure.adjust.placed import NOTHING_PLACED, placed_blocks, placed_shape
from hubsight.measure.adjust.placed_pattern import placed_bosses
from hubsight.measure.adjust.side import SideAdjustment, StatedHeights, adjust_side
from hubsight.measure.consistency import odd_photos
from hubsight.measure.gauge_consistency import bent_gauge
from hubsight.measure.side_figures import side_evidence, side_measurement
from hubsight.measure.side_seen import SideSeen
from hubsight.model.corrections import NO_CORRECTIONS, Corrections
from hubsight.model.refusal import Refusal
from hubsight.model.side import PhotoEvidence, SideMeasurement
from hubsight.model.stated import Reading, StatedSide, StatedTarget, StatedWheel
from hubsight.scene.pattern_pose import Matches
from hubsight.see.bosses.mouth import Mouth
from hubsight.see.bosses.sighting import BossSighting
from hubsight.see.gauge.placed import WireHeights, placed_lines, strays
from hubsight.see.gauge.sighting import GaugeSighting
from hubsight.see.marks import Marks
from hubsight.see.turned.ends import NOTHING_SEEN, EndsSeen
from hubsight.target.find import TargetSighting
from hubsight.target.print_scale import print_scale
from hubsight.target.sheet import CameraPrior, sheet_problem, uncalibrated
from hubsight.target.shots import Shot

Array = NDArray[np.float64]

FACES_ABOVE_MIDDLE_MM, FACES_ABOVE_MIDDLE_U_MM = 3.6, 0.6
"""Visible upper edges of the bosses above the flange's mid-plane (common practice, no source)."""


@dataclass(frozen=True)
class Stated:
    """All that is stated of a side."""

    side: StatedSide
    target: StatedTarget
    wheel: StatedWheel
    camera_profile: CameraProfile | CameraPrior | None


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
    adjusted
        Everything in one adjustment.
    ends
        Upper end face and lower edges of the bosses.
    mouths
        Per gauge where it comes out of its boss; None where not seen, and on radial hubs.
    warnings
        So far.
    by_hand
        Marks from which gauges were looked for, where the detector had found none, or another line.
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
    ends: EndsSeen
    mouths: tuple[Mouth | None, ...]
    warnings: tuple[str, ...]
    by_hand: Corrections = NO_CORRECTIONS


def measurement_of(seen: Sightings) -> SideMeasurement | Refusal:
    """Turn what was seen of a side into its figures."""
    measured = side_measurement(_side_seen(seen))
    if isinstance(measured, Refusal):
        return measured
    corrections = seen.stated.side.corrections
    return measured.model_copy(update={"placed_by_hand": corrections.sentences(seen.files)})


def evidence_of(seen: Sightings) -> tuple[PhotoEvidence, ...]:
    """Return what was seen in each photo, even where `measurement_of` refuses the figures."""
    return side_evidence(_side_seen(seen))


def _side_seen(seen: Sightings) -> SideSeen:
    side, shape = seen.stated.side, seen.bosses.shape
    bosses, placed = seen.bosses, NOTHING_PLACED
    if shape is not None:
        count, solution = bosses.pose.count, seen.adjusted.solution
        shape, placed = placed_shape(side.corrections, seen.files, solution, shape, count)
        bosses = replace(bosses, shape=shape)
    return SideSeen(
        side=replace(side, gauges=side.gauges[: len(seen.gauges)]),
        wheel=seen.stated.wheel,
        adjusted=seen.adjusted,
        gauges=seen.gauges,
        bosses=bosses,
        files=seen.files,
        sizes=seen.sizes,
        sightings=seen.targets,
        warnings=(*seen.warnings, *_placed_warnings(seen)),
        placed=placed,
        ends=seen.ends,
        mouths=seen.mouths,
    )


def corrected(seen: Sightings, corrections: Corrections) -> Sightings | Refusal:
    """Adjust what was seen once more with other corrections, without looking at the pictures again.

    Parameters
    ----------
    seen
        Of the side; its photos marked as unusable stay away.
    corrections
        All that was put right, in place of the corrections so far. The mean boss stays as it was seen in all
        photos, those now marked as unusable included: `see_side` looks anew.
    """
    keep = [k for k, file in enumerate(seen.files) if file not in corrections.unusable]
    if not keep:
        return Refusal(reason="every photo is marked as unusable", remedy="Add photos, or use one of them")
    stated = replace(seen.stated, side=replace(seen.stated.side, corrections=corrections))
    seen = replace(only_photos(seen, keep), stated=stated)
    heights = stated_heights(stated.side, len(keep))
    if isinstance(heights, Refusal):
        return heights
    seen = replace(seen, heights=heights if len(keep) == 1 else wire_only(heights))
    problem = sheet_of(seen.targets, seen.prior, stated.target, seen.sizes[0])
    if corrections.bosses is not None:
        marks = Marks(corrections, seen.files, [view_in(seen.sheet, k) for k in range(len(keep))])
        bosses = placed_bosses(marks, seen.gauges, heights.faces)
        if isinstance(bosses, Refusal):
            return bosses
        seen = replace(seen, bosses=bosses, ends=NOTHING_SEEN, mouths=(None,) * len(seen.gauges))
    placed = placed_blocks(corrections, seen.files, seen.sheet, seen.gauges, seen.bosses)
    adjusted = adjust_side(problem, seen.sheet, seen.gauges, seen.bosses, seen.heights, placed=placed)
    odd = odd_photos(
        adjusted.solution,
        adjusted.hub_blocks,
        adjusted.references,
        len(keep),
        by_hand=is_by_hand(seen.by_hand, seen.bosses),
    )
    bent = bent_gauge(adjusted.solution, adjusted.hub_blocks, adjusted.references, seen.gauges)
    if bent is not None:
        return bent
    return replace(seen, adjusted=adjusted) if odd is None else odd.refusal(seen.files)


def is_by_hand(gauges: Corrections, bosses: BossSighting) -> bool:
    """Tell whether gauges, from their marks, or bosses were placed and not found."""
    return gauges != NO_CORRECTIONS or bosses.by_hand


def misled(gauges: Sequence[GaugeSighting], marks: Marks, placed: Container[int]) -> bool:
    """Tell whether the detector took something else for a gauge than a person placed.

    Parameters
    ----------
    gauges
        As the detector saw them.
    marks
        What was placed.
    placed
        The gauges whose axes make a line in space, see `placed_lines`.
    """
    return any(k in placed and strays(g.end, g.line.direction, marks, k) for k, g in enumerate(gauges))


def needs_no_look(seen: Sightings, corrections: Corrections) -> bool:
    """Tell whether adjusting anew with other corrections makes what looking at the pictures anew would.

    Photos that are used again, gauges that are placed elsewhere and bosses that are no longer placed have to
    be looked at; so have photos that are left out now, to the last digit.
    """
    side = seen.stated.side
    if not covers(seen, corrections) or set(corrections.unusable) != set(side.corrections.unusable):
        return False
    if seen.by_hand != NO_CORRECTIONS:
        return corrections.gauge_marks({axis.gauge for axis in seen.by_hand.axes}) == seen.by_hand
    marks = Marks(corrections, seen.files, [view_in(seen.sheet, k) for k in range(len(seen.files))])
    heights = WireHeights(side.gauge_height_at_boss, side.gauge_height_at_end)
    return not misled(seen.gauges, marks, placed_lines(marks, len(seen.gauges), heights))


def covers(seen: Sightings, corrections: Corrections) -> bool:
    """Tell whether sightings are good enough to adjust with other corrections, if not to the last digit."""
    marked = corrections.marked_photos() - set(corrections.unusable)
    return marked <= set(seen.files) and (corrections.bosses is not None or not seen.bosses.by_hand)


def _placed_warnings(seen: Sightings) -> list[str]:
    """Say where photos and placed marks contradict each other."""
    aside, outvoted = (
        [seen.files[k] for k in photos] for photos in (seen.adjusted.set_aside, seen.adjusted.outvoted)
    )
    return [
        *(
            f"{file}: what the program saw of the gauge contradicts what was placed by hand, and was left out"
            for file in aside
        ),
        *(
            f"{file}: what was placed by hand does not go with the other photos; look at it again"
            for file in outvoted
        ),
    ]


T = TypeVar("T")


def _some(values: Sequence[T], keep: Sequence[int]) -> tuple[T, ...]:
    return tuple(values[k] for k in keep)


def only_photos(seen: Sightings, keep: Sequence[int]) -> Sightings:
    """Leave out photos, as if they had not been there when the adjustment began; ``keep`` counts from 0."""
    if list(keep) == list(range(len(seen.files))):
        return seen

    matches = seen.bosses.matches
    own = np.isin(matches.photo, keep)
    renumbered = np.searchsorted(np.array(keep), matches.photo[own])
    matches = Matches(renumbered, matches.boss[own], matches.shift[own], matches.quality[own])
    gauges = tuple(
        replace(g, line=replace(g.line, axes=_some(g.line.axes, keep)), ends=_some(g.ends, keep))
        for g in seen.gauges
    )
    return replace(
        seen,
        files=_some(seen.files, keep),
        sizes=_some(seen.sizes, keep),
        targets=_some(seen.targets, keep),
        sheet=_sheet_without(seen, keep),
        gauges=gauges,
        bosses=replace(seen.bosses, matches=matches),
        ends=seen.ends.only_photos(keep),
        mouths=tuple(None if m is None else m.only_photos(keep) for m in seen.mouths),
    )


def _sheet_without(seen: Sightings, keep: Sequence[int]) -> Solution:
    """Return the sheet's solution of some photos, each where it was when the hub was sighted."""
    old = seen.sheet
    layout = sheet_of([seen.targets[k] for k in keep], seen.prior, seen.stated.target, seen.sizes[0]).layout
    names = {f"photo{new}": f"photo{k}" for new, k in enumerate(keep)}
    index = np.concatenate([np.arange(old.x.size)[old.layout[names.get(n, n)]] for n in layout.names])
    return replace(
        old, layout=layout, x=old.x[index], covariance=old.covariance[np.ix_(index, index)], parts={}
    )


def camera_prior(shots: Sequence[Shot], profile: CameraProfile | CameraPrior | None) -> CameraPrior | Refusal:
    """Return what is known of the camera of a photo set: a profile's prior, or the EXIF focal length."""
    width, height = shots[0].photo.width, shots[0].photo.height
    focal = shots[0].photo.focal_prior_px
    prior = profile or uncalibrated(width, height, None if focal is None else Reading(focal.value, focal.u))
    return prior_for(prior, [shot.photo for shot in shots]) if isinstance(prior, CameraProfile) else prior


def sheet_of(
    targets: Sequence[TargetSighting], prior: CameraPrior, target: StatedTarget, size: tuple[int, int]
) -> Problem:
    """Set up the adjustment of the sheet alone, see `sheet_problem`; ``size`` is that of the photos, px."""
    scales = (print_scale(target.bar_x), print_scale(target.bar_y))
    problem = sheet_problem(targets, prior, scales, max(size))
    if target.along is not None:
        where, along = problem.layout["scale"], target.along
        index, cosines = np.arange(where.start, where.stop), np.array([along.x, along.y])
        problem.add_prior("print scale", index, cosines / along.u, along.value / along.u)
    return problem


def stated_heights(side: StatedSide, photos: int) -> StatedHeights | Refusal:
    """Return the heights as stated; one photo alone is refused without those of the wire."""
    heights = StatedHeights(
        None
        if side.flange_height is None
        else Reading(
            side.flange_height.value + FACES_ABOVE_MIDDLE_MM,
            float(np.hypot(side.flange_height.u, FACES_ABOVE_MIDDLE_U_MM)),
        ),
        side.gauge_height_at_boss if len(side.gauges) == 1 or photos == 1 else None,
        side.gauge_height_at_end if len(side.gauges) == 1 or photos == 1 else None,
    )
    if photos == 1 and (heights.gauge_at_boss is None or heights.gauge_at_end is None):
        return Refusal(
            reason="one photo alone does not tell how high the gauge lies",
            remedy="Add three photos from around the hub, or measure and state the wire's height above "
            "the paper at the boss and at its far end",
        )
    return heights


def wire_only(heights: StatedHeights) -> StatedHeights:
    """With several photos the faces' height is seen better than it can be stated."""
    return StatedHeights(None, heights.gauge_at_boss, heights.gauge_at_end)
