"""The rim: effective diameter from readings or rods, out-of-round, washers, plausibility.

Lengths in mm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from hubsight.model.refusal import Refusal
from hubsight.model.stated import ZERO, Reading
from hubsight.model.uncertainty import u_of_mean
from hubsight.wheel.nipple import NippleKind

ERD_DEFINITION = (
    "ERD (effective rim diameter): the diameter on which the spoke ends are to lie,"
    " level with the bottom of the nipple's slot."
)
"""The one definition, for screens and documents."""


def erd_definition(kind: NippleKind) -> str:
    """Return what the ERD is with nipples of a kind."""
    if kind != "internal":
        return ERD_DEFINITION
    return (
        "ERD (effective rim diameter) of internal nipples: to their outer ends, from where the spoke ends "
        "count."
        " It is the diameter of the bed on which they sit, and twice their length."
    )


UNEVEN = "the ERD differs by"
"""How the warning of a rim that is out of round begins."""
OUT_OF_ROUND_MM = 1.0
"""Spread of the ERD round the rim above which it is worth a warning: half of it goes into single spokes
(common practice, no source)."""

ERD_READING_U_MM = 0.3
"""Standard uncertainty of one reading of an ERD with two rods and a caliper (common practice, no source)."""

SLOT_U_MM = 0.15
"""Standard uncertainty of what all readings round a rim share, by rods or by rule: where the bottom of the
nipple's slot lies (common practice, no source)."""

BEAD_SEAT_MM = {622: 621.95, 584: 583.9, 559: 558.8}
"""Nominal to specified bead seat diameter, +-0.5 (ISO 5775; the specified values from memory)."""

DEEPEST_RIM_MM = 100.0
"""Depth of the nipple seat inside the bead seat above which no rim goes, mm (common practice, no source)."""

NIPPLE_ABOVE_BEAD_MM = 3.0
"""Height of a nipple's slot outside of the bead seat's radius above which no rim goes, mm (common practice,
no source)."""


@dataclass(frozen=True)
class RimDiameter:
    """ERD of a rim.

    Attributes
    ----------
    erd
        Mean with its standard uncertainty.
    readings
        The single values, in the order taken.
    spread
        Largest minus smallest.
    warnings
        Sentences for the user.
    """

    erd: Reading
    readings: tuple[float, ...]
    spread: float
    warnings: tuple[str, ...] = ()


def erd_from_readings(
    readings: Sequence[float], u_reading: float = ERD_READING_U_MM, u_common: float = 0.0
) -> RimDiameter | Refusal:
    """Return the ERD from readings on diameters round the rim.

    Parameters
    ----------
    readings
        At least one.
    u_reading
        What scatters from one reading to the next; a larger scatter among the readings counts instead.
    u_common
        What all readings share, such as the rods' lengths.

    Notes
    -----
    Type A evaluation of the mean (GUM 4.2.3), not below the scatter known beforehand: few readings that
    happen to agree are no proof; and widened where few readings scatter more, see `u_of_mean`.
    """
    if not readings or not all(math.isfinite(value) and value > 0.0 for value in readings):
        return Refusal(
            reason="there is no reading of the ERD that is a length",
            remedy="Measure the rim on at least two diameters square to each other",
        )
    spread = max(readings) - min(readings)
    warnings: tuple[str, ...] = ()
    if spread > OUT_OF_ROUND_MM:
        warnings = (
            f"{UNEVEN} {spread:.1f} mm round the rim: it is out of round, or a reading is a slip;"
            f" single spokes may end {spread / 4.0:.1f} mm from where they should",
        )
    u = math.hypot(u_common, u_of_mean(readings, u_reading))
    erd = Reading(fmean(readings), u, count=len(readings))
    return RimDiameter(erd, tuple(readings), spread, warnings)


def erd_from_rods(
    rods: tuple[Reading, Reading], gaps: Sequence[float], u_gap: float = ERD_READING_U_MM
) -> RimDiameter | Refusal:
    """Return the ERD from two rods with nipples on, in opposite holes, and the gap between their ends.

    Parameters
    ----------
    rods
        Length of each from its inner end to the point level with the bottom of its nipple's slot.
    gaps
        One or several readings round the rim; an overlap is a negative gap.
    u_gap
        Of one reading.
    """
    together = rods[0].value + rods[1].value
    common = math.hypot(rods[0].u, rods[1].u, SLOT_U_MM)
    return erd_from_readings([together + gap for gap in gaps], u_gap, common)


