"""A job without a job file: photos and what the command line states of them."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from pydantic import ValidationError

from hubsight.job.file.find_photos import PHOTO_KINDS, PHOTO_SUFFIXES, photos_in
from hubsight.job.file.load import Job, JobSide
from hubsight.job.file.model import JobFile
from hubsight.job.file.photos_say import CameraByTags, camera_by_tags, read_headers
from hubsight.job.file.problems import JobFileError, Problem, validation_problems
from hubsight.kit.store import Kit
from hubsight.model.stated import SideName, StatedGauge, StatedSide, StatedTarget, StatedWheel

_GAUGE_OPTIONS = {"length": "--gauge-length", "diameter": "--gauge-diameter"}
"""Fields of a gauge, and the options that state them."""


@dataclass(frozen=True)
class BareStatements:
    """What is stated of bare photos, as typed: mm, several numbers are several readings.

    Attributes
    ----------
    gauge_length, gauge_diameter, tip
        Of the one gauge spoke in the photos.
    paper, bar_x, bar_y
        Of the printed target.
    side, flange_height, gauge_height_at_boss, gauge_height_at_end, block_thickness, centre_to_flange
        Of the side that is up.
    erd, over_locknut, spokes, crosses
        For spoke lengths.
    profile
        Of a calibrated camera.
    """

    gauge_length: tuple[float, ...]
    gauge_diameter: tuple[float, ...] = ()
    tip: str = "flat"
    paper: str = "a4"
    bar_x: tuple[float, ...] = ()
    bar_y: tuple[float, ...] = ()
    side: SideName = "drive"
    flange_height: tuple[float, ...] = ()
    gauge_height_at_boss: tuple[float, ...] = ()
    gauge_height_at_end: tuple[float, ...] = ()
    block_thickness: float = 0.0
    centre_to_flange: tuple[float, ...] = ()
    erd: tuple[float, ...] = ()
    over_locknut: tuple[float, ...] = ()
    spokes: int | None = None
    crosses: int | None = None
    profile: Path | None = field(default=None)


def _as_table(stated: BareStatements) -> dict[str, object]:
    """Return what a job file with the same statements would hold."""
    side_fields = ("flange_height", "gauge_height_at_boss", "gauge_height_at_end", "centre_to_flange")
    side: dict[str, object] = {name: list(getattr(stated, name)) for name in side_fields}
    gauge: dict[str, object] = {"tip": stated.tip, "diameter": list(stated.gauge_diameter)}
    return {
        "target": {"paper": stated.paper, "bar_x": list(stated.bar_x), "bar_y": list(stated.bar_y)},
        "gauges": {"gauge": {**gauge, "length": list(stated.gauge_length)}},
        "sides": {stated.side: {**side, "photos": ["*"], "block_thickness": stated.block_thickness}},
        "hub": {"over_locknut": list(stated.over_locknut)},
        "rim": {"erd": list(stated.erd)},
        "wheel": {"spokes": stated.spokes, "crosses": stated.crosses},
    }


def _option_problem(problem: Problem) -> Problem:
    """Name the option instead of the job file's field."""
    name = problem.field.rpartition(".")[2]
    option = _GAUGE_OPTIONS.get(name, f"--{name.replace('_', '-')}")
    return Problem(option, None, "", problem.what, problem.remedy)


def _missing(files: list[Path]) -> list[Problem]:
    return [
        Problem(str(file), None, "", "there is no such file or folder", "Check the name")
        for file in files
        if not file.is_file()
    ]


def _no_photos(files: list[Path]) -> list[Problem]:
    return [
        Problem(str(file), None, "", "this is no photo", f"Give photos ({PHOTO_KINDS}), or one job folder")
        for file in files
        if file.suffix.lower() not in PHOTO_SUFFIXES
    ]


def check_photos(files: list[Path]) -> None:
    """Raise `JobFileError` for what is not there, or no photo by its name."""
    problems = _missing(files) or _no_photos(files)
    if problems:
        raise JobFileError(problems)


def named_photos(paths: Sequence[Path]) -> list[Path]:
    """Return the photos that are named: each file, and of each folder all photos that lie in it.

    Raises
    ------
    JobFileError
        For what is not there or no photo by its name, and for a folder without photos.
    """
    photos = [photo for path in paths for photo in (photos_in(path) if path.is_dir() else [path])]
    bare = [path for path in paths if path.is_dir() and not photos_in(path)]
    if bare:
        what, remedy = "there are no photos in this folder", f"Name photos ({PHOTO_KINDS}), or their folder"
        raise JobFileError(Problem(str(path), None, "", what, remedy) for path in bare)
    check_photos(photos)
    return photos


def job_of_photos(photos: list[Path], stated: BareStatements) -> Job:
    """Return the job that bare photos of one side make.

    Parameters
    ----------
    photos
        Of one side of one hub.
    stated
        What is known of them.

    Raises
    ------
    JobFileError
        Naming the photo or the option, with the remedy.
    """
    check_photos(photos)
    if stated.profile is not None and (problems := _missing([stated.profile])):
        raise JobFileError(problems)
    try:
        table = JobFile.model_validate(_as_table(stated))
    except ValidationError as error:
        found = validation_problems(error, "", "", JobFile)
        raise JobFileError(_option_problem(problem) for problem in found) from error
    return _job(photos, table, stated)


def _job(photos: list[Path], table: JobFile, stated: BareStatements) -> Job:
    paths = [Path(os.path.abspath(photo)) for photo in photos]  # noqa: PTH100 - links are not followed
    side = getattr(table.sides, stated.side)
    gauge = table.gauges["gauge"]
    stated_side = StatedSide(
        name=stated.side,
        photos=tuple(paths),
        gauges=(StatedGauge(gauge.length, gauge.tip, gauge.diameter),),
        flange_height=side.flange_height,
        gauge_height_at_boss=side.gauge_height_at_boss,
        gauge_height_at_end=side.gauge_height_at_end,
        centre_to_flange=side.centre_to_flange,
        block_thickness=side.block_thickness,
    )
    wheel = StatedWheel(
        spokes=table.wheel.spokes,
        crosses=table.wheel.crosses,
        erd=table.rim.erd,
        over_locknut=table.hub.over_locknut,
    )
    known = stated.profile is not None
    camera = CameraByTags() if known else camera_by_tags(Kit.beside(None), None, read_headers(paths))
    return Job(
        name="photos",
        folder=Path(os.path.commonpath([path.parent for path in paths])),
        target=StatedTarget(table.target.paper, table.target.bar_x, table.target.bar_y),
        sides=(JobSide(stated_side, wheel),),
        camera_profile=stated.profile or camera.file,
        table=table,
        kit=camera.used,
        warnings=camera.notes,
    )
