"""Measure a hub lying on its flanges: from its photos to over-locknut and centre to flange of both sides."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from hubsight.camera import CameraPrior, CameraProfile
from hubsight.camera.observe import view_in
from hubsight.estimate.problem import Solution
from hubsight.measure.consistency import zoomed_photos
from hubsight.measure.heights import is_usual_width
from hubsight.measure.lying_evidence import LyingPhoto, lying_evidence
from hubsight.measure.lying_marks import ByHand, LyingEdge, with_marks, with_questions
from hubsight.measure.sheet import camera_prior, sheet_of, sheet_trouble
from hubsight.model.catalogue import HubFigureName
from hubsight.model.corrections import NO_CORRECTIONS, PLACED, Corrections
from hubsight.model.figure import BudgetItem, Figure, confidence_word
from hubsight.model.hub import LyingMeasurement
from hubsight.model.progress import doing
from hubsight.model.refusal import Refusal
from hubsight.model.side import PhotoEvidence
from hubsight.model.stated import EndName, StatedTarget
from hubsight.model.uncertainty import COVERAGE_FACTOR
from hubsight.photo import load_photo
from hubsight.see.lying.axis import see_course
from hubsight.see.lying.caps import SoftPhoto, soften
from hubsight.see.lying.flanges import FlangeSeen
from hubsight.see.lying.place import FAINT_FIT, Flanges, Placed, place
from hubsight.target.geometry import target_geometry
from hubsight.target.sheet import FOCAL_DEPARTURE
from hubsight.target.shots import TARGETS_SHARE, Shot, take_shots

DIRECTIONS: dict[EndName, tuple[float, float]] = {
    "left": (-1.0, 0.0),
    "right": (1.0, 0.0),
    "top": (0.0, 1.0),
    "bottom": (0.0, -1.0),
}
"""Directions on the sheet, as they are stated."""
INSIDE_FIELD_MM = 3.0
"""The field's outermost strip is left out: the ring of squares begins there."""
ROUNDED_MM, ROUNDED_U_MM = 0.14, 0.11
"""An end face lies this far outside its edge as it is seen, rounded off (found on rendered hubs)."""
FLANGE_U_MM, ONE_PHOTO_FLANGE_U_MM = 0.1, 0.5
"""Uncertainty of a flange's middle: bosses that are not alike on both sides; edges at heights that one photo
does not show (found on rendered hubs)."""
END_RADIUS_MM = 9.3
"""Usual radius of end caps and locknuts (common practice, no source)."""
CLEAR_DIRECTION = 0.4
"""Least cosine between the hub's axis and the way to the stated end."""
OVER_LOCKNUTS_MM = (70.0, 205.0)
"""Widths of hubs, with room (common practice, no source)."""
LEAST_CENTRE_MM = 5.0
"""Least distance of a flange from the hub's middle."""
BETTER = (
    "Lay the hub on its flanges in the middle of the blank field, take one photo from straight above and one "
    "or more tilted ones, in soft light"
)
"""What to do where a lying hub is not seen well."""
POOR_FIT, POOR_OUTLINE, DOUBTFUL_LENGTH_MM = 0.65, 0.55, 0.3
"""End faces that fit no better, in all photos or in one, or that leave a choice that large, may be something
else (found on rendered hubs)."""
INSIDE_MM, OUTSIDE_MM, SURE_FIT = 6.0, 7.5, 0.8
"""End faces that fit no better hardly lie farther than this inside or outside of where a hub's edges begin
and end (found on rendered hubs)."""
DOUBTFUL_END = (
    "the end faces of the lying hub are not seen clearly, and a shoulder or the end of an axle may have been "
    "taken for one: compare with a caliper, or with photos of the standing hub"
)
"""Warning of end faces that fit badly."""
UNCLEAR_FLANGE = (
    "the flange's edges are not seen clearly in the photos of the lying hub: compare with photos of the "
    "standing hub, or add tilted ones"
)
"""Warning of a flange that fits badly."""
ONE_PHOTO = "one photo alone does not show how high the lying hub's axis is: add one or two tilted ones"
"""Note on a single photo."""


