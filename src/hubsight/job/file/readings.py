"""Readings as a person writes them in a job file: one number, several, or a table with an uncertainty.

Each kind of reading has an uncertainty of its own for the case that the user states none. It has two parts:
what every reading shares (the instrument, the way it is held) and what scatters from one reading to the next.
The values below are common practice, no source, unless a comment says otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from statistics import fmean
from typing import Annotated, Any, Literal, cast

from pydantic import BaseModel, BeforeValidator
from pydantic_core import PydanticCustomError

from hubsight.job.file.units import typed_length
from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading
from hubsight.model.uncertainty import u_of_mean, u_rectangular
from hubsight.target.print_scale import read_bar
from hubsight.wheel.rim import SLOT_U_MM, RimDiameter, erd_from_readings


@dataclass(frozen=True)
class ReadingKind:
    """What is known beforehand of a kind of reading, in mm.

    Attributes
    ----------
    hint
        What to look at when the value is outside.
    common
        Standard uncertainty that all readings of one thing share.
    scatter
        Standard uncertainty that averages out over several readings.
    low, high
        A value outside is taken for a slip.
    spread
        Readings of one thing that differ by more are taken for a slip.
    """

    hint: str
    common: float
    scatter: float
    low: float
    high: float
    spread: float

    def uncertainty(self, values: list[float]) -> float:
        """Return the standard uncertainty of the mean of ``values``; a large scatter among them counts."""
        return math.hypot(self.common, u_of_mean(values, self.scatter))


GAUGE_LENGTH = ReadingKind(
    "It is measured from under the head to the far end, and is about 100 mm", 0.0166, 0.025, 30.0, 310.0, 0.5
)
"""A gauge from under its head to its end."""
ERD = ReadingKind("It is the diameter on which the spoke ends are to lie", 0.3, 0.4, 150.0, 750.0, 3.0)
"""An ERD that is a single number, often the rim maker's."""
ROD = ReadingKind("It is from the inner end to the nipple's slot", 0.03, 0.04, 50.0, 400.0, 0.5)
"""A rod for the rim, with its nipple on."""
GAP = ReadingKind("It is between the rods' ends; an overlap is negative", 0.0, 0.3, -300.0, 600.0, 3.0)
"""What lies between the ends of two rods in a rim."""


def _number(raw: object) -> float:
    typed = typed_length(raw) if isinstance(raw, str) else None
    if typed is not None:
        return typed.mm
    if isinstance(raw, bool) or not isinstance(raw, int | float) or not math.isfinite(raw):
        raise PydanticCustomError("reading", "{raw} is not a number of millimetres", {"raw": repr(raw)})
    return float(raw)


def _check(values: list[float], kind: ReadingKind) -> None:
    for value in values:
        if not kind.low <= value <= kind.high:
            raise PydanticCustomError(
                "reading",
                "{value} mm is not between {low} and {high}. {hint}",
                {"value": f"{value:g}", "low": f"{kind.low:g}", "high": f"{kind.high:g}", "hint": kind.hint},
            )
    spread = max(values) - min(values)
    if spread > kind.spread:
        raise PydanticCustomError(
            "reading",
            "the readings differ by {spread} mm, so one of them is a slip. Measure again",
            {"spread": f"{spread:.2f}"},
        )


Read = Callable[[list[float]], Reading]
"""From the readings of one thing to their mean and its uncertainty."""


def _from_table(raw: dict[str, Any], read: Read) -> Reading:
    unknown = sorted(set(raw) - {"value", "u"})
    if unknown or "value" not in raw:
        raise PydanticCustomError(
            "reading",
            "a reading with an uncertainty is written {form}",
            {"form": "{ value = 119.5, u = 0.05 }"},
        )
    reading = _as_coarse_as_typed(raw["value"], read)
    if "u" not in raw:
        return reading
    u = _number(raw["u"])
    if u <= 0:
        raise PydanticCustomError("reading", "the uncertainty u must be more than 0", {})
    return replace(reading, u=u)


_DECIMALS = 100
"""A whole number from here on is not taken for the decimals of another: calipers show two."""


def refuse_decimal_comma(raw: object) -> None:
    """Refuse ``[7,8]``: nobody can tell 7.8 with a decimal comma from two readings of 7 and 8.

    Raises
    ------
    pydantic_core.PydanticCustomError
        For a list of whole numbers of which every second one could be decimals.
    """
    if not isinstance(raw, list) or not raw or len(raw) % 2:
        return
    if not all(isinstance(item, int) and not isinstance(item, bool) for item in raw):
        return
    if all(0 <= item < _DECIMALS for item in raw[1::2]):
        raise PydanticCustomError(
            "reading",
            "{list} may be {whole}.{decimals} with a decimal comma, or {whole} and {decimals}. Write decimals"
            " with a point, not a comma: [{whole}.{decimals}] is one reading, [{whole}.0, {decimals}.0] are "
            "two",
            {"list": str(raw), "whole": raw[0], "decimals": raw[1]},
        )


