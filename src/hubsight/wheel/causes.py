"""Why the spokes' ends of a built wheel lie elsewhere than predicted: the likeliest single cause; mm.

Every cause says where the ends would lie if it were so: a shift of each side's ends, either known or known to
a standard deviation. Its odds follow from how well that explains the ends of both sides, and from how rare
it is.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from hubsight.model.catalogue import SIDE_WORDS
from hubsight.model.stated import Reading
from hubsight.model.uncertainty import FloatArray
from hubsight.wheel.geometry import RimGeometry, SideGeometry
from hubsight.wheel.length import LengthResult, side_length


@dataclass(frozen=True)
class SlipSizes:
    """Standard deviations of slips (common practice, no source).

    Attributes
    ----------
    erd, side, offset
        In the ERD, in all that one side's lengths share, and in the rim's offset, mm.
    tension
        Of a wheel's tension about the stated one, as a share, where nobody measured it.
    """

    erd: float = 2.0
    side: float = 1.0
    offset: float = 3.0
    tension: float = 0.5


SLIPS = SlipSizes()
"""Raising one makes it explain larger differences, and small ones less."""


NAMED = 0.5
"""Probability from which one cause is named alone; below, the next one stands beside it."""


@dataclass(frozen=True)
class BuiltEnds:
    """One side of a built wheel.

    Attributes
    ----------
    geometry
        Of the hub.
    length
        Of the spokes, as noted.
    computed
        Mean computed length.
    predicted, observed
        Position of the ends.
    sits
        What tension adds to it.
    slope
        Change of length per change of ERD.
    step
        To the next stock length.
    """

    geometry: SideGeometry
    length: float
    computed: float
    predicted: Reading
    observed: Reading
    sits: Reading
    slope: float
    step: float

    @property
    def difference(self) -> float:
        """Observed less predicted."""
        return self.observed.value - self.predicted.value

    @property
    def words(self) -> str:
        """Name of the side."""
        return SIDE_WORDS[self.geometry.name].lower()


@dataclass(frozen=True)
class Cause:
    """A possible cause: its probability among all, and what it is in words, with what would settle it."""

    probability: float
    sentence: str
    settle: str


@dataclass(frozen=True)
class _Case:
    """A cause before it is weighed: shifts of the ends, and ``spread``, the deviation of unknown ones.

    ``rarity`` is how often it happens in wheels that are noted (common practice, no source): that of any slip
    unless more is known. Only the ratios matter much.
    """

    sentence: str
    settle: str
    rarity: float = 0.01
    shift: tuple[float, ...] = ()
    spread: tuple[float, ...] = ()
    mirrored: bool = False


def likely_causes(sides: Sequence[BuiltEnds], rim: RimGeometry, washer: float = 0.0) -> tuple[Cause, ...]:
    """Return what explains where the ends of a wheel lie, the likeliest first; chance is one of them.

    Parameters
    ----------
    sides
        One or two, of one wheel.
    rim
        As it was reckoned with.
    washer
        Thickness of the washers that the ERD was reckoned with.

    Notes
    -----
    The differences are normal about a case's shift. Their covariance holds what the sides share (ERD and
    tension) and the case's spread. Posterior odds are rarity times likelihood.
    """
    chance = _Case("chance: the stated uncertainties allow for it", "Note more ends", 1.0)
    cases = [chance, *_of_the_wheel(sides, rim, washer), *_of_a_side(sides, rim)]
    if len(sides) == 2:
        cases += _of_two(sides, rim)
    covariance = _covariance(sides, rim)
    logs = np.array([_log_likelihood(case, sides, covariance) + math.log(case.rarity) for case in cases])
    odds = np.exp(logs - logs.max())
    odds /= odds.sum()
    order = np.argsort(-odds, kind="stable")
    return tuple(Cause(float(odds[k]), cases[k].sentence, cases[k].settle) for k in order)


def pointed_at(causes: Sequence[Cause]) -> str:
    """Return one sentence about the likeliest causes, chance left out."""
    named = [cause for cause in causes if not cause.sentence.startswith("chance")]
    first, second = named[0], named[1]
    said = f"Likeliest cause ({100.0 * first.probability:.0f} %): {first.sentence}. {first.settle}"
    if first.probability >= NAMED:
        return said
    return f"{said}. Or ({100.0 * second.probability:.0f} %): {second.sentence}. {second.settle}"


def _covariance(sides: Sequence[BuiltEnds], rim: RimGeometry) -> FloatArray:
    """Return the covariance of the differences: what is each side's own, the ERD and the tension."""
    erd = np.array([side.slope * rim.erd.u for side in sides])
    tension = np.array([side.sits.u for side in sides])
    total = np.array([side.predicted.u**2 for side in sides])
    own = np.maximum(total - erd**2 - tension**2, 1e-4) + np.array([side.observed.u**2 for side in sides])
    return np.asarray(np.diag(own) + np.outer(erd, erd) + np.outer(tension, tension))


def _log_likelihood(case: _Case, sides: Sequence[BuiltEnds], covariance: FloatArray) -> float:
    seen = np.array([-side.observed.value if case.mirrored else side.observed.value for side in sides])
    rest = seen - np.array([side.predicted.value for side in sides])
    if case.shift:
        rest = rest - np.array(case.shift)
    if case.spread:
        covariance = covariance + np.outer(case.spread, case.spread)
    _, log_determinant = np.linalg.slogdet(covariance)
    return float(-0.5 * (rest @ np.linalg.solve(covariance, rest) + log_determinant))


