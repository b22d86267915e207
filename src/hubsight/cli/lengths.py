"""``hubsight lengths``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from hubsight.cli.common import bad, bad_input, exit_code, is_new
from hubsight.cli.planned import MeasuredFile
from hubsight.cli.what_if import compare
from hubsight.cli.working import Quiet, Verbose, working
from hubsight.job import load_job
from hubsight.job.plan import require_rim
from hubsight.model.result import JobResult
from hubsight.record import read_inputs
from hubsight.record.make import record_if_changed
from hubsight.record.planned import recorded, result_of
from hubsight.show.inches import in_inches
from hubsight.show.lengths_picture import write_lengths_picture
from hubsight.show.screen import print_end, print_lengths


def lengths(  # noqa: PLR0917 - Typer passes options by name
    job: Annotated[Path, typer.Argument(help="The job's folder (see start); photos are not needed.")],
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document instead of tables.")] = False,
    picture: Annotated[
        Path | None,
        typer.Option(help="Write a picture of the choice, PNG.", show_default=False, metavar="FILE"),
    ] = None,
    what_if: Annotated[
        Path | None,
        typer.Option(
            "--what-if",
            help="Compare the wheels in a file of alternatives; nothing is measured again.",
            show_default=False,
            metavar="FILE",
        ),
    ] = None,
    inches: Annotated[bool, typer.Option("--inches", help="Show lengths in inches too.")] = False,
    measured: MeasuredFile = None,
    record: Annotated[
        bool, typer.Option(help="Write record.json into the job's folder, unless --measured is given.")
    ] = True,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Say which spokes to order, and how sure that is: from photos, from readings by hand, or from both.

    Ends with 0 when the verdict is to order or to check, 1 when something was refused or the verdict is to
    stop, 2 when the input cannot be read.
    """
    with bad_input():
        if what_if is not None:
            raise typer.Exit(compare(job, what_if, measured, json=json))
        loaded = load_job(job, need_photos=False)
        require_rim(loaded)
        before = recorded(loaded)
        inputs = read_inputs(loaded) if record and measured is None and loaded.hub is None else None
        with working(quiet=quiet, verbose=verbose):
            result = result_of(loaded, measured, before)
        if json:
            sys.stdout.write(result.model_dump_json(indent=1) + "\n")
        elif quiet:
            print_end(Console(), in_inches(result) if inches else result)
        else:
            shown = in_inches(result) if inches else result
            print_lengths(Console(), shown, cautions=is_new(loaded))
        if picture is not None:
            _write(result, picture)
        if inputs is not None:
            record_if_changed(loaded, result, inputs, before)
    raise typer.Exit(exit_code(result))


def _write(result: JobResult, picture: Path) -> None:
    try:
        write_lengths_picture(result, picture)
    except (OSError, ValueError) as error:
        what = f"the picture cannot be written ({error})"
        raise bad(str(picture), what, "Name a .png file in a folder that is there") from error
