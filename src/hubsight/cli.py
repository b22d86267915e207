"""The command line: parse, call, print. Nothing here that a Python user could not call."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from enum import IntEnum, StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console

from hubsight.job import JOB_FILE_NAME, Job, JobFileError, Problem, load_job
from hubsight.job.bare import BareStatements, job_of_photos
from hubsight.job.document import JobMeasurement
from hubsight.job.measure import measure_job, software
from hubsight.job.overlay import write_overlays
from hubsight.job.sample import find_sample_job, load_truth, print_beside_truth
from hubsight.job.screen import print_cautions, print_measurement, print_sides
from hubsight.job.starter import write_starter
from hubsight.target.print_scale import check_print

app = typer.Typer(
    help="Measure straight-pull bicycle hubs from photographs on a printed scale target.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)

DEMO_OVERLAYS = Path("hubsight-demo")
"""Where ``hubsight demo`` leaves its pictures unless told otherwise."""

_HOW_TO_MEASURE = "Name one job folder or job file, or photos of one side of one hub"


class Exit(IntEnum):
    """Exit codes."""

    MEASURED = 0
    PARTLY = 1
    BAD_INPUT = 2


class Paper(StrEnum):
    """Papers that the target is drawn for."""

    A4 = "a4"
    LETTER = "letter"
    A3 = "a3"


class Tip(StrEnum):
    """What is on the gauge's far end."""

    FLAT = "flat"
    NIPPLE = "nipple"


class Side(StrEnum):
    """Sides of a hub."""

    DRIVE = "drive"
    NON_DRIVE = "non_drive"


@contextmanager
def _bad_input() -> Iterator[None]:
    """End with the sentences of a bad input instead of a traceback."""
    try:
        yield
    except JobFileError as error:
        typer.echo(str(error), err=True)
        raise typer.Exit(Exit.BAD_INPUT) from error


def _bad(file: str, what: str, remedy: str) -> JobFileError:
    return JobFileError([Problem(file, None, "", what, remedy)])


def _print(measured: JobMeasurement, *, as_json: bool) -> None:
    if as_json:
        sys.stdout.write(measured.model_dump_json(indent=1) + "\n")
    else:
        print_measurement(Console(), measured)


def _write_overlays(measured: JobMeasurement, folder: Path, out: Path, *, quiet: bool) -> None:
    try:
        pictures = write_overlays(measured, folder, out)
    except OSError as error:
        what = f"the overlays cannot be written there ({error.strerror})"
        raise _bad(str(out), what, "Name another folder with --overlays") from error
    if not quiet:
        typer.echo(f"{len(pictures)} overlay pictures written to {out}")


def _show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"hubsight {software().hubsight}")
        raise typer.Exit


