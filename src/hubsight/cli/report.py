"""``hubsight report``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from hubsight.cli import as_called
from hubsight.cli.common import bad, bad_input
from hubsight.model.files import write_atomically
from hubsight.record.current import out_of_date
from hubsight.record.planned import recorded_with_photos
from hubsight.report import render_order, render_report

REPORT_FILE, ORDER_FILE = "report.html", "order.html"
"""Files that are written into the job's folder unless told otherwise."""


def report(
    job: Annotated[Path, typer.Argument(help="The job's folder.", metavar="JOB", show_default=False)],
    out: Annotated[
        Path | None, typer.Option(help=f"File to write; {REPORT_FILE} in the job's folder if not given.")
    ] = None,
    order: Annotated[
        bool, typer.Option("--order", help=f"Write the sheet to order from, {ORDER_FILE}, instead.")
    ] = False,
) -> None:
    """Write the job's report: one HTML page to read, print or send. It is made from the record.

    Of a wheel whose hub was measured in another job it is made from that job's record.
    """
    with bad_input():
        folder = job if job.is_dir() else job.parent
        record, photos = recorded_with_photos(job)
        file = out or folder / (ORDER_FILE if order else REPORT_FILE)
        page = render_order(record, folder) if order else render_report(record, folder, photos)
        changes = out_of_date(record, folder)
        try:
            write_atomically(file, page.encode())
        except OSError as error:
            what = f"the report cannot be written there ({error.strerror})"
            raise bad(str(file), what, "Name another file with --out") from error
    typer.echo(f"{file} written. It opens in any browser, and prints from there.")
    if changes:
        typer.echo("The job was changed after it was measured, and the page says so:", err=True)
        for change in changes:
            typer.echo(f"  {change}", err=True)
        typer.echo(f"Run it again after: {as_called()} measure {job}", err=True)
