"""Measure a hub lying on its flanges: from its photos to over-locknut and centre to flange of both sides."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from hubsight.adjust.problem import Solution
from hubsight.adjust.sheet import FOCAL_DEPARTURE
from hubsight.camera import CameraPrior, CameraProfile, View
from hubsight.consistency import sheet_trouble, zoomed_photos
from hubsight.figures import BudgetItem, Figure, confidence_word
from hubsight.flange import COVERAGE
from hubsight.hub_figures import HubFigureName, LyingMeasurement
from hubsight.lying.axis import LEVEL_MM, Course, see_course
from hubsight.lying.ends import RADIUS_MM, ROUNDED_U_MM, Ends, end_radii, find_ends
from hubsight.lying.flanges import FlangeSeen, aside, find_flanges, rough_radius
from hubsight.lying.frame import Picture, frame_of
from hubsight.lying.place import Flanks, Placed, by_agreement, by_contact
from hubsight.measurement import Refusal
from hubsight.shots import Shot, take_shots
from hubsight.sightings import camera_prior, sheet_of
from hubsight.stated import EndName, StatedTarget
from hubsight.target.geometry import target_geometry

DIRECTIONS: dict[EndName, tuple[float, float]] = {
    "left": (-1.0, 0.0),
    "right": (1.0, 0.0),
    "top": (0.0, 1.0),
    "bottom": (0.0, -1.0),
}
INSIDE_FIELD_MM = 3.0
"""The field's outermost strip is left out: the ring of squares begins there."""
FLANGE_U_MM = 0.22
"""Rounded edges, and edges of bosses that lie lower, shift a flange's middle (found on rendered hubs)."""
ONE_PHOTO_FLANGE_U_MM = 0.7
"""The same in one photo alone, which does not tell edges at different heights apart."""
CLEAR_DIRECTION = 0.4
"""Least cosine between the hub's axis and the way to the stated end."""
OVER_LOCKNUTS_MM = (70.0, 205.0)
LEAST_CENTRE_MM = 5.0
BETTER = (
    "Lay the hub on its flanges in the middle of the blank field, take one photo from straight above and one "
    "or more tilted ones, in soft light"
)
INSIDE_EXTENT_MM, OUTSIDE_EXTENT_MM = 7.0, 6.0
"""An end face that lies farther inside or outside of where the hub's edges end is doubtful (found on rendered
hubs)."""
DOUBTFUL_END_U_MM = 3.0
"""How far a doubtful end face may be off: as far as the next shoulder (found on rendered hubs)."""
DOUBTFUL_END = (
    "an end face of the lying hub does not lie where its outline ends, because of a shadow, an axle that "
    "stands out, or little contrast: compare with a caliper"
)
CHECK_ONLY = (
    "a lying hub's end faces and flanges are mistaken for shadows or shoulders now and then: compare with "
    "photos of the standing hub, or with a caliper"
)
ONE_PHOTO = "one photo alone does not show how high the axis lies: add one or two tilted ones"


@dataclass(frozen=True)
class _Seen:
    """A hub as seen: where it lies, its end faces and flanges."""

    placed: Placed
    ends: Ends
    flanges: tuple[FlangeSeen, FlangeSeen]
    photos: int
    eye: float
    focal: tuple[float, float]
    scale_u: float


