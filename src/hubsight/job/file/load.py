"""Reading a job: the file ``job.toml`` and the photos beside it become stated objects."""

from __future__ import annotations

import difflib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from hubsight.job.file.build_tables import reading_or_zero
from hubsight.job.file.changes import changed
from hubsight.job.file.find_photos import PHOTO_SUFFIXES, JobContext, find_photos
from hubsight.job.file.from_kit import Resolved, resolve
from hubsight.job.file.hub_of import with_hub
from hubsight.job.file.left_out import side_left_out
from hubsight.job.file.model import JobFile, RepeatTable, SideTable
from hubsight.job.file.photos_say import CameraByTags, aged_target, camera_by_tags, read_headers
from hubsight.job.file.problems import JobFileError, one_problem, validation_problems
from hubsight.job.file.text import JOB_FILE_NAME, parse_job, read_job_text
from hubsight.kit.store import Kit
from hubsight.model.corrections import NO_CORRECTIONS, Corrections
from hubsight.model.result import KitUsed
from hubsight.model.stated import (
    EndName,
    HolePattern,
    Reading,
    Ruler,
    SideName,
    StatedGauge,
    StatedSide,
    StatedTarget,
    StatedWheel,
)
from hubsight.target.print_scale import check_print
from hubsight.wheel.geometry import ORDINARY, Drilling, pattern_from_letters
from hubsight.wheel.rows import first_hole_patterns
from hubsight.wheel.simulate import DRAWS


@dataclass(frozen=True)
class JobSide:
    """One side as stated, with the wheel as it concerns this side (its own crosses), and its repeats."""

    stated: StatedSide
    wheel: StatedWheel
    drilling: Drilling = ORDINARY
    repeats: tuple[StatedSide, ...] = ()


@dataclass(frozen=True)
class JobFlat:
    """Photos of a ruler lying on the sheet, and which."""

    photos: tuple[Path, ...]
    ruler: Ruler


@dataclass(frozen=True)
class JobLying:
    """Photos of the hub lying on its flanges, with the place of its drive side, if stated, and marks."""

    photos: tuple[Path, ...]
    drive_end: EndName | None
    corrections: Corrections = NO_CORRECTIONS


@dataclass(frozen=True)
class Job:
    """A job, ready to be measured.

    Attributes
    ----------
    name
        The job folder's name.
    folder
        Where the photos are; photo paths in results are relative to it.
    camera_profile
        File of a calibrated camera, if stated.
    file
        The job file; None for bare photos.
    table
        All that the job file states, or the options of bare photos, with the kit's values in it.
    kit
        What was taken from the kit.
    warnings
        About kit: old readings, profiles that do not hold.
    flat
        Photos of a ruler on the sheet, if there are any.
    lying
        Photos of the hub lying on its flanges, if there are any.
    hub
        File of the job that the hub is taken from; None if it is this job's own. ``folder`` is then that
        job's, and so are photos and record.
    left_out
        The side of which there are neither photos nor readings, while the other one is photographed.
    draws
        Of the samples by which the wheel's risks are checked.
    """

    name: str
    folder: Path
    target: StatedTarget
    sides: tuple[JobSide, ...]
    camera_profile: Path | None = None
    file: Path | None = None
    table: JobFile | None = None
    kit: tuple[KitUsed, ...] = ()
    warnings: tuple[str, ...] = ()
    flat: JobFlat | None = None
    lying: JobLying | None = None
    hub: Path | None = None
    left_out: SideName | None = None
    draws: int = DRAWS


def photo_sets(job: Job) -> tuple[tuple[Path, ...], ...]:
    """Return all photo sets of a job: of its sides, their repeats, the ruler and the lying hub."""
    return (
        *(side.stated.photos for side in job.sides),
        *(again.photos for side in job.sides for again in side.repeats),
        job.flat.photos if job.flat else (),
        job.lying.photos if job.lying else (),
    )


def find_job_file(path: Path) -> Path:
    """Return the job file that ``path`` means: the file itself, or the one in a folder.

    Raises
    ------
    JobFileError
        If there is none.
    """
    file = path / JOB_FILE_NAME if path.is_dir() else path
    if not file.is_file() or path.suffix.lower() in PHOTO_SUFFIXES:
        raise _no_job(path)
    return file


def _no_job(path: Path) -> JobFileError:
    """Return what to say of a name that is no job."""
    if path.suffix.lower() in PHOTO_SUFFIXES:
        return one_problem(str(path), "this is a photo", "Name the job's folder first")
    if path.suffix.lower() == Path(JOB_FILE_NAME).suffix:
        return one_problem(str(path), "there is no such file", "Check the name, or name the job's folder")
    what = f"there is no {JOB_FILE_NAME} in this folder" if path.is_dir() else "there is no such folder"
    return one_problem(str(path), what, f"Check the name, or begin the job: hubsight start {path}")


