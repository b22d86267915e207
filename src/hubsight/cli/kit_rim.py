"""``hubsight kit add-rim`` and ``hubsight kit rim``: rims as things of their own."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer
from pydantic_core import PydanticCustomError

from hubsight.cli.common import Readings, bad, length_in_mm, reading
from hubsight.cli.kit import Day, Folder, Name, Note, Replace, app, day_of, keep, plain
from hubsight.job.file.rim_of_kit import describe_rim, directions_of, erd_with, rim_roundness
from hubsight.kit import Kit, KitError, KitRim
from hubsight.model.frozen import Frozen
from hubsight.show.rim_picture import rim_picture
from hubsight.show.rim_words import rim_sentences
from hubsight.show.vector import write_svg
from hubsight.wheel.rim import ERD_DEFINITION
from hubsight.wheel.roundness import Roundness


class NippleChoice(StrEnum):
    """Kinds of nipples."""

    SLOTTED = "slotted"
    TALL_HEAD = "tall_head"
    INTERNAL = "internal"


class RimDocument(Frozen):
    """A rim of the kit, judged.

    Attributes
    ----------
    name, rim
        As it was entered.
    erd, u
        With the nipples and washers that were asked for, and its standard uncertainty; mm.
    change, because, warning
        What the asked ones change against those of the readings, why, and what is not known.
    directions
        Of the readings, degrees from the valve hole.
    roundness
        None where too few directions were read.
    """

    name: str
    rim: KitRim
    erd: float
    u: float
    change: float
    because: tuple[str, ...]
    warning: str
    directions: tuple[float, ...]
    roundness: Roundness | None


def _signed(what: str) -> object:
    """Return an option of one or several lengths that may be negative."""
    return typer.Option(help=f"{what}, mm.", show_default=False, metavar="MM", parser=length_in_mm)


@app.command()
def add_rim(  # noqa: PLR0917 - Typer passes options by name
    name: Name,
    erd: Annotated[
        Readings | None, reading("ERD on one diameter; again for the next one round the rim")
    ] = None,
    rod: Annotated[
        Readings | None, reading("Length of a rod from its inner end to its nipple's slot; give both rods")
    ] = None,
    gap: Annotated[Readings | None, _signed("Between the rods' ends; again for the next diameter")] = None,
    overlap: Annotated[Readings | None, reading("By how much the rods overlap, instead of a gap")] = None,
    holes: Annotated[int | None, typer.Option(help="Spoke holes.", show_default=False)] = None,
    at: Annotated[
        list[int] | None,
        typer.Option(
            help="Spoke hole of each reading, 1 the first after the valve hole; evenly spread if left out.",
            show_default=False,
        ),
    ] = None,
    nipple: Annotated[
        NippleChoice | None,
        typer.Option(help="Kind of nipple that it was measured with.", show_default=False),
    ] = None,
    seat_to_slot: Annotated[
        Readings | None, _signed("From that nipple's seat out to the bottom of its slot")
    ] = None,
    washer: Annotated[Readings | None, reading("Thickness of a washer that was under it")] = None,
    offset: Annotated[
        Readings | None, _signed("Of the holes from the rim's middle, positive towards the drive side")
    ] = None,
    hole_stagger: Annotated[
        Readings | None, reading("How far each side's holes lie from the holes' middle")
    ] = None,
    row: Annotated[str, typer.Option(help='Row of holes that repeats, as "DND".', show_default=False)] = "",
    mass: Annotated[float | None, typer.Option(help="Mass, g.", show_default=False)] = None,
    bead_seat: Annotated[int | None, typer.Option(help="622, 584 or 559.", show_default=False)] = None,
    day: Day = None,
    note: Note = "",
    job: Folder = None,
    replace: Replace = False,
) -> None:
    """Keep a rim: its ERD as it was read, with which nipple and washer, and what else jobs state of it."""
    with plain(name):
        if gap and overlap:
            raise KitError("gaps and overlaps are given", "Give an overlap as a negative --gap among gaps")
        rim = KitRim.model_validate(
            {
                "date": day_of(day),
                "note": note,
                "holes": holes,
                "erd": tuple(erd or ()),
                "rods": tuple(rod or ()),
                "gaps": tuple(gap or (-value for value in overlap or ())),
                "at": tuple(at or ()),
                "nipple": None if nipple is None else nipple.value,
                "seat_to_slot": tuple(seat_to_slot or ()),
                "washer": tuple(washer or ()),
                "offset": tuple(offset or ()),
                "hole_stagger": tuple(hole_stagger or ()),
                "even": True,
                "row": row,
                "mass": mass,
                "bead_seat": bead_seat,
            }
        )
        keep(rim, "rim", name, job, replace=replace)
        for sentence in rim_sentences(rim):
            typer.echo(sentence)


@app.command()
def rim(  # noqa: PLR0917 - Typer passes options by name
    name: Name,
    nipple: Annotated[
        NippleChoice | None, typer.Option(help="Kind of nipple of the wheel.", show_default=False)
    ] = None,
    seat_to_slot: Annotated[
        Readings | None, _signed("From the wheel's nipple's seat out to the bottom of its slot")
    ] = None,
    washer: Annotated[Readings | None, reading("Thickness of the wheel's washers, 0 for none")] = None,
    picture: Annotated[
        Path | None,
        typer.Option(help="Write a picture of how round it is, SVG.", metavar="FILE", show_default=False),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
    job: Folder = None,
) -> None:
    """Show a rim: ERD, how round it is, and its ERD with other nipples or washers."""
    with plain(name):
        item, _ = Kit.beside(job).load("rim", name)
        assert isinstance(item, KitRim)
        try:
            found = erd_with(item, None if nipple is None else nipple.value, seat_to_slot, washer)
        except PydanticCustomError as error:
            what, _, remedy = error.message().partition(". ")
            raise KitError(what, remedy or "Measure again") from error
        if picture is not None:
            _write(name, item, picture)
        if json:
            document = RimDocument(
                name=name,
                rim=item,
                erd=found.erd.value,
                u=found.erd.u,
                change=found.change,
                because=found.because,
                warning=found.warning,
                directions=directions_of(item),
                roundness=rim_roundness(item),
            )
            sys.stdout.write(document.model_dump_json(indent=1) + "\n")
            return
    typer.echo(f'rim "{name}": {describe_rim(item)}')
    for sentence in rim_sentences(item):
        typer.echo(sentence)
    if found.because or found.warning:
        said = f"With {' and '.join(found.because)}" if found.because else "With other nipples"
        typer.echo(f"{said}: ERD {found.erd.value:.2f} ± {found.erd.u:.2f} mm ({found.change:+.2f} mm).")
    if found.warning:
        typer.echo(f"{found.warning[:1].upper()}{found.warning[1:]}.")
    typer.echo(ERD_DEFINITION)
    if picture is not None:
        typer.echo(f"Drawn in {picture}")


def _write(name: str, rim: KitRim, picture: Path) -> None:
    try:
        write_svg(rim_picture(name, rim), picture)
    except (OSError, ValueError) as error:
        what = f"the picture cannot be written ({error})"
        raise bad(str(picture), what, "Name a .svg file in a folder that is there") from error
