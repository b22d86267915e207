"""Arithmetic of measurements by hand, redone from their raw readings; the slip that explains a wrong result.

All values in mm. The formulas are the trade's (design, sections 1 and 2).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from hubsight.model.stated import Reading

ROUNDING_MM = 0.06
"""A stated result may differ from the redone one by this much: it was rounded to 0.1 mm."""

NOMINAL_GAUGE_MM = 100.0
"""Length that a gauge spoke is meant to be cut to, and that is assumed by those who do not measure it."""


@dataclass(frozen=True)
class Redone:
    """A result by hand, computed again.

    Attributes
    ----------
    quantity
        Name of the figure.
    value
        From the raw readings, with its standard uncertainty.
    stated
        What was stated; None if only the raw readings were.
    agrees
        Whether the stated result is the redone one, rounding apart; True if none was stated.
    slip
        The slip of arithmetic that gives the stated result, if one is known.
    """

    quantity: str
    value: Reading
    stated: float | None
    agrees: bool
    slip: str | None

    def sentence(self) -> str:
        """Return one sentence for the user."""
        what = self.quantity.replace("_", " ")
        if self.stated is None:
            return f"{what}: {self.value.value:.2f} mm from the readings"
        if self.agrees:
            return f"{what}: {self.stated:.2f} mm follows from the readings"
        why = f"; {self.slip}" if self.slip else ""
        return f"{what}: the readings give {self.value.value:.2f} mm, not {self.stated:.2f} mm{why}"


def offset_by_width(
    gauge: Reading,
    protrusion: Reading,
    width: Reading,
    stated: float | None = None,
    width_across: float | None = None,
) -> Redone:
    """Redo the spoke offset by the width route: o = (L - P) - W / 2.

    Parameters
    ----------
    gauge, protrusion, width
        L, P and W along the spoke.
    stated
        The offset as computed by hand.
    width_across
        The boss width square to the centreline, which must not be taken instead of W.

    Examples
    --------
    >>> offset_by_width(Reading(100.0, 0.03), Reading(92.0, 0.1), Reading(8.5, 0.1)).value.value
    3.75
    """
    L, P, W = gauge.value, protrusion.value, width.value
    slips = {
        "the half width was not subtracted": L - P,
        "the whole boss width was subtracted, not half of it": L - P - W,
        "the half width was added, not subtracted": L - P + W / 2.0,
        "a gauge length of 100 mm was assumed": NOMINAL_GAUGE_MM - P - W / 2.0,
        "the protrusion was read from the boss's other face": L - (P + W) - W / 2.0,
        "gauge and protrusion were subtracted the wrong way round": P - L - W / 2.0,
        "the sign is the wrong way round": W / 2.0 - (L - P),
    }
    if width_across is not None:
        slips["the half width was taken from the width across the boss"] = L - P - width_across / 2.0
    value = Reading(L - P - W / 2.0, math.hypot(gauge.u, protrusion.u, width.u / 2.0))
    raw = {"gauge's length": (L, 1.0), "protrusion": (P, -1.0), "boss width": (W, -0.5)}
    return _redone("spoke_offset", value, stated, slips, raw)


def offset_radial(gauge: Reading, protrusion: Reading, stated: float | None = None) -> Redone:
    """Redo the spoke offset of a radial hub: o = L - P, the protrusion read from the outside diameter."""
    L, P = gauge.value, protrusion.value
    slips = {
        "a gauge length of 100 mm was assumed": NOMINAL_GAUGE_MM - P,
        "gauge and protrusion were subtracted the wrong way round": P - L,
    }
    raw = {"gauge's length": (L, 1.0), "protrusion": (P, -1.0)}
    return _redone("spoke_offset", Reading(L - P, math.hypot(gauge.u, protrusion.u)), stated, slips, raw)


def diameter_from_reference(reference: Reading, depth: Reading, stated: float | None = None) -> Redone:
    """Redo the flange diameter from a reference diameter and the depth of the crossing point above it.

    d = D_ref + 2 depth: a diameter that a caliper reaches (inside the bosses), plus the boss depth on both
    sides.
    """
    slips = {
        "the boss depth was added once, not twice": reference.value + depth.value,
        "the boss depth was subtracted, not added": reference.value - 2.0 * depth.value,
        "the boss depth was left out": reference.value,
        "the radius was given for the diameter": reference.value / 2.0 + depth.value,
    }
    value = Reading(reference.value + 2.0 * depth.value, math.hypot(reference.u, 2.0 * depth.u))
    raw = {"reference diameter": (reference.value, 1.0), "boss depth": (depth.value, 2.0)}
    return _redone("flange_diameter", value, stated, slips, raw)


def centre_to_flange_from_end(
    over_locknut: Reading, end_to_flange: Reading, stated: float | None = None
) -> Redone:
    """Redo centre to flange: w = OLD / 2 - m, with m from the locknut's face in to the flange's mid-plane."""
    old, reach = over_locknut.value, end_to_flange.value
    slips = {
        "it was subtracted from the whole over-locknut length, not from half of it": old - reach,
        "the distance from the locknut was given, not subtracted from half the over-locknut": reach,
        "the distance from the locknut was halved with the over-locknut": (old - reach) / 2.0,
        "half the over-locknut was added, not subtracted from": old / 2.0 + reach,
        "the sign is the wrong way round": reach - old / 2.0,
    }
    value = Reading(old / 2.0 - reach, math.hypot(over_locknut.u / 2.0, end_to_flange.u))
    raw = {"over-locknut": (old, 0.5), "distance from the locknut": (reach, -1.0)}
    return _redone("centre_to_flange", value, stated, slips, raw)


@dataclass(frozen=True)
class NumberSlip:
    """A slip in reading or writing a number down.

    Attributes
    ----------
    words
        What it is, to follow "is" or "are".
    corrected
        The number without it.
    rarity
        How many times rarer than a common slip it is (common practice, no source).
    """

    words: str
    corrected: float
    rarity: float


TRANSPOSED = "transposed"
"""Words of the slip that two digits are exchanged; who tells of it says it better."""

STEPS_MM = ((1.0, 2.0), (10.0, 4.0), (5.0, 4.0))
"""Error of a reading whose line on the scale was miscounted, mm, and the rarity of that."""

LEAST_TRANSPOSED_MM = 0.1
"""Change of a reading by exchanged digits below which it is not worth a word, mm."""


def number_slips(number: float) -> Iterator[NumberSlip]:
    """Yield the slips that may have made a reading into this number: full millimetres, digits exchanged."""
    for step, rarity in STEPS_MM:
        for sign in (1.0, -1.0):
            yield NumberSlip(f"off by exactly {step:g} mm", number + sign * step, rarity)
    text = f"{abs(number):.2f}"
    places = [index for index, character in enumerate(text) if character.isdigit()]
    for one, other in itertools.pairwise(places):
        if text[one] != text[other]:
            turned = list(text)
            turned[one], turned[other] = turned[other], turned[one]
            corrected = math.copysign(float("".join(turned)), number)
            if abs(corrected - number) > LEAST_TRANSPOSED_MM:
                yield NumberSlip(TRANSPOSED, corrected, 3.0)


def _redone(
    quantity: str,
    value: Reading,
    stated: float | None,
    slips: Mapping[str, float],
    raw: Mapping[str, tuple[float, float]],
) -> Redone:
    """Compare; the slip of arithmetic, else of reading, that gives the stated result explains a difference.

    ``slips`` are results by what went wrong; ``raw`` the readings, each with the result's derivative by it.
    """
    if stated is None or abs(stated - value.value) <= ROUNDING_MM:
        return Redone(quantity, value, stated, agrees=True, slip=None)
    nearest = min(slips, key=lambda name: abs(slips[name] - stated))
    if abs(slips[nearest] - stated) <= ROUNDING_MM:
        return Redone(quantity, value, stated, agrees=False, slip=nearest)
    misread = [
        f"two digits of the {name} are transposed"
        if slip.words == TRANSPOSED
        else f"the {name} is {slip.words}"
        for name, (number, slope) in raw.items()
        for slip in number_slips(number)
        if abs(value.value + slope * (slip.corrected - number) - stated) <= ROUNDING_MM
    ]
    return Redone(quantity, value, stated, agrees=False, slip=" or ".join(dict.fromkeys(misread)) or None)