def measure_lying(
    photos: Sequence[Path],
    target: StatedTarget,
    *,
    drive_end: EndName | None = None,
    camera_profile: CameraProfile | CameraPrior | None = None,
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
    """
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
    return _measurement(seen, drive_end, [*notes, *trouble], files)


def _see(shots: Sequence[Shot], sheet: Solution, field: tuple[float, float]) -> _Seen | Refusal:
    views = [sheet.view(k) for k in range(len(shots))]
    upright = sorted(range(len(shots)), key=lambda k: views[k].rotation[2, 2])
    photos = [(shots[k].picture, views[k]) for k in upright]
    picture, view = photos[0]
    course = see_course(picture, view, field)
    if course is None:
        return Refusal(reason="no lying hub is seen on the blank field", remedy=BETTER)
    found = _from_above(picture, view, course, field)
    if found is None:
        return Refusal(reason="the lying hub's end faces and flanges are not seen", remedy=BETTER)
    placed, ends, flanges = found
    if len(photos) > 1:
        placed, ends, flanges = _from_all(photos, found, field)
    where, scale = sheet.layout["camera"], sheet.layout["scale"]
    focal = (float(sheet.x[where][0]), float(np.sqrt(sheet.covariance[where.start, where.start])))
    scale_u = float(np.sqrt(np.mean(np.diag(sheet.covariance)[scale])))
    return _Seen(placed, ends, flanges, len(photos), float(view.position[2]), focal, scale_u)


_Found = tuple[Placed, Ends, tuple[FlangeSeen, FlangeSeen]]


def _from_above(picture: Picture, view: View, course: Course, field: tuple[float, float]) -> _Found | None:
    """Find ends and flanges in the most vertical photo, at a usual height, then where they let it lie."""
    extent = (course.start, course.end)
    frame = frame_of(course, view, LEVEL_MM, 0.0)
    found: _Found | None = None
    for _ in range(3):
        reach = aside(picture, view, frame, field)
        radii = (RADIUS_MM, RADIUS_MM) if found is None else end_radii(reach, found[1])
        ends = find_ends([(picture, view)], frame, field, extent, radii=radii)
        if ends is None:
            return found
        flanges = find_flanges([(picture, view)], frame, reach, ends)
        if flanges is None:
            return found
        middles = (flanges[0].middle, flanges[1].middle)
        outer = (rough_radius(reach, middles[0]), rough_radius(reach, middles[1]))
        placed = by_contact(picture, view, course, Flanks(middles, outer))
        frame = placed.frame
        found = placed, ends, flanges
    return found


def _from_all(photos: Sequence[tuple[Picture, View]], found: _Found, field: tuple[float, float]) -> _Found:
    """Place the hub where all photos agree, and look at ends and flanges once more."""
    placed, ends, flanges = found
    extent = (placed.course.start, placed.course.end)
    for _ in range(2):
        flanks = Flanks((flanges[0].middle, flanges[1].middle), (flanges[0].radius, flanges[1].radius))
        placed = by_agreement(photos, placed, flanks, ends)
        reach = aside(*photos[0], placed.frame, field)
        ends = find_ends(photos, placed.frame, field, extent, radii=end_radii(reach, ends)) or ends
        flanges = find_flanges(photos, placed.frame, reach, ends) or flanges
    return placed, ends, flanges


def _measurement(
    seen: _Seen, drive_end: EndName | None, warnings: Sequence[str], files: tuple[str, ...]
) -> LyingMeasurement | Refusal:
    ends, middles = seen.ends, [flange.middle for flange in seen.flanges]
    if not OVER_LOCKNUTS_MM[0] < ends.length < OVER_LOCKNUTS_MM[1]:
        return Refusal(reason=f"the hub seems to be {ends.length:.0f} mm long, which none is", remedy=BETTER)
    if not middles[0] < ends.middle - LEAST_CENTRE_MM < ends.middle + LEAST_CENTRE_MM < middles[1]:
        return Refusal(reason="the flanges are not seen on either side of the hub's middle", remedy=BETTER)
    doubt = DOUBTFUL_END_U_MM if _doubtful(seen) else 0.0
    said = [CHECK_ONLY, *([] if seen.photos > 1 else [ONE_PHOTO]), *([DOUBTFUL_END] if doubt else [])]
    figures: dict[HubFigureName, Figure] = {
        "over_locknut": _figure(
            ends.length,
            [("rounding of the end faces", math.sqrt(2) * ROUNDED_U_MM), ("doubtful end face", doubt)],
            seen,
            said,
        )
    }
    last_is_drive = _last_is_drive(seen.placed, drive_end)
    if isinstance(last_is_drive, Refusal):
        return last_is_drive
    if last_is_drive is None:
        warnings = [
            *warnings,
            "it is not stated which end of the lying hub is the drive side: state drive_end",
        ]
    else:
        names: tuple[HubFigureName, HubFigureName] = ("centre_to_flange_nds", "centre_to_flange_ds")
        for name, flange in zip(names if last_is_drive else names[::-1], seen.flanges, strict=True):
            shape = FLANGE_U_MM if seen.photos > 1 else ONE_PHOTO_FLANGE_U_MM
            parts = [
                ("flange's edges", math.hypot(shape, flange.scatter)),
                ("rounding of the end faces", ROUNDED_U_MM / math.sqrt(2)),
                ("doubtful end face", doubt / 2),
            ]
            figures[name] = _figure(abs(flange.middle - ends.middle), parts, seen, said)
    return LyingMeasurement(figures=figures, warnings=tuple(warnings), photos=files)


def _doubtful(seen: _Seen) -> bool:
    course = seen.placed.course
    inside = (seen.ends.first - course.start, course.end - seen.ends.last)
    return any(not -OUTSIDE_EXTENT_MM < gap < INSIDE_EXTENT_MM for gap in inside)


def _figure(value: float, parts: Sequence[tuple[str, float]], seen: _Seen, warnings: Sequence[str]) -> Figure:
    """Return a length along the axis with what the axis' place, the print and the camera add."""
    placed = seen.placed
    rise = seen.eye - placed.height
    shares = [
        *parts,
        ("height of the axis", value * placed.height_u / rise),
        ("slope of the axis", value * abs(placed.slope) * placed.slope_u),
        ("print scale", value * seen.scale_u),
        ("camera", value * seen.focal[1] / seen.focal[0] * placed.height / rise),
    ]
    u = math.hypot(*(share for _, share in shares))
    return Figure(
        value=value,
        u=u,
        low=value - COVERAGE * u,
        high=value + COVERAGE * u,
        budget=tuple(BudgetItem(source=s, u=share) for s, share in sorted(shares, key=lambda x: -x[1])),
        seen=f"lying hub, {seen.photos} photo{'s' if seen.photos > 1 else ''}",
        confidence=confidence_word(u, warned=bool(warnings)),
        warnings=tuple(warnings),
    )


def _last_is_drive(placed: Placed, drive_end: EndName | None) -> bool | Refusal | None:
    """Tell whether the last flange along the axis is the drive side's; None if it is not stated."""
    if drive_end is None:
        return None
    towards = float(placed.course.along @ np.array(DIRECTIONS[drive_end]))
    if abs(towards) < CLEAR_DIRECTION:
        other = '"top" or "bottom"' if drive_end in ("left", "right") else '"left" or "right"'
        return Refusal(
            reason=f'the drive side is stated to lie at the "{drive_end}", but the hub lies across',
            remedy=f"State drive_end as {other}, seen with the sheet's long side level",
        )
    return towards > 0
