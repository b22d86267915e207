"""``hubsight replace``."""

from __future__ import annotations

import dataclasses
import json as documents
import sys
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from hubsight.cli.common import ExitCode, Readings, Side, bad, bad_input, length_in_mm
from hubsight.job.as_built import replace_spokes
from hubsight.job.in_wheel import photo_in_wheel
from hubsight.model.refusal import Refusal
from hubsight.model.stated import PaperName, Reading, SideName
from hubsight.record.planned import planned_from_record
from hubsight.wheel.neighbours import HAND_ROUTE, UNKNOWN_TENSION_N, from_neighbours
from hubsight.wheel.nipple import STOCK_STEP_MM, Nipple, Stock, nipple_window
from hubsight.wheel.wire import plain

UNKNOWN_PANEL = "In a wheel of unknown hub, without a job"
"""Heading of the options that stand in for a job."""


def replace(  # noqa: PLR0917 - Typer passes options by name
    job: Annotated[
        Path | None, typer.Argument(help="The wheel's job, if there is one.", show_default=False)
    ] = None,
    side: Annotated[Side | None, typer.Option(help="Side of the broken spoke.", show_default=False)] = None,
    spoke: Annotated[
        Readings | None,
        typer.Option(
            help="Measured length of a spoke of that side, mm; again for more.",
            show_default=False,
            metavar="MM",
            parser=length_in_mm,
        ),
    ] = None,
    in_wheel: Annotated[bool, typer.Option("--in-wheel", help="It was measured under tension.")] = False,
    end: Annotated[
        Readings | None,
        typer.Option(
            help="Where a neighbour's end lies from the bottom of its nipple's slot, mm, outwards.",
            show_default=False,
            metavar="MM",
            rich_help_panel=UNKNOWN_PANEL,
            parser=length_in_mm,
        ),
    ] = None,
    wire: Annotated[
        float, typer.Option(help="Diameter of the spokes, mm.", metavar="MM", rich_help_panel=UNKNOWN_PANEL)
    ] = 2.0,
    tension: Annotated[
        float | None,
        typer.Option(
            help="Tension of the spokes, N, for --in-wheel.",
            metavar="N",
            rich_help_panel=UNKNOWN_PANEL,
            show_default=False,
        ),
    ] = None,
    step: Annotated[
        float,
        typer.Option(help="Step of the lengths to be had.", metavar="MM", rich_help_panel=UNKNOWN_PANEL),
    ] = STOCK_STEP_MM,
    photo: Annotated[
        Path | None,
        typer.Option(
            help="A photo of the hub in its wheel: says why it gives no length, and what does.",
            rich_help_panel=UNKNOWN_PANEL,
            show_default=False,
        ),
    ] = None,
    paper: Annotated[
        PaperName,
        typer.Option(help="Of the target in it.", rich_help_panel=UNKNOWN_PANEL, case_sensitive=False),
    ] = "a4",
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Say which spoke to order for a broken one, and whether the wheel's own fit the computed length."""
    with bad_input():
        if photo is not None:
            refusal = photo_in_wheel(photo, paper)
            raise bad(str(photo), refusal.reason, refusal.remedy)
        if job is not None:
            if spoke and side is None:
                raise bad("--spoke", "the side is not said", "Add --side drive or --side non_drive")
            name = None if side is None else side.side_name
            refused = _known_hub(job, name, tuple(spoke or ()), in_wheel=in_wheel, json=json)
            raise typer.Exit(ExitCode.PARTLY if refused else ExitCode.MEASURED)
        if not spoke:
            raise bad(
                "replace", "neither a job nor a neighbour's length is given", f"{HAND_ROUTE}; add --spoke"
            )
        if not (
            1.0 <= wire <= 3.5 and 0.25 <= step <= 10.0 and (tension is None or 100.0 <= tension <= 2000.0)
        ):
            raise bad("replace", "wire, step or tension cannot be right", "Give mm, and N from 100 to 2000")
        answer = from_neighbours(
            spoke,
            ends=end or (),
            wire=plain(wire) if in_wheel else None,
            tension=UNKNOWN_TENSION_N if tension is None else Reading(tension, 0.15 * tension),
            window=nipple_window(Nipple()),
            stock=Stock(step),
        )
        if isinstance(answer, Refusal):
            raise bad("replace", answer.reason, answer.remedy)
    if json:
        typer.echo(documents.dumps({"schema_version": 1, **dataclasses.asdict(answer)}, indent=1))
        return
    for sentence in answer.sentences():
        Console().print(sentence, highlight=False, markup=False)


def _known_hub(
    job: Path, side: SideName | None, spokes: tuple[float, ...], *, in_wheel: bool, json: bool
) -> bool:
    """Print what a wheel's job says; return whether a side was refused."""
    loaded, planned = planned_from_record(job)
    document = replace_spokes(loaded, planned, side=side, spokes=spokes, in_wheel=in_wheel)
    if not document.sides:
        remedy = "Give --side and --spoke, or note spokes in [built.drive] or [built.non_drive]"
        raise bad(str(job), "no spoke's measured length is given", remedy)
    if json:
        sys.stdout.write(document.model_dump_json(indent=1) + "\n")
    else:
        for each in document.sides:
            typer.echo(each.sentence())
    return any(each.result is None for each in document.sides)
