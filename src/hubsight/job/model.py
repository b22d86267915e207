"""The job file's tables, as pydantic models. All lengths in mm. How to write one: ``hubsight start``."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from hubsight.job.readings import (
    CaliperBossWidth,
    CaliperFlangeDiameter,
    CaliperOffset,
    CaliperProtrusion,
    CaliperReach,
    CentreToFlange,
    CheckBarX,
    CheckBarY,
    Erd,
    FlangeHeight,
    GaugeDiameter,
    GaugeHeight,
    GaugeLength,
    OverLocknut,
    RimOffset,
    empty_is_none,
)
from hubsight.stated import PaperName, TipKind

SCHEMA_VERSION = 1
"""Of the job file; a file with another number is refused instead of misread."""

MOST_GAUGES = 2
"""Gauge spokes that one set of photos may show."""


def _as_list(raw: object) -> object:
    return [raw] if isinstance(raw, str) else raw


Spokes = Annotated[Annotated[int, Field(ge=8, le=72)] | None, BeforeValidator(empty_is_none)]
Crosses = Annotated[Annotated[int, Field(ge=0, le=5)] | None, BeforeValidator(empty_is_none)]


class _Table(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=False)


class TargetTable(_Table):
    """``[target]``: the printed sheet; check bars as read with a caliper, mm."""

    paper: PaperName = "a4"
    bar_x: CheckBarX = None
    bar_y: CheckBarY = None


class CameraTable(_Table):
    """``[camera]``: a profile made by calibrating, as a path inside the job folder."""

    profile: Annotated[str | None, BeforeValidator(empty_is_none)] = None


class GaugeTable(_Table):
    """``[gauges.NAME]``: a gauge spoke; length from under the head to the far end and diameter, mm."""

    length: GaugeLength
    tip: TipKind = "flat"
    diameter: GaugeDiameter = None


class CaliperTable(_Table):
    """``[sides.SIDE.caliper]``: readings by hand to compare with, mm."""

    flange_diameter: CaliperFlangeDiameter = None
    boss_width: CaliperBossWidth = None
    protrusion: CaliperProtrusion = None
    reach: CaliperReach = None
    spoke_offset: CaliperOffset = None
    spoke_offset_by_width: CaliperOffset = None
    flange_height: FlangeHeight = None


class SideTable(_Table):
    """``[sides.drive]`` or ``[sides.non_drive]``: one set of photos, with what is known of that side, mm."""

    photos: Annotated[list[str], BeforeValidator(_as_list), Field(min_length=1)]
    gauges: Annotated[list[str], BeforeValidator(_as_list), Field(max_length=MOST_GAUGES)] = []
    flange_height: FlangeHeight = None
    gauge_height_at_boss: GaugeHeight = None
    gauge_height_at_end: GaugeHeight = None
    centre_to_flange: CentreToFlange = None
    block_thickness: Annotated[float, Field(ge=0, le=100)] = 0.0
    crosses: Crosses = None
    caliper: CaliperTable = CaliperTable()


class SidesTable(_Table):
    """``[sides]``."""

    drive: SideTable | None = None
    non_drive: SideTable | None = None


class HubTable(_Table):
    """``[hub]``: length over the locknuts, mm."""

    over_locknut: OverLocknut = None


class RimTable(_Table):
    """``[rim]``: effective rim diameter; offset of the hole plane, positive to the drive side; mm."""

    erd: Erd = None
    offset: RimOffset = None


class WheelTable(_Table):
    """``[wheel]``: spokes of the whole wheel; crosses not counting the one inside the boss, 0 for radial."""

    spokes: Spokes = None
    crosses: Crosses = None


Words = Annotated[
    Annotated[str, Field(max_length=2000)], BeforeValidator(lambda raw: "" if raw == [] else raw)
]


class LabelTable(_Table):
    """``[label]``: the user's own words to find the job again: hub model, customer, wheel, notes."""

    hub: Words = ""
    customer: Words = ""
    wheel: Words = ""
    notes: Words = ""


class JobFile(_Table):
    """A whole job file."""

    schema_version: Literal[1] = 1
    target: TargetTable = TargetTable()
    camera: CameraTable = CameraTable()
    gauges: Annotated[dict[str, GaugeTable], Field(min_length=1)]
    sides: SidesTable
    hub: HubTable = HubTable()
    rim: RimTable = RimTable()
    wheel: WheelTable = WheelTable()
    label: LabelTable = LabelTable()
