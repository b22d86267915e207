"""Measure one side of a hub: from its photographs to figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from hubsight.camera import CameraProfile, View
from hubsight.camera.observe import view_in
from hubsight.estimate.problem import Problem, Solution
from hubsight.measure.adjust.placed_pattern import placed_bosses
from hubsight.measure.adjust.side import SideAdjustment, StatedHeights
from hubsight.measure.consistency import (
    ENOUGH_WITHOUT,
    OddPhotos,
    not_found,
    odd_photo_out,
    zoomed_photos,
)
from hubsight.measure.flange import bore_of_first_gauge, expected_mouth, first_gauge_in_boss
from hubsight.measure.heights import STAGGER_MM
from hubsight.measure.left_out import moved
from hubsight.measure.measurement import measurement_of
from hubsight.measure.settle import (
    FACES_ABOVE_MIDDLE_MM,
    HubSeen,
    Settled,
    misled,
    settle,
    stated_heights,
    wire_only,
)
from hubsight.measure.sheet import camera_prior, sheet_of, sheet_trouble
from hubsight.measure.side_figures import side_measurement
from hubsight.measure.sightings import Sightings, Stated
from hubsight.model.corrections import NO_CORRECTIONS, Corrections
from hubsight.model.progress import doing
from hubsight.model.refusal import Refusal
from hubsight.model.side import SideMeasurement
from hubsight.model.stated import StatedSide, StatedTarget, StatedWheel
from hubsight.photo import Photo
from hubsight.scene.pattern_pose import PatternPose
from hubsight.see.bosses.mouth import Mouth, see_mouth
from hubsight.see.bosses.sighting import BossSighting, KnownOfHub, see_bosses
from hubsight.see.gauge.agree import odd_one_out
from hubsight.see.gauge.find import lines_at_heights, segments
from hubsight.see.gauge.placed import WireHeights, placed_lines, see_placed_gauges
from hubsight.see.gauge.sighting import ANCHORS, GaugeSighting, see_gauges
from hubsight.see.marks import Marks
from hubsight.see.turned.ends import NOTHING_SEEN, EndsSeen, see_ends
from hubsight.target.geometry import target_geometry
from hubsight.target.sheet import FOCAL_DEPARTURE, CameraPrior, camera_strain
from hubsight.target.shots import Shot, take_shots

SINGLE_CANDIDATES = 10
"""Lines of one photo that are looked at as possible gauges."""
PROFILE_STRAIN = 26.1
"""Chi-square of eight values that a profile which holds exceeds once in a thousand."""


def measure_side(
    side: StatedSide,
    target: StatedTarget,
    wheel: StatedWheel,
    *,
    camera_profile: CameraProfile | CameraPrior | None = None,
    photos: Sequence[Photo] | None = None,
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
    photos
        Photographs in memory, in place of the files that ``side`` names; see
        :func:`hubsight.photo.photo_of_array`.

    Returns
    -------
    SideMeasurement or Refusal
        A refusal says what is wrong, in which photo, and what to do.
    """
    seen = see_side(side, target, wheel, camera_profile=camera_profile, photos=photos)
    return seen if isinstance(seen, Refusal) else measurement_of(seen)


def see_side(
    side: StatedSide,
    target: StatedTarget,
    wheel: StatedWheel,
    *,
    camera_profile: CameraProfile | CameraPrior | None = None,
    photos: Sequence[Photo] | None = None,
) -> Sightings | Refusal:
    """Look at the photos of a side and adjust what is seen; all that needs the pictures is done here.

    Parameters are those of `measure_side`. `measurement_of` turns the result into figures, `corrected`
    adjusts it anew with marks placed by hand.
    """
    unusable = side.corrections.unusable
    given: Sequence[Path | Photo] = side.photos if photos is None else photos
    usable = [one for one in given if (one.file if isinstance(one, Photo) else one.name) not in unusable]
    if given and not usable:
        return Refusal(reason="every photo is marked as unusable", remedy="Add photos, or use one of them")
    taken = take_shots(usable, target_geometry(target.paper))
    if isinstance(taken, Refusal):
        return taken
    return _seen(*taken, Stated(side, target, wheel, camera_profile))


