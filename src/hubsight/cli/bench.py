"""``hubsight bench``."""

from __future__ import annotations

import asyncio
import threading
import webbrowser
from pathlib import Path
from typing import Annotated

import typer

from hubsight.cli.common import bad, bad_input

DEFAULT_SHELF = Path("hubsight-jobs")
"""Folder of the jobs where none is named."""


def bench(
    folder: Annotated[
        Path, typer.Argument(help="Folder for the jobs, or one job's folder; made if it is not there.")
    ] = DEFAULT_SHELF,
    port: Annotated[
        int, typer.Option(min=0, max=65535, help="On this computer only; 0 takes a free one.")
    ] = 0,
    browser: Annotated[bool, typer.Option(help="Open the page in the browser.")] = True,
) -> None:
    """Open the bench page: photograph with the phone, see and correct on the screen, lengths, report."""
    from hubsight.page.serve import Entrance, serve_bench  # noqa: PLC0415 - the server is needed here only

    def tell(entrance: Entrance) -> None:
        typer.echo(
            f"The bench page is at\n\n  {entrance.lasting}\n\nKeep this address to yourself. Ctrl-C ends it."
        )
        if browser:  # some browsers come back only when they are closed
            threading.Thread(target=webbrowser.open, args=(entrance.once(),), daemon=True).start()

    with bad_input():
        try:
            asyncio.run(serve_bench(folder, port, tell))
        except OSError as error:
            what = f"the page cannot be opened ({error.strerror or error})"
            raise bad(str(folder), what, "Name another folder or --port") from error
