"""``hubsight start``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from hubsight.cli.common import bad_input
from hubsight.job.file.starter import write_starter


def start(folder: Annotated[Path, typer.Argument(help="The job's folder; made if it is not there.")]) -> None:
    """Make a job's folder with a file to fill in; nothing is ever overwritten."""
    with bad_input():
        file = write_starter(folder)
    named = f'"{folder}"' if " " in str(folder) else folder
    typer.echo(f"1. Put the photos into {folder / 'drive'} (drive side up) and {folder / 'non_drive'}.")
    typer.echo(f"2. Fill in {file} with a text editor; it explains every field.")
    typer.echo(f"3. Run: hubsight measure {named} --overlays seen")
