"""``hubsight measure``."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console

from hubsight.cli.common import (
    BARE_PANEL,
    Readings,
    Side,
    bad,
    bad_input,
    exit_code,
    is_new,
    reading,
    write_pictures,
)
from hubsight.cli.working import Quiet, Verbose, working
from hubsight.job import JOB_FILE_NAME, Job, load_job
from hubsight.job.file.bare import BareStatements, check_photos, job_of_photos
from hubsight.job.measure import measure_job
from hubsight.model.result import JobResult
from hubsight.model.stated import PaperName
from hubsight.record import make_record, read_inputs, write_record
from hubsight.show.screen import print_end, print_measurement


class Tip(StrEnum):
    """What is on the gauge's far end."""

    FLAT = "flat"
    NIPPLE = "nipple"


def _print(measured: JobResult, *, as_json: bool, quiet: bool, cautions: bool) -> None:
    if as_json:
        sys.stdout.write(measured.model_dump_json(indent=1) + "\n")
    elif quiet:
        print_end(Console(), measured)
    else:
        print_measurement(Console(), measured, cautions=cautions)


def _stated(what: str, about: str, **more: Any) -> Any:
    """Return an option for bare photos, on the panel of what it is about."""
    return typer.Option(help=what, rich_help_panel=BARE_PANEL.format(about), **more)


def _names_a_job(paths: list[Path]) -> bool:
    """Tell a job from bare photos."""
    jobs = [path for path in paths if path.is_dir() or path.suffix.lower() == Path(JOB_FILE_NAME).suffix]
    if jobs and len(paths) > 1:
        raise bad(
            str(jobs[0]),
            "this is a job, and there are other names beside it",
            "Name one job folder or job file, or photos of one side of one hub",
        )
    return bool(jobs)


def _the_job(paths: list[Path], stated: BareStatements) -> Job:
    """Return the job that is named, or that the photos make with what is stated."""
    if not _names_a_job(paths):
        check_photos(paths)
        if not stated.gauge_length:
            raise bad(
                "--gauge-length", "this is missing", "State the gauge's length from under its head, in mm"
            )
        return job_of_photos(paths, stated)
    if stated != BareStatements(gauge_length=()):
        what = "the options with readings are for bare photos, and a job states its own"
        raise bad(str(paths[0]), what, f"Write them into {JOB_FILE_NAME}")
    return load_job(paths[0])


def measure(  # noqa: PLR0917 - Typer passes options by name
    paths: Annotated[
        list[Path],
        typer.Argument(
            help="A job's folder (see start), or the photos of one side.",
            metavar="JOB | PHOTO...",
            show_default=False,
        ),
    ],
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document instead of tables.")] = False,
    overlays: Annotated[
        Path | None, typer.Option(help="Write a marked picture of every photo to this folder.", metavar="DIR")
    ] = None,
    record: Annotated[
        bool, typer.Option(help="Write record.json into the job's folder; bare photos have none.")
    ] = True,
    quiet: Quiet = False,
    verbose: Verbose = False,
    gauge_length: Annotated[
        Readings | None, reading("Length from under the head to the far end; needed", "gauge")
    ] = None,
    gauge_diameter: Annotated[Readings | None, reading("Diameter of its wire", "gauge")] = None,
    tip: Annotated[Tip, _stated("What is on its far end.", "gauge")] = Tip.FLAT,
    paper: Annotated[PaperName, _stated("What it is printed on.", "target", case_sensitive=False)] = "a4",
    bar_x: Annotated[Readings | None, reading("Check bar along the long side, as read", "target")] = None,
    bar_y: Annotated[Readings | None, reading("Check bar along the short side, as read", "target")] = None,
    side: Annotated[Side, _stated("The side that is up.", "hub")] = Side.DRIVE,
    block_thickness: Annotated[
        float, _stated("Thickness of a block under the hub, mm.", "hub", metavar="MM")
    ] = 0.0,
    flange_height: Annotated[Readings | None, reading("Flange's middle above the paper", "hub")] = None,
    gauge_height_at_boss: Annotated[
        Readings | None, reading("Middle of the wire above the paper, at the boss", "hub")
    ] = None,
    gauge_height_at_end: Annotated[
        Readings | None, reading("Middle of the wire above the paper, at its far end", "hub")
    ] = None,
    profile: Annotated[
        Path | None,
        _stated("Profile of the camera, from calibrate.", "hub", show_default=False, metavar="FILE"),
    ] = None,
    erd: Annotated[Readings | None, reading("Effective rim diameter", "wheel")] = None,
    over_locknut: Annotated[
        Readings | None, reading("Hub's length over the locknuts, end face to end face", "wheel")
    ] = None,
    centre_to_flange: Annotated[
        Readings | None, reading("Centre to flange, if known without the photos", "wheel")
    ] = None,
    spokes: Annotated[
        int | None, _stated("Spokes of the whole wheel.", "wheel", show_default=False, metavar="N")
    ] = None,
    crosses: Annotated[
        int | None,
        _stated(
            "Crosses, not counting the one inside the boss; 0 is radial.",
            "wheel",
            show_default=False,
            metavar="N",
        ),
    ] = None,
) -> None:
    """Measure a job, or bare photos of one side.

    Give an option of a length again for a further reading of the same thing.

    Ends with 0 when the verdict is to order or to check, 1 when something was refused or the verdict is to
    stop, 2 when the input cannot be read.
    """

    def several(readings: Readings | None) -> tuple[float, ...]:
        return tuple(readings or ())

    stated = BareStatements(
        gauge_length=several(gauge_length),
        gauge_diameter=several(gauge_diameter),
        tip=tip.value,
        paper=paper,
        bar_x=several(bar_x),
        bar_y=several(bar_y),
        side=side.value,
        flange_height=several(flange_height),
        gauge_height_at_boss=several(gauge_height_at_boss),
        gauge_height_at_end=several(gauge_height_at_end),
        block_thickness=block_thickness,
        centre_to_flange=several(centre_to_flange),
        erd=several(erd),
        over_locknut=several(over_locknut),
        spokes=spokes,
        crosses=crosses,
        profile=profile,
    )
    with bad_input():
        job = _the_job(paths, stated)
        inputs = read_inputs(job) if record and job.file is not None else None
        with working(quiet=quiet, verbose=verbose):
            measured = measure_job(job)
        _print(measured, as_json=json, quiet=quiet, cautions=is_new(job))
        if overlays is not None:
            write_pictures(measured, job.folder, overlays, quiet=json or quiet)
        if inputs is not None:
            write_record(job.folder, make_record(job, measured, inputs))
    raise typer.Exit(exit_code(measured))