@dataclass(frozen=True)
class _Seen:
    """A hub as seen: where it lies, its end faces and flanges."""

    placed: Placed
    flanges: Flanges
    photos: int
    eye: float
    focal: tuple[float, float]
    scale_u: float
    by_hand: ByHand | None = None

    def placed_u(self, *edges: tuple[LyingEdge, int]) -> list[tuple[str, float]]:
        """Return what marks by hand on some edges bring to a budget."""
        known = {} if self.by_hand is None else self.by_hand.u
        u = math.hypot(*(known.get(edge, 0.0) for edge in edges))
        return [(PLACED, u)] if u else []


@dataclass(frozen=True)
class LyingSeen:
    """What was seen of a lying hub; the pictures are no longer needed.

    Attributes
    ----------
    photos, prior
        Those that are used, and what is known of their camera.
    placed, flanges
        Axis, end faces and flanges.
    notes
        What is to be said of the photos.
    """

    photos: tuple[LyingPhoto, ...]
    prior: CameraPrior
    placed: Placed
    flanges: Flanges
    notes: tuple[str, ...]


def measure_lying(
    photos: Sequence[Path],
    target: StatedTarget,
    *,
    drive_end: EndName | None = None,
    camera_profile: CameraProfile | CameraPrior | None = None,
    corrections: Corrections = NO_CORRECTIONS,
) -> LyingMeasurement | Refusal:
    """Measure a lying hub.

    Parameters
    ----------
    photos
        One from straight above; more, tilted ones, show how high the axis lies.
    target
        The printed target and its check bars' readings.
    drive_end
        Where the drive side lies, seen with the sheet upright. Without it only the over-locknut is given.
    camera_profile
        Of a calibrated camera.
    corrections
        Points placed by hand on its edges.
    """
    seen = see_lying(photos, target, camera_profile=camera_profile)
    return seen if isinstance(seen, Refusal) else lying_measurement(seen, target, drive_end, corrections)


def see_lying(
    photos: Sequence[Path],
    target: StatedTarget,
    *,
    camera_profile: CameraProfile | CameraPrior | None = None,
) -> LyingSeen | Refusal:
    """Look at the photos of a lying hub; parameters are those of `measure_lying`."""
    geometry = target_geometry(target.paper)
    taken = take_shots(photos, geometry)
    if isinstance(taken, Refusal):
        return taken
    shots, notes = taken
    prior = camera_prior(shots, camera_profile)
    if isinstance(prior, Refusal):
        return prior
    size = (shots[0].photo.width, shots[0].photo.height)
    sheet = sheet_of([shot.sighting for shot in shots], prior, target, size).solve()
    trouble = sheet_trouble(sheet, target, size)
    if isinstance(trouble, Refusal):
        return trouble
    files = tuple(shot.photo.file for shot in shots)
    zoomed = zoomed_photos(sheet, len(shots), FOCAL_DEPARTURE)
    if zoomed is not None:
        return zoomed.refusal(files)
    field = (geometry.field[0] / 2 - INSIDE_FIELD_MM, geometry.field[1] / 2 - INSIDE_FIELD_MM)
    seen = _see(shots, sheet, field)
    if isinstance(seen, Refusal):
        return seen
    own = tuple(
        LyingPhoto(p.file, p.width, p.height, p.orientation, shot.sighting)
        for shot, p in ((shot, shot.photo) for shot in shots)
    )
    return LyingSeen(own, prior, *seen, (*notes, *trouble))


def lying_measurement(
    seen: LyingSeen, target: StatedTarget, drive_end: EndName | None, corrections: Corrections
) -> LyingMeasurement | Refusal:
    """Turn what was seen of a lying hub, and what was placed on it by hand, into its figures."""
    first, files = seen.photos[0], tuple(photo.file for photo in seen.photos)
    sightings = [photo.sighting for photo in seen.photos]
    sheet = sheet_of(sightings, seen.prior, target, (first.width, first.height)).solve()
    hand = with_marks(seen.placed, seen.flanges, corrections, files, sheet)
    evidence = lying_evidence(seen.photos, sheet, hand.placed, hand.flanges)
    measured = _measurement(_known(hand, sheet, len(files)), drive_end, seen.notes, evidence)
    if isinstance(measured, Refusal):
        return measured
    placed = corrections.sentences(files)

    def if_right(answered: Corrections) -> LyingMeasurement | Refusal:
        other = with_marks(seen.placed, seen.flanges, answered, files, sheet)
        return _measurement(_known(other, sheet, len(files)), drive_end, (), ())

    measured = measured.model_copy(update={"placed_by_hand": placed})
    return with_questions(measured, hand.conflicts, corrections, if_right)