def single(raw: object) -> object:
    """Take one value out of the starter file's brackets; None if nothing stands in them.

    Raises
    ------
    pydantic_core.PydanticCustomError
        If several do.
    """
    if isinstance(raw, list):
        refuse_decimal_comma(raw)
        if len(raw) > 1:
            raise PydanticCustomError(
                "reading", "{count} values stand where one belongs. Keep one", {"count": len(raw)}
            )
        return raw[0] if raw else None
    return raw


def single_number(raw: object) -> object:
    """Take one number out of its brackets, or out of a text with its unit; errors as `single`."""
    return in_mm(single(raw))


def in_mm(raw: object) -> object:
    """Return the number, mm, of a text that says one; anything else as it is."""
    typed = typed_length(raw) if isinstance(raw, str) else None
    return raw if typed is None else typed.mm


def _numbers(raw: object) -> list[float]:
    refuse_decimal_comma(raw)
    values = [_number(item) for item in raw] if isinstance(raw, list) else [_number(raw)]
    if not values:
        raise PydanticCustomError("reading", "nothing is filled in. Write it between the brackets, in mm", {})
    return values


def _read(raw: object, read: Read) -> Reading:
    if isinstance(raw, Reading):
        return raw
    return _from_table(raw, read) if isinstance(raw, dict) else _as_coarse_as_typed(raw, read)


def _as_coarse_as_typed(raw: object, read: Read) -> Reading:
    """Read numbers; fractions of an inch are no surer than the division that they were read to.

    Several such readings of one thing fall on the same division, and are no surer than one.
    """
    reading = read(_numbers(raw))
    typed = [
        typed_length(item) for item in (raw if isinstance(raw, list) else [raw]) if isinstance(item, str)
    ]
    half = max((one.half_division_mm for one in typed if one is not None), default=0.0)
    return replace(reading, u=math.hypot(reading.u, u_rectangular(half))) if half else reading


def read_reading(raw: object, kind: ReadingKind) -> Reading:
    """Turn what a job file says into a reading.

    Parameters
    ----------
    raw
        A number, a list of numbers, or ``{value = number or list, u = number}``; in mm, or text as
        `typed_length` reads it.
    kind
        Gives the uncertainty when none is stated, and the limits of the plausible.

    Raises
    ------
    pydantic_core.PydanticCustomError
        With a sentence for the user.
    """

    def read(values: list[float]) -> Reading:
        _check(values, kind)
        return Reading(fmean(values), kind.uncertainty(values), count=len(values))

    return _read(raw, read)


def read_check_bar(raw: object, axis: Literal["x", "y"]) -> Reading:
    """Turn what a job file says of a check bar into a reading; arguments and errors as `read_reading`."""

    def read(values: list[float]) -> Reading:
        bar = read_bar(values, axis)
        if isinstance(bar, Refusal) or bar is None:
            sentence = "nothing is filled in" if bar is None else bar.sentence()
            raise PydanticCustomError("reading", "{sentence}", {"sentence": sentence})
        return bar

    return _read(raw, read)


@dataclass(frozen=True)
class ErdReadings(Reading):
    """An ERD with the readings that it rests on, and what they say of the rim."""

    readings: tuple[float, ...] = ()
    warnings: tuple[str, ...] = ()


def erd_of(rim: RimDiameter) -> ErdReadings:
    """Return an evaluated rim as a reading."""
    return ErdReadings(rim.erd.value, rim.erd.u, rim.readings, rim.warnings, count=len(rim.readings))


def read_erd(raw: object) -> ErdReadings | None:
    """Turn what a job file says of the ERD into a reading; several own readings beat a single number."""
    if raw is None or raw == []:
        return None
    seen: list[float] = []

    def read(values: list[float]) -> Reading:
        _check(values, ERD)
        seen.extend(values)
        rim = erd_from_readings(values, u_common=SLOT_U_MM) if len(values) > 1 else None
        return erd_of(rim) if rim else Reading(values[0], ERD.uncertainty(values))

    found = _read(raw, read)
    if isinstance(found, ErdReadings):
        return found
    rim = erd_from_readings(seen) if seen else None
    return ErdReadings(
        found.value, found.u, tuple(seen), rim.warnings if rim else (), count=max(len(seen), found.count)
    )


def read_gaps(raw: object) -> tuple[float, ...]:
    """Return gaps between two rods' ends round the rim; arguments and errors as `read_reading`."""
    if raw in ([], ()):
        return ()
    values = _numbers(raw)
    _check(values, GAP)
    return tuple(values)


def _required(kind: ReadingKind) -> BeforeValidator:
    return BeforeValidator(lambda raw: read_reading(raw, kind))


def _optional(hint: str, *numbers: float) -> BeforeValidator:
    """Read a `ReadingKind` that may be left out; the starter file's empty list is not filled in."""
    kind = ReadingKind(hint, *numbers)
    return BeforeValidator(lambda raw: None if raw is None or raw == [] else read_reading(raw, kind))


