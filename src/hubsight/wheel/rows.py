"""How a rim's holes may be shared out between the sides, and which way a pair boss' bores then point.

Angles in degrees, lengths in mm. A straight-pull bore points at its rim hole: the row of holes, the crosses
and, where the row is uneven, which of a side's holes comes first, decide its direction.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from hubsight.model.stated import HolePattern, StatedWheel
from hubsight.wheel.crosses import beta_and_slope
from hubsight.wheel.geometry import pattern_from_letters
from hubsight.wheel.lacing import pattern_alphas

RowName = Literal["stated", "even", "two_to_one", "paired_holes", "other"]

ROW_WORDS: dict[RowName, str] = {
    "stated": "the stated row of rim holes",
    "even": "evenly drilled rim holes",
    "two_to_one": "a two-to-one rim",
    "paired_holes": "a rim whose holes lie in pairs",
    "other": "no usual row of rim holes",
}
"""What the rows of rim holes are called."""

STATED_PRIOR = 0.95
"""Probability that a stated row and its first hole are right; the rest is shared out as if nothing were
stated (a guess: people mistake the first hole, or count from the other side; no source)."""

UNSTATED_PRIORS: dict[RowName, float] = {"even": 0.95, "two_to_one": 0.03, "paired_holes": 0.01}
"""Shares of rims that a pair-boss hub is drilled for where nothing is stated (common practice, no source);
what is missing from 1 is any other row."""

WRONG_SPOKES = 0.003
"""Factor on the probability of a row that does not go with the stated number of spokes: that they are
misstated, or the bosses miscounted (a guess; no source)."""

_LETTERS: dict[RowName, tuple[str, float]] = {
    "even": ("DN", 4.0),
    "two_to_one": ("DND", 3.0),
    "paired_holes": ("DDNN", 4.0),
}
"""Each row in letters, this side being D, and the wheel's spokes per boss of this side."""

SPARSE_SPOKES_PER_BOSS = 6
"""Spokes of the wheel per boss of the thinner side of a two-to-one wheel, whose holes are evenly spaced."""


@dataclass(frozen=True)
class Row:
    """A row of rim holes as one side sees it.

    Attributes
    ----------
    name
        Which.
    prior
        Its probability before any bore is looked at.
    patterns
        This side's holes, one way for each first hole that is possible; empty: directions unknown.
    """

    name: RowName
    prior: float
    patterns: tuple[HolePattern, ...] = ()


@dataclass(frozen=True)
class BoreDirection:
    """Where the bores of a boss point, by row, first hole and crosses.

    Attributes
    ----------
    row, crosses
        By which; ``first`` is the position of the first hole's pattern in the row's.
    prior
        Probability before any bore is looked at; the crosses are taken as equally likely, and left out.
    betas
        Angle to the boss' centreline, and its derivative by the ERD, degrees per mm; bosses and the two ways
        differ on lopsided rows. Empty where the row is none of the usual ones.
    """

    row: RowName
    first: int
    crosses: int | None
    prior: float
    betas: tuple[tuple[float, float], ...]

    def nearest(self, beta: float) -> tuple[float, float]:
        """Return the direction nearest to ``beta``, and its derivative by the ERD."""
        return min(self.betas, key=lambda b: abs(b[0] - beta))


def possible_rows(wheel: StatedWheel, bosses: int) -> tuple[Row, ...]:
    """Return the rows that a side's bosses may be drilled for, by what is stated, likeliest first, none last.

    A stated row that has another number of holes than the bosses have bores says nothing of them.
    """
    usual = _usual_rows(wheel, bosses)
    own = tuple(p for p in wheel.rim_holes if len(p.all_angles()) == 2 * bosses)
    if own:
        doubt = 1.0 - STATED_PRIOR
        usual = [Row(row.name, doubt * row.prior, row.patterns) for row in usual]
        usual.append(Row("stated", STATED_PRIOR, own))
    return tuple(sorted(usual, key=lambda row: (row.name == "other", -row.prior)))


def _usual_rows(wheel: StatedWheel, bosses: int) -> list[Row]:
    """Return the usual rows and that of none of them, by the stated number of spokes if it goes with any."""
    known = {name: p for name, p in UNSTATED_PRIORS.items() if wheel.even_rim or name != "even"}
    fitting = {name for name in known if _goes_with(wheel.spokes, name, bosses)} or set(known)
    priors = {name: p * (1.0 if name in fitting else WRONG_SPOKES) for name, p in known.items()}
    other = 1.0 - sum(UNSTATED_PRIORS.values())
    total = sum(priors.values()) + other
    rows = [Row(name, prior / total, row_patterns(name, bosses)) for name, prior in priors.items()]
    return [*rows, Row("other", other / total)]


def _goes_with(spokes: int | None, name: RowName, bosses: int) -> bool:
    if spokes is None:
        return True
    sparse = name == "even" and spokes == SPARSE_SPOKES_PER_BOSS * bosses
    return sparse or spokes == _LETTERS[name][1] * bosses


def row_patterns(name: RowName, bosses: int) -> tuple[HolePattern, ...]:
    """Return this side's holes in a usual row, by first hole."""
    letters, per_boss = _LETTERS[name]
    return first_hole_patterns(letters, round(per_boss * bosses))


def first_hole_patterns(
    letters: str, spokes: int, side: Literal["drive", "non_drive"] = "drive"
) -> tuple[HolePattern, ...]:
    """Return a side's holes in a row of letters, by first hole, as far as that makes a difference to pairs.

    Two holes on, the bosses are merely counted from the next one; in a row with an odd number of this side's
    holes one hole on comes to the same, a period later. Arguments and errors as of `pattern_from_letters`.
    """
    one = pattern_from_letters(letters, spokes, side)
    if len(one.angles) % 2:
        return (one,)
    return one, pattern_from_letters(letters, spokes, side, first=1)


def bore_directions(
    rows: Sequence[Row], bosses: int, flange_diameter: float, erd: float
) -> tuple[BoreDirection, ...]:
    """Return all directions that the bores of a side's pair bosses may have.

    Parameters
    ----------
    rows
        As of `possible_rows`.
    bosses
        On this side.
    flange_diameter, erd
        d and the rim's ERD, mm.
    """
    out = []
    for row in rows:
        if not row.patterns:
            out.append(BoreDirection(row.name, 0, None, row.prior, ()))
        for first, pattern in enumerate(row.patterns):
            for crosses in range(5):
                betas = _betas(pattern, bosses, crosses, flange_diameter, erd)
                if betas:
                    prior = row.prior / len(row.patterns)
                    out.append(BoreDirection(row.name, first, crosses, prior, betas))
    return tuple(out)


def _betas(
    pattern: HolePattern, bosses: int, crosses: int, flange_diameter: float, erd: float
) -> tuple[tuple[float, float], ...]:
    alphas = _alphas(pattern, bosses, crosses)
    return tuple(beta_and_slope(alpha, flange_diameter, erd) for alpha in alphas)


@lru_cache(maxsize=1000)
def _alphas(pattern: HolePattern, bosses: int, crosses: int) -> tuple[float, ...]:
    """Return the different angles from a boss to its rim holes; the search for bosses asks for many."""
    holes = pattern.all_angles()
    alphas = {round(alpha, 9) for alpha, _ in pattern_alphas("paired", bosses, crosses, holes)}
    return tuple(alpha for alpha in sorted(alphas) if 0.0 < alpha < 180.0)