def _see(
    shots: Sequence[Shot], sheet: Solution, field: tuple[float, float]
) -> tuple[Placed, Flanges] | Refusal:
    """Look at grey pictures; where they show the end faces badly, at the darkest colour of each pixel too.

    Yellow metal is as bright as paper in grey, but not in blue.
    """
    doing("looking for the lying hub's end faces and flanges", done=TARGETS_SHARE)
    views = [view_in(sheet, k) for k in range(len(shots))]
    upright = sorted(range(len(shots)), key=lambda k: views[k].rotation[2, 2])
    found = _find([soften(shots[k].picture, views[k]) for k in upright], field)
    if found is None or found[0].fit < POOR_FIT:
        again = _find([soften(_darkest(shots[k]), views[k]) for k in upright], field)
        if again is not None and (found is None or again[0].fit > found[0].fit):
            found = again
    if found is None:
        return Refusal(
            reason="no lying hub with end faces and flanges is seen on the blank field", remedy=BETTER
        )
    return found


def _known(hand: ByHand, sheet: Solution, photos: int) -> _Seen:
    """Return a hub with what the sheet's adjustment tells of its scale."""
    where, scale = sheet.layout["camera"], sheet.layout["scale"]
    focal = (float(sheet.x[where][0]), float(np.sqrt(sheet.covariance[where.start, where.start])))
    scale_u = float(np.sqrt(np.mean(np.diag(sheet.covariance)[scale])))
    views = [view_in(sheet, k) for k in range(photos)]
    eye = float(min(views, key=lambda view: view.rotation[2, 2]).position[2])
    return _Seen(hand.placed, hand.flanges, photos, eye, focal, scale_u, hand)


def _find(photos: Sequence[SoftPhoto], field: tuple[float, float]) -> tuple[Placed, Flanges] | None:
    course = see_course(photos[0].picture, photos[0].view, field)
    if course is None:
        return None
    placed, flanges = place(photos, course, field)
    return None if flanges is None else (placed, flanges)


def _darkest(shot: Shot) -> NDArray[np.uint8]:
    photo = load_photo(shot.photo.path)
    return shot.picture if isinstance(photo, Refusal) else np.asarray(photo.pixels.min(axis=2))


def _measurement(
    seen: _Seen, drive_end: EndName | None, warnings: Sequence[str], evidence: tuple[PhotoEvidence, ...]
) -> LyingMeasurement | Refusal:
    placed = seen.placed
    length, middles = placed.length + 2 * ROUNDED_MM, [flange.middle for flange in seen.flanges]
    if not OVER_LOCKNUTS_MM[0] < length < OVER_LOCKNUTS_MM[1]:
        return Refusal(reason=f"the hub seems to be {length:.0f} mm long, which none is", remedy=BETTER)
    if not middles[0] < placed.middle - LEAST_CENTRE_MM < placed.middle + LEAST_CENTRE_MM < middles[1]:
        return Refusal(reason="the flanges are not seen on either side of the hub's middle", remedy=BETTER)
    ends = [("rounding of the end faces", math.sqrt(2) * ROUNDED_U_MM), ("end faces' edges", placed.length_u)]
    ends += seen.placed_u(("end_face", 0), ("end_face", 1))
    over_locknut = _figure(length, ends, seen, ())
    settled = seen.by_hand is not None and {("end_face", 0), ("end_face", 1)} <= seen.by_hand.instead
    end_warnings = [DOUBTFUL_END] if _doubtful(placed, over_locknut) and not settled else []
    figures: dict[HubFigureName, Figure] = {"over_locknut": over_locknut.warned(*end_warnings)}
    last_is_drive = _last_is_drive(placed, drive_end)
    if isinstance(last_is_drive, Refusal):
        return last_is_drive
    said = [*warnings, *([ONE_PHOTO] if seen.photos == 1 else [])]
    if last_is_drive is None:
        said.append("it is not stated which end of the lying hub is the drive side: state drive_end")
    else:
        names: tuple[HubFigureName, HubFigureName] = ("centre_to_flange_nds", "centre_to_flange_ds")
        halved = [(source, u / 2) for source, u in ends]
        unclear = [flange.doubtful for flange in seen.flanges]
        if placed.fit < FAINT_FIT and any(unclear):
            # Neither the end caps nor the flanges say clearly where the axis is, which both flanges need.
            unclear = [True, True]
        for k, name in enumerate(names if last_is_drive else names[::-1]):
            sure = seen.by_hand is not None and ("flange", k) in seen.by_hand.instead
            said_of_it = [*end_warnings, *([UNCLEAR_FLANGE] if unclear[k] and not sure else [])]
            parts = [*halved, *seen.placed_u(("flange", k))]
            figures[name] = _centre_to_flange(seen.flanges[k], parts, seen, said_of_it)
    files = tuple(photo.file for photo in evidence)
    return LyingMeasurement(figures=figures, warnings=tuple(said), photos=files, evidence=evidence)


