"""The builder's kit on the page: rims with their readings, and the drawer of spokes."""

from __future__ import annotations

import asyncio
import datetime
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError
from pydantic_core import PydanticCustomError
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from hubsight.job.file.kit_check import check_item
from hubsight.job.file.rim_of_kit import describe_rim
from hubsight.kit import Kit, KitError, KitRim, save_item, user_kit_folder
from hubsight.kit.drawer import (
    USUAL_NAME,
    DrawerLot,
    KitDrawer,
    drawers,
    from_csv,
    opened_drawer,
    save_drawer,
    to_csv,
)
from hubsight.page.door import refused, small_json
from hubsight.page.entries import EntryError, entry_error, read_entries
from hubsight.page.fields import NIPPLE_KINDS, Field
from hubsight.page.handlers import Handler
from hubsight.page.jobs import identifier
from hubsight.page.pages import render
from hubsight.show.rim_picture import rim_picture
from hubsight.show.rim_words import rim_sentences
from hubsight.wheel.rim import ERD_DEFINITION

LARGEST_CSV = 262_144
"""Bytes of a drawer's CSV."""

RIM = (
    Field("name", "Name of the rim", "As your jobs will call it", kind="words"),
    Field("erd", "ERD on each diameter", "Four readings, evenly round half the rim: 596.1 595.8 596.2 595.9"),
    Field("holes", "Spoke holes", kind="count"),
    Field("nipple", "Nipple it was measured with", kind="choice", choices=(("", "not noted"), *NIPPLE_KINDS)),
    Field("washer", "Washer under it", "Its thickness; empty for none"),
)
"""Fields of a rim."""
RIM_BY_RODS = (
    Field("rods", "Both rods", "From the inner end to the bottom of its nipple's slot: 300 200"),
    Field("gaps", "Gap between the rods on each diameter", "Negative where the rods overlap"),
)
"""Fields of its ERD by rods and gaps."""
RIM_MORE = (
    Field("at", "Spoke hole of each reading", "1 is the first after the valve hole", kind="words"),
    Field("seat_to_slot", "From that nipple's seat out to its slot", "Corrects the ERD for other nipples"),
    Field("offset", "Rim offset", "Of the spoke holes, positive towards the drive side"),
    Field("hole_stagger", "Hole stagger", "How far each side's holes lie from the holes' middle"),
    Field("row", "Row of holes that repeats", "D and N for the sides, such as DND", kind="words"),
    Field("mass", "Mass, g", kind="count"),
    Field(
        "bead_seat",
        "Bead seat",
        kind="choice",
        choices=(("", "not noted"), *((size, size) for size in ("622", "584", "559"))),
    ),
    Field("note", "Note", kind="words"),
)
"""Fields that few rims need."""
EVERY_RIM_FIELD = (*RIM, *RIM_BY_RODS, *RIM_MORE)
"""All of these."""

LOT = (
    Field("length", "Length", kind="number"),
    Field("count", "How many", kind="count"),
    Field("wire", "Wire", "As 2.0 or 2.0/1.8/2.0, mm; empty if not known", kind="words"),
    Field("head", "Head", kind="choice", choices=(("straight-pull", "straight-pull"), ("J-bend", "J-bend"))),
)
"""Fields of spokes that go into the drawer."""


@dataclass(frozen=True)
class ShownRim:
    """A rim of the kit: what is said of it, or why it cannot be used."""

    id: str
    name: str
    words: str
    sentences: tuple[str, ...] = ()
    readings: tuple[float, ...] = ()
    usable: bool = True


def shown_rims(kit: Kit) -> list[ShownRim]:
    """Return all rims of the kit."""
    return [_shown(kit, name) for name in kit.files("rim")]


def _shown(kit: Kit, name: str) -> ShownRim:
    try:
        rim = _load(kit, name)
        said = tuple(rim_sentences(rim))
    except KitError as error:
        return ShownRim(identifier(name), name, f"cannot be used: {error.what}", usable=False)
    except PydanticCustomError as error:
        return ShownRim(identifier(name), name, f"cannot be used: {error.message()}", usable=False)
    return ShownRim(identifier(name), name, describe_rim(rim), said, rim.diameters)


def _load(kit: Kit, name: str) -> KitRim:
    rim, _ = kit.load("rim", name)
    assert isinstance(rim, KitRim)
    return rim


def rim_of(typed: Mapping[str, Any]) -> tuple[str, KitRim]:
    """Return a rim as it was typed, and its name.

    Raises
    ------
    EntryError
        For what cannot be right.
    """
    read = read_entries(EVERY_RIM_FIELD, typed)
    name = read.pop("name", "")
    if not name:
        raise EntryError("A rim needs a name. Type letters or digits, such as light rim.", "name")
    if not {"erd", "gaps"} & set(read):
        raise EntryError("Type the ERD on each diameter, or two rods and their gaps.", "erd")
    if "at" in read:
        read["at"] = tuple(int(part) for part in read["at"].replace(",", " ").split() if part.isdecimal())
        if "holes" not in read or len(read["at"]) != len(read.get("erd") or read.get("gaps", ())):
            what = "Name one spoke hole for each reading, and state how many the rim has."
            raise EntryError(what, "at")
    if "bead_seat" in read:
        read["bead_seat"] = int(read["bead_seat"])
    if read.get("washer") == (0.0,):
        del read["washer"]
    try:
        return name, KitRim.model_validate({"date": datetime.date.today(), **read})
    except ValidationError as error:
        raise entry_error(error, EVERY_RIM_FIELD) from error


