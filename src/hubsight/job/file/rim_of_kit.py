"""A rim of the kit in a job: its ERD, corrected for the job's nipples and washers; all lengths in mm."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, get_args

from pydantic_core import PydanticCustomError

from hubsight.job.file.build_tables import RimTable
from hubsight.job.file.readings import ROD, ErdReadings, erd_of, read_erd, read_gaps, read_reading, reader
from hubsight.kit.model import KitRim
from hubsight.model.stated import ZERO, Reading
from hubsight.wheel.nipple import NippleKind
from hubsight.wheel.rim import Fitting, Refitted, erd_from_rods, refitted
from hubsight.wheel.roundness import Roundness, reading_directions, roundness

Table = dict[str, Any]

ERD_WAYS = ("erd", "rods", "gaps", "seat_diameter", "seat_to_slot")
"""Fields of ``[rim]`` that state an ERD."""


def rim_erd(rim: KitRim) -> ErdReadings:
    """Return the ERD that a rim's readings make, for the nipples and washers that it was taken with.

    Raises
    ------
    PydanticCustomError
        For readings that cannot be right; the sentence says what is wrong and what to do.
    """
    if not rim.rods and not rim.gaps:
        found = read_erd(list(rim.erd))
    elif len(rim.rods) == 2 and rim.gaps:
        first, second = (read_reading(rod, ROD) for rod in rim.rods)
        result = erd_from_rods((first, second), read_gaps(list(rim.gaps)))
        found = erd_of(result) if result else None
        read_erd(list(rim.diameters))  # limits of what an ERD can be
    else:
        sentence = "rods and gaps do not make an ERD. Give two rods, and one gap or several"
        raise PydanticCustomError("reading", "{sentence}", {"sentence": sentence})
    if found is None:
        sentence = "nothing says what its ERD is. Give readings, or two rods and the gaps between them"
        raise PydanticCustomError("reading", "{sentence}", {"sentence": sentence})
    return found


def rim_roundness(rim: KitRim) -> Roundness | None:
    """Return how round a rim is; None where too few diameters were read."""
    return roundness(rim.diameters, directions_of(rim))


def directions_of(rim: KitRim) -> tuple[float, ...]:
    """Return the directions in which a rim's diameters were read, degrees from the valve hole."""
    return reading_directions(len(rim.diameters), rim.holes, rim.at)


def fitting_of(rim: KitRim) -> Fitting:
    """Return what a rim's readings were taken with."""
    return Fitting(
        kind=rim.nipple,
        seat_to_slot=reader(RimTable, "seat_to_slot")(list(rim.seat_to_slot)),
        washer=_washer(list(rim.washer)),
    )


def erd_with(rim: KitRim, kind: NippleKind | None, seat_to_slot: object, washer: object) -> Refitted:
    """Return a rim's ERD in a wheel.

    Parameters
    ----------
    rim
        As measured.
    kind, seat_to_slot, washer
        Of the wheel's nipples and washers, as a job file states them; None: as the readings were taken.

    Raises
    ------
    PydanticCustomError
        As `rim_erd`.
    """
    taken = fitting_of(rim)
    seat = reader(RimTable, "seat_to_slot")(seat_to_slot)
    if seat is None and kind in (None, taken.kind):
        seat = taken.seat_to_slot
    used = Fitting(
        kind=kind or taken.kind,
        seat_to_slot=seat,
        washer=taken.washer if washer in (None, []) else _washer(washer),
    )
    return refitted(rim_erd(rim), taken, used)


def _washer(raw: object) -> Reading:
    reading = reader(RimTable, "washer")(raw)
    return reading if reading is not None and reading.value else ZERO


def put_rim(tables: Table, rim: KitRim, complain: Callable[[str, str, str], None]) -> str:
    """Fill in what a job's tables leave out of the rim that they name; say how its ERD was corrected.

    An ERD of the job's own is newer, and then none of the kit's counts.
    """
    table, nipple = tables["rim"], tables.setdefault("nipple", {})
    wheel = tables.setdefault("wheel", {})
    _check_holes(rim, wheel, complain)
    for name, value in _beside_erd(rim).items():
        if table.get(name) in (None, [], ""):
            table[name] = value
    if any(table.get(name) not in (None, [], ()) for name in ERD_WAYS) or not isinstance(nipple, dict):
        return ""
    try:
        own, found = rim_erd(rim), _erd_in(nipple, table, rim)
    except PydanticCustomError as error:
        what, _, remedy = error.message().partition(". ")
        complain("rim.kit", what, remedy)
        return ""
    if rim.nipple is not None:
        nipple.setdefault("kind", rim.nipple)
    table.pop("washer", None)
    warnings = (*own.warnings, *([found.warning] if found.warning else ()))
    readings = tuple(value + found.change for value in own.readings)
    table["erd"] = ErdReadings(found.erd.value, found.erd.u, readings, warnings, count=own.count)
    return f"ERD {found.change:+.2f} mm for {' and '.join(found.because)}" if found.because else ""


def _erd_in(nipple: Table, table: Table, rim: KitRim) -> Refitted:
    kind = nipple.get("kind")
    known: NippleKind | None = kind if kind in get_args(NippleKind) else None
    return erd_with(rim, known, nipple.get("seat_to_slot"), table.get("washer"))


def _beside_erd(rim: KitRim) -> Table:
    """Return what a rim says beside its ERD, as fields of ``[rim]``."""
    said: Table = {
        "offset": list(rim.offset),
        "hole_stagger": list(rim.hole_stagger),
        "holes": rim.row,
        "mass": rim.mass,
        "bead_seat": rim.bead_seat,
    }
    if not rim.even:
        said["even"] = False
    return {name: value for name, value in said.items() if value not in (None, [], "")}


def _check_holes(rim: KitRim, wheel: object, complain: Callable[[str, str, str], None]) -> None:
    """Fill in the rim's number of holes; complain of a wheel that has another number of spokes."""
    if rim.holes is None or not isinstance(wheel, dict):
        return
    if wheel.get("spokes") in (None, []):
        wheel["spokes"] = rim.holes
    elif wheel["spokes"] not in (rim.holes, [rim.holes]):
        what = f"the rim has {rim.holes} spoke holes, the wheel {wheel['spokes']} spokes"
        complain("rim.kit", what, "Name another rim, or correct spokes in [wheel]")


def describe_rim(rim: KitRim) -> str:
    """Say in a few words what a rim is."""
    try:
        erd = rim_erd(rim)
    except PydanticCustomError as error:
        return error.message()
    count = len(rim.diameters)
    parts = [f"ERD {erd.value:.2f} ± {erd.u:.2f} mm, {count} reading{'s' * (count > 1)} of {rim.date}"]
    if rim.holes is not None:
        parts.append(f"{rim.holes} holes")
    parts.append(taken_with(rim))
    return ", ".join(parts)


def taken_with(rim: KitRim) -> str:
    """Say with which nipples and washers a rim was measured."""
    nipples = "nipples" if rim.nipple is None else f"{rim.nipple.replace('_', ' ')} nipples"
    taken = fitting_of(rim)
    seat = (
        ""
        if taken.seat_to_slot is None
        else f" (slot {taken.seat_to_slot.value:.2f} mm outside of their seat)"
    )
    washers = f"washers of {taken.washer.value:g} mm" if taken.washer.value else "no washers"
    return f"taken with {nipples}{seat} and {washers}"
