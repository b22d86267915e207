"""``hubsight verify``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from hubsight.cli.common import ExitCode, bad_input
from hubsight.cli.working import Verbose, working
from hubsight.record.history import FigureChange
from hubsight.record.verify import FILE_WORDS, Verification, verify_job


def verify(
    job: Annotated[Path, typer.Argument(help="The job's folder.", metavar="JOB", show_default=False)],
    repeat: Annotated[bool, typer.Option(help="Measure again and compare the figures.")] = True,
    verbose: Verbose = False,
) -> None:
    """Check a job's record: are its files unchanged, and does the measurement repeat? Writes nothing.

    Ends with 0 when nothing was found against the record, 1 when something was, 2 when there is none.
    """
    with bad_input(), working(verbose=verbose):
        found = verify_job(job, repeat=repeat)
    console = Console(highlight=False)
    _print_files(console, found)
    if found.repeated is not None:
        _print_figures(console, found)
    elif found.not_repeated:
        console.print(Text(f"The measurement cannot be repeated. {found.not_repeated}"))
    raise typer.Exit(ExitCode.MEASURED if found.good else ExitCode.PARTLY)


def _print_files(console: Console, found: Verification) -> None:
    for file in found.files:
        if not file.good or file.state != "unchanged":
            console.print(Text(f"{file.path}: {FILE_WORDS[file.state]}"))
    if found.files_good:
        console.print(f"All {len(found.files)} files that were measured are as they were.")


def _print_figures(console: Console, found: Verification) -> None:
    for line in found.software:
        console.print(Text(f"Software: {line}"))
    if found.figures_repeat:
        largest = found.largest_difference or 0.0
        by = f"the largest difference is {largest:.1g} mm" if largest else "every figure to the last digit"
        console.print(f"The measurement repeats: {by}.")
        return
    table = Table(title="Not the same", title_justify="left", title_style="bold", box=box.SIMPLE_HEAD)
    for column in ("figure", "recorded", "± u", "now", "difference", "within u"):
        table.add_column(column, justify="left" if column == "figure" else "right")
    for figure in found.figures:
        if figure.difference is None or abs(figure.difference) > 0.0:
            table.add_row(figure.name, *_cells(figure))
    console.print(table)


def _cells(figure: FigureChange) -> tuple[str, ...]:
    before, after, difference = figure.before, figure.after, figure.difference
    return (
        "-" if before is None else f"{before.value:.3f}",
        "-" if before is None else f"{before.u:.3f}",
        "-" if after is None else f"{after.value:.3f}",
        "-" if difference is None else f"{difference:+.3f}",
        "-" if difference is None or before is None else ("yes" if abs(difference) <= before.u else "NO"),
    )
