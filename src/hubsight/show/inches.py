"""Lengths in inches, for those who read them: decimal, and to the nearest 64th as rules show it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from hubsight.job.file.units import INCH_MM
from hubsight.model.catalogue import SIDE_WORDS, figure_words
from hubsight.model.result import JobResult

PARTS = 64
"""Divisions of an inch on the finest rules: 0.4 mm; a fraction is off by at most half of that."""


@dataclass(frozen=True)
class InchRow:
    """A length in mm, in decimal inches, and as a rule shows it."""

    words: str
    mm: float
    decimal: str
    fraction: str


def decimal_inches(mm: float) -> str:
    """Return a length in inches to the thousandth: ``11.654 in``."""
    return f"{mm / INCH_MM:.3f} in"


def fraction_inches(mm: float) -> str:
    """Return a length to the nearest 64th of an inch: ``11 21/32 in``."""
    whole, rest = divmod(round(abs(mm) / INCH_MM * PARTS), PARTS)
    part = Fraction(rest, PARTS)
    words = " ".join(str(one) for one in (whole, part) if one) or "0"
    return f"{'-' if mm < 0.0 and words != '0' else ''}{words} in"


def in_inches(result: JobResult) -> JobResult:
    """Return a result that is shown in inches too."""
    wheel = None if result.wheel is None else result.wheel.model_copy(update={"inches": True})
    return result.model_copy(update={"wheel": wheel})


def inch_rows(result: JobResult) -> tuple[InchRow, ...]:
    """Return the lengths that a builder measures or orders by; none unless the job asks for inches."""
    if result.wheel is None or not result.wheel.inches:
        return ()
    return tuple(
        InchRow(words, mm, decimal_inches(mm), fraction_inches(mm)) for words, mm in _lengths(result)
    )


def _lengths(result: JobResult) -> Iterable[tuple[str, float]]:
    for line in result.order:
        yield f"{SIDE_WORDS[line.side].lower()}, to order", line.length
    for side in result.sides:
        lengths = side.spoke_lengths
        if lengths is not None:
            name = SIDE_WORDS[side.name].lower()
            yield f"{name}, spoke length", lengths.length.value
            for one in lengths.origin.figures:
                yield f"{name}, {figure_words(one.name)}", one.value
    if result.wheel is not None and result.wheel.erd is not None:
        yield "ERD", result.wheel.erd.value
