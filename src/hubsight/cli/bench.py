"""``hubsight bench``."""

from __future__ import annotations

import asyncio
import platform
import sys
import threading
import webbrowser
from pathlib import Path
from typing import Annotated

import typer

from hubsight.cli.common import bad, bad_input, quoted

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
    shortcut: Annotated[
        bool,
        typer.Option(
            "--shortcut", help="Put a file on the desktop that opens this page by a double-click, and end."
        ),
    ] = False,
) -> None:
    """Open the bench page: photograph with the phone, see and correct on the screen, lengths, report."""
    if shortcut:
        with bad_input():
            _put_shortcut(folder)
        return
    from hubsight.page.serve import Entrance, serve_bench  # noqa: PLC0415 - the server is needed here only

    def tell(entrance: Entrance) -> None:
        typer.echo(
            f"The bench page is at\n\n  {entrance.lasting}\n\nKeep this address to yourself. "
            "Ctrl-C ends it, or closing this window."
        )
        if browser:  # some browsers come back only when they are closed
            threading.Thread(target=webbrowser.open, args=(entrance.once(),), daemon=True).start()

    with bad_input():
        try:
            asyncio.run(serve_bench(folder, port, tell))
        except OSError as error:
            what = f"the page cannot be opened ({error.strerror or error})"
            raise bad(str(folder), what, "Name another folder or --port") from error


def _put_shortcut(folder: Path) -> None:
    """Put a file on the desktop that opens the page of this folder with this installation."""
    from platformdirs import user_desktop_path  # noqa: PLC0415 - needed here only

    from hubsight.cli.shortcut import ASKED_FIRST, HOW_TO_OPEN, write_shortcut  # noqa: PLC0415

    desktop, system = user_desktop_path(), platform.system()
    jobs = folder.absolute()
    try:
        file = write_shortcut((sys.executable, "-m", "hubsight", "bench", str(jobs)), desktop, system)
    except OSError as error:
        what = f"the shortcut cannot be written there ({error.strerror or error})"
        raise bad(str(desktop), what, f"Open the page with: hubsight bench {quoted(folder)}") from error
    first = "" if system in ("Windows", "Darwin") else ASKED_FIRST
    typer.echo(f"{file} written. {HOW_TO_OPEN}{first}\nJobs lie in {jobs}.")
