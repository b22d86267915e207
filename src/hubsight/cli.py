"""The command line: parse, call, print. Nothing here that a Python user could not call."""

from __future__ import annotations

import sys
from enum import IntEnum
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from hubsight.job import JobFileError, load_job
from hubsight.job.document import JobMeasurement
from hubsight.job.measure import measure_job
from hubsight.job.screen import print_measurement

app = typer.Typer(
    help="Measure straight-pull bicycle hubs from photographs on a printed scale target.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)


class Exit(IntEnum):
    """Exit codes."""

    MEASURED = 0
    PARTLY = 1
    BAD_INPUT = 2


@app.command()
def measure(
    job: Annotated[Path, typer.Argument(help="A job folder, or its job file.")],
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document instead of tables.")] = False,
) -> None:
    """Measure a job."""
    measured = measure_job(load_job(job))
    _print(measured, as_json=json)
    raise typer.Exit(Exit.MEASURED if measured.complete else Exit.PARTLY)


def _print(measured: JobMeasurement, *, as_json: bool) -> None:
    if as_json:
        sys.stdout.write(measured.model_dump_json(indent=1) + "\n")
    else:
        print_measurement(Console(), measured)


@app.callback()
def _main() -> None:
    """Keep ``measure`` a command of its own while it is the only one."""


def main() -> None:
    """Run the command line; a job that cannot be read ends with its sentences and exit code 2."""
    try:
        app()
    except JobFileError as error:
        sys.stderr.write(f"{error}\n")
        sys.exit(Exit.BAD_INPUT)
