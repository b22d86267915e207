"""``hubsight hubs``."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import zip_longest
from pathlib import Path
from typing import Annotated

import typer
from rich import box
from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from hubsight.cli.common import bad, bad_input
from hubsight.model.catalogue import ON_SHELF, SIDE_WORDS
from hubsight.model.files import write_atomically
from hubsight.shelf import Query, Repeats, Shelf, ShelvedSide, parse_query, repeats, shelf_csv
from hubsight.shelf.model import Measured

_SHOWN = [name for name, entry in ON_SHELF.items() if entry.listed]
"""Figures in the list, by name."""

TABLE_WIDTH = 130
"""Columns of a window from which the list is a table."""


def hubs(  # noqa: PLR0917 - Typer passes options by name
    folder: Annotated[Path, typer.Argument(help="Folder with jobs in it, at any depth.")],
    query: Annotated[
        list[str] | None,
        typer.Argument(help='Words or dimensions: "d about 44, six bosses".', show_default=False),
    ] = None,
    side_by_side: Annotated[
        bool, typer.Option("--repeats", help="Repeat measurements of a model of hub, side by side.")
    ] = False,
    csv: Annotated[
        Path | None,
        typer.Option(help="Write what is found to a file.", metavar="FILE", show_default=False),
    ] = None,
    rebuild: Annotated[bool, typer.Option("--rebuild", help="Make the index again.")] = False,
    most: Annotated[int, typer.Option(help="Largest number of lines shown.", min=1)] = 40,
) -> None:
    """List the measured hubs of a folder tree, or find them by words and dimensions."""
    with bad_input():
        wanted = parse_query(" ".join(query or []))
        with Shelf(folder, rebuild=rebuild) as shelf:
            shelf.refresh()
            console = Console(highlight=False)
            if csv is not None:
                _write(csv, shelf_csv(shelf.find(wanted)))
            elif side_by_side:
                _print_repeats(console, repeats(shelf.find(wanted)))
            else:
                _print_list(console, shelf, wanted, most)
            for problem in shelf.problems():
                typer.echo(problem, err=True)


def _write(file: Path, text: str) -> None:
    try:
        write_atomically(file, text.encode("utf-8-sig"))  # so that spreadsheets take it for UTF-8
    except OSError as error:
        what = f"the table cannot be written there ({error.strerror})"
        raise bad(str(file), what, "Name another file with --csv") from error
    typer.echo(f"{file} written")


def _print_list(console: Console, shelf: Shelf, wanted: Query, most: int) -> None:
    found = shelf.find(wanted, most=most)
    if found:
        console.print(_table(found) if console.width >= TABLE_WIDTH else _paragraphs(found))
    more = shelf.count(wanted) - len(found)
    if more > 0:
        console.print(f"  and {more} more: narrow the search, or raise --most")
    elif not found:
        console.print("Nothing found.")


def _table(found: Sequence[ShelvedSide]) -> Table:
    table = Table(box=box.SIMPLE_HEAD)
    for name in ("hub", "job", "side", "measured", "bosses", "crosses"):
        table.add_column(name, overflow="fold")
    for name in _SHOWN:
        table.add_column(ON_SHELF[name].words, justify="right", overflow="fold")
    for side in found:
        table.add_row(*_cells(side))
    return table


def _paragraphs(found: Sequence[ShelvedSide]) -> Group:
    """Return a paragraph for each side, for a window in which the table's columns would be torn apart."""
    return Group(*(part for side in found for part in _paragraph(side)))


def _paragraph(side: ShelvedSide) -> Iterator[RenderableType]:
    hub, job, side_words, day, bosses, crosses, *figures = (cell.plain for cell in _cells(side))
    yield Text(f"{hub or job}, {side_words.lower()}", style="bold")
    laced = {"?": "crosses unknown", "radial": "radial"}.get(crosses, f"{crosses} crosses")
    about = [job] * bool(hub) + [day, f"{bosses} bosses", laced]
    yield Padding(Text(", ".join(about)), (0, 0, 0, 2))
    columns = Table.grid(padding=(0, 2))
    named = [(ON_SHELF[name].words, value) for name, value in zip(_SHOWN, figures, strict=True)]
    for left, right in zip_longest(named[::2], named[1::2], fillvalue=("", "")):
        columns.add_row(*map(Text, (*left, *right)))
    yield Padding(columns, (0, 0, 1, 2))


def _cells(side: ShelvedSide) -> list[Text]:
    crosses = {None: "?", 0: "radial"}.get(side.crosses, str(side.crosses))
    words = (side.hub, Path(side.record).parent.as_posix(), SIDE_WORDS[side.side], side.measured_at[:10])
    figures = (_figure(side.figures.get(name)) for name in _SHOWN)
    return [Text(text) for text in (*words, str(side.bosses), crosses, *figures)]


def _figure(figure: Measured | None) -> str:
    return "-" if figure is None else f"{figure.value:.2f} ± {figure.u:.2f}"


def _print_repeats(console: Console, groups: list[Repeats]) -> None:
    if not groups:
        console.print("No hub of the same name was measured from different photos.")
    for group in groups:
        table = Table(title=Text(f"{group.hub}, {SIDE_WORDS[group.side].lower()}"), title_justify="left")
        table.box = box.SIMPLE_HEAD
        table.add_column("figure")
        for side in group.sides:
            table.add_column(Text(Path(side.record).parent.as_posix()), justify="right", overflow="fold")
        for name in ("mean", "scatter", "stated ± u", "the stated explain it"):
            table.add_column(name, justify="right")
        for item in group.figures:
            values = [_figure(value) for value in item.values]
            told = (f"{item.mean:.2f}", f"{item.scatter:.2f}", f"{item.stated:.2f}")
            table.add_row(ON_SHELF[item.name].words, *values, *told, "yes" if item.explained else "NO")
        console.print(table)
