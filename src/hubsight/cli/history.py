"""``hubsight history``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.text import Text

from hubsight.cli.common import bad_input
from hubsight.record import read_history
from hubsight.record.history import RecordChange, record_changes


def history(
    job: Annotated[Path, typer.Argument(help="The job's folder.", metavar="JOB", show_default=False)],
) -> None:
    """Show every measurement of a job: when, what changed, and why."""
    with bad_input():
        changes = record_changes(read_history(job))
    console = Console(highlight=False)
    for number, change in enumerate(changes, start=1):
        _print(console, number, change)


def _print(console: Console, number: int, change: RecordChange) -> None:
    record = change.after
    when = f"{record.begun.astimezone():%Y-%m-%d %H:%M}"
    version = record.measurement.software.hubsight
    photos = sum(file.kind == "photo" for file in record.inputs)
    console.print(Text(f"{number}. {when}, {photos} photos, hubsight {version}", style="bold"))
    if change.before is None:
        console.print("   first measurement")
        return
    for label, lines in (
        ("because", change.reasons or ("nothing was different beforehand",)),
        ("figure", [figure.sentence() for figure in change.figures] or ["all figures are the same"]),
        ("to order", change.orders),
        ("new warning", change.warnings),
    ):
        for line in lines:
            console.print(Text(f"   {label}: {line}"))
