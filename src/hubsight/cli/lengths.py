"""``hubsight lengths``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from hubsight.cli.common import ExitCode, bad, bad_input
from hubsight.cli.planned import MeasuredFile, measured_of
from hubsight.job import load_job
from hubsight.job.measure import not_measured
from hubsight.job.plan import plan_job
from hubsight.record import make_record, read_inputs, write_record
from hubsight.show.lengths_picture import write_lengths_picture
from hubsight.show.lengths_screen import print_lengths
from hubsight.wheel.document import LengthsDocument


def lengths(
    job: Annotated[Path, typer.Argument(help="The job's folder (see start); photos are not needed.")],
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document instead of tables.")] = False,
    picture: Annotated[
        Path | None,
        typer.Option(help="Write a picture of the choice, PNG.", show_default=False, metavar="FILE"),
    ] = None,
    measured: MeasuredFile = None,
    record: Annotated[
        bool, typer.Option(help="Write record.json into the job's folder, unless --measured is given.")
    ] = True,
) -> None:
    """Say which spokes to order, and how sure that is: from photos, from readings by hand, or from both.

    Ends with 0 when all was computed, 1 when something was refused, 2 when the input cannot be read.
    """
    with bad_input():
        loaded = load_job(job, need_photos=False)
        inputs = read_inputs(loaded) if record and measured is None else None
        found = measured_of(loaded, measured)
        document = plan_job(loaded, found).document
        if json:
            sys.stdout.write(document.model_dump_json(indent=1) + "\n")
        else:
            print_lengths(Console(), document)
        if picture is not None:
            _write(document, picture)
        if inputs is not None:
            write_record(
                loaded.folder, make_record(loaded, found or not_measured(loaded), inputs, lengths=document)
            )
    raise typer.Exit(ExitCode.PARTLY if document.refusals else ExitCode.MEASURED)


def _write(document: LengthsDocument, picture: Path) -> None:
    try:
        write_lengths_picture(document, picture)
    except (OSError, ValueError) as error:
        what = f"the picture cannot be written ({error})"
        raise bad(str(picture), what, "Name a .png file in a folder that is there") from error
