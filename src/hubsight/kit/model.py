"""What is kept of a piece of kit: readings as they were taken, so that they can be judged anew later.

All lengths in mm. A camera's file is its profile, see `hubsight.camera.profile`.
"""

from __future__ import annotations

import datetime
from typing import Annotated, Literal

from pydantic import Field

from hubsight.model.frozen import Frozen
from hubsight.model.stated import PaperName, TipKind

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
