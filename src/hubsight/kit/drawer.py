"""The drawer of spokes: lengths and counts, kept with the kit, in and out as CSV; lengths in mm.

One JSON file for each drawer in the folder ``drawers`` of a kit.
"""

from __future__ import annotations

import csv
import datetime
import io
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, ValidationError, field_validator

from hubsight.kit.store import KIT_VARIABLE, Kit, KitError, check_name, json_files, read_file
from hubsight.model.files import write_atomically
from hubsight.model.frozen import Frozen
from hubsight.model.own_stock import OwnStock
from hubsight.wheel.lot import Head, wire_name

FOLDER = "drawers"
"""Folder in a kit."""
USUAL_NAME = "drawer"
"""Name of a drawer where none is said."""

COLUMNS = ("length_mm", "count", "wire", "head")
"""Columns of the CSV; only the first two are needed."""

SAME_LENGTH_MM = 0.01
"""Difference of two lengths below which they are one, mm."""


class DrawerLot(Frozen):
    """Spokes of one kind and length; ``wire`` is "" where it is not known."""

    length: Annotated[float, Field(ge=50.0, le=400.0)]
    count: Annotated[int, Field(ge=0, le=100_000)]
    wire: str = ""
    head: Head = "straight-pull"

    @field_validator("wire")
    @classmethod
    def _as_on_orders(cls, text: str) -> str:
        return wire_name(text)

    def same(self, other: DrawerLot) -> bool:
        """Tell whether another lot is of the same spokes."""
        like = (self.wire, self.head) == (other.wire, other.head)
        return like and abs(self.length - other.length) < SAME_LENGTH_MM

    def words(self) -> str:
        """Return it as the user reads it."""
        wire = f"wire {self.wire} mm" if self.wire else "wire not noted"
        return f"{self.count} of {self.length:g} mm, {wire}, {self.head}"


class Booked(Frozen):
    """Spokes that a wheel took: the day, the job, and how many of which."""

    date: datetime.date
    job: str
    lots: tuple[DrawerLot, ...]


class KitDrawer(Frozen):
    """A drawer: what is in it, and which wheels took some out; ``date`` is that of the last change."""

    schema_version: Literal[1] = 1
    kind: Literal["drawer"] = "drawer"
    date: datetime.date
    lots: tuple[DrawerLot, ...] = ()
    booked: tuple[Booked, ...] = ()

    @property
    def spokes(self) -> int:
        """Number of all spokes."""
        return sum(lot.count for lot in self.lots)

    def with_more(self, lot: DrawerLot) -> KitDrawer:
        """Return the drawer with more spokes in it."""
        return self._holding(_together([*self.lots, lot]))

    def without(self, lot: DrawerLot) -> KitDrawer:
        """Return the drawer with spokes taken out.

        Raises
        ------
        KitError
            If there are not so many of them.
        """
        here = next((one for one in self.lots if one.same(lot)), None)
        if here is None or here.count < lot.count:
            there = "none" if here is None else str(here.count)
            what = f"there are {there} of {lot.length:g} mm in the drawer, not {lot.count}"
            raise KitError(what, "Look at what there is with: hubsight drawer")
        less = here.model_copy(update={"count": here.count - lot.count})
        rest = [one for one in self.lots if one is not here]
        return self._holding(_together([*rest, less] if less.count else rest))

    def taken_by(self, own: OwnStock) -> tuple[DrawerLot, ...]:
        """Return the lots that a wheel takes, which was planned with what is in the drawer now."""
        counts = [sum(line.count for line in own.lines if line.lot == k) for k in range(len(self.lots))]
        lots = zip(self.lots, counts, strict=True)
        return tuple(lot.model_copy(update={"count": count}) for lot, count in lots if count)

    def for_wheel(self, job: str, lots: Sequence[DrawerLot], day: datetime.date) -> KitDrawer:
        """Return the drawer after a wheel took its spokes; raises as `without`, or if it took them before."""
        before = next((one for one in self.booked if one.job == job), None)
        if before is not None:
            what = f"{job} took its spokes on {before.date}"
            raise KitError(what, "Put spokes back with: hubsight drawer put")
        drawer = self
        for lot in lots:
            drawer = drawer.without(lot)
        booked = (*self.booked, Booked(date=day, job=job, lots=tuple(lots)))
        return drawer.model_copy(update={"booked": booked, "date": day})

    def _holding(self, lots: Iterable[DrawerLot]) -> KitDrawer:
        return self.model_copy(update={"lots": tuple(lots), "date": datetime.date.today()})


