"""``hubsight export``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from hubsight.cli.common import bad_input
from hubsight.record.export import export_job


def export(
    job: Annotated[Path, typer.Argument(help="The job's folder.", metavar="JOB", show_default=False)],
    out: Annotated[Path, typer.Argument(help="Folder to make.", metavar="OUT", show_default=False)],
) -> None:
    """Write a copy of a job to give away: photos without place, owner, serial numbers and maker notes.

    The job file and the record are copied as they are, the words of its label too.
    """
    with bad_input():
        exported = export_job(job, out)
    photos, others = len(exported.photos), len(exported.others)
    typer.echo(f"{photos} photos without private tags, pixels unchanged, and {others} other files: {out}.")
    typer.echo("Your own words in the job file and the record are in it as they are.")
