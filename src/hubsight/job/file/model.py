"""The job file's tables, as pydantic models. All lengths in mm. How to write one: ``hubsight start``."""

from __future__ import annotations

import datetime
from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, model_validator
from pydantic_core import PydanticCustomError

from hubsight.job.file.build_tables import (
    BuiltTable,
    JBendTable,
    NippleTable,
    Numbers,
    OptionalCount,
    RimTable,
    SpokesTable,
    Table,
    check_wire,
    number_or_none,
    or_usual,
    word_or_usual,
)
from hubsight.job.file.readings import (
    CaliperBossWidth,
    CaliperDepth,
    CaliperEndToFlange,
    CaliperFlangeDiameter,
    CaliperOffset,
    CaliperProtrusion,
    CaliperReach,
    CaliperReference,
    CentreToFlange,
    CheckBarX,
    CheckBarY,
    FlangeHeight,
    GaugeDiameter,
    GaugeHeight,
    GaugeLength,
    Opening,
    OverLocknut,
    SmallDistance,
    single,
    single_number,
)
from hubsight.model.stated import PaperName, TipKind

SCHEMA_VERSION = 1
"""Of the job file; a file with another number is refused instead of misread."""

MOST_GAUGES = 2
"""Gauge spokes that one set of photos may show."""


Paper = Annotated[PaperName, word_or_usual("a4")]
Tip = Annotated[TipKind, word_or_usual("flat")]


def _as_list(raw: object) -> object:
    return [raw] if isinstance(raw, str) else raw


Name = Annotated[str | None, BeforeValidator(single)]
Spokes = Annotated[Annotated[int, Field(ge=8, le=72)] | None, BeforeValidator(single_number)]


def _whole_crosses(raw: object) -> object:
    raw = single_number(raw)
    if isinstance(raw, float) and not raw.is_integer():
        sentence = (
            "{raw} crosses: a spoke crosses another one or does not. Do not count the crossing inside the"
        )
        raise PydanticCustomError("reading", sentence + " boss", {"raw": f"{raw:g}"})
    return raw


Crosses = Annotated[Annotated[int, Field(ge=0, le=5)] | None, BeforeValidator(_whole_crosses)]


class FlatTable(Table):
    """``[target.flat]``: photos of a ruler lying on the sheet: a gauge of the job, or a locked caliper."""

    photos: Annotated[tuple[str, ...], BeforeValidator(_as_list)] = ()
    gauge: Name = None
    opening: Opening = None

    @model_validator(mode="after")
    def _one_ruler(self) -> Self:
        if self.photos and (self.gauge is None) == (self.opening is None):
            raise ValueError("state what lies on the sheet: either gauge or opening, not both")
        return self


class TargetTable(Table):
    """``[target]``: the printed sheet; check bars as read with a caliper, mm, and on which day.

    ``kit`` names a target of the kit; what is stated here comes before what the kit says.
    """

    kit: Name = None
    paper: Paper = "a4"
    bar_x: CheckBarX = None
    bar_y: CheckBarY = None
    bars_read: datetime.date | None = None
    flat: FlatTable = FlatTable()


class CameraTable(Table):
    """``[camera]``: a profile made by calibrating: a path inside the job folder, or a name in the kit."""

    profile: Name = None
    kit: Name = None


class GaugeTable(Table):
    """``[gauges.NAME]``: a gauge spoke; length from under the head to the far end and diameter, mm.

    ``kit`` names a gauge of the kit; what is stated here comes before what the kit says.
    """

    kit: Name = None
    length: GaugeLength
    tip: Tip = "flat"
    diameter: GaugeDiameter = None


class CaliperTable(Table):
    """``[sides.SIDE.caliper]``: readings by hand to compare with, mm."""

    flange_diameter: CaliperFlangeDiameter = None
    boss_width: CaliperBossWidth = None
    protrusion: CaliperProtrusion = None
    boss_width_across: CaliperBossWidth = None
    reach: CaliperReach = None
    spoke_offset: CaliperOffset = None
    spoke_offset_by_width: CaliperOffset = None
    flange_height: FlangeHeight = None
    centre_to_flange: CentreToFlange = None
    reference_diameter: CaliperReference = None
    boss_depth: CaliperDepth = None
    end_to_flange: CaliperEndToFlange = None