def _together(lots: Iterable[DrawerLot]) -> list[DrawerLot]:
    """Return lots of the same spokes added up, in the order of their lengths."""
    sums: list[DrawerLot] = []
    for lot in lots:
        here = next((k for k, one in enumerate(sums) if one.same(lot)), None)
        if here is None:
            sums.append(lot)
        else:
            sums[here] = sums[here].model_copy(update={"count": sums[here].count + lot.count})
    return sorted(sums, key=lambda lot: (lot.head, lot.wire, lot.length))


def drawers(kit: Kit) -> dict[str, Path]:
    """Return the files of all drawers by name; those beside a job come first."""
    found: dict[str, Path] = {}
    for folder in kit.folders:
        for file in json_files(folder / FOLDER):
            found.setdefault(file.stem, file)
    return dict(sorted(found.items()))


def load_drawer(kit: Kit, name: str) -> tuple[KitDrawer, Path]:
    """Return a drawer and its file; raises `KitError` where there is none, or it cannot be read."""
    files = drawers(kit)
    if name not in files:
        known = f"There are: {', '.join(files)}" if files else "Fill one with: hubsight drawer read FILE.csv"
        raise KitError(f'there is no drawer "{name}" in the kit', known)
    return read_file(files[name], KitDrawer, "drawer"), files[name]


def opened_drawer(name: str) -> KitDrawer:
    """Return a drawer of the user's kit, empty if it is new."""
    kit = Kit.beside(None)
    return load_drawer(kit, name)[0] if name in drawers(kit) else KitDrawer(date=datetime.date.today())


def save_drawer(drawer: KitDrawer, name: str, folder: Path) -> Path:
    """Write a drawer into a kit folder, in place of what it held; raises `KitError` where that cannot be."""
    check_name(name)
    file = folder / FOLDER / f"{name}.json"
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        write_atomically(file, (drawer.model_dump_json(indent=1) + "\n").encode())
    except OSError as error:
        what = f"{file} cannot be written ({error.strerror})"
        raise KitError(what, f"Name another folder with --in, or with the variable {KIT_VARIABLE}") from error
    return file


def to_csv(drawer: KitDrawer) -> str:
    """Return what is in a drawer as CSV, one line for each kind and length."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows((f"{lot.length:g}", lot.count, lot.wire, lot.head) for lot in drawer.lots)
    return out.getvalue()


def from_csv(text: str) -> tuple[DrawerLot, ...]:
    """Return the lots of a CSV whose first line names the columns.

    Columns may be parted by comma, semicolon or tab, and decimals written with a comma where the columns are
    not parted by one; columns of other names are passed over.

    Raises
    ------
    KitError
        With the line that cannot be read, and why.
    """
    lines = text.lstrip("\ufeff").splitlines()
    head = lines[0] if lines else ""
    parted = next((one for one in ("\t", ";", ",") if one in head), ",")
    rows = csv.DictReader(lines, delimiter=parted, skipinitialspace=True)
    names = [name.strip().lower() for name in rows.fieldnames or ()]
    if not {"length_mm", "count"} <= set(names):
        what = "line 1 does not name the columns length_mm and count"
        raise KitError(what, f"Begin the file with: {','.join(COLUMNS)}")
    rows.fieldnames = names
    lots = [_lot(row, rows.line_num) for row in rows if any((cell or "").strip() for cell in _cells(row))]
    return tuple(_together(lots))


def _cells(row: dict[str, str]) -> Iterable[str]:
    return (cell for name, cell in row.items() if name in COLUMNS)


def _lot(row: dict[str, str], line: int) -> DrawerLot:
    plain = {name: (row.get(name) or "").strip() for name in COLUMNS}
    head: Head = "J-bend" if plain["head"].lower().replace("-", "") in ("jbend", "elbow") else "straight-pull"
    try:
        length = float(plain["length_mm"].lower().removesuffix("mm").strip().replace(",", "."))
        return DrawerLot(length=length, count=int(plain["count"]), wire=plain["wire"], head=head)
    except ValidationError as error:
        first = error.errors()[0]
        what = f"line {line}: {first['loc'][0]} {first['input']} cannot be right"
        raise KitError(what, "Give lengths in mm, whole counts, and wire as 2.0/1.8/2.0") from error
    except ValueError as error:
        what = f"line {line} has no length and count that are numbers"
        raise KitError(what, "Write for example: 294,12,2.0/1.8/2.0") from error
