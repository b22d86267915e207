"""A job file that names kit: what the kit says takes the place of what the job leaves out.

This happens before the job file is checked, so that a kit's readings are judged by the same rules as any
others, and so that the job's record holds all values whatever becomes of the kit.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import BaseModel
from pydantic_core import PydanticCustomError

from hubsight.camera.profile import CameraProfile
from hubsight.job.file.from_drawer import put_drawer
from hubsight.job.file.model import CaliperTable, FlatTable, GaugeTable, HubTable, SideTable, TargetTable
from hubsight.job.file.readings import reader
from hubsight.job.file.rim_of_kit import describe_rim, put_rim
from hubsight.kit.model import KitCaliper, KitGauge, KitRim, KitTarget
from hubsight.kit.readings import with_caliper
from hubsight.kit.store import Kit, KitError, KitItem, KitKind
from hubsight.model.result import KitUsed
from hubsight.model.stated import SIDES, Reading
from hubsight.photo import camera_name

Table = dict[str, Any]
Complain = Callable[[str, str, str], None]
"""Told field, what is wrong and remedy."""
Read = Callable[[object], Reading | None]

BY_CALIPER: Mapping[type[BaseModel], tuple[str, ...]] = {
    TargetTable: ("bar_x", "bar_y"),
    FlatTable: ("opening",),
    HubTable: ("over_locknut",),
    GaugeTable: ("length", "diameter"),
    SideTable: ("flange_height", "gauge_height_at_boss", "gauge_height_at_end", "centre_to_flange"),
    CaliperTable: (
        "flange_diameter",
        "boss_width",
        "boss_width_across",
        "protrusion",
        "reach",
        "flange_height",
        "centre_to_flange",
        "reference_diameter",
        "boss_depth",
        "end_to_flange",
    ),
}
"""Fields that a caliper reads, by their table: its zero is taken off them."""


@dataclass
class Resolved:
    """A job file's tables with the kit's values in them.

    Attributes
    ----------
    tables
        To be checked like any job file.
    used
        What the kit gave.
    profile
        File of a camera that the job names by its name in the kit.
    """

    tables: Table
    used: list[KitUsed] = field(default_factory=list)
    profile: Path | None = None


def resolve(raw: Table, kit: Kit, complain: Complain) -> Resolved:
    """Put the kit's values into a job file's tables.

    Parameters
    ----------
    raw
        The job file as TOML gives it, not yet checked.
    kit
        Where to look.
    complain
        Told of kit that is named and not there.
    """
    found = Resolved(copy.deepcopy(raw))
    shelf = _Shelf(kit, complain, found.used)
    _apply_caliper(found.tables, shelf)
    for name, table in _tables(found.tables.get("gauges")):
        gauge = shelf.take("gauge", table.get("kit"), f"gauges.{name}.kit")
        if isinstance(gauge, KitGauge):
            _put(table, _gauge_values(gauge, shelf))
    target = _table(found.tables, "target")
    sheet = shelf.take("target", target.get("kit"), "target.kit")
    if isinstance(sheet, KitTarget):
        _put_target(target, sheet, shelf)
    camera = _table(found.tables, "camera")
    if shelf.take("camera", camera.get("kit"), "camera.kit") is not None:
        found.profile = kit.files("camera")[camera["kit"]]
    _apply_rim(found.tables, shelf)
    drawer = put_drawer(found.tables, kit, complain)
    found.used += [drawer] if drawer else []
    return found


def _apply_rim(tables: Table, shelf: _Shelf) -> None:
    """Fill in a rim; ``rim = "name"`` in place of the table names one of the kit."""
    if isinstance(tables.get("rim"), str):
        tables["rim"] = {"kit": tables["rim"]}
    rim = shelf.take("rim", _table(tables, "rim").get("kit"), "rim.kit")
    if isinstance(rim, KitRim):
        shelf.used[-1] = shelf.used[-1].model_copy(update={"how": put_rim(tables, rim, shelf.complain)})


@dataclass
class _Shelf:
    """Takes pieces off the kit and keeps a list of them."""

    kit: Kit
    complain: Complain
    used: list[KitUsed]

    def take(self, kind: KitKind, name: object, where: str) -> KitItem | None:
        if not isinstance(name, str):
            return None
        try:
            item, file = self.kit.load(kind, name)
        except KitError as error:
            self.complain(where, error.what, error.remedy)
            return None
        used = KitUsed(kind=kind, name=name, file=str(file), says=describe(item))
        if used not in self.used:
            self.used.append(used)
        return item

    def caliper(self, name: str | None, where: str) -> KitCaliper | None:
        item = self.take("caliper", name, where)
        return item if isinstance(item, KitCaliper) else None


def describe(item: KitItem) -> str:
    """Say in a few words what a piece of kit is."""
    match item:
        case KitGauge():
            mean = sum(item.length) / len(item.length)
            return f"{mean:.2f} mm, {_readings(len(item.length))} of {item.date}, {item.tip} end"
        case KitTarget():
            x, y = (sum(bar) / len(bar) for bar in (item.bar_x, item.bar_y))
            return f"{item.paper.upper()}, bars {x:.2f} and {y:.2f} mm, read on {item.date}"
        case KitCaliper():
            return f"standard uncertainty {item.u:g} mm, shows {item.zero:+.2f} mm when closed"
        case CameraProfile():
            was = item.signature
            phone = camera_name(was.make, was.model) or "a camera without tags"
            return f"{phone}, {was.width} x {was.height} pixels, calibrated on {item.date}"
        case KitRim():
            return describe_rim(item)


def _readings(count: int) -> str:
    return f"{count} reading{'s' * (count > 1)}"


def _table(tables: Table, name: str) -> Table:
    table = tables.get(name)
    return table if isinstance(table, dict) else {}


def _tables(table: object) -> Iterator[tuple[str, Table]]:
    for name, inner in table.items() if isinstance(table, dict) else ():
        if isinstance(inner, dict):
            yield name, inner


def _put(table: Table, values: Table) -> None:
    """Fill in what a table leaves out."""
    for name, value in values.items():
        if table.get(name) in (None, []):
            table[name] = value


def _gauge_values(gauge: KitGauge, shelf: _Shelf) -> Table:
    caliper = shelf.caliper(gauge.caliper, "gauges")
    length: object = list(gauge.length)
    if gauge.length_u is not None:
        length = {"value": length, "u": gauge.length_u}
    values = {"tip": gauge.tip, "length": _corrected(length, caliper, reader(GaugeTable, "length"))}
    if gauge.diameter:
        values["diameter"] = _corrected(list(gauge.diameter), caliper, reader(GaugeTable, "diameter"))
    return values


def _put_target(target: Table, sheet: KitTarget, shelf: _Shelf) -> None:
    """Fill in a sheet's bars; readings of the job's own are newer, and then none of the kit's count."""
    bars = BY_CALIPER[TargetTable]
    own = any(target.get(bar) not in (None, []) for bar in bars)
    target.setdefault("paper", sheet.paper)
    if own:
        return
    caliper = shelf.caliper(sheet.caliper, "target")
    for bar in bars:
        target[bar] = _corrected(list(getattr(sheet, bar)), caliper, reader(TargetTable, bar))
    target.setdefault("bars_read", sheet.date)


