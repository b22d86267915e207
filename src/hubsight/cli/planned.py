"""The option by which commands about the wheel take figures from a file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

MeasuredFile = Annotated[
    Path | None,
    typer.Option(
        help="Take the figures from what `measure --json` wrote, or a record, instead of measuring.",
        show_default=False,
        metavar="FILE",
    ),
]
