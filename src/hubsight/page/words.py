"""What is wrong with a job in the page's own words: names of its fields in place of the job file's."""

from __future__ import annotations

from hubsight.job import JobFileError, Problem
from hubsight.model.catalogue import SIDE_WORDS
from hubsight.page.form import FIRST_GAUGE, SECOND_GAUGE, known_fields
from hubsight.page.jobs import SIDES


def in_page_words(error: JobFileError) -> tuple[str, ...]:
    """Return a sentence for each thing that is wrong; what only a text editor makes names its line."""
    return tuple(_sentence(problem) for problem in error.problems)


def without_place(error: JobFileError) -> str:
    """Return what is wrong, for saying it beside the very field."""
    return " ".join(_joined(p.what[:1].upper() + p.what[1:], p.remedy) for p in error.problems)


def _sentence(problem: Problem) -> str:
    field = problem.field
    if field == "sides":
        return "There are no photos yet. Add photos of one side, or of both."
    side = next((side for side in SIDES if field.startswith(f"sides.{side}.")), None)
    place = "" if side is None else f"{SIDE_WORDS[side]}, "
    if side is not None and field == f"sides.{side}.photos":
        return f"{SIDE_WORDS[side]}: photos of this side are missing. Add them."
    table, _, rest = field.partition(".")
    gauge = rest.partition(".")[0] if table == "gauges" else FIRST_GAUGE
    known = known_fields((gauge,), SECOND_GAUGE).get(field)
    if known is None:
        return problem.sentence()
    remedy = "Choose them beside these photos" if known.kind == "gauges" else problem.remedy
    return _joined(f"{place}{known.label[0].lower()}{known.label[1:]}: {problem.what}".lstrip(), remedy)


def _joined(what: str, remedy: str) -> str:
    text = " ".join(f"{what[:1].upper()}{what[1:]}. {remedy}".split())
    return text if text.endswith(("?", ".")) else f"{text}."
