"""The job file's tables about the wheel that is to be built: rim, spokes, nipples, flanges, what was built.

All lengths in mm.
"""

from __future__ import annotations

import math
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, model_validator
from pydantic_core import PydanticCustomError

from hubsight.job.file.readings import (
    CentreToFlange,
    Erd,
    ErdCorrection,
    ErdReadings,
    FlangeDiameter,
    HoleDiameter,
    NippleSeat,
    RimOffset,
    RodGap,
    RodLength,
    SeatDiameter,
    SmallDistance,
    erd_of,
    in_mm,
    refuse_decimal_comma,
    single,
    single_number,
)
from hubsight.model.stated import Reading
from hubsight.wheel.elastic import RimMaterial
from hubsight.wheel.lot import Head, wire_name
from hubsight.wheel.nipple import SPOKE_THREAD_MM, STOCK_STEP_MM, NippleKind
from hubsight.wheel.order import SPARES
from hubsight.wheel.rim import erd_from_rods, erd_from_seat, with_washers


class Table(BaseModel):
    """A table of the job file."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=False)


def number_or_none(low: float, high: float) -> Any:
    """Return the type of a number between limits that may be left out, or left as ``[]``."""
    return Annotated[Annotated[float, Field(ge=low, le=high)] | None, BeforeValidator(single_number)]


def or_usual(usual: float) -> BeforeValidator:
    """Return what reads one number with or without brackets, and ``usual`` where they are empty."""

    def read(raw: object) -> object:
        number = single_number(raw)
        return usual if number is None else number

    return BeforeValidator(read)


def word_or_usual(usual: str) -> BeforeValidator:
    """Return what reads one word in small letters, with or without brackets; ``usual`` if they are empty."""

    def read(raw: object) -> object:
        word = single(raw)
        return usual if word is None else word.lower() if isinstance(word, str) else word

    return BeforeValidator(read)


def _as_numbers(raw: object) -> object:
    return [in_mm(item) for item in (raw if isinstance(raw, list) else [raw])]


def _as_readings(raw: object) -> object:
    refuse_decimal_comma(raw)
    return _as_numbers(raw)


Numbers = Annotated[tuple[float, ...], BeforeValidator(_as_numbers)]
"""One number, or several in brackets."""
Readings = Annotated[tuple[float, ...], BeforeValidator(_as_readings)]
"""The same, of which each was read by itself."""

OptionalCount = Annotated[Annotated[int, Field(ge=2, le=36)] | None, BeforeValidator(single_number)]
SpokeLength = number_or_none(100.0, 400.0)


def _refuse(sentence: str, remedy: str) -> PydanticCustomError:
    return PydanticCustomError("reading", "{sentence}. {remedy}", {"sentence": sentence, "remedy": remedy})


class RimTable(Table):
    """``[rim]``.

    The ERD is stated in one of three ways: as ``erd``; as two ``rods`` and the ``gaps`` between them; as the
    diameter on which the nipples' heads rest, ``seat_diameter``, and ``seat_to_slot``. ``kit`` names a rim of
    the kit; what is stated here comes before what the kit says.
    """

    kit: Annotated[str | None, BeforeValidator(single)] = None
    erd: Erd = None
    rods: tuple[RodLength, ...] = ()
    gaps: RodGap = ()
    seat_diameter: SeatDiameter = None
    seat_to_slot: NippleSeat = None
    washer: SmallDistance = None
    correction: ErdCorrection = None
    offset: RimOffset = None
    hole_stagger: SmallDistance = None
    even: bool = True
    holes: Annotated[str, BeforeValidator(lambda raw: "" if raw == [] else raw)] = ""
    mass: number_or_none(150.0, 1500.0) = None  # type: ignore[valid-type]
    material: Annotated[RimMaterial | None, BeforeValidator(single)] = None
    bead_seat: Annotated[Literal[622, 584, 559] | None, BeforeValidator(single)] = None

    @model_validator(mode="after")
    def _stated_once(self) -> Self:
        ways = (self.erd is not None, bool(self.rods or self.gaps), self.seat_diameter is not None)
        if sum(ways) > 1:
            raise _refuse("the ERD is stated in more than one way", "Keep one of them")
        if ways[1] and (len(self.rods) != 2 or not self.gaps):
            raise _refuse("rods and gaps do not make an ERD", "Give two rods, and one gap or several")
        if ways[2] and self.seat_to_slot is None:
            raise _refuse("seat_diameter alone makes no ERD", "Add seat_to_slot, from the seat to the slot")
        return self

    def effective(self) -> ErdReadings | None:
        """Return the ERD, with washers and the builder's own correction."""
        found = self.erd
        if self.rods:
            result = erd_from_rods((self.rods[0], self.rods[1]), self.gaps)
            found = erd_of(result) if result else None
        elif self.seat_diameter is not None and self.seat_to_slot is not None:
            seat = erd_from_seat(self.seat_diameter, self.seat_to_slot)
            found = ErdReadings(seat.value, seat.u, count=seat.count)
        if found is None:
            return None
        erd: Reading = found if self.washer is None else with_washers(found, self.washer)
        if self.correction is not None:
            u = math.hypot(erd.u, self.correction.u)
            erd = Reading(erd.value + self.correction.value, u, count=erd.count)
        return ErdReadings(erd.value, erd.u, found.readings, found.warnings, count=found.count)


