"""What may be wrong: single slips of statement and single features that photos misread, with their rarities.

Each has prior odds against a job in which everything is right. Amplitudes are normal numbers or single
values, mm.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hubsight.job.file.load import JobSide
from hubsight.job.joint.gauss import Observation, Slip, System
from hubsight.job.joint.misread import MISREAD
from hubsight.job.joint.observe import gauge_name
from hubsight.job.slips import OUTSIDE_OF_BOSS, Surroundings, candidates
from hubsight.model.catalogue import SIDE_WORDS, figure_words
from hubsight.model.stated import CHECK_BAR_NOMINAL_MM, Ruler, SideName, StatedGauge, StatedTarget
from hubsight.wheel.manual import NOMINAL_GAUGE_MM, TRANSPOSED, number_slips

Array = NDArray[np.float64]

NOT_MEASURED = 5.0
"""Factor on the odds of bars, and on the size of a gauge's slip, where exactly the nominal length is stated:
nobody measured it."""


@dataclass(frozen=True)
class Sizes:
    """How far off slips are, mm: standard deviations unless said otherwise.

    Attributes
    ----------
    misread
        A slip in a reading that is none of the known ones.
    both_bars, one_bar
        Both check bars are wrong, or one.
    gauge
        A gauge's length.
    tip, tip_u
        What another tip than stated shifts the end by, and its scatter (found on rendered gauges).
    blocks, block
        A forgotten block is about as thick as one of these, all alike likely; standard deviation
        about each.
    """

    misread: float = 3.0
    both_bars: float = 1.0
    one_bar: float = 1.0
    gauge: float = 0.5
    tip: float = 0.35
    tip_u: float = 0.1
    blocks: tuple[int, int, int, int, int, int, int, int, int, int] = (4, 9, 14, 19, 24, 29, 34, 39, 44, 49)
    block: float = 2.5


SIZES = Sizes()
"""As the program weighs them."""


NUMBER_SHARE = 0.5
"""Share of slips that are of a known kind: full millimetres, digits exchanged, another quantity read."""


@dataclass(frozen=True)
class Odds:
    """Prior odds of slips, against everything being right (common practice, no source).

    Attributes
    ----------
    reading
        A caliper reading is misread, or written down wrong.
    centre
        The same of a centre to flange, which is worked out or copied from a table as a rule.
    both_bars, one_bar
        Both check bars are wrong alike (not measured, another sheet), or one of them.
    gauge, tip, block
        A gauge's length, its tip, or a block under the hub is stated wrong.
    sides, one_reading, bars
        The sides' statements are exchanged, one of their readings, or the check bars.
    """

    reading: float = 0.01
    centre: float = 0.02
    both_bars: float = 0.02
    one_bar: float = 0.01
    gauge: float = 0.01
    tip: float = 0.005
    block: float = 0.01
    sides: float = 0.003
    one_reading: float = 0.002
    bars: float = 0.002


ODDS = Odds()
"""As the program weighs them; raising one names that slip earlier."""


@dataclass(frozen=True)
class Case:
    """One way in which something is wrong: its errors, its share, and words for it ("" for none)."""

    slip: Slip
    share: float
    words: str = ""


@dataclass(frozen=True)
class Hypothesis:
    """Something that may be wrong.

    Attributes
    ----------
    about
        Path of the statement or of the feature.
    odds
        Prior, against everything being right.
    cases
        Ways in which it may be wrong; their shares sum to one.
    what
        What it is called, to follow "the".
    observation
        The observation whose value is wrong by it, if it is one.
    statement
        Whether a person's statement is wrong, not what the photos show.
    remedy
        What to do about it, where that is not to read it again.
    system
        With other rows, where what was read belongs to something else.
    """

    about: str
    odds: float
    cases: tuple[Case, ...]
    what: str
    observation: str | None = None
    statement: bool = True
    remedy: str = ""
    system: System | None = None


@dataclass(frozen=True)
class Stated:
    """What the hypotheses are about."""

    target: StatedTarget
    sides: Sequence[JobSide]
    surroundings: Mapping[SideName, Surroundings]
    ruler: Ruler | None = None


def hypotheses(system: System, stated: Stated) -> list[Hypothesis]:
    """Return all single slips and misread features that a job may hold."""
    makers = (_of_print, _of_gauges, _of_readings, _of_blocks, _of_sides, _of_photos)
    return [one for make in makers for one in make(_Errors(system), stated)]


class _Errors:
    """Errors of a system's observations."""

    def __init__(self, system: System) -> None:
        self.system = system
        self.none = np.zeros(len(system.observations))

    def at(self, errors: Mapping[str, float]) -> Array:
        """Return errors of named observations; those that are not there are left out."""
        out = self.none.copy()
        for name, error in errors.items():
            if name in self.system.index:
                out[self.system.index[name]] = error
        return out

    def shared(self, name: str) -> Array:
        """Return what one standard uncertainty of a shared error does to all observations."""
        return np.array([one.shared.get(name, 0.0) for one in self.system.observations])

    def value(self, name: str) -> float:
        return self.system.observations[self.system.index[name]].value

    def fixed(self, shift: Array, share: float, words: str = "") -> Case:
        return Case(Slip(shift, self.none), share, words)

    def free(self, spread: Array, share: float = 1.0, words: str = "") -> Case:
        return Case(Slip(self.none, spread), share, words)