def erd_from_seat(seat_diameter: Reading, seat_to_slot: Reading) -> Reading:
    """Return the ERD from the diameter on which the nipples' heads rest, and from there to the slot's bottom.

    ERD = D_seat + 2 h, h positive outwards.
    """
    u = math.hypot(seat_diameter.u, 2.0 * seat_to_slot.u)
    count = min(seat_diameter.count, seat_to_slot.count)
    return Reading(seat_diameter.value + 2.0 * seat_to_slot.value, u, count=count)


def with_washers(erd: Reading, thickness: Reading) -> Reading:
    """Return the ERD of a rim measured without washers that gets some under its nipples: ERD + 2 t."""
    u = math.hypot(erd.u, 2.0 * thickness.u)
    return Reading(erd.value + 2.0 * thickness.value, u, count=erd.count)


UNKNOWN_SEAT_U_MM = 0.5
"""Standard uncertainty of how much farther out one kind of nipple carries its slot than another, mm, where
that was not measured (common practice, no source); raising it widens an ERD taken with another kind more."""


@dataclass(frozen=True)
class Fitting:
    """What sits between rim and slot: the nipple's kind, from its head's seat out to its slot, the washer."""

    kind: NippleKind | None = None
    seat_to_slot: Reading | None = None
    washer: Reading = ZERO


@dataclass(frozen=True)
class Refitted:
    """An ERD for another nipple or washer; ``because`` says what differs, ``warning`` what is not known."""

    erd: Reading
    change: float = 0.0
    because: tuple[str, ...] = ()
    warning: str = ""


def refitted(erd: Reading, taken: Fitting, used: Fitting) -> Refitted:
    """Return the ERD with other nipples or washers: ERD + 2 (h' - h) + 2 (t' - t).

    Parameters
    ----------
    erd
        As it was taken.
    taken, used
        What it was taken with, and what the wheel is built with. What is equal in both adds no uncertainty;
        where the nipples are of different kinds and h is not known of both the ERD stays, with a larger
        uncertainty and a warning.
    """
    change, variance = 0.0, erd.u**2
    because, warning = list[str](), ""
    before, after = taken.seat_to_slot, used.seat_to_slot
    if before is not None and after is not None:
        if before.value != after.value:
            change += 2.0 * (after.value - before.value)
            variance += (2.0 * before.u) ** 2 + (2.0 * after.u) ** 2
            because.append(f"nipples whose slot lies {after.value - before.value:+.2f} mm farther out")
    elif taken.kind is not None and used.kind is not None and taken.kind != used.kind:
        variance += (2.0 * UNKNOWN_SEAT_U_MM) ** 2
        kinds = (taken.kind.replace("_", " "), used.kind.replace("_", " "))
        warning = (
            f"the ERD was taken with {kinds[0]} nipples and the wheel gets {kinds[1]} ones: measure of both"
            " how far the slot's bottom lies outside of the head's seat (seat_to_slot)"
        )
    if used.washer.value != taken.washer.value:
        change += 2.0 * (used.washer.value - taken.washer.value)
        variance += (2.0 * used.washer.u) ** 2 + (2.0 * taken.washer.u) ** 2
        because.append(f"washers of {used.washer.value:g} mm instead of {taken.washer.value:g} mm")
    return Refitted(
        Reading(erd.value + change, math.sqrt(variance), count=erd.count), change, tuple(because), warning
    )


def bead_seats_for(erd: float) -> tuple[int, ...]:
    """Return the nominal bead seat diameters that a rim of this ERD can have."""
    return tuple(
        nominal
        for nominal, seat in BEAD_SEAT_MM.items()
        if seat - 2.0 * DEEPEST_RIM_MM <= erd <= seat + 2.0 * NIPPLE_ABOVE_BEAD_MM
    )


def bead_seat_warning(erd: float, nominal: int) -> str | None:
    """Return a sentence if an ERD cannot belong to a rim of this bead seat: a plausibility check, no more."""
    if nominal not in BEAD_SEAT_MM or nominal in bead_seats_for(erd):
        return None
    return (
        f"an ERD of {erd:.0f} mm does not go with a rim of bead seat {nominal}:"
        " the bead seat diameter is not the ERD, and a radius is not a diameter"
    )
