"""The command line: parse, call, print. Nothing here that a Python user could not call.

One module per command.
"""

from __future__ import annotations

from typing import Annotated

import typer

from hubsight.cli import (
    bench,
    built,
    calibrate,
    demo,
    export,
    history,
    hubs,
    kit,
    lengths,
    measure,
    proof,
    report,
    start,
    target,
    verify,
)
from hubsight.job.measure import software

app = typer.Typer(
    help="Measure straight-pull bicycle hubs from photographs on a printed scale target.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)


def _show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"hubsight {software().hubsight}")
        raise typer.Exit


@app.callback()
def _main(
    version: Annotated[
        bool, typer.Option("--version", callback=_show_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    """Measure straight-pull bicycle hubs from photographs on a printed scale target."""


_COMMANDS = (
    bench.bench,
    demo.demo,
    target.target,
    start.start,
    measure.measure,
    lengths.lengths,
    built.built,
    built.replace,
    report.report,
    history.history,
    verify.verify,
    hubs.hubs,
    export.export,
    calibrate.calibrate,
    proof.proof,
)

for _command in _COMMANDS:
    app.command()(_command)
app.add_typer(kit.app, name="kit")
