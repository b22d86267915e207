"""``hubsight built`` and ``hubsight replace``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from hubsight.cli.common import ExitCode, Readings, Side, bad, bad_input
from hubsight.cli.planned import planned_from_record
from hubsight.job.as_built import compare_built, replace_spokes


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


def replace(
    job: Annotated[Path, typer.Argument(help="The wheel's job.")],
    side: Annotated[Side | None, typer.Option(help="Side of the broken spoke.", show_default=False)] = None,
    spoke: Annotated[
        Readings | None,
        typer.Option(help="Measured length of a spoke of that side, mm.", show_default=False, metavar="MM"),
    ] = None,
    in_wheel: Annotated[bool, typer.Option("--in-wheel", help="It was measured under tension.")] = False,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Say which spoke to order for a broken one, and whether the wheel's own fit the computed length."""
    with bad_input():
        if spoke and side is None:
            raise bad("--spoke", "the side is not said", "Add --side drive or --side non_drive")
        loaded, planned = planned_from_record(job)
        name = None if side is None else side.side_name
        document = replace_spokes(loaded, planned, side=name, spokes=spoke or (), in_wheel=in_wheel)
        if not document.sides:
            remedy = "Give --side and --spoke, or note spokes in [built.drive] or [built.non_drive]"
            raise bad(str(job), "no spoke's measured length is given", remedy)
        if json:
            sys.stdout.write(document.model_dump_json(indent=1) + "\n")
        else:
            for each in document.sides:
                typer.echo(each.sentence())
    refused = any(each.result is None for each in document.sides)
    raise typer.Exit(ExitCode.PARTLY if refused else ExitCode.MEASURED)
