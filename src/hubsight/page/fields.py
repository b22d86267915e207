"""The fields of a job file that the page shows, and what they are called."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations
from pathlib import Path
from typing import Literal

from hubsight.kit.drawer import drawers
from hubsight.kit.store import Kit, KitKind
from hubsight.model.catalogue import OF_SIDE
from hubsight.model.stated import SIDES, SideName
from hubsight.page.stated import hub_of
from hubsight.target.geometry import PAPER_TITLE

Kind = Literal["readings", "number", "optional", "count", "choice", "gauges", "words", "kit"]

FIRST_GAUGE, SECOND_GAUGE = "a", "b"
"""Names of the gauges that the page adds."""
PLAIN_NAME = re.compile(r"[\w-]{1,40}")
"""Gauges of other names, which only a text editor makes, are left to it."""


@dataclass(frozen=True)
class Field:
    """One field.

    Attributes
    ----------
    name
        Dotted, as in the job file.
    label, hint
        For the user.
    kind
        How it is typed.
    choices
        Value and words of each choice.
    """

    name: str
    label: str
    hint: str = ""
    kind: Kind = "readings"
    choices: tuple[tuple[str, str], ...] = ()


SHEET = (
    Field(
        "target.paper",
        "Paper",
        kind="choice",
        choices=tuple(PAPER_TITLE.items()),
    ),
    Field("target.bar_x", "Check bar along the long side", "Caliper, tick to tick; 120 on a perfect print"),
    Field("target.bar_y", "Check bar along the short side", "Caliper, tick to tick"),
)
"""Fields of the printed sheet."""
WHEEL = (
    Field("hub.over_locknut", "Over-locknut", "From end face to end face"),
    Field("rim.erd", "ERD of the rim", "Diameter on which the spoke ends are to lie"),
    Field("rim.offset", "Rim offset", "Of the spoke holes, positive towards the drive side; 0 if none"),
    Field("wheel.spokes", "Spokes of the whole wheel", kind="count"),
    Field(
        "wheel.crosses",
        "Crosses",
        "Not counting the one inside the boss; 0 if spokes cross no others",
        kind="count",
    ),
)
"""Fields of hub, rim and wheel."""
NIPPLE_KINDS = (("slotted", "slotted"), ("tall_head", "tall head"), ("internal", "internal"))
"""Kinds of nipples, as they are shown."""
WHEEL_MORE = (
    Field("rim.washer", "Washers under the nipples", "Their thickness; empty without"),
    Field("rim.correction", "Your own correction of the ERD", "As your built wheels say; empty without"),
    Field("wheel.tension", "Tension of the tighter side, N", "Empty: as the trade has it", kind="count"),
    Field("nipple.kind", "Kind of nipple", kind="choice", choices=NIPPLE_KINDS),
)
"""Fields of the wheel that most jobs leave as they are, and the kinds of nipples."""
SPOKES = (
    Field("spokes.stock_step", "Spokes can be had in steps of", "2 if left empty", kind="optional"),
    Field("spokes.spares", "Spare spokes of each length", kind="count"),
    Field("nipple.length", "Nipple length", "12 if left empty", kind="number"),
)
"""Fields of spokes and nipples."""


def label_fields() -> tuple[Field, ...]:
    """Return the fields by which a job is found again."""
    return (
        Field("label.hub", "Hub", "What it is called, as you would look for it", kind="words"),
        Field("label.customer", "Customer", kind="words"),
        Field("label.wheel", "Wheel", "Such as rear, 28 inch", kind="words"),
        Field("label.notes", "Notes", kind="words"),
    )


def side_fields(side: SideName) -> tuple[Field, ...]:
    """Return the fields of one side."""
    return (
        Field(
            f"sides.{side}.block_thickness", "Block under the hub", "Its thickness; 0 without", kind="number"
        ),
        Field(f"sides.{side}.centre_to_flange", "Centre to flange", "If you know it; else it is worked out"),
        Field(f"sides.{side}.gauge_height_at_boss", "Wire height at the boss", "For a single photo only"),
        Field(f"sides.{side}.gauge_height_at_end", "Wire height at its far end", "For a single photo only"),
    )


def wheel_fields(folder: Path | None = None) -> tuple[Field, ...]:
    """Return the fields of the wheel; with a job's folder also the choice of a rim from the kit."""
    elsewhere = folder is not None and bool(hub_of(folder))
    own = (field for field in WHEEL if not (elsewhere and field.name.startswith("hub.")))
    return (*kit_field("rim.kit", "Rim from your kit", "rim", folder), *own)


