"""``hubsight calibrate``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from hubsight.cli.common import ExitCode, Readings, bad_input, reading, say_wrong
from hubsight.model.refusal import Refusal
from hubsight.model.stated import PaperName


def calibrate(  # noqa: PLR0917 - Typer passes options by name
    photos: Annotated[list[Path], typer.Argument(help="Of the target alone, 6 to 30.", show_default=False)],
    out: Annotated[Path | None, typer.Option(help="Profile to write, JSON.", show_default=False)] = None,
    plot: Annotated[
        Path | None, typer.Option(help="Picture of coverage and residuals, PNG.", show_default=False)
    ] = None,
    trust: Annotated[
        Path | None,
        typer.Option(help="Picture of where in one photo a length can be trusted, PNG.", show_default=False),
    ] = None,
    keep: Annotated[
        str | None, typer.Option(help="Keep the profile in your kit under this name.", show_default=False)
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
    paper: Annotated[PaperName, typer.Option(help="Of the printed target.", case_sensitive=False)] = "a4",
    bar_x: Annotated[Readings | None, reading("Check bar along the long side")] = None,
    bar_y: Annotated[Readings | None, reading("Check bar along the short side")] = None,
) -> None:
    """Calibrate a camera from photos of the target alone, tilted to all sides.

    Ends with 0 when the camera is calibrated, 1 when these photos do not do it, 2 when the input cannot
    be read.
    """
    from hubsight.cli.calibrating import run_calibration  # noqa: PLC0415 - needs all image processing

    with bad_input():
        found = run_calibration(
            photos,
            paper,
            (bar_x or [], bar_y or []),
            out,
            keep=keep,
            plot=plot,
            trust=trust,
            as_json=json,
        )
    if isinstance(found, Refusal):
        say_wrong(found.sentence())
        raise typer.Exit(ExitCode.PARTLY)
