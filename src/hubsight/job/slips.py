"""The slip that explains the difference of a caliper reading and the photo's figure. Lengths in mm."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from hubsight.figures import Figure
from hubsight.stated import Reading
from hubsight.uncertainty import COVERAGE_FACTOR
from hubsight.wheel.manual import NOMINAL_GAUGE_MM, TRANSPOSED, number_slips

POSSIBLE_SIGMAS = 3.0
"""Standard uncertainties by which a reading without its slip may still differ from the photo's figure."""

SLIP_ODDS = 20.0
"""How many times likelier than chance a slip has to make the reading before it is named: slips are rare."""

AMBIGUOUS_ODDS = 10.0
"""Slips that are less likely than the best one by no more than this factor are named with it."""

LIKE_BOSSES = 0.7
"""Correlation of the photos' errors in the boss widths of both sides where their bosses are alike: the faces'
rounding and how it is seen are the same (found on rendered hubs)."""

OUTSIDE_OF_BOSS_MM = (2.0, 7.0)
"""Least and largest distance from the crossing point out to the boss's top (common practice, no source)."""


@dataclass(frozen=True)
class Surroundings:
    """What else is known of a side, for finding slips; mm.

    Attributes
    ----------
    figures, readings
        The photo's figures and the caliper readings of this side, by name.
    other_figures, other_readings
        Those of the other side.
    gauge_length
        L of the gauge that was used.
    over_locknut
        OLD.
    """

    figures: Mapping[str, Figure] = field(default_factory=dict)
    readings: Mapping[str, Reading] = field(default_factory=dict)
    other_figures: Mapping[str, Figure] = field(default_factory=dict)
    other_readings: Mapping[str, Reading] = field(default_factory=dict)
    gauge_length: float | None = None
    over_locknut: float | None = None


@dataclass(frozen=True)
class _Candidate:
    """A slip, and what the reading would have been without it.

    ``rarity`` is how many times rarer than a common slip it is. ``scale`` is what the reading's uncertainty
    is multiplied by on the way.
    """

    slip: str
    corrected: float
    rarity: float = 1.0
    scale: float = 1.0


def find_slip(name: str, stated: Reading, photo: Reading, surroundings: Surroundings) -> str | None:
    """Return the slip that explains the difference of a reading and the photo's figure, or None.

    Parameters
    ----------
    name : of the figure
    stated, photo : with their standard uncertainties, mm
    surroundings : what else is known

    Notes
    -----
    Errors are taken as normal: without its slip the reading must not be called wrong, and the slip must make
    it `SLIP_ODDS` times likelier than chance does. Where several do nearly as well, all of them are named.
    What the other side's reading shows of the photos' error is taken out first.
    """
    photo = _less_shared_error(name, photo, surroundings)
    by_chance = ((stated.value - photo.value) / math.hypot(stated.u, photo.u)) ** 2 / 2.0
    fitting: list[tuple[float, str]] = []
    for candidate in _candidates(name, stated.value, surroundings):
        u = math.hypot(candidate.scale * stated.u, photo.u)
        left = (candidate.corrected - photo.value) / u
        unlikely = left**2 / 2.0 + math.log(candidate.rarity)
        if abs(left) <= POSSIBLE_SIGMAS and by_chance - unlikely > math.log(SLIP_ODDS):
            fitting.append((unlikely, candidate.slip))
    if not fitting and name == "flange_diameter":
        low, high = (2.0 * distance for distance in OUTSIDE_OF_BOSS_MM)
        if low <= stated.value - photo.value <= high:
            return "it was measured to the boss's outside rather than to the crossing point"
    fitting.sort()
    limit = math.log(AMBIGUOUS_ODDS)
    return " or ".join(slip for unlikely, slip in fitting if unlikely <= fitting[0][0] + limit) or None


def _less_shared_error(name: str, photo: Reading, around: Surroundings) -> Reading:
    """Return the photo's boss width less the error that the other side shows, where the bosses are alike.

    Conditional mean and standard deviation of a normal distribution, given that the other side's reading is
    right; it has to agree with the photos for that.
    """
    figure, reading = around.other_figures.get(name), around.other_readings.get(name)
    if not name.startswith("boss_width") or figure is None or reading is None:
        return photo
    apart = COVERAGE_FACTOR * math.sqrt(photo.u**2 + figure.u**2 - 2.0 * LIKE_BOSSES * photo.u * figure.u)
    error, variance = figure.value - reading.value, figure.u**2 + reading.u**2
    if abs(photo.value - figure.value) > apart or abs(error) > COVERAGE_FACTOR * math.sqrt(variance):
        return photo
    shared = LIKE_BOSSES * photo.u * figure.u
    return Reading(photo.value - shared / variance * error, math.sqrt(photo.u**2 - shared**2 / variance))


