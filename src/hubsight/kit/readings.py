"""What a caliper's zero and a sheet's age do to readings."""

from __future__ import annotations

import datetime
import math
from dataclasses import replace

from hubsight.kit.model import KitCaliper
from hubsight.model.stated import Reading

GOOD_CALIPER_U_MM = 0.012
"""Standard uncertainty of the caliper that the readings' usual uncertainties reckon with, mm; raising it
widens less for worse calipers (digital, +-0.02 mm, rectangular: ISO 13385-1, from memory)."""

PAPER_PER_HUMIDITY = 1e-4
"""Relative growth of paper across its grain per per cent of relative humidity; raising it trusts old readings
less (0.1 % per 10 %, from memory)."""
HUMIDITY_DRIFT = ((1, 0.0), (30, 5.0), (math.inf, 12.0))
"""Standard deviation of the room's relative humidity since the readings, per cent, up to a number of days
after them; raising it trusts old readings less. None, the weather, the seasons (common practice, no
source)."""
DOUBTED_DAYS = 30
"""Age of a sheet's readings from which a word is said, days; raising it says less (common practice, no
source)."""


def with_caliper(reading: Reading, caliper: KitCaliper, *, stated_u: bool = False) -> Reading:
    """Return a reading freed of its caliper's zero, with that caliper's uncertainty.

    Parameters
    ----------
    reading
        As shown by the caliper; mm. Its uncertainty reckons with a good caliper.
    caliper
        That it was taken with.
    stated_u
        Whether the user has stated the reading's uncertainty himself: then only the zero is taken off.

    Notes
    -----
    Readings by one caliper share its error. They are taken as independent, which errs on the wide side where
    a length is compared with bars read by the same caliper.
    """
    value = reading.value - caliper.zero
    if stated_u:
        return replace(reading, value=value, u=math.hypot(reading.u, caliper.zero_u))
    worse = math.sqrt(max(caliper.u**2 - GOOD_CALIPER_U_MM**2, 0.0))
    return replace(reading, value=value, u=math.hypot(reading.u, worse, caliper.zero_u))


def paper_drift(days: int) -> float:
    """Return the relative standard uncertainty of a print's scale some days after it was measured."""
    humidity = next(drift for limit, drift in HUMIDITY_DRIFT if days <= limit)
    return PAPER_PER_HUMIDITY * humidity


def aged(bar: Reading, days: int) -> Reading:
    """Return the reading of a check bar, widened by what the paper may have done since."""
    return replace(bar, u=math.hypot(bar.u, bar.value * paper_drift(days)))


def age_warning(read: datetime.date, used: datetime.date) -> str | None:
    """Say that a sheet's readings are too old, or dated after the photos; None where they are not."""
    days = (used - read).days
    if days < -1:
        return (
            f"the check bars were read {-days} days after the photos: paper grows and shrinks with the air's "
            "humidity; their uncertainty was widened"
        )
    if days <= DOUBTED_DAYS:
        return None
    return (
        f"the check bars were read {days} days before the photos: paper grows and shrinks with the air's "
        f"humidity, so {100 * paper_drift(days):.2f} % were added to their uncertainty; measure both bars on "
        "the day"
    )
