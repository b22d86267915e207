"""``hubsight target``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from hubsight.cli.common import bad, bad_input, length_in_mm
from hubsight.job import JobFileError, Problem
from hubsight.model.stated import PaperName
from hubsight.target.print_scale import check_print


def target(
    out: Annotated[
        Path | None, typer.Argument(help="File to write: .pdf, .svg or .png.", show_default=False)
    ] = None,
    paper: Annotated[PaperName, typer.Option(help="To print on.", case_sensitive=False)] = "a4",
    check: Annotated[
        tuple[str, str] | None,
        typer.Option(help="Readings of the printed check bars, mm: say what they mean.", metavar="X Y"),
    ] = None,
) -> None:
    """Write the scale target to print, or say what the check bars of a print mean."""
    with bad_input():
        if out is None and check is None:
            raise bad(
                "target",
                "nothing to do",
                "Name a file, as in: hubsight target target.pdf, or give --check X Y",
            )
        if out is not None:
            _write_target(out, paper)
        if check is not None:
            x, y = map(length_in_mm, check)
            _check_print((x, y), paper)


def _write_target(out: Path, paper: PaperName) -> None:
    from hubsight.show.prepare.card import draw_card  # noqa: PLC0415 - drawing is needed here only
    from hubsight.target.draw import write_target  # noqa: PLC0415

    try:
        write_target(out, paper, draw_card)
    except (OSError, ValueError) as error:
        what = f"the target cannot be written ({getattr(error, 'strerror', None) or error})"
        raise bad(str(out), what, "Name a .pdf, .svg or .png file in a folder that is there") from error
    card = " Its second page shows how to prepare." if out.suffix.lower() == ".pdf" else ""
    typer.echo(f"{out} written. Print it at 100 %, then measure both check bars with a caliper.{card}")


def _check_print(check: tuple[float, float], paper: PaperName) -> None:
    found = check_print(*check, paper)
    for sentence in (*found.sentences, *found.warnings):
        typer.echo(sentence)
    if not found.usable:
        raise JobFileError(
            Problem("--check", None, "", refusal.reason, refusal.remedy) for refusal in found.refusals
        )