def _weighed(cases: Sequence[Case], total: float) -> list[Case]:
    """Return cases whose shares sum to ``total``."""
    whole = sum(case.share for case in cases)
    return [replace(case, share=case.share * total / whole) for case in cases]


def _digits(errors: _Errors, value: float, unit: Array) -> list[Case]:
    """Return the cases of full millimetres and exchanged digits, weighed to `NUMBER_SHARE`."""
    cases = [
        errors.fixed(
            (value - slip.corrected) * unit,
            1.0 / slip.rarity,
            "two digits are transposed" if slip.words == TRANSPOSED else f"it is {slip.words}",
        )
        for slip in number_slips(value)
    ]
    return _weighed(cases, NUMBER_SHARE)


def _print_unit(errors: _Errors, name: str, target: StatedTarget) -> Array:
    """Return what 1 mm of a bar that is stated too long does to all observations."""
    bar = target.bar_x if name == "bar_x" else target.bar_y
    return errors.none if bar is None else errors.shared(name) / bar.u


def _of_print(errors: _Errors, stated: Stated) -> Iterator[Hypothesis]:
    target = stated.target
    bars = {name: bar for name, bar in (("bar_x", target.bar_x), ("bar_y", target.bar_y)) if bar is not None}
    units = {name: _print_unit(errors, name, target) for name in bars}
    for name, bar in bars.items():
        cases = (
            errors.free(SIZES.one_bar * units[name], 1.0 - NUMBER_SHARE),
            *_digits(errors, bar.value, units[name]),
        )
        what = f"check bar along {name[-1]}"
        yield Hypothesis(f"target.{name}", ODDS.one_bar, cases, what, f"target.{name}")
    if len(bars) == 2:
        both = units["bar_x"] + units["bar_y"]
        nominal = all(bar.value == CHECK_BAR_NOMINAL_MM for bar in bars.values())
        odds = ODDS.both_bars * (NOT_MEASURED if nominal else 1.0)
        yield Hypothesis(
            "target.bars", odds, (errors.free(SIZES.both_bars * both),), "check bars", "target.bar_x"
        )
        apart = bars["bar_x"].value - bars["bar_y"].value
        swapped = errors.fixed(apart * (units["bar_x"] - units["bar_y"]), 1.0)
        yield Hypothesis("target.bars_exchanged", ODDS.bars, (swapped,), "readings of the check bars")
    if stated.ruler is not None and stated.ruler.kind == "caliper" and target.along is not None:
        unit = errors.shared("along") / target.along.u / stated.ruler.length.value
        cases = (errors.free(SIZES.one_bar * unit, 1.0 - NUMBER_SHARE),)
        cases = (*cases, *_digits(errors, stated.ruler.length.value, unit))
        yield Hypothesis("target.flat.opening", ODDS.one_bar, cases, "opening of the caliper on the sheet")


def _of_gauges(errors: _Errors, stated: Stated) -> Iterator[Hypothesis]:
    along = stated.target.along
    gauges: dict[str, StatedGauge] = {
        gauge_name(gauge): gauge
        for side in stated.sides
        for one in (side.stated, *side.repeats)
        for gauge in one.gauges
    }
    for name, gauge in gauges.items():
        length = gauge.length.value
        unit = errors.at({name: 1.0})
        ruler = stated.ruler
        if along is not None and ruler is not None and ruler.kind == "gauge" and ruler.length == gauge.length:
            unit = unit + errors.shared("along") / along.u / length
        spread = SIZES.gauge * (NOT_MEASURED if length == NOMINAL_GAUGE_MM else 1.0)
        cases = (errors.free(spread * unit, 1.0 - NUMBER_SHARE), *_digits(errors, length, unit))
        what = f"length of the gauge of {length:.2f} mm"
        yield Hypothesis(f"gauges.{name}", ODDS.gauge, cases, what, name)
        seen = [
            f"{side.stated.name}.photos.{figure}"
            for side in stated.sides
            if gauge in side.stated.gauges
            for figure in ("reach", "protrusion")
        ]
        ends = errors.at(dict.fromkeys(seen, 1.0))
        tips = tuple(Case(Slip(sign * SIZES.tip * ends, SIZES.tip_u * ends), 0.5, "") for sign in (1.0, -1.0))
        yield Hypothesis(f"gauges.{name}.tip", ODDS.tip, tips, f"tip of the gauge of {length:.2f} mm")


