"""``hubsight card``."""

from __future__ import annotations

import datetime
import sys
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from hubsight.cli.common import bad, bad_input
from hubsight.job.card import card_of
from hubsight.model.files import write_atomically
from hubsight.model.refusal import Refusal
from hubsight.record.planned import planned_from_record
from hubsight.report.card import render_card
from hubsight.show.card_words import card_lines

CARD_FILE = "card.html"
"""File that is written into the job's folder unless told otherwise."""


def card(
    job: Annotated[Path, typer.Argument(help="The wheel's job.", metavar="JOB", show_default=False)],
    out: Annotated[
        Path | None, typer.Option(help=f"File to write; {CARD_FILE} in the job's folder if not given.")
    ] = None,
    screen: Annotated[bool, typer.Option("--screen", help="Print it on the screen instead.")] = False,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document instead.")] = False,
) -> None:
    """Write the wheel's bench card: one page to print, with lacing, tensions and where each end is to lie."""
    with bad_input():
        loaded, planned = planned_from_record(job)
        made = card_of(loaded, planned)
        if isinstance(made, Refusal):
            raise bad(str(job), f"there is no bench card: {made.reason}", made.remedy)
        if json:
            sys.stdout.write(made.model_dump_json(indent=1) + "\n")
            return
        if screen:
            for line in card_lines(made):
                Console().print(line, highlight=False, markup=False)
            return
        file = out or (job if job.is_dir() else job.parent) / CARD_FILE
        try:
            write_atomically(file, render_card(made, datetime.date.today()).encode())
        except OSError as error:
            what = f"the card cannot be written there ({error.strerror})"
            raise bad(str(file), what, "Name another file with --out") from error
    typer.echo(f"{file} written. It opens in any browser, and prints from there on one page.")
