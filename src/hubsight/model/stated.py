"""What the user states about a job, in millimetres, before any photograph is looked at.

Plain frozen objects without files: the job file is read into these, and the measuring functions take them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from hubsight.model.corrections import NO_CORRECTIONS, Corrections

BLOCK_U_MM = 0.05
"""Standard uncertainty of a stated block thickness (common practice, no source)."""
CHECK_BAR_NOMINAL_MM = 120.0
"""Distance of a check bar's two ticks on a print at 100 %."""

SideName = Literal["drive", "non_drive"]
SIDES: tuple[SideName, ...] = ("drive", "non_drive")
"""The sides of a hub, in the order in which they are shown."""
SetName = Literal["drive", "non_drive", "lying"]
SETS: tuple[SetName, ...] = (*SIDES, "lying")
"""Photo sets in which something can be placed by hand: of both sides, and of the hub lying on its flanges."""
Bore = Literal["mean", "outer", "inner"]
"""Which of a boss' two bores: the one nearer to the hub's end, the one nearer to its middle, or their
mean."""
TipKind = Literal["flat", "nipple"]
PaperName = Literal["a4", "letter", "a3"]
EndName = Literal["left", "right", "top", "bottom"]
"""Where on the upright sheet an end of a lying hub is."""


@dataclass(frozen=True)
class Reading:
    """A stated value with its standard uncertainty, both in mm.

    ``count`` is how often it was read; two readings are equal if value and uncertainty are.
    """

    value: float
    u: float
    count: int = field(default=1, kw_only=True, compare=False)


ZERO = Reading(0.0, 0.0)
"""Exactly none: no washer, no offset, no stagger."""


@dataclass(frozen=True)
class StatedGauge:
    """A gauge spoke.

    Attributes
    ----------
    length
        From the seat under the head to the far end (with a nipple on it: to the nipple's end).
    tip
        What is on its far end.
    diameter
        Of the wire, if known.
    """

    length: Reading
    tip: TipKind = "flat"
    diameter: Reading | None = None


@dataclass(frozen=True)
class Ruler:
    """What lies on the sheet: a gauge of a stated length, or a caliper locked at a stated opening."""

    kind: Literal["gauge", "caliper"]
    length: Reading
    tip: TipKind = "flat"
    diameter: Reading | None = None


@dataclass(frozen=True)
class ScaleAlong:
    """What a ruler on the sheet says of the print: ``x * scale_x + y * scale_y = value``, with uncertainty u.

    ``x`` and ``y`` are the squared cosines of the ruler's direction; the scales are printed over nominal
    length.
    """

    x: float
    y: float
    value: float
    u: float


@dataclass(frozen=True)
class StatedTarget:
    """The printed target.

    Attributes
    ----------
    paper
        Which of the drawn sizes was printed.
    bar_x, bar_y
        Caliper readings of the two check bars (nominal 120 mm); None if not measured.
    along
        What a ruler lying on the sheet says, if there was one.
    """

    paper: PaperName = "a4"
    bar_x: Reading | None = None
    bar_y: Reading | None = None
    along: ScaleAlong | None = None


@dataclass(frozen=True)
class StatedSide:
    """One side of the hub, standing with that side up.

    Attributes
    ----------
    photos
        Files of this set.
    gauges
        One per gauge spoke in the upper flange's bosses, in the order stated.
    flange_height
        Flange mid-plane above the paper.
    gauge_height_at_boss, gauge_height_at_end
        Wire axis above the paper where it leaves the boss and at its far end.
    centre_to_flange
        Stated w of this side.
    block_thickness
        Of a block under the hub; 0 when it stands on the paper.
    """

    name: SideName
    photos: tuple[Path, ...]
    gauges: tuple[StatedGauge, ...]
    flange_height: Reading | None = None
    gauge_height_at_boss: Reading | None = None
    gauge_height_at_end: Reading | None = None
    centre_to_flange: Reading | None = None
    block_thickness: float = 0.0
    caliper: dict[str, Reading] = field(default_factory=dict)
    """Caliper readings to compare with, by figure name."""
    corrections: Corrections = NO_CORRECTIONS
    """What was put right by hand in these photos."""


@dataclass(frozen=True)
class HolePattern:
    """Rim holes of one side that are not evenly spaced.

    Attributes
    ----------
    angles
        Directions of this side's holes within one period, degrees, rising, starting anywhere. On tangent
        pairs the first two are those on either side of a boss centreline, on other hubs the first belongs to
        any bore.
    period
        Angle after which the pattern repeats; 360 divided by a whole number.
    """

    angles: tuple[float, ...]
    period: float = 360.0

    def all_angles(self) -> tuple[float, ...]:
        """Return the directions of all holes of the side, degrees."""
        turns = round(360.0 / self.period)
        return tuple(turn * self.period + angle for turn in range(turns) for angle in self.angles)


@dataclass(frozen=True)
class StatedWheel:
    """Rim and wheel, as they concern one side. ``crosses`` does not count the crossing inside the boss."""

    spokes: int | None = None
    crosses: int | None = None
    erd: Reading | None = None
    over_locknut: Reading | None = None
    rim_offset: Reading | None = None
    """Lateral offset of the rim's hole plane, positive towards the drive side."""
    rim_holes: tuple[HolePattern, ...] = ()
    """This side's rim holes; two ways, by the first hole, where it is not stated which comes first."""
    even_rim: bool = True
    """False where it is stated that the rim's holes are not evenly drilled."""


NOTHING_STATED = StatedWheel()
"""A wheel of which nothing is known."""