@app.callback()
def _main(
    version: Annotated[
        bool, typer.Option("--version", callback=_show_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    """Measure straight-pull bicycle hubs from photographs on a printed scale target."""


@app.command()
def start(folder: Annotated[Path, typer.Argument(help="The job's folder; made if it is not there.")]) -> None:
    """Write a job file to fill in; nothing is ever overwritten."""
    with _bad_input():
        file = write_starter(folder)
    typer.echo(f"Fill in {file}, put the photos beside it, then run: hubsight measure {folder}")


Readings = list[float]


def _reading(of: str) -> Any:
    return typer.Option(help=f"{of}, mm; again for a further reading.", show_default=False, metavar="MM")


def _names_a_job(paths: list[Path]) -> bool:
    """Tell a job from bare photos."""
    jobs = [path for path in paths if path.is_dir() or path.suffix.lower() == Path(JOB_FILE_NAME).suffix]
    if jobs and len(paths) > 1:
        raise _bad(str(jobs[0]), "this is a job, and there are other names beside it", _HOW_TO_MEASURE)
    return bool(jobs)


def _the_job(paths: list[Path], stated: BareStatements) -> Job:
    """Return the job that is named, or that the photos make with what is stated."""
    if not _names_a_job(paths):
        if not stated.gauge_length:
            raise _bad(
                "--gauge-length", "this is missing", "State the gauge's length from under its head, in mm"
            )
        return job_of_photos(paths, stated)
    if stated != BareStatements(gauge_length=()):
        what = "the options with readings are for bare photos, and a job states its own"
        raise _bad(str(paths[0]), what, f"Write them into {JOB_FILE_NAME}")
    return load_job(paths[0])


@app.command()
def measure(  # noqa: PLR0917 - Typer passes options by name
    paths: Annotated[
        list[Path],
        typer.Argument(help="A job folder or file, or photos of one side.", metavar="JOB | PHOTO..."),
    ],
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document instead of tables.")] = False,
    overlays: Annotated[
        Path | None, typer.Option(help="Write pictures of what was seen to this folder.", metavar="DIR")
    ] = None,
    gauge_length: Annotated[Readings | None, _reading("Gauge from under the head to its far end")] = None,
    gauge_diameter: Annotated[Readings | None, _reading("Of the gauge's wire")] = None,
    tip: Annotated[Tip, typer.Option(help="On the gauge's far end.")] = Tip.FLAT,
    paper: Annotated[Paper, typer.Option(help="Of the printed target.")] = Paper.A4,
    bar_x: Annotated[Readings | None, _reading("Check bar along the long side")] = None,
    bar_y: Annotated[Readings | None, _reading("Check bar along the short side")] = None,
    side: Annotated[Side, typer.Option(help="The side that is up.")] = Side.DRIVE,
    flange_height: Annotated[Readings | None, _reading("Flange's middle above the paper")] = None,
    gauge_height_at_boss: Annotated[Readings | None, _reading("Wire above the paper at the boss")] = None,
    gauge_height_at_end: Annotated[Readings | None, _reading("Wire above the paper at its far end")] = None,
    block_thickness: Annotated[float, typer.Option(help="Of a block under the hub, mm.")] = 0.0,
    centre_to_flange: Annotated[Readings | None, _reading("Centre to flange")] = None,
    erd: Annotated[Readings | None, _reading("Effective rim diameter")] = None,
    over_locknut: Annotated[Readings | None, _reading("Length over the locknuts")] = None,
    spokes: Annotated[int | None, typer.Option(help="Of the whole wheel.", show_default=False)] = None,
    crosses: Annotated[
        int | None, typer.Option(help="Not counting the one inside the boss.", show_default=False)
    ] = None,
    profile: Annotated[Path | None, typer.Option(help="Of a calibrated camera.", show_default=False)] = None,
) -> None:
    """Measure a job, or bare photos of one side (the options after --overlays are for these).

    Ends with 0 when all was measured, 1 when something was refused, 2 when the input cannot be read.
    """

    def several(readings: Readings | None) -> tuple[float, ...]:
        return tuple(readings or ())

    stated = BareStatements(
        gauge_length=several(gauge_length),
        gauge_diameter=several(gauge_diameter),
        tip=tip.value,
        paper=paper.value,
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
    with _bad_input():
        job = _the_job(paths, stated)
        measured = measure_job(job)
        _print(measured, as_json=json)
        if overlays is not None:
            _write_overlays(measured, job.folder, overlays, quiet=json)
    raise typer.Exit(Exit.MEASURED if measured.complete else Exit.PARTLY)


@app.command()
def target(
    out: Annotated[
        Path | None, typer.Argument(help="File to write: .pdf, .svg or .png.", show_default=False)
    ] = None,
    paper: Annotated[Paper, typer.Option(help="To print on.")] = Paper.A4,
    check: Annotated[
        tuple[float, float] | None,
        typer.Option(help="Readings of the printed check bars, mm: say what they mean.", metavar="X Y"),
    ] = None,
) -> None:
    """Write the scale target for printing, or say what the check bars of a print mean."""
    with _bad_input():
        if out is None and check is None:
            raise _bad("target", "nothing to do", "Name a file to write, or give --check X Y")
        if out is not None:
            _write_target(out, paper)
        if check is not None:
            _check_print(check, paper)


def _write_target(out: Path, paper: Paper) -> None:
    from hubsight.target.draw import write_target  # noqa: PLC0415 - drawing is needed here only

    try:
        write_target(out, paper.value)
    except (OSError, ValueError) as error:
        what = f"the target cannot be written ({error})"
        raise _bad(str(out), what, "Name a .pdf, .svg or .png file in a folder that is there") from error
    typer.echo(f"{out} written. Print it at 100 %, then measure both check bars with a caliper.")


def _check_print(check: tuple[float, float], paper: Paper) -> None:
    found = check_print(*check, paper.value)
    for sentence in (*found.sentences, *found.warnings):
        typer.echo(sentence)
    if not found.usable:
        raise JobFileError(
            Problem("--check", None, "", refusal.reason, refusal.remedy) for refusal in found.refusals
        )


@app.command()
def calibrate(  # noqa: PLR0917 - Typer passes options by name
    photos: Annotated[list[Path], typer.Argument(help="Of the target alone, 6 to 30.", show_default=False)],
    out: Annotated[Path | None, typer.Option(help="Profile to write, JSON.", show_default=False)] = None,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
    paper: Annotated[Paper, typer.Option(help="Of the printed target.")] = Paper.A4,
    bar_x: Annotated[Readings | None, _reading("Check bar along the long side")] = None,
    bar_y: Annotated[Readings | None, _reading("Check bar along the short side")] = None,
) -> None:
    """Calibrate a camera from photos of the target alone, tilted to all sides."""
    from hubsight.camera.command import run_calibration  # noqa: PLC0415 - needs all image processing

    with _bad_input():
        run_calibration(photos, paper.value, (bar_x or [], bar_y or []), out, as_json=json)


@app.command()
def demo(
    overlays: Annotated[
        Path, typer.Option(help="Folder for the pictures of what was seen.", metavar="DIR")
    ] = DEMO_OVERLAYS,
) -> None:
    """Measure the sample job and show the figures beside the truth."""
    with _bad_input():
        folder = find_sample_job()
        measured = measure_job(load_job(folder))
        console = Console()
        print_sides(console, measured)
        print_beside_truth(console, measured, load_truth(folder))
        _write_overlays(measured, folder, overlays, quiet=False)
        print_cautions(console)
    raise typer.Exit(Exit.MEASURED if measured.complete else Exit.PARTLY)
