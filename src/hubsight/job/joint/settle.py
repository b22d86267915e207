"""Which one reading tells the likeliest explanations of a job's differences apart."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from hubsight.job.file.load import JobSide
from hubsight.job.joint.gauss import Slip, System
from hubsight.job.joint.observe import gauge_name, rows_of
from hubsight.model.catalogue import SIDE_WORDS
from hubsight.model.result import MeasuredSide


@dataclass(frozen=True)
class Telling:
    """When a reading tells explanations apart.

    Attributes
    ----------
    worth
        Probability of an explanation below which it is not told apart from others; raising it asks
        for less.
    tells, settled
        Least difference of two explanations on a reading, in its standard uncertainties, by which it
        tells them apart, and the largest that counts.
    """

    worth: float = 0.02
    tells: float = 1.5
    settled: float = 5.0


TELLING = Telling()
"""As the program asks."""


BY_CALIPER: tuple[tuple[str, str, float], ...] = (
    ("protrusion", "how far the gauge sticks out of the boss", 0.144),
    ("boss_width", "the boss width along the spoke", 0.1),
    ("flange_diameter", "the flange diameter", 0.3),
    ("end_to_flange", "from the end face in to the flange's middle", 0.144),
)
"""Readings of a side that a caliper reaches, their words, and the standard uncertainty of one, mm."""


class Candidate(Protocol):
    """A weighed explanation."""

    @property
    def log_odds(self) -> float:
        """Against everything being right."""
        ...

    @property
    def slip(self) -> Slip:
        """Its errors."""
        ...

    @property
    def system(self) -> System:
        """The observations as it takes them."""
        ...


@dataclass(frozen=True)
class _Reading:
    of: Mapping[str, float]
    u: float
    words: str


def settling_reading(
    weighed: Sequence[Candidate], whole: float, sides: Sequence[tuple[JobSide, MeasuredSide]]
) -> str:
    """Return what to read to tell the likeliest explanations apart; empty if no reading does.

    Parameters
    ----------
    weighed
        The explanations, the likeliest first.
    whole
        Log of the sum of all odds, that everything is right included.
    sides
        What is stated and measured.

    Notes
    -----
    The reading on whose value the two likeliest explanations differ most, in its own uncertainty and theirs.
    """
    if not weighed:
        return ""
    system = weighed[0].system
    rivals = [_Rival(0.0 - whole, None, system)]
    rivals += [_Rival(one.log_odds - whole, one.slip, one.system) for one in weighed]
    rivals.sort(key=lambda one: -one.log_probability)
    scored = [(_tells(one, rivals), one.words) for one in _readings(system, sides)]
    best = max(scored, key=lambda one: one[0], default=(0.0, ""))
    return best[1] if best[0] >= TELLING.tells else ""


@dataclass(frozen=True)
class _Rival:
    log_probability: float
    slip: Slip | None
    system: System


def _tells(reading: _Reading, rivals: Sequence[_Rival]) -> float:
    """Return by how many standard uncertainties the likeliest explanation differs from the others, as a mean.

    Each difference counts by the other's probability, and up to `TELLING.settled`.
    """
    first, *others = rivals
    others = [one for k, one in enumerate(others) if k == 0 or one.log_probability > math.log(TELLING.worth)]
    if not all(set(reading.of) <= set(one.system.quantities) for one in (first, *others)):
        return 0.0
    here = first.system.predict(reading.of, first.slip)
    total = shares = 0.0
    for one in others:
        there = one.system.predict(reading.of, one.slip)
        apart = abs(here.value - there.value) / math.hypot(here.u, there.u, math.sqrt(2.0) * reading.u)
        share = math.exp(one.log_probability - others[0].log_probability)
        total, shares = total + share * min(apart, TELLING.settled), shares + share
    return total / shares if shares else 0.0


def _readings(system: System, sides: Sequence[tuple[JobSide, MeasuredSide]]) -> Iterator[_Reading]:
    """Yield what can be read, the easiest first."""
    again = {one.name for one in system.observations}
    for axis in ("x", "y"):
        row = {f"bar_{axis}": 1.0}
        yield _Reading(row, 0.06, f"Measure the check bar along {axis} three times more")
    yield _Reading({"over_locknut": 1.0}, 0.05, _verb("hub.over_locknut", again, "the over-locknut"))
    for stated, side in sides:
        name = stated.stated.name
        for gauge in stated.stated.gauges:
            key = gauge_name(gauge)
            words = f"Measure the gauge of {gauge.length.value:.2f} mm again"
            yield _Reading({key: 1.0}, 0.03, words)
        rows = rows_of(stated, side.measurement)
        for quantity, what, u in BY_CALIPER:
            where = f"{what}, {SIDE_WORDS[name].lower()}"
            yield _Reading(rows[quantity], u, _verb(f"{name}.caliper.{quantity}", again, where))
        block = f"Measure the block under the hub, {SIDE_WORDS[name].lower()} up (0 if there was none)"
        yield _Reading({f"{name}.block": 1.0}, 0.05, block)


def _verb(name: str, read: set[str], what: str) -> str:
    return f"Measure {what}{' again' if name in read else ''}"
