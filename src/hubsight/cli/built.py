"""``hubsight built``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from hubsight.cli.common import ExitCode, bad, bad_input
from hubsight.cli.planned import planned_from_record
from hubsight.job.as_built import compare_built


def built(
    jobs: Annotated[list[Path], typer.Argument(help="Jobs whose wheels were built.", metavar="JOB...")],
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Compare where the spokes' ends came to lie, as the job notes, with the prediction."""
    with bad_input():
        document = compare_built([planned_from_record(path) for path in jobs])
        if not document.sides:
            remedy = "Note in [built.drive] or [built.non_drive] where a few spokes' ends came to lie"
            raise bad(str(jobs[0]), "nothing is noted of the built wheel", remedy)
        if json:
            sys.stdout.write(document.model_dump_json(indent=1) + "\n")
        else:
            for side in document.sides:
                typer.echo(side.sentence())
            if document.overall is not None:
                typer.echo(f"Over all: {document.overall.sentence()}")
    refused = any(side.result is None for side in document.sides)
    raise typer.Exit(ExitCode.PARTLY if refused else ExitCode.MEASURED)
