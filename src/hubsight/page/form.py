"""What is in the fields of a job file that the page shows: read for it, and set by it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from hubsight.job import JOB_FILE_NAME
from hubsight.job.file.edit import Value, set_fields, typed_readings, without_gauge
from hubsight.job.file.problems import one_problem
from hubsight.job.file.rim_of_kit import ERD_WAYS
from hubsight.kit.model import KitGauge, KitRim, KitTarget
from hubsight.kit.store import Kit, KitError, KitKind
from hubsight.model.stated import SIDES, PaperName, SideName, TipKind
from hubsight.page.fields import FIRST_GAUGE, PLAIN_NAME, SECOND_GAUGE, Field, Kind, known_fields
from hubsight.page.stated import as_typed, look_up, read_stated, stated_tables
from hubsight.target.geometry import PAPER_TITLE

MOST_WORDS = 2000
"""Letters of a label."""
EMPTY_NUMBERS = {"nipple.length": 12.0}
"""Meaning of an empty field where the job file wants a number, mm."""
EMPTY_COUNTS = {"spokes.spares": 0}
"""Meaning of an empty field where the job file wants a count."""


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


def read_typed(folder: Path) -> Typed:
    """Read what a job file states; nothing of a file that cannot be read."""
    stated = stated_tables(folder)
    if not stated:
        return Typed({}, (FIRST_GAUGE,), SECOND_GAUGE)
    tables = stated.get("gauges")
    names = tuple(n for n in tables if PLAIN_NAME.fullmatch(n)) if isinstance(tables, dict) else ()
    more = next(n for n in (SECOND_GAUGE, FIRST_GAUGE, "c") if n not in names)
    known = known_fields(names, more, folder)
    values = {name: as_typed(look_up(stated, name)) for name in known}
    sides = tuple(s for s in SIDES if isinstance(look_up(stated, f"sides.{s}"), dict))
    return Typed(values, names or (FIRST_GAUGE,), more, sides)


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
