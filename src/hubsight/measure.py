"""Measure one side of a hub: from its photographs to figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hubsight.adjust.problem import Problem, Solution
from hubsight.adjust.sheet import FOCAL_DEPARTURE, CameraPrior, sheet_problem, uncalibrated
from hubsight.adjust.side import SideAdjustment, StatedHeights, adjust_side
from hubsight.camera import CameraProfile, View, prior_for
from hubsight.consistency import (
    ENOUGH_WITHOUT,
    OddPhotos,
    bent_gauge,
    not_found,
    odd_photo_out,
    odd_photos,
    sheet_trouble,
    zoomed_photos,
)
from hubsight.hub.bosses import BossSighting, see_bosses
from hubsight.hub.gauge import ANCHORS, GaugeSighting, see_gauges
from hubsight.hub.gauge_agree import odd_one_out
from hubsight.hub.gauge_find import lines_at_heights, segments
from hubsight.measurement import Refusal, SideMeasurement
from hubsight.shots import Shot, take_shots
from hubsight.side_figures import SideSeen, side_measurement
from hubsight.stated import Reading, StatedSide, StatedTarget, StatedWheel
from hubsight.target.geometry import target_geometry
from hubsight.target.print_scale import print_scale

Array = NDArray[np.float64]

FACES_ABOVE_MIDDLE_MM, FACES_ABOVE_MIDDLE_U_MM = 3.6, 0.6
"""Visible upper edges of the bosses above the flange's mid-plane (common practice, no source)."""
SINGLE_CANDIDATES = 10
"""Lines of one photo that are looked at as possible gauges."""
BORE_STAGGER_MM = 1.35
"""A boss' bores lie this far above and below the mid-plane (common practice, no source)."""


def measure_side(
    side: StatedSide,
    target: StatedTarget,
    wheel: StatedWheel,
    *,
    camera_profile: CameraProfile | CameraPrior | None = None,
) -> SideMeasurement | Refusal:
    """Measure one side of a hub from its photographs.

    Parameters
    ----------
    side
        Photos, gauges and stated readings of this side.
    target
        The printed target and its check bars' readings.
    wheel
        Rim and wheel, as far as stated: the direction of the spokes depends on them.
    camera_profile
        Profile (or prior) of a calibrated camera; without one the photos' EXIF focal length is used.

    Returns
    -------
    SideMeasurement or Refusal
        A refusal says what is wrong, in which photo, and what to do.
    """
    taken = take_shots(side.photos, target_geometry(target.paper))
    if isinstance(taken, Refusal):
        return taken
    return _measured(*taken, _Stated(side, target, wheel, camera_profile))


@dataclass(frozen=True)
class _Stated:
    """All that is stated of a side."""

    side: StatedSide
    target: StatedTarget
    wheel: StatedWheel
    camera_profile: CameraProfile | CameraPrior | None


def _measured(
    shots: Sequence[Shot], notes: Sequence[str], stated: _Stated, *, may_leave_out: bool = True
) -> SideMeasurement | Refusal:
    side, target = stated.side, stated.target
    problem = _sheet(shots, target, stated.camera_profile)
    if isinstance(problem, Refusal):
        return problem
    sheet = problem.solve()
    trouble = sheet_trouble(sheet, target, (shots[0].photo.width, shots[0].photo.height))
    if isinstance(trouble, Refusal):
        return trouble
    odd = zoomed_photos(sheet, len(shots), FOCAL_DEPARTURE)
    if odd is not None:
        return _without(odd, shots, notes, stated, may_leave_out=may_leave_out)
    found = _hub(shots, side, problem, sheet)
    if isinstance(found, Refusal):
        return found
    if isinstance(found, OddPhotos):
        return _without(found, shots, notes, stated, may_leave_out=may_leave_out)
    seen = SideSeen(
        side=replace(side, gauges=side.gauges[: len(found.gauges)]),
        wheel=stated.wheel,
        adjusted=found.adjusted,
        gauges=tuple(found.gauges),
        bosses=found.bosses,
        files=tuple(shot.photo.file for shot in shots),
        sizes=tuple((shot.photo.width, shot.photo.height) for shot in shots),
        sightings=tuple(shot.sighting for shot in shots),
        warnings=(*notes, *trouble, *found.warnings, *_print_warnings(target)),
    )
    return side_measurement(seen)


@dataclass(frozen=True)
class _Hub:
    """What was found of the hub, adjusted."""

    adjusted: SideAdjustment
    gauges: list[GaugeSighting]
    bosses: BossSighting
    warnings: list[str]


