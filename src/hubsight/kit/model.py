"""What is kept of a piece of kit: readings as they were taken, so that they can be judged anew later.

All lengths in mm. A camera's file is its profile, see `hubsight.camera.profile`.
"""

from __future__ import annotations

import datetime
from typing import Annotated, Literal

from pydantic import Field

from hubsight.model.frozen import Frozen
from hubsight.model.stated import PaperName, TipKind
from hubsight.wheel.nipple import NippleKind

Length = Annotated[float, Field(gt=0, allow_inf_nan=False)]
Readings = tuple[Length, ...]
"""One or several readings of the same thing."""


class _Item(Frozen):
    schema_version: Literal[1] = 1
    date: datetime.date
    """Day of the readings."""
    note: Annotated[str, Field(max_length=400)] = ""


class KitCaliper(_Item):
    """A caliper.

    Attributes
    ----------
    u
        Standard uncertainty of one careful reading, from its data sheet or a gauge block.
    zero
        What it shows when closed; subtracted from every reading taken with it.
    zero_u
        Standard uncertainty of that.
    """

    kind: Literal["caliper"] = "caliper"
    u: Annotated[float, Field(gt=0, le=0.5)]
    zero: Annotated[float, Field(ge=-1, le=1)] = 0.0
    zero_u: Annotated[float, Field(ge=0, le=1)] = 0.0


class KitGauge(_Item):
    """A gauge spoke.

    Attributes
    ----------
    length
        Readings from under the head to the far end.
    length_u
        Standard uncertainty of their mean, if known better than from the readings.
    diameter
        Readings of the wire.
    tip
        What is on the far end.
    caliper
        Name of the caliper that the readings were taken with.
    """

    kind: Literal["gauge"] = "gauge"
    length: Annotated[Readings, Field(min_length=1)]
    length_u: Length | None = None
    diameter: Readings = ()
    tip: TipKind = "flat"
    caliper: str | None = None


class KitTarget(_Item):
    """A printed target; ``bar_x`` and ``bar_y`` are the readings of its check bars on the day ``date``."""

    kind: Literal["target"] = "target"
    paper: PaperName = "a4"
    bar_x: Annotated[Readings, Field(min_length=1)]
    bar_y: Annotated[Readings, Field(min_length=1)]
    caliper: str | None = None


class KitRim(_Item):
    """A rim, as it was measured.

    Attributes
    ----------
    holes
        Spoke holes.
    erd
        Diameters between the slots' bottoms, read round the rim; or ``rods`` and ``gaps``.
    rods, gaps
        Two rods with nipples on, each from its inner end to the slot's bottom, and what lies between them on
        several diameters; an overlap is negative.
    at
        Spoke hole at which each reading was taken, 1 being the first after the valve hole; empty: evenly
        round half the rim.
    nipple, seat_to_slot
        Kind of the nipples that the readings were taken with, and from their heads' seat out to the slot.
    washer
        Thickness of the washers under them; none: 0.
    offset, hole_stagger, even, row, mass, bead_seat
        As in a job's table of the rim; ``row`` is its ``holes``.
    """

    kind: Literal["rim"] = "rim"
    holes: Annotated[int, Field(ge=8, le=72)] | None = None
    erd: Readings = ()
    rods: Readings = ()
    gaps: tuple[Annotated[float, Field(allow_inf_nan=False)], ...] = ()
    at: tuple[Annotated[int, Field(ge=1, le=72)], ...] = ()
    nipple: NippleKind | None = None
    seat_to_slot: tuple[Annotated[float, Field(allow_inf_nan=False)], ...] = ()
    washer: tuple[Annotated[float, Field(ge=0, allow_inf_nan=False)], ...] = ()
    offset: tuple[Annotated[float, Field(allow_inf_nan=False)], ...] = ()
    hole_stagger: tuple[Annotated[float, Field(ge=0, allow_inf_nan=False)], ...] = ()
    even: bool = True
    row: Annotated[str, Field(max_length=72)] = ""
    mass: Length | None = None
    bead_seat: Literal[622, 584, 559] | None = None

    @property
    def diameters(self) -> tuple[float, ...]:
        """Every diameter that was read, in the order taken."""
        return self.erd or tuple(sum(self.rods) + gap for gap in self.gaps)
