"""What somebody looks for on the shelf: words, and dimensions in plain words."""

from __future__ import annotations

import re
from dataclasses import dataclass

from hubsight.model.catalogue import ON_SHELF
from hubsight.shelf.model import ShelvedSide

ABOUT_MM = {name: entry.shelf_about or 0.0 for name, entry in ON_SHELF.items()} | {"over_locknut": 1.0}
"""Largest distance of a figure from the number that is looked for, mm; raising it finds more."""

_NAMES = {
    words: name for name, entry in ON_SHELF.items() for words in (entry.words, *entry.asked_for)
} | dict.fromkeys(("over-locknut", "over locknut", "old"), "over_locknut")
"""Words for dimensions, and the names of their figures."""
_COUNTS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
"""Words for numbers, from one on."""

_NUMBER = r"-?\d+(?:[.,]\d+)?"
"""A number as people type it."""
_DIMENSION = re.compile(
    rf"\b({'|'.join(sorted(_NAMES, key=len, reverse=True))})\s*(?:is|about|around|near|=|:|~)?\s*"
    rf"({_NUMBER})(?:\s*(?:to|-|–)\s*({_NUMBER}))?(?:\s*mm\b)?"
)
"""A dimension with a number, or with two between which it lies."""
_COUNT = re.compile(rf"\b(\d+|{'|'.join(_COUNTS)})[\s-]*(boss(?:es)?|cross(?:es)?)\b")
"""A number of bosses or crosses."""


@dataclass(frozen=True)
class Span:
    """A dimension that has to lie between two values, mm."""

    name: str
    low: float
    high: float


@dataclass(frozen=True)
class Query:
    """What is looked for; everything has to hold.

    Attributes
    ----------
    words
        In small letters; each has to be in the user's words, the job's name or its path.
    spans
        Of dimensions.
    bosses, crosses
        Numbers found.
    """

    words: tuple[str, ...] = ()
    spans: tuple[Span, ...] = ()
    bosses: int | None = None
    crosses: int | None = None


def parse_query(text: str) -> Query:
    """Read what somebody looks for.

    Parameters
    ----------
    text
        Such as ``d about 44, six bosses`` or ``offset 2 to 2.4 anna``.

    Returns
    -------
    Query
        What is no dimension and no number of bosses or crosses is taken as words.
    """
    rest = text.casefold()
    spans: list[Span] = []
    counts: dict[str, int] = {}

    def take_dimension(found: re.Match[str]) -> str:
        name = _NAMES[found[1]]
        first = _number(found[2])
        if found[3] is None:
            spans.append(Span(name, first - ABOUT_MM[name], first + ABOUT_MM[name]))
        else:
            spans.append(Span(name, *sorted((first, _number(found[3])))))
        return " "

    def take_count(found: re.Match[str]) -> str:
        number = _COUNTS.index(found[1]) + 1 if found[1] in _COUNTS else int(found[1])
        counts["bosses" if found[2].startswith("boss") else "crosses"] = number
        return " "

    rest = _COUNT.sub(take_count, _DIMENSION.sub(take_dimension, rest))
    words = tuple(word for word in re.findall(r"[^\s,;]+", rest) if word != "and")
    return Query(words, tuple(spans), counts.get("bosses"), counts.get("crosses"))


def holds(query: Query, side: ShelvedSide) -> bool:
    """Tell whether everything in a query holds for a side, as `hubsight.shelf.Shelf.find` does."""
    values = {name: figure.value for name, figure in side.figures.items()}
    if side.over_locknut is not None:
        values["over_locknut"] = side.over_locknut
    spans = all(span.name in values and span.low <= values[span.name] <= span.high for span in query.spans)
    counts = query.bosses in (None, side.bosses) and query.crosses in (None, side.crosses)
    return spans and counts and all(word in side.words for word in query.words)


def _number(text: str) -> float:
    return float(text.replace(",", "."))