class LotTable(Table):
    """``[[spokes.lots]]``: spokes at hand; ``wire`` as on an order, "" where it is not known."""

    length: Annotated[float, Field(ge=50.0, le=400.0)]
    count: Annotated[int, Field(ge=0)]
    wire: Annotated[str, AfterValidator(wire_name)] = ""
    head: Head = "straight-pull"


class SpokesTable(Table):
    """``[spokes]``: what spokes can be had, and of what wire.

    ``wire`` is one diameter, or three at head, middle and thread; ``segments`` the lengths of the thick ends
    at head and thread; ``blade`` width and thickness of a bladed spoke's middle. ``drawer`` names a drawer of
    the kit; ``lots`` are the spokes in it, and may be stated instead.
    """

    cut_to_order: bool = False
    stock_step: number_or_none(0.25, 10.0) = None  # type: ignore[valid-type]
    stock_lengths: Numbers = ()
    wire: Numbers = ()
    segments: Numbers = ()
    blade: Numbers = ()
    patented: bool = False
    thread: Annotated[float, Field(ge=5.0, le=30.0), or_usual(SPOKE_THREAD_MM)] = SPOKE_THREAD_MM
    spares: Annotated[int, Field(ge=0, le=50), or_usual(SPARES)] = SPARES
    drawer: Annotated[str | None, BeforeValidator(single)] = None
    lots: tuple[LotTable, ...] = ()

    @model_validator(mode="after")
    def _makes_sense(self) -> Self:
        check_wire(self.wire, self.segments, self.blade)
        if self.stock_lengths and self.stock_step is not None:
            raise _refuse("stock is stated as a step and as lengths", "Keep one: stock_step or stock_lengths")
        if any(not 100.0 <= length <= 400.0 for length in self.stock_lengths):
            raise _refuse("a stock length is not between 100 and 400 mm", "Give lengths in mm")
        return self

    @property
    def step(self) -> float:
        """Step between the lengths that can be had."""
        if self.stock_step is not None:
            return float(self.stock_step)
        return CUT_STEP_MM if self.cut_to_order else STOCK_STEP_MM


CUT_STEP_MM = 1.0
"""Step in which spokes are cut to order unless stated otherwise (common practice, no source)."""


def check_wire(wire: tuple[float, ...], segments: tuple[float, ...], blade: tuple[float, ...]) -> None:
    """Raise PydanticCustomError unless the numbers describe a wire."""
    if len(wire) not in {0, 1, 3} or any(not 1.0 <= diameter <= 3.5 for diameter in wire):
        raise _refuse("wire is no spoke's", "Give one diameter, or three at head, middle and thread, as 2.0")
    if segments and (len(segments) != 2 or len(wire) != 3 or any(not 0 < s < 150 for s in segments)):
        raise _refuse("segments is no butted spoke's", "Give the thick ends' lengths at head and thread")
    if blade and (len(blade) != 2 or not 0.3 <= blade[1] < blade[0] <= 6.0):
        raise _refuse("blade is no spoke's", "Give its width, then its thickness, as [2.2, 1.0]")


class NippleTable(Table):
    """``[nipple]``: length and kind; ``window``: where the spoke's end may lie, from the slot's bottom.

    ``seat_to_slot``, from the head's seat out to the slot, corrects an ERD that was taken with other nipples.
    """

    length: Annotated[float, Field(ge=8.0, le=30.0), or_usual(12.0)] = 12.0
    kind: Annotated[NippleKind, word_or_usual("slotted")] = "slotted"
    seat_to_slot: NippleSeat = None
    window: Annotated[tuple[float, ...], Field(max_length=2)] = ()

    @model_validator(mode="after")
    def _is_a_window(self) -> Self:
        if self.window and (len(self.window) != 2 or not self.window[0] < self.window[1]):
            raise _refuse("this is no window", "Give its lowest and highest place, as [-1.0, 1.5]")
        return self


class JBendTable(Table):
    """``[sides.SIDE.j_bend]``: a flange with holes for spokes with an elbow."""

    holes: Annotated[int, Field(ge=4, le=36), BeforeValidator(single_number)]
    hole_circle: FlangeDiameter
    hole_diameter: HoleDiameter
    thickness: SmallDistance = None
    centre_to_flange: CentreToFlange = None


class BuiltSideTable(Table):
    """``[built.SIDE]``: the wheel as it was built.

    ``length`` of the spokes that were built in, and where their ``ends`` came to lie, from the slot's bottom,
    positive outwards; ``holes`` are the rim holes of these ends on the bench card, where they are noted. For
    replacing one: measured lengths of its ``spokes``, loose or ``spokes_in_wheel``.
    """

    length: SpokeLength = None  # type: ignore[valid-type]
    ends: Readings = ()
    holes: tuple[Annotated[int, Field(ge=1, le=72)], ...] = ()
    spokes: Readings = ()
    spokes_in_wheel: Readings = ()

    @model_validator(mode="after")
    def _one_end_a_hole(self) -> Self:
        if self.holes and (len(self.holes) != len(self.ends) or len(set(self.holes)) != len(self.holes)):
            raise _refuse("holes do not go with ends", "Give one rim hole for each end, or none at all")
        return self


class BuiltTable(Table):
    """``[built]``."""

    drive: BuiltSideTable | None = None
    non_drive: BuiltSideTable | None = None


def reading_or_zero(reading: Reading | None) -> Reading:
    """Return a reading, or a certain zero where nothing was stated."""
    return reading or Reading(0.0, 0.0)
