"""The fields of a job file that the page shows, what they are called, and what is in them."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations
from pathlib import Path
from typing import Any, Literal

from hubsight.job import JOB_FILE_NAME, JobFileError
from hubsight.job.file.edit import Value, set_fields, typed_readings, without_gauge
from hubsight.job.file.problems import one_problem
from hubsight.job.file.rim_of_kit import ERD_WAYS
from hubsight.job.file.text import read_job_text
from hubsight.kit.drawer import drawers
from hubsight.kit.model import KitGauge, KitRim, KitTarget
from hubsight.kit.store import Kit, KitError, KitKind
from hubsight.model.catalogue import OF_SIDE
from hubsight.model.stated import SIDES, PaperName, SideName, TipKind
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


def hub_of(folder: Path) -> str:
    """Return the job that a job names as that of its hub; empty if the hub is its own."""
    return read_stated(folder, ("hub.job",))["hub.job"]


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

MOST_WORDS = 2000
"""Letters of a label."""
EMPTY_NUMBERS = {"nipple.length": 12.0}
"""Meaning of an empty field where the job file wants a number, mm."""
EMPTY_COUNTS = {"spokes.spares": 0}
"""Meaning of an empty field where the job file wants a count."""


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


@dataclass(frozen=True)
class Typed:
    """What a job file states, as it is typed.

    Attributes
    ----------
    values
        By field; empty where nothing is stated.
    gauges
        Names of the stated gauges.
    more
        Name for one gauge more.
    sides
        That have a table.
    """

    values: dict[str, str]
    gauges: tuple[str, ...]
    more: str
    sides: tuple[SideName, ...] = ()

    def of_side(self, side: SideName) -> tuple[str, ...]:
        """Return the gauges in a side's photos."""
        return tuple(self.values.get(f"sides.{side}.gauges", "").split()) or self.gauges

    def without_length(self) -> str | None:
        """Return the first gauge whose length is not known yet; None if all are."""
        known = ("length", "kit")
        return next(
            (g for g in self.gauges if not any(self.values.get(f"gauges.{g}.{k}") for k in known)), None
        )


def read_stated(folder: Path, names: Sequence[str]) -> dict[str, str]:
    """Return what a job file states in some fields, as it is typed; empty where it states nothing."""
    stated = _tables(folder)
    return {name: _typed(_look_up(stated, name)) for name in names}


def _tables(folder: Path) -> dict[str, Any]:
    """Return the tables of a job file; none of one that cannot be read."""
    try:
        return tomllib.loads(read_job_text(folder / JOB_FILE_NAME))
    except (JobFileError, tomllib.TOMLDecodeError):
        return {}


def read_typed(folder: Path) -> Typed:
    """Read what a job file states; nothing of a file that cannot be read."""
    stated = _tables(folder)
    if not stated:
        return Typed({}, (FIRST_GAUGE,), SECOND_GAUGE)
    tables = stated.get("gauges")
    names = tuple(n for n in tables if PLAIN_NAME.fullmatch(n)) if isinstance(tables, dict) else ()
    more = next(n for n in (SECOND_GAUGE, FIRST_GAUGE, "c") if n not in names)
    known = known_fields(names, more, folder)
    values = {name: _typed(_look_up(stated, name)) for name in known}
    sides = tuple(s for s in SIDES if isinstance(_look_up(stated, f"sides.{s}"), dict))
    return Typed(values, names or (FIRST_GAUGE,), more, sides)


def _look_up(stated: dict[str, Any], name: str) -> Any:
    value: Any = stated
    for part in name.split("."):
        value = value.get(part) if isinstance(value, dict) else None
    return value


def _typed(value: Any) -> str:
    if isinstance(value, dict):
        value = value.get("value")
    if isinstance(value, list):
        return "  ".join(_typed(item) for item in value)
    return (
        ""
        if value is None or isinstance(value, bool)
        else f"{value:g}"
        if isinstance(value, float)
        else str(value)
    )


def paper_and_tip(folder: Path) -> tuple[PaperName, TipKind]:
    """Return the stated paper and gauge tip, for a first look; the usual ones if they cannot be read."""
    values = read_typed(folder).values
    paper, tip = values.get("target.paper"), values.get("gauges.a.tip")
    return (
        paper if paper in PAPER_TITLE else "a4",
        "nipple" if tip == "nipple" else "flat",
    )


