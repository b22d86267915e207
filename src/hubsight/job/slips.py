"""The slip that explains the difference of a caliper reading and the photo's figure. Lengths in mm."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from hubsight.model.figure import Figure
from hubsight.model.stated import Reading
from hubsight.model.uncertainty import APART_SIGMAS, COVERAGE_FACTOR
from hubsight.wheel.manual import NOMINAL_GAUGE_MM, TRANSPOSED, number_slips

SLIP_ODDS = 20.0
"""Likelihood of a reading with its slip over that by chance from which the slip is named: slips are rare;
raising it names fewer."""

AMBIGUOUS_ODDS = 10.0
"""Likelihood of the best slip over another one up to which that is named with it; raising it names more."""

FACES = {"boss_width": 2.0, "boss_width_across": 2.0, "protrusion": -1.0}
"""Figures that rest on the bosses' faces: faces seen too far out by one make them too large by so much."""

LIKE_BOSSES = 0.7
"""Correlation of the photos' errors in the faces of both sides, where their bosses are alike (found on
rendered hubs)."""


class OutsideOfBoss(NamedTuple):
    """A flange diameter measured to the bosses' tops: words, how far they lie out, mm, and its rarity."""

    words: str = "it was measured to the boss's outside rather than to the crossing point"
    least: float = 2.0
    most: float = 7.0
    rarity: float = 0.5


OUTSIDE_OF_BOSS = OutsideOfBoss()
"""A caliper reaches nothing else as easily (common practice, no source)."""


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
class Candidate:
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
    name
        Of the figure.
    stated, photo
        With their standard uncertainties, mm.
    surroundings
        What else is known.

    Notes
    -----
    Errors are taken as normal: without its slip the reading must not be called wrong, and the likeliest slip
    must make it `SLIP_ODDS` times likelier than chance does. All that do nearly as well are named with it.
    What other readings show of the photos' error is taken out first.
    """
    photo = _less_shared_error(name, photo, surroundings)
    by_chance = ((stated.value - photo.value) / math.hypot(stated.u, photo.u)) ** 2 / 2.0
    fitting: list[tuple[float, str]] = []
    for candidate in candidates(name, stated.value, surroundings):
        u = math.hypot(candidate.scale * stated.u, photo.u)
        left = (candidate.corrected - photo.value) / u
        unlikely = left**2 / 2.0 + math.log(candidate.rarity)
        if abs(left) <= APART_SIGMAS:
            fitting.append((unlikely, candidate.slip))
    fitting.sort()
    if fitting and by_chance - fitting[0][0] <= math.log(SLIP_ODDS):
        fitting = []
    limit = math.log(AMBIGUOUS_ODDS)
    nearly = [slip for unlikely, slip in fitting if unlikely <= fitting[0][0] + limit]
    return ", or ".join(dict.fromkeys(nearly)) or None


@dataclass(frozen=True)
class _Shared:
    """A reading that shows an error of the photos which other figures share.

    ``part`` is the standard uncertainty of the shared error in this figure, mm, with its sign; ``u`` that of
    the whole difference ``error``, photo minus reading.
    """

    part: float
    own_side: bool
    error: float
    u: float


def _less_shared_error(name: str, photo: Reading, around: Surroundings) -> Reading:
    """Return the photo's figure less the error that its readings' neighbours show, where they share one.

    What the photos misread of a boss' faces is in both widths and in the protrusion, and much of it in those
    of the other side, where the bosses are alike. Conditional mean and standard deviation of a joint normal
    distribution, given the other readings, as far as these agree with the photos.
    """
    part = _face_part(name, around.figures)
    if part == 0.0:
        return photo
    own = {key: reading for key, reading in around.readings.items() if key != name}
    known = list(_shown(own, around.figures, own_side=True))
    if _alike(around.figures.get("boss_width"), around.other_figures.get("boss_width")):
        known += _shown(around.other_readings, around.other_figures, own_side=False)
    if not known:
        return photo
    parts = np.array([one.part for one in known])
    sides = np.array([one.own_side for one in known])
    together = np.where(sides[:, None] == sides, 1.0, LIKE_BOSSES) * np.outer(parts, parts)
    np.fill_diagonal(together, [one.u**2 for one in known])
    shared = np.where(sides, 1.0, LIKE_BOSSES) * parts * part
    gain = np.linalg.solve(together, shared)
    errors = np.array([one.error for one in known])
    return Reading(photo.value - float(gain @ errors), math.sqrt(max(photo.u**2 - float(gain @ shared), 0.0)))


def _shown(
    readings: Mapping[str, Reading], figures: Mapping[str, Figure], *, own_side: bool
) -> Iterator[_Shared]:
    """Yield what the readings of a side that agree with the photos show of the faces' error."""
    for name, reading in readings.items():
        part = _face_part(name, figures)
        if part != 0.0:
            figure = figures[name]
            error, u = figure.value - reading.value, math.hypot(figure.u, reading.u)
            if abs(error) <= COVERAGE_FACTOR * u:
                yield _Shared(part, own_side, error, u)


def _face_part(name: str, figures: Mapping[str, Figure]) -> float:
    """Return the faces' standard uncertainty in a figure, mm, with its sign; 0 where it has none."""
    width, protrusion = figures.get("boss_width"), figures.get("protrusion")
    if name not in FACES or name not in figures or width is None:
        return 0.0
    face = width.u / 2.0 if protrusion is None else min(width.u / 2.0, protrusion.u)
    return FACES[name] * face