def load_job(
    path: Path,
    *,
    need_photos: bool = True,
    kit: Kit | None = None,
    changes: dict[str, Any] | None = None,
) -> Job:
    """Read a job.

    Parameters
    ----------
    path
        The job folder, or the job file in it.
    need_photos
        False for what can also be done from readings by hand: sides without photos are then taken too.
    kit
        Where named kit and the camera's profile are looked for; beside the job, and in the user's folder, if
        not given.
    changes
        What is different about the wheel, see `hubsight.job.file.changes.changed`.

    Raises
    ------
    JobFileError
        With file, line, field and remedy of everything that is wrong.
    """
    file = find_job_file(path)
    text = read_job_text(file)
    raw, hub = with_hub(parse_job(text, file.name), file, need_photos=need_photos)
    context = JobContext(hub or file, text, need_photos=need_photos)
    kit = kit or (Kit.beside(file.parent) if hub is None else Kit.beside(file.parent).behind(hub.parent))
    resolved = resolve(changed(raw, changes or {}), kit, context.complain)
    context.raise_problems()
    table = _checked(resolved, text, file.name)
    _complain_of_print(table, context)
    left_out = side_left_out(table.sides, context.folder)
    sides = _sides(table, context, left_out)
    flat = _flat(table, context)
    lying = _lying(table, context)
    profile = _profile(table, context) or resolved.profile
    context.raise_problems()
    headers = read_headers(
        [*(p for side in sides for p in side.stated.photos), *(lying.photos if lying else ())]
    )
    target, aged = aged_target(table.target, headers)
    camera = camera_by_tags(kit, context.folder, headers) if profile is None else CameraByTags()
    return Job(
        name=file.resolve().parent.name,
        folder=context.folder,
        target=target,
        sides=sides,
        camera_profile=profile or camera.file,
        file=file,
        table=table,
        kit=(*resolved.used, *camera.used),
        warnings=(*aged, *camera.notes),
        flat=flat,
        lying=lying,
        hub=hub,
        left_out=left_out,
    )


def _checked(resolved: Resolved, text: str, file: str) -> JobFile:
    try:
        return JobFile.model_validate(resolved.tables)
    except ValidationError as error:
        raise JobFileError(validation_problems(error, text, file, JobFile)) from error


def _complain_of_print(table: JobFile, context: JobContext) -> None:
    """Refuse bar readings that do not go together; each by itself is checked as it is read."""
    bars = (table.target.bar_x, table.target.bar_y)
    x, y = (None if bar is None else bar.value for bar in bars)
    for refusal in check_print(x, y, table.target.paper).refusals:
        context.complain("target.bar_x", refusal.reason, refusal.remedy)


def _flat(table: JobFile, context: JobContext) -> JobFlat | None:
    flat = table.target.flat
    if not flat.photos:
        return None
    photos = find_photos(flat.photos, "target.flat.photos", context)
    if flat.opening is not None:
        return JobFlat(photos, Ruler("caliper", flat.opening))
    gauge = table.gauges.get(flat.gauge or "")
    if gauge is None:
        remedy = f"Defined are: {', '.join(table.gauges)}"
        context.complain("target.flat.gauge", f'there is no gauge "{flat.gauge}"', remedy)
        return None
    return JobFlat(photos, Ruler("gauge", gauge.length, gauge.tip, gauge.diameter))


def _lying(table: JobFile, context: JobContext) -> JobLying | None:
    if not table.lying.photos:
        return None
    photos = find_photos(table.lying.photos, "lying.photos", context)
    return JobLying(photos, table.lying.drive_end, context.corrections.of("lying"))


def _profile(table: JobFile, context: JobContext) -> Path | None:
    name = table.camera.profile
    if name is None:
        return None
    path = context.inside(name, "camera.profile")
    if path is not None and not path.is_file():
        remedy = "Name the profile's file, or delete this line"
        context.complain("camera.profile", f'there is no file "{name}"', remedy)
        return None
    return path


def _sides(table: JobFile, context: JobContext, left_out: SideName | None) -> tuple[JobSide, ...]:
    named: list[tuple[SideName, SideTable | None]] = [
        ("drive", table.sides.drive),
        ("non_drive", table.sides.non_drive),
    ]
    wanted = ((name, side) for name, side in named if name != left_out)
    sides = tuple(_side(name, side, table, context) for name, side in wanted if side is not None)
    if not sides and not table.lying.photos:
        context.complain("sides", "no side is stated", "Add a table [sides.drive] or [sides.non_drive]")
    _complain_of_shared_photos(sides, context)
    return sides


def _complain_of_shared_photos(sides: tuple[JobSide, ...], context: JobContext) -> None:
    owner: dict[Path, SideName] = {}
    for side in sides:
        for photo in (*side.stated.photos, *(p for again in side.repeats for p in again.photos)):
            first = owner.setdefault(photo.resolve(), side.stated.name)
            if first != side.stated.name:
                field = f"sides.{side.stated.name}.photos"
                what = f'"{photo.name}" is also a photo of sides.{first}'
                context.complain(field, what, "Give each side its own photos")