class RepeatTable(Table):
    """``[[sides.SIDE.repeats]]``: another set of photos of that side, the gauge in another boss or bore."""

    photos: Annotated[tuple[str, ...], BeforeValidator(_as_list), Field(min_length=1)]
    gauges: Annotated[tuple[str, ...], BeforeValidator(_as_list), Field(max_length=MOST_GAUGES)] = ()


class SideTable(Table):
    """``[sides.drive]`` or ``[sides.non_drive]``: one set of photos, with what is known of that side, mm."""

    photos: Annotated[tuple[str, ...], BeforeValidator(_as_list)] = ()
    gauges: Annotated[tuple[str, ...], BeforeValidator(_as_list), Field(max_length=MOST_GAUGES)] = ()
    flange_height: FlangeHeight = None
    gauge_height_at_boss: GaugeHeight = None
    gauge_height_at_end: GaugeHeight = None
    centre_to_flange: CentreToFlange = None
    block_thickness: Annotated[float, Field(ge=0, le=100), or_usual(0.0)] = 0.0
    repeats: tuple[RepeatTable, ...] = ()
    crosses: Crosses = None
    kind: Annotated[Literal["paired", "radial"] | None, BeforeValidator(single)] = None
    bosses: OptionalCount = None
    stagger: SmallDistance = None
    boss_top: SmallDistance = None
    bore: number_or_none(1.0, 8.0) = None  # type: ignore[valid-type]
    slot: number_or_none(1.0, 12.0) = None  # type: ignore[valid-type]
    j_bend: JBendTable | None = None
    rim_holes: Numbers = ()
    rim_holes_period: Annotated[float, Field(gt=0.0, le=360.0)] = 360.0
    first_hole: Annotated[Annotated[int, Field(ge=0, le=7)] | None, BeforeValidator(single_number)] = None
    wire: Numbers = ()
    segments: Numbers = ()
    blade: Numbers = ()
    caliper: CaliperTable = CaliperTable()

    @model_validator(mode="after")
    def _is_a_wire(self) -> Self:
        check_wire(self.wire, self.segments, self.blade)
        return self


class LyingTable(Table):
    """``[lying]``: photos of the hub lying on its flanges, and where on the sheet its drive side lies."""

    photos: Annotated[tuple[str, ...], BeforeValidator(_as_list)] = ()
    drive_end: Annotated[Literal["left", "right", "top", "bottom"] | None, BeforeValidator(single)] = None


class SidesTable(Table):
    """``[sides]``."""

    drive: SideTable | None = None
    non_drive: SideTable | None = None


class HubTable(Table):
    """``[hub]``: length over the locknuts, mm; or the ``job`` of whose record this wheel's hub is taken."""

    job: Name = None
    over_locknut: OverLocknut = None


class WheelTable(Table):
    """``[wheel]``.

    ``spokes`` of the whole wheel; ``crosses`` not counting the one inside the boss; ``tension``
    of a spoke of the tighter side, N. ``inches`` shows lengths in inches too.
    """

    spokes: Spokes = None
    crosses: Crosses = None
    tension: number_or_none(200.0, 2000.0) = None  # type: ignore[valid-type]
    inches: bool = False


Words = Annotated[
    Annotated[str, Field(max_length=2000)], BeforeValidator(lambda raw: "" if raw == [] else raw)
]


class LabelTable(Table):
    """``[label]``: the user's own words to find the job again: hub model, customer, wheel, notes."""

    hub: Words = ""
    customer: Words = ""
    wheel: Words = ""
    notes: Words = ""


class KitTable(Table):
    """``[kit]``: the caliper of the kit that the job's readings were taken with."""

    caliper: Name = None


class JobFile(Table):
    """A whole job file."""

    schema_version: Literal[1] = 1
    kit: KitTable = KitTable()
    target: TargetTable = TargetTable()
    camera: CameraTable = CameraTable()
    gauges: dict[str, GaugeTable] = Field(default_factory=dict)
    sides: SidesTable = SidesTable()
    lying: LyingTable = LyingTable()
    hub: HubTable = HubTable()
    rim: RimTable = RimTable()
    wheel: WheelTable = WheelTable()
    spokes: SpokesTable = SpokesTable()
    nipple: NippleTable = NippleTable()
    built: BuiltTable = BuiltTable()
    label: LabelTable = LabelTable()