def _of_readings(errors: _Errors, stated: Stated) -> Iterator[Hypothesis]:
    if "hub.over_locknut" in errors.system.index:
        unit = errors.at({"hub.over_locknut": 1.0})
        cases = _reading_cases(errors, "over_locknut", "hub.over_locknut", unit, Surroundings())
        yield Hypothesis("hub.over_locknut", ODDS.reading, cases, "over-locknut", "hub.over_locknut")
    for side in stated.sides:
        name = side.stated.name
        for observation in errors.system.index:
            if not observation.startswith(f"{name}.caliper."):
                continue
            quantity = observation.rsplit(".", 1)[1]
            unit = errors.at({observation: 1.0})
            cases = _reading_cases(errors, quantity, observation, unit, stated.surroundings[name])
            odds = ODDS.centre if quantity == "centre_to_flange" else ODDS.reading
            what = f"{figure_words(quantity)} of the {SIDE_WORDS[name].lower()}"
            yield Hypothesis(observation, odds, cases, what, observation)


def _reading_cases(
    errors: _Errors, quantity: str, observation: str, unit: Array, around: Surroundings
) -> tuple[Case, ...]:
    """Return known slips of a reading, and any other."""
    value = errors.value(observation)
    known = [
        errors.fixed((value - candidate.corrected) * unit, 1.0 / candidate.rarity, candidate.slip)
        for candidate in candidates(quantity, value, around)
        if candidate.corrected != value and candidate.slip != OUTSIDE_OF_BOSS.words
    ]
    if quantity == "flange_diameter":
        top = OUTSIDE_OF_BOSS  # twice the distance, about the middle of its range
        outside = Slip((top.least + top.most) * unit, (top.most - top.least) / 2.0 * unit)
        known.append(Case(outside, 1.0 / top.rarity, top.words))
    return (errors.free(SIZES.misread * unit, 1.0 - NUMBER_SHARE), *_weighed(known, NUMBER_SHARE))


def _of_blocks(errors: _Errors, stated: Stated) -> Iterator[Hypothesis]:
    cases: tuple[Case, ...]
    for side in stated.sides:
        name, block = side.stated.name, side.stated.block_thickness
        unit = errors.at({f"{name}.block_thickness": 1.0})
        what = f"block under the hub, {SIDE_WORDS[name].lower()} up"
        if block:
            not_there = errors.fixed(block * unit, 0.3, "it was not there")
            other = errors.free(SIZES.misread * unit, 0.4)
            cases = (other, not_there, *_weighed(_digits(errors, block, unit), 0.3))
        else:
            cases = tuple(
                Case(Slip(-thick * unit, SIZES.block * unit), 1.0 / len(SIZES.blocks), "it was forgotten")
                for thick in SIZES.blocks
            )
        about = f"{name}.block_thickness"
        yield Hypothesis(about, ODDS.block, cases, what, about)


def _of_sides(errors: _Errors, stated: Stated) -> Iterator[Hypothesis]:
    """Yield the exchange of the sides' readings: of all of them, and of single ones."""
    index = errors.system.index
    pairs = {
        name: f"non_drive.caliper.{name.rsplit('.', 1)[1]}"
        for name in index
        if name.startswith("drive.caliper.")
    }
    both = {one: other for one, other in pairs.items() if other in index}
    for one, other in both.items():
        apart = errors.value(one) - errors.value(other)
        swapped = errors.fixed(errors.at({one: apart, other: -apart}), 1.0)
        quantity = figure_words(one.rsplit(".", 1)[1])
        what = f"readings of both sides' {quantity}"
        yield Hypothesis(f"{one} and {other}", ODDS.one_reading, (swapped,), what)
    if len(stated.sides) == 2 and any(".caliper." in name for name in index):
        system = replace(errors.system, observations=tuple(map(_other_side, errors.system.observations)))
        case = errors.fixed(errors.none, 1.0)
        yield Hypothesis("sides", ODDS.sides, (case,), "drive and non-drive side", system=system)


def _other_side(one: Observation) -> Observation:
    """Return a reading as one of the other side of the hub; what photos show stays."""
    if ".caliper." not in one.name:
        return one
    names = {"drive": "non_drive", "non_drive": "drive"}

    def other(quantity: str) -> str:
        side, dot, rest = quantity.partition(".")
        return f"{names[side]}{dot}{rest}" if side in names else quantity

    return replace(one, of={other(quantity): slope for quantity, slope in one.of.items()})


def _of_photos(errors: _Errors, stated: Stated) -> Iterator[Hypothesis]:
    for side in stated.sides:
        photos = f"{side.stated.name}.photos."
        for one in MISREAD:
            cases = []
            for share, mean, spread in one.cases:
                vector = errors.at({photos + key: mm for key, mm in spread.items()})
                cases.append(Case(Slip(mean * vector, vector), share))
            first = photos + next(iter(one.cases[0][2]))
            if first in errors.system.index:
                yield Hypothesis(
                    about=photos + one.feature,
                    odds=one.odds,
                    cases=tuple(cases),
                    what=f"{one.what} of the {SIDE_WORDS[side.stated.name].lower()}",
                    observation=first,
                    statement=False,
                    remedy=f"{one.remedy} ({SIDE_WORDS[side.stated.name].lower()})",
                )
