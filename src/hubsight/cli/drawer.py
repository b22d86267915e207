"""``hubsight drawer``."""

from __future__ import annotations

import datetime
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer
from pydantic import ValidationError
from rich.console import Console

from hubsight.cli.common import ExitCode, bad, bad_input, length_in_mm
from hubsight.job.file.from_drawer import lots_of
from hubsight.job.plan import with_drawer
from hubsight.kit import Kit, KitError, user_kit_folder
from hubsight.kit.drawer import (
    USUAL_NAME,
    DrawerLot,
    KitDrawer,
    drawers,
    from_csv,
    load_drawer,
    opened_drawer,
    save_drawer,
    to_csv,
)
from hubsight.model.files import write_atomically
from hubsight.record.planned import planned_from_record
from hubsight.show.own_stock import own_stock_sentences

app = typer.Typer(
    help="Keep the spokes in your drawer: lengths and counts, and what a wheel takes from them.",
    invoke_without_command=True,
)

Which = Annotated[str, typer.Option("--drawer", help="Name of the drawer, if you keep several.")]
Wire = Annotated[
    str, typer.Option(help="As 2.0, 2.0/1.8/2.0 or 2.0/2.2x1.0/2.0, mm.", show_default=False, metavar="MM")
]
Length = Annotated[
    float, typer.Argument(help="Length, mm.", parser=length_in_mm, metavar="MM", show_default=False)
]
Count = Annotated[int, typer.Argument(help="How many.", min=1, show_default=False)]


class HeadOption(StrEnum):
    """Heads of spokes."""

    STRAIGHT = "straight-pull"
    BENT = "J-bend"


Head = Annotated[HeadOption, typer.Option(help="Its head.", case_sensitive=False)]


@contextmanager
def _plain(name: str) -> Iterator[None]:
    """Turn what is wrong with a drawer into a sentence."""
    with bad_input():
        try:
            yield
        except KitError as error:
            raise bad(name, error.what, error.remedy) from error
        except ValidationError as error:
            first = error.errors()[0]
            what = f"{first['loc'][0]} {first['input']} cannot be right"
            raise bad(name, what, "Give lengths in mm, and wire as 2.0/1.8/2.0") from error


def _close(drawer: KitDrawer, name: str) -> None:
    file = save_drawer(drawer, name, user_kit_folder())
    typer.echo(f'{drawer.spokes} spokes are in the drawer "{name}", kept in {file}')


@app.callback()
def _list(context: typer.Context) -> None:
    """List what is in the drawers."""
    if context.invoked_subcommand is not None:
        return
    with _plain("drawer"):
        kit = Kit.beside(None)
        names = drawers(kit)
        if not names:
            typer.echo("There is no drawer yet. Enter spokes, for example, with:")
            typer.echo("hubsight drawer put 294 24 --wire 2.0/1.8/2.0")
        for name in names:
            drawer, _ = load_drawer(kit, name)
            typer.echo(f'drawer "{name}": {drawer.spokes} spokes')
            for lot in drawer.lots:
                typer.echo(f"  {lot.words()}")
            typer.echo(f'In a job write, under [spokes]:  drawer = "{name}"')


@app.command()
def put(
    length: Length,
    count: Count,
    wire: Wire = "",
    head: Head = HeadOption.STRAIGHT,
    drawer: Which = USUAL_NAME,
) -> None:
    """Put spokes in."""
    with _plain(drawer):
        lot = DrawerLot(length=length, count=count, wire=wire, head=head.value)
        _close(opened_drawer(drawer).with_more(lot), drawer)


@app.command()
def take(
    length: Length,
    count: Count,
    wire: Wire = "",
    head: Head = HeadOption.STRAIGHT,
    drawer: Which = USUAL_NAME,
) -> None:
    """Take spokes out."""
    with _plain(drawer):
        lot = DrawerLot(length=length, count=count, wire=wire, head=head.value)
        _close(opened_drawer(drawer).without(lot), drawer)


@app.command()
def read(
    file: Annotated[Path, typer.Argument(help="CSV with the columns length_mm, count, wire, head.")],
    add: Annotated[
        bool, typer.Option("--add", help="Add to what is there, instead of in its place.")
    ] = False,
    drawer: Which = USUAL_NAME,
) -> None:
    """Read a CSV: what the drawer holds, as counted."""
    with _plain(str(file)):
        try:
            lots = from_csv(file.read_text(encoding="utf-8"))
        except (OSError, UnicodeDecodeError) as error:
            raise KitError("it cannot be read as text", "Save it as CSV in UTF-8") from error
        now = opened_drawer(drawer)
        held = now if add else now.model_copy(update={"lots": ()})
        for lot in lots:
            held = held.with_more(lot)
        _close(held, drawer)


@app.command()
def write(
    file: Annotated[
        Path | None, typer.Argument(help="CSV to write; the screen if not given.", show_default=False)
    ] = None,
    drawer: Which = USUAL_NAME,
) -> None:
    """Write what the drawer holds as CSV."""
    with _plain(drawer):
        text = to_csv(load_drawer(Kit.beside(None), drawer)[0])
        if file is None:
            typer.echo(text, nl=False)
            return
        try:
            write_atomically(file, text.encode())
        except OSError as error:
            raise KitError(f"{file} cannot be written ({error.strerror})", "Name another file") from error
        typer.echo(f"{file} written")


@app.command()
def use(
    job: Annotated[Path, typer.Argument(help="The job of the wheel.", metavar="JOB", show_default=False)],
    book: Annotated[bool, typer.Option("--book", help="Take these spokes out of the drawer.")] = False,
    drawer: Which = USUAL_NAME,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Say which spokes a wheel takes from the drawer, what to order, and what is left over."""
    with _plain(drawer):
        held, _ = load_drawer(Kit.beside(job if job.is_dir() else job.parent), drawer)
        loaded, planned = planned_from_record(job)
        own = None if planned.plan is None else with_drawer(planned, lots_of(held))
        if own is None:
            remedy = f"See why with: hubsight lengths {job}"
            raise bad(str(job), "there is no order, so nothing can be taken", remedy)
        if json:
            sys.stdout.write(own.model_dump_json(indent=1) + "\n")
        else:
            for sentence in own_stock_sentences(own):
                Console().print(sentence, highlight=False, markup=False)
        if book:
            _close(held.for_wheel(loaded.name, held.taken_by(own), datetime.date.today()), drawer)
    raise typer.Exit(ExitCode.MEASURED)