def _side(name: SideName, side: SideTable, table: JobFile, context: JobContext) -> JobSide:
    field = f"sides.{name}"
    if not side.photos and context.need_photos:
        remedy = f'Add photos = "..." to [{field}]; `hubsight start` shows every field'
        context.complain(f"{field}.photos", "this is missing", remedy)
    photos = find_photos(side.photos, f"{field}.photos", context)
    if photos and not table.gauges:
        remedy = "Add a table [gauges.NAME]; `hubsight start` shows every field"
        context.complain("gauges", "this is missing", remedy)
    stated = StatedSide(
        name=name,
        photos=photos,
        gauges=_gauges(side, table, f"{field}.gauges", context),
        flange_height=side.flange_height,
        gauge_height_at_boss=side.gauge_height_at_boss,
        gauge_height_at_end=side.gauge_height_at_end,
        centre_to_flange=side.centre_to_flange,
        block_thickness=side.block_thickness,
        caliper=_caliper(side),
        corrections=context.corrections.of(name),
    )
    holes = _rim_holes(name, table, context)
    wheel = StatedWheel(
        spokes=table.wheel.spokes,
        crosses=table.wheel.crosses if side.crosses is None else side.crosses,
        erd=table.rim.effective(),
        over_locknut=table.hub.over_locknut,
        rim_offset=table.rim.offset,
        rim_holes=holes,
        even_rim=table.rim.even,
    )
    repeats = tuple(
        replace(
            stated,
            photos=find_photos(again.photos, f"{field}.repeats.{k}.photos", context),
            gauges=_gauges(again, table, f"{field}.repeats.{k}.gauges", context),
            flange_height=None,
            gauge_height_at_boss=None,
            gauge_height_at_end=None,
            caliper={},
            corrections=NO_CORRECTIONS,
        )
        for k, again in enumerate(side.repeats)
    )
    return JobSide(stated, wheel, _drilling(side, table, context), repeats)


def _drilling(side: SideTable, table: JobFile, context: JobContext) -> Drilling:
    return Drilling(
        even=table.rim.even,
        drive_pattern=next(iter(_rim_holes("drive", table, context)), None),
        non_drive_pattern=next(iter(_rim_holes("non_drive", table, context)), None),
        hole_stagger=reading_or_zero(table.rim.hole_stagger),
        stagger=side.stagger,
        boss_half_height=None if side.boss_top is None else side.boss_top.value,
    )


def _rim_holes(name: SideName, table: JobFile, context: JobContext) -> tuple[HolePattern, ...]:
    """Return the rim holes of a side where they are stated: by angles, or by the rim's row of letters.

    Two ways where it is not stated which of the side's holes comes first, and where that matters.
    """
    side = table.sides.drive if name == "drive" else table.sides.non_drive
    if side is None or not (side.rim_holes or table.rim.holes):
        return ()
    if side.rim_holes:
        return (HolePattern(tuple(side.rim_holes), side.rim_holes_period),)
    spokes, first = table.wheel.spokes, side.first_hole
    if spokes is None:
        context.complain("rim.holes", "the rim's number of holes is not known", "State spokes in [wheel]")
        return ()
    try:
        if first is None:
            return first_hole_patterns(table.rim.holes, spokes, name)
        return (pattern_from_letters(table.rim.holes, spokes, name, first=first),)
    except ValueError as error:
        remedy = 'Write one letter a hole, D or N for the side that it belongs to, as "DND"'
        context.complain("rim.holes", str(error), remedy)
        return ()


def _caliper(side: SideTable) -> dict[str, Reading]:
    readings = ((name, getattr(side.caliper, name)) for name in type(side.caliper).model_fields)
    found = {name: reading for name, reading in readings if reading is not None}
    if side.centre_to_flange is not None:
        found.setdefault("centre_to_flange", side.centre_to_flange)
    return found


def _gauges(
    side: SideTable | RepeatTable, table: JobFile, field: str, context: JobContext
) -> tuple[StatedGauge, ...]:
    names = side.gauges
    if not names:
        if len(table.gauges) > 1 and side.photos:
            remedy = f"Add gauges = [...] with one or two of: {', '.join(table.gauges)}"
            context.complain(field, "it is not said which gauge is in these photos", remedy)
            return ()
        names = tuple(table.gauges)
    gauges = []
    for name in names:
        if name not in table.gauges:
            close = difflib.get_close_matches(name, table.gauges, n=1)
            remedy = f'Did you mean "{close[0]}"?' if close else f"Defined are: {', '.join(table.gauges)}"
            context.complain(field, f'there is no gauge "{name}"', remedy)
            continue
        gauge = table.gauges[name]
        gauges.append(StatedGauge(gauge.length, gauge.tip, gauge.diameter))
    return tuple(gauges)