class KitPages:
    """The addresses of rims and drawer."""

    def routes(self, inside: Callable[[Handler], Handler]) -> list[Route]:
        """Return the addresses, each let in by ``inside``."""
        return [
            Route("/rims", inside(self._rims)),
            Route("/rims", inside(self._add_rim), methods=["POST"]),
            Route("/rims/{rim}/picture.svg", inside(self._rim_picture)),
            Route("/drawer", inside(self._drawer)),
            Route("/drawer/{drawer}/{change}", inside(self._change_drawer), methods=["POST"]),
            Route("/drawer/{drawer}/spokes.csv", inside(self._drawer_csv)),
        ]

    async def _rims(self, request: Request) -> Response:  # noqa: ARG002
        rims = await asyncio.to_thread(shown_rims, Kit.beside(None))
        return render(
            "rims.html.j2", rims=rims, fields=RIM, rods=RIM_BY_RODS, more=RIM_MORE, definition=ERD_DEFINITION
        )

    async def _add_rim(self, request: Request) -> Response:
        typed = await small_json(request)
        try:
            name, rim = rim_of(typed)
            if name in Kit.beside(None).files("rim") and not typed.get("replace"):
                said = f'There is a rim "{name}" already. Choose another name, or tick “in its place”.'
                raise EntryError(said, "name")
            check_item(rim, Kit.beside(None))
            await asyncio.to_thread(
                save_item, rim, "rim", name, user_kit_folder(), replace=bool(typed.get("replace"))
            )
        except EntryError as error:
            return _wrong(str(error), error.field)
        except KitError as error:
            return _wrong(f"{error.what[:1].upper()}{error.what[1:]}. {error.remedy}.", "")
        return JSONResponse({"to": f"/rims#rim-{identifier(name)}"})

    async def _rim_picture(self, request: Request) -> Response:
        kit = Kit.beside(None)
        wanted = request.path_params["rim"]
        name = next((name for name in kit.files("rim") if identifier(name) == wanted), None)
        try:
            drawn = None if name is None else rim_picture(name, _load(kit, name))
        except (KitError, PydanticCustomError):
            drawn = None
        if drawn is None:
            return refused("There is no such rim.", 404)
        return Response(str(drawn), media_type="image/svg+xml")

    async def _drawer(self, request: Request) -> Response:
        every = shown_drawers()
        asked = request.query_params.get("which", "")
        drawer = next((one for one in every if one.id == asked), every[0])
        return render("drawer.html.j2", drawer=drawer, every=every, fields=LOT)

    async def _change_drawer(self, request: Request) -> Response:
        name = _named(request)
        if name is None:
            return refused("There is no such drawer.", 404)
        typed = await small_json(request, LARGEST_CSV)
        try:
            drawer = _changed(opened_drawer(name), request.path_params["change"], typed)
            await asyncio.to_thread(save_drawer, drawer, name, user_kit_folder())
        except EntryError as error:
            return _wrong(str(error), error.field)
        except KitError as error:
            remedy = error.remedy.partition(" with: hubsight")[0]
            return _wrong(f"{error.what[:1].upper()}{error.what[1:]}. {remedy}.", "")
        return JSONResponse({"to": f"/drawer?which={identifier(name)}"})

    async def _drawer_csv(self, request: Request) -> Response:
        name = _named(request)
        if name is None:
            return refused("There is no such drawer.", 404)
        headers = {"Content-Disposition": 'attachment; filename="spokes.csv"'}
        return Response(to_csv(opened_drawer(name)), media_type="text/csv", headers=headers)


@dataclass(frozen=True)
class ShownDrawer:
    """A drawer; ``trouble`` says why it cannot be read."""

    id: str
    name: str
    drawer: KitDrawer
    trouble: str = ""


def shown_drawers() -> list[ShownDrawer]:
    """Return the user's drawers; one that is empty where there is none."""
    names = list(drawers(Kit.beside(None))) or [USUAL_NAME]
    return [_shown_drawer(name) for name in names]


def _shown_drawer(name: str) -> ShownDrawer:
    try:
        return ShownDrawer(identifier(name), name, opened_drawer(name))
    except KitError as error:
        return ShownDrawer(identifier(name), name, KitDrawer(date=datetime.date.today()), str(error))


def _named(request: Request) -> str | None:
    names = (*drawers(Kit.beside(None)), USUAL_NAME)
    return next((name for name in names if identifier(name) == request.path_params["drawer"]), None)


def _changed(drawer: KitDrawer, change: str, typed: Mapping[str, Any]) -> KitDrawer:
    """Return a drawer after spokes were put in or taken out, or were counted anew.

    Raises
    ------
    EntryError, KitError
        For what cannot be right.
    """
    if change == "csv":
        held = drawer if typed.get("add") else drawer.model_copy(update={"lots": ()})
        for lot in from_csv(str(typed.get("csv", ""))):
            held = held.with_more(lot)
        return held
    if change not in ("put", "take"):
        raise ValueError("no such change")
    read = read_entries(LOT, typed)
    for field in LOT[:2]:
        if field.name not in read:
            raise EntryError(f"{field.label}: this is missing. Type a number.", field.name)
    if read["count"] == 0:
        raise EntryError("How many: at least one. Type a whole number.", "count")
    try:
        lot = DrawerLot.model_validate(read)
    except ValidationError as error:
        raise entry_error(error, LOT) from error
    return drawer.with_more(lot) if change == "put" else drawer.without(lot)


def _wrong(sentence: str, field: str) -> Response:
    return JSONResponse({"error": sentence, "field": field}, status_code=422)
