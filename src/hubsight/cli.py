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


def _announce(job: Job) -> None:
    """Say that this takes a while, to somebody who looks at a screen."""
    if sys.stderr.isatty():
        photos = sum(len(side.stated.photos) for side in job.sides)
        typer.echo(f"Measuring {photos} photo{'s' * (photos != 1)}, a few seconds each ...", err=True)


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
def demo(
    overlays: Annotated[
        Path, typer.Option(help="Folder for the pictures of what was seen.", metavar="DIR")
    ] = DEMO_OVERLAYS,
) -> None:
    """Try it: measure the sample job and show the figures beside the truth."""
    with _bad_input():
        folder = find_sample_job()
        job = load_job(folder)
        _announce(job)
        measured = measure_job(job)
        console = Console()
        print_sides(console, measured)
        print_beside_truth(console, measured, load_truth(folder))
        _write_overlays(measured, folder, overlays, quiet=False)
        print_cautions(console)
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
    """Write the scale target to print, or say what the check bars of a print mean."""
    with _bad_input():
        if out is None and check is None:
            raise _bad(
                "target",
                "nothing to do",
                "Name a file, as in: hubsight target target.pdf, or give --check X Y",
            )
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
def start(folder: Annotated[Path, typer.Argument(help="The job's folder; made if it is not there.")]) -> None:
    """Make a job's folder with a file to fill in; nothing is ever overwritten."""
    with _bad_input():
        file = write_starter(folder)
    named = f'"{folder}"' if " " in str(folder) else folder
    typer.echo(f"1. Put the photos into {folder / 'drive'} (drive side up) and {folder / 'non_drive'}.")
    typer.echo(f"2. Fill in {file} with a text editor; it explains every field.")
    typer.echo(f"3. Run: hubsight measure {named} --overlays seen")


Readings = list[float]


_BARE = "Only for photos without a job: the {}"


def _stated(what: str, about: str, **more: Any) -> Any:
    """Return an option for bare photos, on the panel of what it is about."""
    return typer.Option(help=what, rich_help_panel=_BARE.format(about), **more)


def _reading(what: str, about: str | None = None) -> Any:
    """Return an option with one or several readings of a length."""
    panel = None if about is None else _BARE.format(about)
    return typer.Option(help=f"{what}, mm.", rich_help_panel=panel, show_default=False, metavar="MM")


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
    gauge_length: Annotated[
        Readings | None, _reading("Length from under the head to the far end; needed", "gauge")
    ] = None,
    gauge_diameter: Annotated[Readings | None, _reading("Diameter of its wire", "gauge")] = None,
    tip: Annotated[Tip, _stated("What is on its far end.", "gauge")] = Tip.FLAT,
    paper: Annotated[Paper, _stated("Paper that it is printed on.", "target")] = Paper.A4,
    bar_x: Annotated[Readings | None, _reading("Check bar along the long side, as read", "target")] = None,
    bar_y: Annotated[Readings | None, _reading("Check bar along the short side, as read", "target")] = None,
    side: Annotated[Side, _stated("The side that is up.", "hub")] = Side.DRIVE,
    block_thickness: Annotated[
        float, _stated("Thickness of a block under the hub, mm.", "hub", metavar="MM")
    ] = 0.0,
    flange_height: Annotated[Readings | None, _reading("Flange's middle above the paper", "hub")] = None,
    gauge_height_at_boss: Annotated[
        Readings | None, _reading("Middle of the wire above the paper, at the boss", "hub")
    ] = None,
    gauge_height_at_end: Annotated[
        Readings | None, _reading("Middle of the wire above the paper, at its far end", "hub")
    ] = None,
    profile: Annotated[
        Path | None,
        _stated("Profile of the camera, from calibrate.", "hub", show_default=False, metavar="FILE"),
    ] = None,
    erd: Annotated[Readings | None, _reading("Effective rim diameter", "wheel")] = None,
    over_locknut: Annotated[
        Readings | None, _reading("Hub's length over the locknuts, end face to end face", "wheel")
    ] = None,
    centre_to_flange: Annotated[
        Readings | None, _reading("Centre to flange, if known without the photos", "wheel")
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
        _announce(job)
        measured = measure_job(job)
        _print(measured, as_json=json)
        if overlays is not None:
            _write_overlays(measured, job.folder, overlays, quiet=json)
    raise typer.Exit(Exit.MEASURED if measured.complete else Exit.PARTLY)


@app.command()
def calibrate(  # noqa: PLR0917 - Typer passes options by name
    photos: Annotated[list[Path], typer.Argument(help="Of the target alone, 6 to 30.", show_default=False)],
    out: Annotated[Path | None, typer.Option(help="Profile to write, JSON.", show_default=False)] = None,
    plot: Annotated[
        Path | None, typer.Option(help="Picture of coverage and residuals, PNG.", show_default=False)
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
    paper: Annotated[Paper, typer.Option(help="Of the printed target.")] = Paper.A4,
    bar_x: Annotated[Readings | None, _reading("Check bar along the long side")] = None,
    bar_y: Annotated[Readings | None, _reading("Check bar along the short side")] = None,
) -> None:
    """Calibrate a camera from photos of the target alone, tilted to all sides."""
    from hubsight.camera.command import run_calibration  # noqa: PLC0415 - needs all image processing

    with _bad_input():
        run_calibration(photos, paper.value, (bar_x or [], bar_y or []), out, plot=plot, as_json=json)