def _hub(
    shots: Sequence[Shot], side: StatedSide, problem: Problem, sheet: Solution
) -> _Hub | OddPhotos | Refusal:
    """Find gauges and bosses, adjust them with the sheet, and see whether the photos agree."""
    views = [sheet.view(k) for k in range(len(shots))]
    heights = _heights(side, len(shots))
    if isinstance(heights, Refusal):
        return heights
    pictures = [shot.picture for shot in shots]
    gauges = _gauges(pictures, views, side, heights)
    if isinstance(gauges, Refusal):
        return _odd_one_out(pictures, views) or gauges
    sightings, warnings = gauges
    faces = _faces(heights, sightings, len(shots))
    bosses = see_bosses(pictures, views, sightings, faces)
    if isinstance(bosses, Refusal):
        odd = _odd_one_out(pictures, views)
        return not_found(bosses, sightings, len(shots)) if odd is None else odd
    if len(shots) == 1 and len(sightings) > 1:
        sightings = sightings[:1]
        warnings = [
            *warnings,
            "one photo does not tell how high a second gauge lies: only the first one is used",
        ]
    adjusted = adjust_side(
        problem, sheet, sightings, bosses, heights if len(shots) == 1 else _wire_only(heights)
    )
    odd = odd_photos(adjusted.solution, adjusted.hub_blocks, adjusted.references, len(shots))
    if odd is not None:
        odd = _odd_one_out(pictures, views) or odd
    bent = bent_gauge(adjusted.solution, adjusted.hub_blocks, adjusted.references, sightings)
    # A bent gauge makes photos disagree; but one that stands out spoils the gauge's line.
    if bent is not None and (odd is None or not odd.stands_out):
        return bent
    return _Hub(adjusted, sightings, bosses, warnings) if odd is None else odd


def _odd_one_out(pictures: Sequence[NDArray[np.uint8]], views: Sequence[View]) -> OddPhotos | None:
    """Blame the photo without which the others agree, where there are enough."""
    odd = odd_one_out(pictures, views, ANCHORS) if len(views) >= ENOUGH_WITHOUT else None
    return None if odd is None else odd_photo_out(odd)


def _without(
    odd: OddPhotos, shots: Sequence[Shot], notes: Sequence[str], stated: _Stated, *, may_leave_out: bool
) -> SideMeasurement | Refusal:
    """Measure once more without one photo that does not fit, if enough are left; else refuse."""
    files = [shot.photo.file for shot in shots]
    if not may_leave_out or len(odd.photos) > 1 or len(shots) < ENOUGH_WITHOUT:
        return odd.refusal(files)
    left = [shot for k, shot in enumerate(shots) if k not in odd.photos]
    return _measured(left, [*notes, odd.note(files)], stated, may_leave_out=False)


def _sheet(
    shots: Sequence[Shot], target: StatedTarget, profile: CameraProfile | CameraPrior | None
) -> Problem | Refusal:
    width, height = shots[0].photo.width, shots[0].photo.height
    focal = shots[0].photo.focal_prior_px
    prior = profile or uncalibrated(width, height, None if focal is None else Reading(focal.value, focal.u))
    if isinstance(prior, CameraProfile):
        known = prior_for(prior, [shot.photo for shot in shots])
        if isinstance(known, Refusal):
            return known
        prior = known
    scales = (print_scale(target.bar_x), print_scale(target.bar_y))
    return sheet_problem([shot.sighting for shot in shots], prior, scales, max(width, height))


def _print_warnings(target: StatedTarget) -> list[str]:
    if target.bar_x is None or target.bar_y is None:
        return [
            "the print's check bars were not measured: every figure may be off by 1 % and more; "
            "measure both bars with a caliper"
        ]
    return []


def _heights(side: StatedSide, photos: int) -> StatedHeights | Refusal:
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


def _wire_only(heights: StatedHeights) -> StatedHeights:
    """With several photos the faces' height is seen better than it can be stated."""
    return StatedHeights(None, heights.gauge_at_boss, heights.gauge_at_end)


def _gauges(
    pictures: Sequence[NDArray[np.uint8]], views: Sequence[View], side: StatedSide, heights: StatedHeights
) -> tuple[list[GaugeSighting], list[str]] | Refusal:
    rough = None
    if len(pictures) == 1 and heights.gauge_at_boss is not None and heights.gauge_at_end is not None:
        rough = lines_at_heights(
            segments(pictures[0]),
            views[0],
            heights.gauge_at_boss.value,
            heights.gauge_at_end.value,
            ANCHORS,
            count=SINGLE_CANDIDATES,
        )
    return see_gauges(pictures, views, side.gauges, rough)


def _faces(
    heights: StatedHeights, gauges: Sequence[GaugeSighting], photos: int
) -> tuple[float, float] | None:
    """Height of the bosses' faces for the search in a single photo."""
    if photos > 1:
        return None
    if heights.faces is not None:
        return heights.faces.value, heights.faces.u
    return float(gauges[0].start[2]) + FACES_ABOVE_MIDDLE_MM, float(np.hypot(BORE_STAGGER_MM, 0.6))