def _apply_caliper(tables: Table, shelf: _Shelf) -> None:
    """Free the job's own readings of its caliper's zero."""
    caliper = shelf.caliper(_table(tables, "kit").get("caliper"), "kit.caliper")
    if caliper is None:
        return
    sides = [_table(_table(tables, "sides"), side) for side in SIDES]
    groups: list[tuple[Table, type[BaseModel]]] = [
        (_table(tables, "target"), TargetTable),
        (_table(_table(tables, "target"), "flat"), FlatTable),
        (_table(tables, "hub"), HubTable),
        *((table, GaugeTable) for _, table in _tables(tables.get("gauges"))),
        *((side, SideTable) for side in sides),
        *((_table(side, "caliper"), CaliperTable) for side in sides),
    ]
    for table, kind in groups:
        for name in BY_CALIPER[kind]:
            if table.get(name) not in (None, []):
                table[name] = _corrected(table[name], caliper, reader(kind, name))


def _corrected(raw: object, caliper: KitCaliper | None, read: Read) -> object:
    """Return a reading freed of its caliper's zero; what cannot be read stays, to be complained of later."""
    if caliper is None:
        return raw
    try:
        reading = read(raw)
    except PydanticCustomError:
        return raw
    if reading is None:
        return raw
    return with_caliper(reading, caliper, stated_u=isinstance(raw, dict) and "u" in raw)