def _of_the_wheel(sides: Sequence[BuiltEnds], rim: RimGeometry, washer: float) -> Iterator[_Case]:
    """Yield what shifts both sides alike."""
    mean = sum(side.difference for side in sides) / len(sides)
    slope = sum(side.slope for side in sides) / len(sides)
    off = mean / slope
    way = "smaller" if off > 0.0 else "larger"
    under = "" if off > 0.0 else ", or washers sit under the nipples that were not stated"
    yield _Case(
        f"the ERD is about {abs(off):.1f} mm {way} than stated, or the nipples are others{under}",
        "Read the ERD again with these nipples and washers, on four diameters",
        rarity=0.06,
        spread=tuple(side.slope * SLIPS.erd for side in sides),
    )
    if washer > 0.0:
        yield _Case(
            f"the washers of {washer:g} mm that were stated are not in the wheel",
            "Look under a nipple",
            shift=tuple(2.0 * side.slope * washer for side in sides),
        )
    yield _Case(
        f"the tension is {'higher' if mean > 0.0 else 'lower'} than stated",
        "Measure the tension of both sides",
        rarity=0.04,
        spread=tuple(side.sits.value * SLIPS.tension for side in sides),
    )
    yield _Case(
        "the ends were noted with the wrong sign: outside of the slot's bottom is positive",
        "Look again: an end that stands out of the slot is positive",
        mirrored=True,
    )
    for crosses in (-1, 1):
        lengths = [_other_crosses(side, rim, crosses) for side in sides]
        if len(sides) == 2 and None not in lengths:
            now = sides[0].geometry.crosses + crosses
            yield _Case(
                f"the wheel is laced with {_crosses(now)} on both sides",
                "Count the crosses outside of the boss",
                shift=tuple(
                    side.computed - length
                    for side, length in zip(sides, lengths, strict=True)
                    if length is not None
                ),
            )


def _of_a_side(sides: Sequence[BuiltEnds], rim: RimGeometry) -> Iterator[_Case]:
    """Yield what shifts one side alone."""
    for number, side in enumerate(sides):
        unit = tuple(float(k == number) for k in range(len(sides)))
        amount = side.difference
        way = "smaller" if amount > 0.0 else "larger"
        yield _Case(
            f"the spoke offset of the {side.words} is about {abs(amount):.1f} mm {way} than measured, or its"
            " spokes' heads seat elsewhere than the gauge's",
            "Lay a spoke's head beside the gauge's, and measure this side once more",
            rarity=0.03,
            spread=tuple(SLIPS.side * one for one in unit),
        )
        for step in (-side.step, side.step):
            yield _Case(
                f"the spokes of the {side.words} are of {side.length + step:g} mm, not {side.length:g} mm",
                "Measure a spare spoke of that side",
                shift=tuple(step * one for one in unit),
            )
        for crosses in (-1, 1):
            length = _other_crosses(side, rim, crosses)
            if length is not None:
                yield _Case(
                    f"the {side.words} is laced with {_crosses(side.geometry.crosses + crosses)}",
                    "Count the crosses outside of the boss",
                    shift=tuple((side.computed - length) * one for one in unit),
                )


def _of_two(sides: Sequence[BuiltEnds], rim: RimGeometry) -> Iterator[_Case]:
    """Yield what moves the two sides against each other."""
    one, other = sides
    if one.length != other.length:
        yield _Case(
            "the spokes of the two sides are exchanged",
            "Measure a spoke of each side in the wheel",
            shift=(other.length - one.length, one.length - other.length),
        )
    lengths = [_mean(_on_side_of(a, b), rim) for a, b in ((one, other), (other, one))]
    if lengths[0] is not None and lengths[1] is not None:
        yield _Case(
            "drive and non-drive side of the hub are exchanged in the job",
            "Check which side's readings stand where",
            shift=(one.computed - lengths[1], other.computed - lengths[0]),
        )
    across = [side.geometry.centre_to_flange.value / side.computed for side in sides]
    sign = [1.0 if side.geometry.name == "drive" else -1.0 for side in sides]
    if rim.offset.value:
        turned = replace(rim, offset=Reading(-rim.offset.value, rim.offset.u))
        mirrored = [_mean(side.geometry, turned) for side in sides]
        yield _Case(
            "the rim's offset has the wrong sign, or the rim is in the wheel the other way round",
            "Look to which side the spoke holes are set off",
            shift=tuple(
                side.computed - (side.computed if length is None else length)
                for side, length in zip(sides, mirrored, strict=True)
            ),
        )
    yield _Case(
        "the rim's offset is another than stated, or the hub's centre lies elsewhere",
        "Measure how far the spoke holes lie off the rim's middle",
        spread=tuple(SLIPS.offset * a * s for a, s in zip(across, sign, strict=True)),
    )


def _crosses(number: int) -> str:
    return f"{number} cross{'es' * (number != 1)}"


def _mean(geometry: SideGeometry, rim: RimGeometry) -> float | None:
    """Return the mean computed length of a side; None where it cannot be laced."""
    found = side_length(geometry, rim)
    return found.mean.value if isinstance(found, LengthResult) else None


def _other_crosses(side: BuiltEnds, rim: RimGeometry, more: int) -> float | None:
    crosses = side.geometry.crosses + more
    if crosses < 0 or side.geometry.kind == "radial":
        return None
    return _mean(replace(side.geometry, crosses=crosses), rim)


def _on_side_of(geometry_of: BuiltEnds, place: BuiltEnds) -> SideGeometry:
    """Return a side's geometry as if it were on the other side of the wheel."""
    return replace(geometry_of.geometry, name=place.geometry.name)
