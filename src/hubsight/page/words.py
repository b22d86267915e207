"""What is wrong with a job in the page's own words: names of its fields in place of the job file's."""

from __future__ import annotations

import re

from hubsight.job import JobFileError, Problem
from hubsight.model.catalogue import SIDE_WORDS
from hubsight.model.stated import SIDES
from hubsight.model.verdict import Reason
from hubsight.page.fields import FIRST_GAUGE, SECOND_GAUGE, known_fields
from hubsight.show.view import said

_NAMED = re.compile(r'(?:a table )?(?:(\w+)(?: = "?([\w.]+)"?)?(?: or \w+ = "[^"]*")? in )?\[([\w.]+)\]')
"""A field of the job file as other parts of the program name it: `crosses in [wheel]`."""
_COMMAND = re.compile(
    r"(?: with:)?[;,:]? ?`?hubsight (start|kit|measure|target|drawer|lengths)[^`.]*`?( shows every field)?"
)
"""A hint at a command, which the page leaves out."""


def in_page_words(error: JobFileError) -> tuple[str, ...]:
    """Return a sentence for each thing that is wrong."""
    return tuple(_sentence(problem) for problem in error.problems)


def without_place(error: JobFileError) -> str:
    """Return what is wrong, for saying it beside the very field."""
    return " ".join(_joined(p.what[:1].upper() + p.what[1:], plain(p.remedy)) for p in error.problems)


def said_here(reason: Reason) -> str:
    """Return a reason as one paragraph, in the page's words."""
    return plain(said(reason)).replace("?.", "?")


def plain(text: str) -> str:
    """Return a sentence with the labels of the page's fields in place of names of the job file."""
    return _COMMAND.sub("", _NAMED.sub(_labelled, text))


def _labelled(found: re.Match[str]) -> str:
    name, value, table = found.groups()
    if name is None:
        return f"the {_humanly(table)}"
    field = known_fields((FIRST_GAUGE,), SECOND_GAUGE).get(f"{table}.{name}")
    words = f"“{field.label}”" if field is not None else _humanly(name)
    return f"{words} as {value}" if value else words


def _humanly(name: str) -> str:
    """Return a name of the job file as words: ``sides.drive.rim_holes``, the drive side's rim holes."""
    last = name.rpartition(".")[2]
    side = next((side for side in SIDES if side == last), None)
    return SIDE_WORDS[side].lower() if side is not None else last.replace("_", " ").lower()


def _sentence(problem: Problem) -> str:
    field = problem.field
    if not field and problem.line is None:
        return _joined(problem.what, plain(problem.remedy))
    if field == "sides":
        return "There are no photos yet. Add photos of one side, or of both."
    if field == "gauges":
        return "The gauge's length is missing. Type it, or choose a gauge from your kit."
    side = next((side for side in SIDES if field.startswith(f"sides.{side}.")), None)
    place = "" if side is None else f"{SIDE_WORDS[side]}, "
    if side is not None and field == f"sides.{side}.photos":
        return f"{SIDE_WORDS[side]}: photos of this side are missing. Add them."
    table, _, rest = field.partition(".")
    gauge = rest.partition(".")[0] if table == "gauges" else FIRST_GAUGE
    known = known_fields((gauge,), SECOND_GAUGE).get(field)
    if known is None:
        return _not_of_the_page(problem)
    remedy = "Choose them beside these photos" if known.kind == "gauges" else plain(problem.remedy)
    return _joined(f"{place}{known.label[0].lower()}{known.label[1:]}: {problem.what}".lstrip(), remedy)


def _not_of_the_page(problem: Problem) -> str:
    """Say what is wrong with something that only a text editor writes, with the line to mend."""
    name = ", ".join(part.replace("_", " ") for part in problem.field.split(".")) or "the whole"
    line = f", line {problem.line}" if problem.line else ""
    return _joined(
        f"{name}: {problem.what}",
        f"It is a note in the job's own file, which this page does not show{line}: mend it there",
    )


def _joined(what: str, remedy: str) -> str:
    text = " ".join(f"{what[:1].upper()}{what[1:]}. {remedy}".split())
    return text if text.endswith(("?", ".")) else f"{text}."