def spoke_fields(folder: Path | None = None) -> tuple[Field, ...]:
    """Return the fields of spokes and nipples; with a job's folder also the choice of a drawer."""
    names = () if folder is None else tuple(drawers(Kit.beside(folder)))
    if not names:
        return SPOKES
    choices = (("", "none: order all"), *((name, name) for name in names))
    return (Field("spokes.drawer", "Spokes from your drawer", kind="kit", choices=choices), *SPOKES)


def kit_field(name: str, label: str, kind: KitKind, folder: Path | None) -> tuple[Field, ...]:
    """Return the field that chooses a piece of kit by its name; none where there is none of that kind."""
    names = () if folder is None else tuple(Kit.beside(folder).files(kind))
    if not names:
        return ()
    choices = (("", "none: type it here"), *((known, known) for known in names))
    return (Field(name, label, kind="kit", choices=choices),)


def sheet_fields(folder: Path | None = None) -> tuple[Field, ...]:
    """Return the fields of the printed sheet."""
    return (*kit_field("target.kit", "Sheet from your kit", "target", folder), *SHEET)


def gauge_fields(gauge: str, folder: Path | None = None) -> tuple[Field, ...]:
    """Return the fields of one gauge; with a job's folder also the choice of one from the kit."""
    return (
        *kit_field(f"gauges.{gauge}.kit", "Gauge from your kit", "gauge", folder),
        Field(f"gauges.{gauge}.length", "Gauge length", "From under the head to the far end, about 100"),
        Field(
            f"gauges.{gauge}.tip",
            "Far end",
            kind="choice",
            choices=(("flat", "cut off flat"), ("nipple", "nipple on it (length to the nipple's end)")),
        ),
        Field(f"gauges.{gauge}.diameter", "Wire diameter", "If you know it"),
    )


def gauges_field(side: SideName, gauges: Sequence[str]) -> Field:
    """Return the field that says which gauges are in a side's photos."""
    both = [
        (f"{first} {second}", f"both, {first} pointing more to the right")
        for first, second in permutations(gauges, 2)
    ]
    return Field(
        f"sides.{side}.gauges",
        "Gauges in these photos",
        kind="gauges",
        choices=(("", "not stated"), *((g, f"gauge {g}") for g in gauges), *both),
    )


TYPED = tuple(name for name, entry in OF_SIDE.items() if entry.typed)
"""Figures whose caliper readings are typed on the page."""


def caliper_fields(side: SideName) -> dict[str, Field]:
    """Return the fields of one side's caliper readings, by figure."""
    return {name: Field(f"sides.{side}.caliper.{name}", "Caliper reading") for name in TYPED}


def known_fields(gauges: Sequence[str], more: str, folder: Path | None = None) -> dict[str, Field]:
    """Return all fields that may be set from the page, by name; with those of one gauge ``more``."""
    own = [f for gauge in (*gauges, more) for f in gauge_fields(gauge, folder)]
    for side in SIDES:
        own += [*side_fields(side), *caliper_fields(side).values(), gauges_field(side, gauges)]
    wheel = (*wheel_fields(folder), *WHEEL_MORE, *spoke_fields(folder))
    return {f.name: f for f in (*sheet_fields(folder), *wheel, *label_fields(), *own)}