def _seen(
    shots: Sequence[Shot], notes: Sequence[str], stated: Stated, *, may_leave_out: bool = True
) -> Sightings | Refusal:
    target = stated.target
    prior = camera_prior(shots, stated.camera_profile)
    if isinstance(prior, Refusal):
        return prior
    targets = tuple(shot.sighting for shot in shots)
    sizes = tuple((shot.photo.width, shot.photo.height) for shot in shots)
    problem = sheet_of(targets, prior, target, sizes[0])
    sheet = problem.solve()
    trouble = sheet_trouble(sheet, target, sizes[0])
    if isinstance(trouble, Refusal):
        return trouble
    found = zoomed_photos(sheet, len(shots), FOCAL_DEPARTURE) or _hub(shots, stated, problem, sheet)
    if isinstance(found, OddPhotos):
        return _without(found, shots, notes, stated, may_leave_out=may_leave_out)
    if isinstance(found, Refusal):
        return found
    seen = Sightings(
        stated=stated,
        files=tuple(shot.photo.file for shot in shots),
        sizes=sizes,
        targets=targets,
        prior=prior,
        sheet=sheet,
        heights=found.heights,
        gauges=tuple(found.gauges),
        bosses=found.bosses,
        adjusted=found.settled.adjusted,
        seen_alone=found.settled.seen_alone,
        marks=found.settled.marks,
        ends=NOTHING_SEEN,
        by_hand=found.by_hand,
        mouths=(None,) * len(found.gauges),
        warnings=(
            *notes,
            *trouble,
            *found.warnings,
            *_print_warnings(target),
            *_profile_warnings(stated, prior, sheet),
        ),
    )
    if found.odd is None:
        return replace(seen, ends=_ends(shots, found), mouths=_mouths(shots, found)).edges_judged()
    left = _without(found.odd, shots, notes, stated, may_leave_out=may_leave_out)
    return left if isinstance(left, Refusal) else _harmless(left, seen, found.odd.note(seen.files))


@dataclass(frozen=True)
class _Hub:
    """What was found of the hub, settled; ``odd`` are photos that do not fit the others."""

    settled: Settled
    gauges: list[GaugeSighting]
    bosses: BossSighting
    heights: StatedHeights
    warnings: list[str]
    by_hand: Corrections
    odd: OddPhotos | None = None

    @property
    def seen_alone(self) -> SideAdjustment:
        """The adjustment without marks by hand, to look further from."""
        return self.settled.seen_alone


def _hub(
    shots: Sequence[Shot], stated: Stated, problem: Problem, sheet: Solution
) -> _Hub | OddPhotos | Refusal:
    """Find gauges and bosses, adjust them with the sheet, and see whether the photos agree."""
    side = stated.side
    views = [view_in(sheet, k) for k in range(len(shots))]
    heights = stated_heights(side, len(shots))
    if isinstance(heights, Refusal):
        return heights
    pictures, files = [shot.picture for shot in shots], [shot.photo.file for shot in shots]
    doing("looking for the gauge", done=0.2)
    marks = Marks(side.corrections, files, views)
    gauges = _gauges(pictures, marks, side, heights)
    if isinstance(gauges, Refusal):
        return _odd_one_out(pictures, views) or gauges
    sightings, warnings, by_hand = gauges
    bosses = _bosses(pictures, marks, sightings, heights, stated)
    if isinstance(bosses, Refusal | OddPhotos):
        return bosses
    heights = heights if len(shots) == 1 else wire_only(heights)
    hub = HubSeen(sightings, bosses, heights, files, side.corrections, by_hand)
    doing("fitting all photos at once", done=0.5)
    settled = settle(problem, sheet, hub)
    odd, bent = settled.odd, settled.bent
    if odd is not None:
        odd = _odd_one_out(pictures, views) or odd
    # A bent gauge makes photos disagree; but one that stands out spoils the gauge's line.
    if bent is not None and (odd is None or not odd.stands_out):
        return bent
    return _Hub(settled, sightings, bosses, heights, warnings, by_hand, odd or settled.zoomed)


def _bosses(
    pictures: Sequence[NDArray[np.uint8]],
    marks: Marks,
    gauges: Sequence[GaugeSighting],
    heights: StatedHeights,
    stated: Stated,
) -> BossSighting | OddPhotos | Refusal:
    """Look for the bosses, unless they were placed by hand."""
    if marks.corrections.bosses is not None:
        return placed_bosses(marks, gauges, heights.faces)
    doing("looking for the bosses", done=0.27)
    faces = _faces(heights, gauges, len(pictures))
    bosses = see_bosses(pictures, marks.views, gauges, _known(stated, faces))
    if not isinstance(bosses, Refusal):
        return bosses
    odd = _odd_one_out(pictures, marks.views)
    return not_found(bosses, gauges, len(pictures)) if odd is None else odd


def _known(stated: Stated, faces: tuple[float, float] | None) -> KnownOfHub:
    """Return what is stated of the hub, as far as it helps to find its bosses."""
    wheel = stated.wheel
    return KnownOfHub(
        face_height=faces,
        end_height=None
        if wheel.over_locknut is None
        else stated.side.block_thickness + wheel.over_locknut.value,
        wheel=wheel,
    )


def _ends(shots: Sequence[Shot], hub: _Hub) -> EndsSeen:
    if hub.bosses.by_hand:  # they would be looked for from where the bosses were seen
        return NOTHING_SEEN
    solution = hub.seen_alone.solution
    doing("looking for the end face", done=0.52)
    views = [view_in(solution, k) for k in range(len(shots))]
    pose, rim = PatternPose.of_unknowns(solution["pattern"], hub.bosses.pose.count), hub.bosses.rim_radius
    # A radial rim grows with the pattern it was seen with.
    rim = None if rim is None else rim * pose.radius / hub.bosses.pose.radius
    bosses = replace(hub.bosses, pose=pose, rim_radius=rim)
    known = solution, bosses, hub.gauges, hub.seen_alone.references
    pictures = [shot.picture for shot in shots]
    return see_ends(pictures, views, bosses, first_gauge_in_boss(*known), bore_of_first_gauge(*known))