def _alike(one: Figure | None, other: Figure | None) -> bool:
    """Tell whether two sides' bosses may be alike: as wide as one another, as far as the photos tell."""
    if one is None or other is None:
        return False
    u = math.sqrt(one.u**2 + other.u**2 - 2.0 * LIKE_BOSSES * one.u * other.u)
    return abs(one.value - other.value) <= COVERAGE_FACTOR * u


def candidates(name: str, stated: float, around: Surroundings) -> Iterator[Candidate]:
    """Every slip that is possible with this quantity."""
    for slip in number_slips(stated):
        words = "two digits were transposed" if slip.words == TRANSPOSED else f"the reading is {slip.words}"
        yield Candidate(words, slip.corrected, slip.rarity)
    yield from _swapped_sides(name, stated, around)
    if name == "flange_diameter":
        yield from _outside_of_boss(stated, around)
        yield Candidate("the radius was given for the diameter", 2.0 * stated, scale=2.0)
        yield Candidate("twice the diameter was given", stated / 2.0, 3.0, scale=0.5)
    if name.startswith("boss_width"):
        yield Candidate("half of the boss width was given", 2.0 * stated, scale=2.0)
        yield from _other_width(name, stated, around)
    if name.startswith("spoke_offset"):
        yield from _offset_slips(stated, around)
    if name in ("protrusion", "reach"):
        yield from _gauge_slips(name, stated, around)
    if name == "centre_to_flange" and around.over_locknut is not None:
        half = around.over_locknut / 2.0
        given = "the distance from the locknut was given, not subtracted from half the over-locknut"
        yield Candidate(given, half - stated)
        yield Candidate("it was subtracted from the whole over-locknut, not from half of it", stated - half)
        yield Candidate("half of the over-locknut was subtracted once too often", stated + half)


def _outside_of_boss(stated: float, around: Surroundings) -> Iterator[Candidate]:
    """Yield the commonest slip with a flange diameter; the boss stands out by some millimetres."""
    own = around.figures.get("flange_diameter")
    if own is not None:
        low, high = (2.0 * distance for distance in (OUTSIDE_OF_BOSS.least, OUTSIDE_OF_BOSS.most))
        corrected = min(max(own.value, stated - high), stated - low)
        yield Candidate(OUTSIDE_OF_BOSS.words, corrected, OUTSIDE_OF_BOSS.rarity)


def _swapped_sides(name: str, stated: float, around: Surroundings) -> Iterator[Candidate]:
    """Yield the exchange of the two sides' readings: each fits the other side's figure."""
    own, other = around.figures.get(name), around.other_figures.get(name)
    if own is None or other is None:
        return
    counterpart = around.other_readings.get(name)
    corrected = stated - other.value + own.value
    if counterpart is None:
        yield Candidate("the readings of the two sides were swapped", corrected, 2.0)
    elif abs(counterpart.value - own.value) < abs(counterpart.value - other.value):
        yield Candidate("the readings of the two sides were swapped", corrected, 0.5)


def _other_width(name: str, stated: float, around: Surroundings) -> Iterator[Candidate]:
    """Yield the exchange of the two widths: along the spoke, and square to the boss' centreline."""
    along, across = around.figures.get("boss_width"), around.figures.get("boss_width_across")
    if along is None or across is None:
        return
    more = along.value - across.value
    if name == "boss_width":
        yield Candidate("it was measured across the boss, not along the spoke", stated + more)
    else:
        yield Candidate("it was measured along the spoke, not across the boss", stated - more)


def _offset_slips(stated: float, around: Surroundings) -> Iterator[Candidate]:
    """Slips on the way from gauge, protrusion and boss width to the offset."""
    if around.gauge_length is not None and abs(around.gauge_length - NOMINAL_GAUGE_MM) > 0.1:
        yield Candidate(
            f"a gauge length of 100 mm was assumed; it is {around.gauge_length:.2f} mm",
            stated + around.gauge_length - NOMINAL_GAUGE_MM,
        )
    width = around.figures.get("boss_width")
    if width is not None:
        W = width.value
        yield Candidate("the half width was not subtracted", stated - W / 2.0)
        yield Candidate("the whole boss width was subtracted, not half of it", stated + W / 2.0)
        yield Candidate("the protrusion was read from the boss's other face", stated + W)
        across = around.readings.get("boss_width_across") or around.figures.get("boss_width_across")
        for used, what in (
            (around.readings.get("boss_width"), "another width"),
            (across, "the width across the boss"),
        ):
            if used is not None:
                shift = (used.value - W) / 2.0
                yield Candidate(f"the half width was taken from {what}", stated + shift)
    yield Candidate("the sign is the wrong way round", -stated, 2.0)


def _gauge_slips(name: str, stated: float, around: Surroundings) -> Iterator[Candidate]:
    """Slips in reading how far the gauge sticks out."""
    width = around.figures.get("boss_width")
    if name == "protrusion" and width is not None:
        yield Candidate("it was read from the boss's other face", stated - width.value)
    protrusion, reach = around.figures.get("protrusion"), around.figures.get("reach")
    if protrusion is not None and reach is not None:
        inside = reach.value - protrusion.value
        if name == "reach":
            yield Candidate("it was read from the boss's face, not from the crossing point", stated + inside)
        else:
            yield Candidate("it was read from the crossing point, not from the boss's face", stated - inside)
