"""Several wheels from one hub on the screen, 80 columns wide."""

from __future__ import annotations

from collections.abc import Sequence

from rich import box
from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from hubsight.job.what_if import WhatIf
from hubsight.show.what_if_view import (
    FOOT,
    LENGTH_COLUMNS,
    WHEEL_COLUMNS,
    Said,
    WhatIfView,
    what_if_view,
)

TWO_LINES = {"too short": "too\nshort", "too long": "too\nlong"}
"""Heads of narrow columns."""


def print_what_if(console: Console, found: WhatIf) -> None:
    """Print which spokes each wheel takes, how the wheels compare, and which is best at what."""
    view = what_if_view(found)
    console.print(Text(view.title, style="bold"))
    _say(console, view.says)
    console.print(_lengths_table(view))
    console.print(_wheels_table(view))
    _say(console, view.best)
    console.print()
    _say(console, view.reasons)
    console.print(Padding(Text(FOOT, style="dim"), (1, 0, 0, 2)))


def _say(console: Console, sentences: Sequence[Said]) -> None:
    for one in sentences:
        label = f"{one.about}: " if one.about else ""
        console.print(Padding(Text.assemble((label, "bold"), one.sentence), (0, 0, 0, 2)))


def _table(columns: Sequence[str]) -> Table:
    table = Table(box=box.SIMPLE_HEAD, padding=(0, 1, 0, 0))
    table.add_column(columns[0], overflow="fold")
    for name in columns[1:]:
        table.add_column(TWO_LINES.get(name, name), justify="right")
    return table


def _lengths_table(view: WhatIfView) -> Table:
    table = _table(LENGTH_COLUMNS)
    table.columns[1].justify = "left"
    for row in view.rows:
        table.add_section()
        for number, cells in enumerate(row.sides):
            table.add_row(row.name if number == 0 else "", *cells)
    return table


def _wheels_table(view: WhatIfView) -> Table:
    table = _table(WHEEL_COLUMNS)
    for column in (4, 5):
        table.columns[column].justify = "left"
        table.columns[column].overflow = "fold"
    for row in view.rows:
        table.add_row(row.name, *row.cells)
    return table