def _mouths(shots: Sequence[Shot], hub: _Hub) -> tuple[Mouth | None, ...]:
    if hub.bosses.by_hand:
        return (None,) * len(hub.gauges)
    pictures = [shot.picture for shot in shots]
    adjusted = zip(hub.gauges, hub.seen_alone.references, strict=True)
    expected = [
        expected_mouth(hub.seen_alone.solution, hub.bosses, k, sighting=gauge, reference=reference)
        for k, (gauge, reference) in enumerate(adjusted)
    ]
    views = [view_in(hub.seen_alone.solution, k) for k in range(len(shots))]
    return tuple(None if e is None else see_mouth(pictures, views, e) for e in expected)


def _odd_one_out(pictures: Sequence[NDArray[np.uint8]], views: Sequence[View]) -> OddPhotos | None:
    """Blame the photo without which the others agree, where there are enough."""
    odd = odd_one_out(pictures, views, ANCHORS) if len(views) >= ENOUGH_WITHOUT else None
    return None if odd is None else odd_photo_out(odd)


def _without(
    odd: OddPhotos, shots: Sequence[Shot], notes: Sequence[str], stated: Stated, *, may_leave_out: bool
) -> Sightings | Refusal:
    """Measure once more without one photo that does not fit, if enough are left; else refuse."""
    files = [shot.photo.file for shot in shots]
    if not may_leave_out or len(odd.photos) > 1 or len(shots) < ENOUGH_WITHOUT:
        return odd.refusal(files)
    left = [shot for k, shot in enumerate(shots) if k not in odd.photos]
    return _seen(left, [*notes, odd.note(files)], stated, may_leave_out=False)


def _harmless(left: Sightings, seen: Sightings, note: str) -> Sightings:
    """Return what the other photos show; that one was left out is no warning if it moves no figure.

    ``seen`` is what all photos show, and ``note`` says which was left out. End face and mouths stay away:
    they are looked for once it is known which photos count.
    """
    plain = replace(left, ends=NOTHING_SEEN, mouths=seen.mouths)
    before, after = side_measurement(seen), side_measurement(plain)
    if isinstance(before, Refusal) or isinstance(after, Refusal) or moved(before.figures, after.figures):
        return left
    return replace(left, warnings=tuple(w for w in left.warnings if w != note), harmless=(note,))


def _profile_warnings(stated: Stated, prior: CameraPrior, sheet: Solution) -> list[str]:
    if stated.camera_profile is None or camera_strain(prior, sheet) < PROFILE_STRAIN:
        return []
    return [
        "the photos contradict the camera profile: was it made with this phone, lens and zoom? Calibrate "
        "again, or leave the profile out"
    ]


def _print_warnings(target: StatedTarget) -> list[str]:
    if target.along is None and (target.bar_x is None or target.bar_y is None):
        return [
            "the print's check bars were not measured: every figure may be off by 1 % and more; "
            "measure both bars with a caliper"
        ]
    return []


def _gauges(
    pictures: Sequence[NDArray[np.uint8]], marks: Marks, side: StatedSide, heights: StatedHeights
) -> tuple[list[GaugeSighting], list[str], Corrections] | Refusal:
    """Return the gauges, what is to be said of them, and the marks from which they come, if any."""
    rough = None
    if len(pictures) == 1 and heights.gauge_at_boss is not None and heights.gauge_at_end is not None:
        rough = lines_at_heights(
            segments(pictures[0]),
            marks.views[0],
            heights.gauge_at_boss.value,
            heights.gauge_at_end.value,
            ANCHORS,
            count=SINGLE_CANDIDATES,
        )
    found = see_gauges(pictures, marks.views, side.gauges, rough, files=marks.files)
    lines = placed_lines(marks, len(side.gauges), WireHeights(heights.gauge_at_boss, heights.gauge_at_end))
    if isinstance(found, Refusal):
        if not lines:
            return _with_one_more_axis(found, marks)
    elif not misled(found[0], marks, lines):
        return *found, NO_CORRECTIONS
    seen = see_placed_gauges(pictures, side.gauges, lines, marks)
    return seen if isinstance(seen, Refusal) else (seen, [], marks.corrections.gauge_marks(lines))


def _with_one_more_axis(refusal: Refusal, marks: Marks) -> Refusal:
    """Say what is still to be placed, where an axis was."""
    if not any(marks.axes(k) for k in range(2)):
        return refusal
    return Refusal(
        reason=f"{refusal.reason}, and its axis was placed by hand from one direction only",
        remedy="Place its axis in one more photo, taken from another side",
    )


def _faces(
    heights: StatedHeights, gauges: Sequence[GaugeSighting], photos: int
) -> tuple[float, float] | None:
    """Height of the bosses' faces for the search in a single photo."""
    if photos > 1:
        return None
    if heights.faces is not None:
        return heights.faces.value, heights.faces.u
    return float(gauges[0].start[2]) + FACES_ABOVE_MIDDLE_MM, float(np.hypot(STAGGER_MM.mean, 0.6))
