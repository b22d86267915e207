"""``hubsight kit``; its commands about rims are in `hubsight.cli.kit_rim`."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer
from pydantic import ValidationError

from hubsight.cli.common import Readings, bad, bad_input, reading
from hubsight.cli.measure import Tip
from hubsight.job.file.from_kit import describe
from hubsight.job.file.kit_check import check_item
from hubsight.kit import Kit, KitCaliper, KitError, KitGauge, KitItem, KitKind, KitTarget, save_item
from hubsight.kit import user_kit_folder as own_folder
from hubsight.kit.store import KINDS, read_item
from hubsight.model.stated import PaperName

app = typer.Typer(
    help="Enter gauges, printed targets, calipers, cameras and rims once, and name them in jobs.",
    invoke_without_command=True,
)

Folder = Annotated[
    Path | None,
    typer.Option(
        "--in", help="A job's folder instead of your own kit.", metavar="FOLDER", show_default=False
    ),
]
Name = Annotated[str, typer.Argument(help="Its name, as jobs will call it.", show_default=False)]
Day = Annotated[
    str | None,
    typer.Option(help="Day of the readings, as 2026-05-31; today if left out.", show_default=False),
]
Replace = Annotated[bool, typer.Option("--replace", help="Overwrite what has this name.")]
Note = Annotated[str, typer.Option(help="Anything to remember.", show_default=False)]
By = Annotated[str | None, typer.Option(help="Caliper of the kit that it was read with.", show_default=False)]


@contextmanager
def plain(name: str) -> Iterator[None]:
    """Turn what is wrong with kit into a sentence."""
    with bad_input():
        try:
            yield
        except KitError as error:
            raise bad(name, error.what, error.remedy) from error
        except ValidationError as error:
            first = error.errors()[0]
            where = ".".join(map(str, first["loc"]))
            what = f"{first['msg'][0].lower()}{first['msg'][1:]}".replace("input should", "this must")
            raise bad(name, f"{where} {first['input']}: {what}", "Correct it and enter it again") from error


def _kit_folder(job: Path | None) -> Path:
    return own_folder() if job is None else job / "kit"


def keep(item: KitItem, kind: KitKind, name: str, job: Path | None, *, replace: bool) -> None:
    """Keep a piece of kit that can be right, and say how a job names it."""
    if job is not None and not job.is_dir():
        raise bad(str(job), "there is no such folder", "Name a job's folder")
    check_item(item, Kit.beside(job))
    file = save_item(item, kind, name, _kit_folder(job), replace=replace)
    typer.echo(f'Kept {kind} "{name}": {describe(item)}.')
    typer.echo(f"It lies in {file}")
    typer.echo(_how_to_name(kind, name))


def _how_to_name(kind: KitKind, name: str) -> str:
    tables = {"gauge": "[gauges.a]", "target": "[target]", "caliper": "[kit]", "camera": "[camera]"}
    table = tables.get(kind, f"[{kind}]")
    key = "caliper" if kind == "caliper" else "kit"
    return f'In a job write, under {table}:  {key} = "{name}"'


def day_of(day: str | None) -> datetime.date:
    """Return the day that is typed; today if none is."""
    if day is None:
        return datetime.date.today()
    try:
        read = datetime.date.fromisoformat(day)
    except ValueError as error:
        raise KitError(f"{day} is no day", "Write it as 2026-05-31: year, month, day") from error
    if read > datetime.date.today():
        raise KitError(f"{day} lies in the future", "Give the day on which the readings were taken")
    return read


@app.callback()
def _list(context: typer.Context, job: Folder = None) -> None:
    """List the kit."""
    if context.invoked_subcommand is not None:
        return
    pieces = list(Kit.beside(job).every())
    if not pieces:
        typer.echo("There is no kit yet. Enter a gauge, for example, with:")
        typer.echo("hubsight kit add-gauge long --length 100.08 --length 100.06 --length 100.07")
    for kind, name, file in pieces:
        try:
            typer.echo(f'{kind} "{name}": {describe(read_item(file, kind))}')
        except KitError as error:
            typer.echo(f'{kind} "{name}": cannot be used: {error}')
    typer.echo(f"Your kit lies in {own_folder()}")


@app.command()
def show(name: Name, job: Folder = None) -> None:
    """Show all that is known of a piece of kit."""
    with plain(name):
        kit = Kit.beside(job)
        kinds = [kind for kind in KINDS if name in kit.files(kind)]
        if not kinds:
            raise KitError("there is no such piece of kit", "See what there is with: hubsight kit")
        for kind in kinds:
            item, file = kit.load(kind, name)
            typer.echo(f'{kind} "{name}": {describe(item)}')
            typer.echo(item.model_dump_json(indent=1, exclude={"covariance"}))
            typer.echo(f"It lies in {file}")
            typer.echo(_how_to_name(kind, name))


@app.command()
def add_gauge(  # noqa: PLR0917 - Typer passes options by name
    name: Name,
    length: Annotated[
        Readings, reading("Length from under the head to the far end; again for more readings")
    ],
    diameter: Annotated[Readings | None, reading("Diameter of its wire")] = None,
    tip: Annotated[Tip, typer.Option(help="What is on its far end.")] = Tip.FLAT,
    caliper: By = None,
    day: Day = None,
    note: Note = "",
    job: Folder = None,
    replace: Replace = False,
) -> None:
    """Keep a gauge spoke."""
    with plain(name):
        gauge = KitGauge(
            date=day_of(day),
            note=note,
            length=tuple(length),
            diameter=tuple(diameter or ()),
            tip=tip.value,
            caliper=caliper,
        )
        keep(gauge, "gauge", name, job, replace=replace)


@app.command()
def add_target(  # noqa: PLR0917 - Typer passes options by name
    name: Name,
    bar_x: Annotated[Readings, reading("Check bar along the long side; again for more readings")],
    bar_y: Annotated[Readings, reading("Check bar along the short side; again for more readings")],
    paper: Annotated[PaperName, typer.Option(help="That it is printed on.", case_sensitive=False)] = "a4",
    caliper: By = None,
    day: Day = None,
    note: Note = "",
    job: Folder = None,
    replace: Replace = False,
) -> None:
    """Keep a printed target with the readings of its check bars."""
    with plain(name):
        target = KitTarget(
            date=day_of(day),
            note=note,
            paper=paper,
            bar_x=tuple(bar_x),
            bar_y=tuple(bar_y),
            caliper=caliper,
        )
        keep(target, "target", name, job, replace=replace)


@app.command()
def add_caliper(  # noqa: PLR0917 - Typer passes options by name
    name: Name,
    u: Annotated[float, typer.Option("--u", help="Standard uncertainty of one reading, mm.", metavar="MM")],
    zero: Annotated[float, typer.Option(help="What it shows when closed, mm.", metavar="MM")] = 0.0,
    zero_u: Annotated[float, typer.Option(help="Standard uncertainty of that, mm.", metavar="MM")] = 0.005,
    day: Day = None,
    note: Note = "",
    job: Folder = None,
    replace: Replace = False,
) -> None:
    """Keep a caliper: what it is good for, and what it shows when closed."""
    with plain(name):
        caliper = KitCaliper(date=day_of(day), note=note, u=u, zero=zero, zero_u=zero_u)
        keep(caliper, "caliper", name, job, replace=replace)


@app.command()
def add_camera(
    name: Name,
    profile: Annotated[Path, typer.Argument(help="Profile that calibrate wrote.", show_default=False)],
    job: Folder = None,
    replace: Replace = False,
) -> None:
    """Keep a camera's profile; it is found again by the photos' tags."""
    with plain(name):
        keep(read_item(profile, "camera"), "camera", name, job, replace=replace)
