"""What the commands share: exit codes, options of readings, and the sentences of bad input."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from enum import IntEnum, StrEnum
from pathlib import Path
from typing import Any

import typer

from hubsight.cli.json_wanted import json_is_wanted
from hubsight.job import Job, JobFileError, Problem
from hubsight.job.file.units import typed_length
from hubsight.model.result import JobResult
from hubsight.model.stated import SideName
from hubsight.record.store import place_of
from hubsight.show.overlay import write_overlays

Readings = list[float]
"""Of one length; an option of it may be given several times."""

BARE_PANEL = "Only for photos without a job: the {}"
"""Panel of the options that describe bare photos."""


class ExitCode(IntEnum):
    """Exit codes."""

    MEASURED = 0
    PARTLY = 1
    BAD_INPUT = 2


def exit_code(result: JobResult) -> ExitCode:
    """Return the exit code of a job's result."""
    good = result.complete and result.verdict.word != "stop"
    return ExitCode.MEASURED if good else ExitCode.PARTLY


class Side(StrEnum):
    """Sides of a hub."""

    DRIVE = "drive"
    NON_DRIVE = "non_drive"

    @property
    def side_name(self) -> SideName:
        """As the job file calls it."""
        return "drive" if self is Side.DRIVE else "non_drive"


@contextmanager
def bad_input() -> Iterator[None]:
    """End with the sentences of a bad input instead of a traceback."""
    try:
        yield
    except JobFileError as error:
        say_wrong(str(error))
        raise typer.Exit(ExitCode.BAD_INPUT) from error


def say_wrong(sentence: str) -> None:
    """Say what is wrong: on the screen, and where JSON is wanted as a document in its place."""
    typer.echo(sentence, err=True)
    if json_is_wanted():
        typer.echo(json.dumps({"error": sentence}, ensure_ascii=False))


def quoted(path: Path) -> str:
    """Return a path as it can be typed in a command."""
    return f'"{path}"' if " " in str(path) else str(path)


def bad(file: str, what: str, remedy: str) -> JobFileError:
    """Return the error of one problem: where, what is wrong, what to do."""
    return JobFileError([Problem(file, None, "", what, remedy)])


def reading(what: str, about: str | None = None) -> Any:
    """Return an option with one or several readings of a length, as a job file takes them."""
    panel = None if about is None else BARE_PANEL.format(about)
    return typer.Option(
        help=f"{what}, mm.", rich_help_panel=panel, show_default=False, metavar="MM", parser=length_in_mm
    )


def length_in_mm(text: str) -> float:
    """Return what a length on the command line says, mm: 119.52, "119,52 mm", "3 15/16 in"."""
    typed = typed_length(text)
    if typed is None:
        raise typer.BadParameter(f"{text!r} is not a number of millimetres, such as 119.52")
    return typed.mm


def is_new(job: Job) -> bool:
    """Tell a job that has no record yet, and bare photos: then the cautions are said, once a job."""
    return job.file is None or not place_of(job.folder).current.is_file()


def write_pictures(measured: JobResult, folder: Path, out: Path, *, quiet: bool) -> None:
    """Write the overlay pictures; a folder that cannot be written is told as bad input."""
    try:
        pictures = write_overlays(measured, folder, out)
    except OSError as error:
        what = f"the overlays cannot be written there ({error.strerror})"
        raise bad(str(out), what, "Name another folder with --overlays") from error
    if not quiet:
        typer.echo(f"{len(pictures)} overlay pictures written to {out}")