def _bar(axis: Literal["x", "y"]) -> BeforeValidator:
    return BeforeValidator(lambda raw: None if raw is None or raw == [] else read_check_bar(raw, axis))


GaugeLength = Annotated[Reading, _required(GAUGE_LENGTH)]
GaugeDiameter = Annotated[
    Reading | None, _optional("Spoke wire is 1.5 to 2.6 mm thick", 0.012, 0.016, 1.0, 3.5, 0.3)
]
Opening = Annotated[
    Reading | None,
    _optional(
        "It is what the locked caliper shows; 100 to 150 fits the sheet best", 0.02, 0.01, 60.0, 155.0, 0.1
    ),
]
CheckBarX = Annotated[Reading | None, _bar("x")]
CheckBarY = Annotated[Reading | None, _bar("y")]
FlangeHeight = Annotated[
    Reading | None,
    _optional("It is the flange's middle above the paper", 0.12, 0.16, 2.0, 250.0, 2.0),
]
GaugeHeight = Annotated[
    Reading | None,
    _optional("It is the middle of the gauge's wire above the paper", 0.18, 0.24, 2.0, 250.0, 2.0),
]
CentreToFlange = Annotated[
    Reading | None,
    _optional(
        "It is from the middle of the over-locknut length to the flange's middle", 0.18, 0.24, 0.0, 90.0, 2.0
    ),
]
OverLocknut = Annotated[
    Reading | None,
    _optional("It is from end face to end face, 100 to 157 mm on most hubs", 0.03, 0.04, 70.0, 250.0, 1.0),
]
Erd = Annotated[ErdReadings | None, BeforeValidator(read_erd)]
RodLength = Annotated[Reading, _required(ROD)]
RodGap = Annotated[tuple[float, ...], BeforeValidator(read_gaps)]
SeatDiameter = Annotated[
    Reading | None,
    _optional("It is the diameter on which the nipples' heads rest", 0.3, 0.4, 150.0, 750.0, 3.0),
]
NippleSeat = Annotated[
    Reading | None,
    _optional(
        "It is from the head's seat out to the slot's bottom (internal: to the outer end)",
        0.05,
        0.1,
        -5.0,
        20.0,
        1.0,
    ),
]
SmallDistance = Annotated[
    Reading | None, _optional("It is a few millimetres at most", 0.03, 0.05, 0.0, 10.0, 0.5)
]
FlangeDiameter = Annotated[
    Reading,
    _required(ReadingKind("It is the circle through the middles of the holes", 0.18, 0.24, 15.0, 150.0, 3.0)),
]
HoleDiameter = Annotated[
    Reading, _required(ReadingKind("Holes for spokes are 2.3 to 3 mm wide", 0.03, 0.04, 1.8, 4.0, 0.3))
]
ErdCorrection = Annotated[
    Reading | None,
    _optional(
        "It is what your built wheels say that your ERDs lack: hubsight built", 0.0, 0.2, -5.0, 5.0, 1.0
    ),
]
RimOffset = Annotated[
    Reading | None,
    _optional("It is positive towards the drive side", 0.1, 0.1, -15.0, 15.0, 2.0),
]
CaliperFlangeDiameter = Annotated[
    Reading | None,
    _optional("It is twice the distance from axis to crossing point", 0.18, 0.24, 15.0, 150.0, 3.0),
]
CaliperBossWidth = Annotated[
    Reading | None, _optional("It is measured along the spoke", 0.06, 0.08, 2.0, 30.0, 1.0)
]
CaliperProtrusion = Annotated[
    Reading | None,
    _optional("It is from the boss face to the gauge's end", 0.08, 0.12, 5.0, 310.0, 1.0),
]
CaliperReach = Annotated[
    Reading | None,
    _optional("It is from the crossing point to the gauge's end", 0.18, 0.24, 5.0, 310.0, 2.0),
]
CaliperReference = Annotated[
    Reading | None,
    _optional(
        "It is a diameter that the caliper reaches, inside of the crossing points",
        0.04,
        0.06,
        10.0,
        150.0,
        1.0,
    ),
]
CaliperDepth = Annotated[
    Reading | None,
    _optional("It is from that diameter out to the crossing point", 0.08, 0.12, 0.0, 40.0, 1.0),
]
CaliperEndToFlange = Annotated[
    Reading | None,
    _optional("It is from the hub's end face in to the flange's middle", 0.08, 0.12, 0.0, 120.0, 1.0),
]
CaliperOffset = Annotated[Reading | None, _optional("It is a few millimetres", 0.12, 0.16, -5.0, 15.0, 1.5)]


def reader(table: type[BaseModel], field: str) -> Callable[[object], Reading | None]:
    """Return what reads a job file's field, as its table does; None is not filled in."""
    own = (one.func for one in table.model_fields[field].metadata if isinstance(one, BeforeValidator))
    return cast(Callable[[object], Reading | None], next(own))
