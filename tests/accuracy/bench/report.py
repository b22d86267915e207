"""The benchmark's tables, as plain text."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Protocol

import numpy as np

from bench.alternatives import ALTERNATIVES, errors
from bench.corpus import Side
from bench.scores import Outcome, Score, binomial_limits, score
from bench.tool import Row

FIGURES = (
    "spoke_offset",
    "flange_diameter",
    "boss_width",
    "boss_width_across",
    "spoke_length",
    "protrusion",
    "reach",
    "flange_height",
    "over_locknut",
    "centre_to_flange",
    "centre_to_flange_ds",
    "centre_to_flange_nds",
)
HEADER = (
    f"{'figure':<21}{'n':>4}{'fail':>5}{'bias':>8}{'median':>8}{'p90':>8}{'max':>8}"
    f"{'held':>10}{'chance':>11}{'width':>8}{'blunders':>10}"
)


class WithTruth(Protocol):
    """A side, or a whole hub: what is known to be true of it."""

    @property
    def truth(self) -> dict[str, float]:
        """True figures by name."""

    @property
    def asymmetric(self) -> bool:
        """Whether its bosses are counted apart."""

    @property
    def boss_count(self) -> int | None:
        """True number of bosses, of a side."""

    @property
    def crosses(self) -> int | None:
        """True crosses, of a side."""


Sides = Mapping[tuple[str, str], WithTruth]


def outcomes_of(rows: Iterable[Row], sides: Sides) -> list[Outcome]:
    """Pair every figure that has a truth with it."""
    return [
        Outcome(
            row.hub,
            row.side,
            name,
            figure.value,
            figure.u,
            figure.low,
            figure.high,
            sides[row.hub, row.side].truth[name],
            bool(figure.warnings),
        )
        for row in rows
        for name, figure in row.figures.items()
        if name in sides[row.hub, row.side].truth
    ]


def _line(name: str, result: Score) -> str:
    if not result.number:
        return f"{name:<21}{0:>4}{result.failures:>5}"
    low, high = binomial_limits(result.number)
    share = f"{result.held}/{result.number}"
    return (
        f"{name:<21}{result.number:>4}{result.failures:>5}{result.bias:>8.3f}{result.median:>8.3f}"
        f"{result.p90:>8.3f}{result.largest:>8.3f}{share:>10}{f'{low:.0%}-{high:.0%}':>11}"
        f"{result.width:>8.3f}{result.blunders:>10}"
    )


def score_table(rows: Sequence[Row], sides: Sides) -> list[str]:
    """Return a table of one group of rows of one mode: a line per figure, and one for all intervals."""
    outcomes = outcomes_of(rows, sides)
    lines = [HEADER]
    shown = {name for row in rows for name in (*row.figures, *sides[row.hub, row.side].truth)}
    for name in (name for name in FIGURES if name in shown):
        of_figure = [outcome for outcome in outcomes if outcome.figure == name]
        expected = sum(name in sides[row.hub, row.side].truth for row in rows)
        lines.append(_line(name, score(of_figure, expected - len(of_figure))))
    held, number = sum(outcome.held for outcome in outcomes), len(outcomes)
    low, high = binomial_limits(number)
    if number:
        lines.append(
            f"all intervals: {held}/{number} held ({held / number:.1%}); "
            f"chance alone gives {low:.0%}-{high:.0%} (more, as figures of one side err together)"
        )
    lines += _counts(rows, sides)
    return lines


def _counts(rows: Sequence[Row], sides: Sides) -> list[str]:
    measured = [row for row in rows if row.failed is None]
    counted = [row for row in rows if row.boss_count is not None]
    wrong_count = [row for row in counted if row.boss_count != sides[row.hub, row.side].boss_count]
    readable = [row for row in counted if row.crosses is not None]
    wrong_crosses = [row for row in readable if row.crosses != sides[row.hub, row.side].crosses]
    lines = [
        f"sides measured: {len(measured)}/{len(rows)}; boss count right: "
        f"{len(counted) - len(wrong_count)}/{len(counted)}; crosses right: "
        f"{len(readable) - len(wrong_crosses)}/{len(readable)}"
    ]
    lines += [
        f"  {row.hub} {row.side}: {row.boss_count} bosses instead of {sides[row.hub, row.side].boss_count}"
        for row in wrong_count
    ]
    lines += [
        f"  {row.hub} {row.side}: {row.crosses} crosses instead of {sides[row.hub, row.side].crosses}"
        for row in wrong_crosses
    ]
    lines += [f"  {row.hub} {row.side} failed: {row.failed}" for row in rows if row.failed]
    if rows:
        per_photo = [row.seconds / row.photos for row in rows]
        lines.append(
            f"seconds per photo: median {np.median(per_photo):.2f}, largest {max(per_photo):.2f}; "
            f"peak memory: {max(row.peak_mb for row in rows):.0f} MB"
        )
    return lines


def listing(rows: Sequence[Row], sides: Sides, most: int) -> list[str]:
    """Return the ``most`` largest errors, figure by figure, with their z-scores."""
    outcomes = sorted(outcomes_of(rows, sides), key=lambda outcome: -abs(outcome.error))
    return [
        f"  {outcome.hub:<10}{outcome.side:<9}{outcome.figure:<21}{outcome.value:>9.3f}"
        f"  error {outcome.error:>+8.3f}  u {outcome.u:>6.3f}  z {outcome.z:>+7.2f}"
        f"{'' if outcome.held else '  OUT'}{'  warned' if outcome.warned else ''}"
        f"{'  BLUNDER' if outcome.blunder else ''}"
        for outcome in outcomes[:most]
    ]


def alternatives_table(sides: Iterable[Side]) -> list[str]:
    """Return what the obvious alternatives give on the near-vertical photos."""
    sides = list(sides)
    lines = []
    for name in ALTERNATIVES:
        found = [errors(side, name) for side in sides]
        lines.append(f"{name} (true feature positions, near-vertical photo)")
        for figure in ("spoke_offset", "flange_diameter", "protrusion", "reach"):
            values = np.array([one[figure] for one in found if figure in one])
            if values.size:
                size = np.abs(values)
                lines.append(
                    f"  {figure:<17}n {values.size:>3}  bias {values.mean():>+8.3f}  median "
                    f"{np.median(size):>7.3f}  p90 {np.percentile(size, 90):>7.3f}  max {size.max():>7.3f}"
                )
    return lines


def report(rows: Sequence[Row], sides: Sides, *, most: int, alternatives: bool = True) -> str:
    """Return the whole report: scores per mode and group, ``most`` single errors, the alternatives."""
    alone = [side for side in sides.values() if isinstance(side, Side)]
    lines: list[str] = []
    for mode in dict.fromkeys(row.mode for row in rows):
        of_mode = [row for row in rows if row.mode == mode]
        groups = {
            "": [row for row in of_mode if not sides[row.hub, row.side].asymmetric],
            ", asymmetric bosses with one gauge (counted apart)": [
                row for row in of_mode if sides[row.hub, row.side].asymmetric
            ],
        }
        for title, group in groups.items():
            if group:
                lines += [f"== mode {mode}{title}: {len(group)} sides; mm", *score_table(group, sides), ""]
        if most:
            lines += [f"-- mode {mode}: largest errors", *listing(of_mode, sides, most), ""]
    if alternatives and alone:
        lines.append("== the two obvious alternatives; mm")
        lines += alternatives_table(side for side in alone if side.near_vertical)
    return "\n".join(lines)