def _doubtful(placed: Placed, over_locknut: Figure) -> bool:
    """Tell whether something else may have been taken for an end face."""
    return (
        placed.fit < POOR_FIT
        or placed.worst < POOR_OUTLINE
        or placed.length_u > DOUBTFUL_LENGTH_MM
        or (placed.fit < SURE_FIT and not all(-INSIDE_MM < off < OUTSIDE_MM for off in placed.outside))
        or not is_usual_width(over_locknut)
    )


def _centre_to_flange(
    flange: FlangeSeen, ends: Sequence[tuple[str, float]], seen: _Seen, warnings: Sequence[str]
) -> Figure:
    one_photo = ONE_PHOTO_FLANGE_U_MM if seen.photos == 1 else 0.0
    parts = [
        ("flange's edges", math.hypot(FLANGE_U_MM, flange.u, one_photo)),
        ("slope of the axis", (flange.radius - END_RADIUS_MM) * seen.placed.slope_u),
        *ends,
    ]
    return _figure(abs(flange.middle - seen.placed.middle), parts, seen, warnings)


def _figure(value: float, parts: Sequence[tuple[str, float]], seen: _Seen, warnings: Sequence[str]) -> Figure:
    """Return a length along the axis with what the axis' place, the print and the camera add."""
    height = float(seen.placed.frame.origin[2])
    rise = seen.eye - height
    shares = [
        *parts,
        ("height of the axis", value * seen.placed.height_u / rise),
        ("print scale", value * seen.scale_u),
        ("camera", value * seen.focal[1] / seen.focal[0] * height / rise),
    ]
    u = math.hypot(*(share for _, share in shares))
    return Figure(
        value=value,
        u=u,
        low=value - COVERAGE_FACTOR * u,
        high=value + COVERAGE_FACTOR * u,
        budget=tuple(BudgetItem(source=s, u=share) for s, share in sorted(shares, key=lambda x: -x[1])),
        seen=f"lying hub, {seen.photos} photo{'s' if seen.photos > 1 else ''}",
        confidence=confidence_word(u, warned=bool(warnings)),
        warnings=tuple(warnings),
    )


def _last_is_drive(placed: Placed, drive_end: EndName | None) -> bool | Refusal | None:
    """Tell whether the last flange along the axis is the drive side's; None if it is not stated."""
    if drive_end is None:
        return None
    towards = float(placed.frame.along[:2] @ np.array(DIRECTIONS[drive_end]))
    if abs(towards) < CLEAR_DIRECTION:
        other = '"top" or "bottom"' if drive_end in ("left", "right") else '"left" or "right"'
        return Refusal(
            reason=f'the drive side is stated to lie at the "{drive_end}", but the hub lies across',
            remedy=f"State drive_end as {other}, seen with the sheet's long side level",
        )
    return towards > 0