def _candidates(name: str, stated: float, around: Surroundings) -> Iterator[_Candidate]:
    """Every slip that is possible with this quantity."""
    for slip in number_slips(stated):
        words = "two digits were transposed" if slip.words == TRANSPOSED else f"the reading is {slip.words}"
        yield _Candidate(words, slip.corrected, slip.rarity)
    yield from _swapped_sides(name, stated, around)
    if name == "flange_diameter":
        yield _Candidate("the radius was given for the diameter", 2.0 * stated, scale=2.0)
        yield _Candidate("twice the diameter was given", stated / 2.0, 3.0, scale=0.5)
    if name.startswith("boss_width"):
        yield _Candidate("half of the boss width was given", 2.0 * stated, scale=2.0)
        yield from _other_width(name, stated, around)
    if name.startswith("spoke_offset"):
        yield from _offset_slips(stated, around)
    if name in ("protrusion", "reach"):
        yield from _gauge_slips(name, stated, around)
    if name == "centre_to_flange" and around.over_locknut is not None:
        half = around.over_locknut / 2.0
        given = "the distance from the locknut was given, not subtracted from half the over-locknut"
        yield _Candidate(given, half - stated)
        yield _Candidate("it was subtracted from the whole over-locknut, not from half of it", stated - half)
        yield _Candidate("half of the over-locknut was subtracted once too often", stated + half)


def _swapped_sides(name: str, stated: float, around: Surroundings) -> Iterator[_Candidate]:
    """Yield the exchange of the two sides' readings: each fits the other side's figure."""
    own, other = around.figures.get(name), around.other_figures.get(name)
    if own is None or other is None:
        return
    counterpart = around.other_readings.get(name)
    corrected = stated - other.value + own.value
    if counterpart is None:
        yield _Candidate("the readings of the two sides were swapped", corrected, 2.0)
    elif abs(counterpart.value - own.value) < abs(counterpart.value - other.value):
        yield _Candidate("the readings of the two sides were swapped", corrected, 0.5)


def _other_width(name: str, stated: float, around: Surroundings) -> Iterator[_Candidate]:
    """Yield the exchange of the two widths: along the spoke, and square to the boss' centreline."""
    along, across = around.figures.get("boss_width"), around.figures.get("boss_width_across")
    if along is None or across is None:
        return
    more = along.value - across.value
    if name == "boss_width":
        yield _Candidate("it was measured across the boss, not along the spoke", stated + more)
    else:
        yield _Candidate("it was measured along the spoke, not across the boss", stated - more)


def _offset_slips(stated: float, around: Surroundings) -> Iterator[_Candidate]:
    """Slips on the way from gauge, protrusion and boss width to the offset."""
    if around.gauge_length is not None and abs(around.gauge_length - NOMINAL_GAUGE_MM) > 0.1:
        yield _Candidate(
            f"a gauge length of 100 mm was assumed; it is {around.gauge_length:.2f} mm",
            stated + around.gauge_length - NOMINAL_GAUGE_MM,
        )
    width = around.figures.get("boss_width")
    if width is not None:
        W = width.value
        yield _Candidate("the half width was not subtracted", stated - W / 2.0)
        yield _Candidate("the whole boss width was subtracted, not half of it", stated + W / 2.0)
        yield _Candidate("the protrusion was read from the boss's other face", stated + W)
        across = around.readings.get("boss_width_across") or around.figures.get("boss_width_across")
        for used, what in (
            (around.readings.get("boss_width"), "another width"),
            (across, "the width across the boss"),
        ):
            if used is not None:
                shift = (used.value - W) / 2.0
                yield _Candidate(f"the half width was taken from {what}", stated + shift)
    yield _Candidate("the sign is the wrong way round", -stated, 2.0)


def _gauge_slips(name: str, stated: float, around: Surroundings) -> Iterator[_Candidate]:
    """Slips in reading how far the gauge sticks out."""
    width = around.figures.get("boss_width")
    if name == "protrusion" and width is not None:
        yield _Candidate("it was read from the boss's other face", stated - width.value)
    protrusion, reach = around.figures.get("protrusion"), around.figures.get("reach")
    if protrusion is not None and reach is not None:
        inside = reach.value - protrusion.value
        if name == "reach":
            yield _Candidate("it was read from the boss's face, not from the crossing point", stated + inside)
        else:
            yield _Candidate("it was read from the crossing point, not from the boss's face", stated - inside)