def set_typed(folder: Path, typed: dict[str, str]) -> None:
    """Write what somebody typed into the job file.

    Raises
    ------
    JobFileError
        If a field is not known here, or a value is a slip; nothing is then written.
    """
    stated = read_typed(folder)
    known = known_fields(stated.gauges, stated.more, folder)
    values: dict[str, Value] = {}
    for name, text in typed.items():
        if name not in known:
            raise one_problem(JOB_FILE_NAME, "this field is not known", "Reload the page")
        if _takes_gauge_out(name, text, stated):
            without_gauge(folder, _gauge_of(name))
        else:
            values |= _stated(known[name], text, stated, folder)
    set_fields(folder, values)


def _takes_gauge_out(name: str, text: str, stated: Typed) -> bool:
    """Tell whether a second gauge loses the one thing by which its length was known."""
    gauge = _gauge_of(name)
    other = {"length": "kit", "kit": "length"}.get(name.rpartition(".")[2])
    if gauge not in stated.gauges[1:] or other is None or text.strip():
        return False
    return not stated.values.get(f"gauges.{gauge}.{other}")


def _stated(field: Field, text: str, stated: Typed, folder: Path) -> dict[str, Value]:
    """Return the fields that are set when one is typed or chosen.

    Raises
    ------
    JobFileError
        If the value is a slip.
    """
    gauge, what = _gauge_of(field.name), field.name.rpartition(".")[2]
    if field.name == "rim.erd" and text.strip():
        return {field.name: _value(field, text), "rim.kit": None}  # what is typed is newer than the kit
    if gauge and what not in ("length", "kit") and gauge == stated.more:
        raise one_problem(field.name, "this gauge has no length yet", "Type its length first")
    values = _from_kit(field, text, folder) if what == "kit" else {field.name: _value(field, text)}
    if gauge and what == "length":
        if not text.strip() and not stated.values.get(f"gauges.{gauge}.kit"):
            raise one_problem(field.name, "a gauge needs its length", "Type it in mm, such as 100.08")
        if text.strip() and stated.values.get(f"gauges.{gauge}.kit"):
            values[f"gauges.{gauge}.kit"] = None
    if gauge == stated.more:
        # What was measured with the only gauge so far still is.
        values |= {f"sides.{side}.gauges": [stated.gauges[0]] for side in stated.sides}
    return values


def _from_kit(field: Field, name: str, folder: Path) -> dict[str, Value]:
    """Return what choosing a piece of kit sets: what was typed by hand gives way to what the kit says.

    Raises
    ------
    JobFileError
        If there is none of that name, or it cannot be read.
    """
    table = field.name.removesuffix(".kit")
    values: dict[str, Value] = {field.name: _value(field, name)}
    if not name:
        return values
    try:
        item, _ = Kit.beside(folder).load(_kind_of(table), name)
    except KitError as error:
        raise one_problem(field.label, error.what, error.remedy) from error
    if isinstance(item, KitRim):
        own = read_stated(folder, [f"rim.{way}" for way in (*ERD_WAYS, "offset")])
        return values | {way: None for way, stated in own.items() if stated}
    if isinstance(item, KitTarget):
        return values | {"target.paper": item.paper, "target.bar_x": None, "target.bar_y": None}
    if isinstance(item, KitGauge):
        return values | {f"{table}.tip": item.tip, f"{table}.length": None, f"{table}.diameter": None}
    return values


def _kind_of(table: str) -> KitKind:
    """Return the kind of kit that a table names."""
    return "target" if table == "target" else "rim" if table == "rim" else "gauge"


def _gauge_of(name: str) -> str:
    """Return the gauge whose field this is; empty for other fields."""
    table, _, rest = name.partition(".")
    return rest.partition(".")[0] if table == "gauges" else ""


def _nothing(field: Field) -> Value:
    return EMPTY_COUNTS.get(field.name)


def _value(field: Field, text: str) -> Value:
    if field.choices and text not in (value for value, _ in field.choices):
        raise one_problem(field.label, "this is none of the choices", "Choose again")
    if field.kind in ("choice", "gauges", "words", "kit"):
        return _words(field.kind, text)
    numbers = typed_readings(text)
    if field.kind == "readings":
        return numbers
    if len(numbers) > 1:
        raise one_problem(field.label, "one number is enough", "Type a single number")
    if not numbers:
        return EMPTY_NUMBERS.get(field.name, 0.0) if field.kind == "number" else _nothing(field)
    return int(numbers[0]) if field.kind == "count" and numbers[0].is_integer() else numbers[0]


def _words(kind: Kind, text: str) -> Value:
    """Return what is typed or chosen as words."""
    plain: dict[str, Value] = {
        "choice": text,
        "gauges": text.split(),
        "words": " ".join(text.split())[:MOST_WORDS],
        "kit": text or None,
    }
    return plain[kind]
