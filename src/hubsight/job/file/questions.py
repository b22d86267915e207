"""The questions that fill in a new job file: each answer is checked as the file's reader checks it."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from typing import Any, Literal

import tomlkit

from hubsight.job.file.edit import refuse_if_worse, typed_readings
from hubsight.job.file.model import TargetTable
from hubsight.job.file.problems import one_problem
from hubsight.job.file.text import JOB_FILE_NAME
from hubsight.job.file.units import typed_length
from hubsight.model.stated import SIDES
from hubsight.target.geometry import PAPER_TITLE
from hubsight.target.print_scale import check_print

Kind = Literal["readings", "choice", "count", "words", "sides", "stock", "gauge"]

_INCH = ("in", "inch", "inches", '"', "″")
"""What a reading in inches ends with."""

_NO_BLOCK = ("none", "no", "without")
"""Answers to the question for a block's thickness that mean 0."""

NONE_OF_THEM = "none"
"""Answer to the question for the sides where there will be no photos."""


@dataclass(frozen=True)
class Question:
    """One question.

    Attributes
    ----------
    field
        Dotted name in the job file.
    words
        The question, without its mark.
    hint
        What helps to answer it.
    kind
        How the answer is read.
    choices
        Of which one is to be typed; the first stands where nothing is typed.
    needed
        Whether lengths by photos cannot do without it.
    """

    field: str
    words: str
    hint: str
    kind: Kind = "readings"
    choices: tuple[str, ...] = ()
    needed: bool = True


QUESTIONS = (
    Question(
        "target.paper", "Paper of the printed target", "Its corner says it", "choice", tuple(PAPER_TITLE)
    ),
    Question(
        "target.bar_x",
        "Check bar along the long side, mm",
        "From tick to tick with the caliper, 120 on a perfect print; three readings are better than one",
    ),
    Question("target.bar_y", "Check bar along the short side, mm", "From tick to tick with the caliper"),
    Question(
        "gauges.a.length",
        "Length of the gauge spoke, mm",
        "From under its head to its far end, about 100; three readings are better. Or its name in your kit",
        "gauge",
    ),
    Question(
        "gauges.a.tip",
        "Far end of the gauge spoke",
        "flat: it is cut off square; nipple: the length goes to the nipple's end",
        "choice",
        ("flat", "nipple"),
    ),
    Question(
        "gauges.a.diameter", "Diameter of its wire, mm", "2.0 on most spokes, at the far end", needed=False
    ),
    Question(
        "sides",
        "Sides that you photograph",
        "none: lengths are worked out from readings by hand",
        "sides",
        ("both", "drive", "non_drive", NONE_OF_THEM),
    ),
    Question(
        "block_thickness",
        "Thickness of a block under the hub, mm",
        "Only if the end face does not stand on the paper itself; 0 without a block",
    ),
    Question(
        "hub.over_locknut", "Over-locknut, mm", "From end face to end face, where the frame or fork clamps"
    ),
    Question(
        "rim.erd",
        "ERD of the rim, mm",
        "The diameter on which the spoke ends are to lie, level with the bottom of the nipples' slots; "
        "several readings round the rim are much better than one",
    ),
    Question("wheel.spokes", "Spokes of the whole wheel", "Both sides together", "count"),
    Question(
        "wheel.crosses",
        "Crosses",
        "Without the crossing inside the boss; 0 if spokes cross no others",
        "count",
    ),
    Question(
        "spokes.stock_step",
        "Spokes that you can buy",
        "One number: the step of the lengths, as 2. Several: the lengths themselves, as 290 292 296",
        "stock",
    ),
    Question("label.hub", "Your name for this hub", "To find the job again; any words", "words"),
)
"""In the order of the work."""


def answered(text: str, question: Question, typed: str, gauges: tuple[str, ...] = ()) -> str:
    """Return a job file's text with one answer filled in.

    Parameters
    ----------
    text
        So far; at first that of the starter file.
    question
        Which was asked.
    typed
        As typed; nothing leaves the field as it is.
    gauges
        Names of the gauges in the user's kit.

    Raises
    ------
    JobFileError
        With what is wrong with the answer.
    """
    typed = typed.strip()
    if not typed:
        return text
    document = tomlkit.parse(text)
    fields = _FILL[question.kind](document, question, typed, gauges)
    filled = tomlkit.dumps(document)
    refuse_if_worse(filled, *fields)
    _refuse_print(filled)
    return filled


def left_open(text: str) -> tuple[str, ...]:
    """Return the words of the questions whose fields are still empty, as far as lengths need them."""
    raw = tomllib.loads(text)
    kinds = ("readings", "count", "gauge")
    wanted = (q for q in QUESTIONS if q.kind in kinds and "." in q.field and q.needed)
    return tuple(q.words.removesuffix(", mm") for q in wanted if _empty(raw, q.field))


def _empty(raw: dict[str, Any], field: str) -> bool:
    *tables, name = field.split(".")
    for table in tables:
        raw = raw.get(table, {})
    return raw.get(name) == [] and "kit" not in raw


def _readings(typed: str) -> list[float] | list[str]:
    """Return readings as the file takes them: numbers, or text where a unit belongs to them."""
    parts = [part.strip() for part in typed.split(";") if part.strip()]
    in_inches = all(part.lower().endswith(_INCH) and typed_length(part) is not None for part in parts)
    return parts if in_inches else typed_readings(typed)


def _put(document: Any, field: str, value: object) -> tuple[str, ...]:
    *tables, name = field.split(".")
    for table in tables:
        document = document[table]
    document[name] = value
    return (field,)


def _fill_readings(document: Any, question: Question, typed: str, _: tuple[str, ...]) -> tuple[str, ...]:
    if question.field != "block_thickness":
        return _put(document, question.field, _readings(typed))
    values = [0.0] if typed.lower() in _NO_BLOCK else _readings(typed)
    if len(values) > 1:
        raise one_problem(question.words, f"{len(values)} values stand where one belongs", "Type one")
    fields = [f"sides.{side}.{question.field}" for side in document["sides"]]
    for field in fields:
        _put(document, field, values[0])
    return tuple(fields)


def _fill_choice(document: Any, question: Question, typed: str, _: tuple[str, ...]) -> tuple[str, ...]:
    return _put(document, question.field, chosen(question, typed))


def chosen(question: Question, typed: str) -> str:
    """Return the one of a question's choices that is meant; the first where nothing is typed.

    Raises
    ------
    JobFileError
        If none is, or several are.
    """
    if not typed.strip():
        return question.choices[0]
    word = typed.lower().replace("-", "_").replace(" ", "_")
    fitting = [choice for choice in question.choices if choice.startswith(word)]
    if len(fitting) != 1:
        remedy = f"Type one of: {', '.join(question.choices)}"
        raise one_problem(question.words, f'"{typed[:40]}" is none of the answers', remedy)
    return fitting[0]


def _fill_sides(document: Any, question: Question, typed: str, _: tuple[str, ...]) -> tuple[str, ...]:
    """Keep the tables of the sides that are photographed; of both where there will be no photos."""
    wanted = chosen(question, typed)
    for side in SIDES:
        if wanted not in (side, "both", NONE_OF_THEM):
            document["sides"].pop(side, None)
    return ()


def _fill_count(document: Any, question: Question, typed: str, _: tuple[str, ...]) -> tuple[str, ...]:
    if not typed.isdecimal():
        raise one_problem(question.words, f'"{typed[:40]}" is not a whole number', "Type one, such as 24")
    return _put(document, question.field, int(typed))


def _fill_words(document: Any, question: Question, typed: str, _: tuple[str, ...]) -> tuple[str, ...]:
    return _put(document, question.field, typed)


def _fill_stock(document: Any, question: Question, typed: str, _: tuple[str, ...]) -> tuple[str, ...]:
    values = typed_readings(typed)
    if len(values) == 1:
        return _put(document, question.field, values)
    document["spokes"].pop("stock_step", None)
    return _put(document, "spokes.stock_lengths", sorted(values))


def _fill_gauge(document: Any, question: Question, typed: str, gauges: tuple[str, ...]) -> tuple[str, ...]:
    if typed in gauges:
        gauge = document["gauges"]["a"]
        gauge["kit"], gauge["tip"] = typed, []  # what the file states comes before what the kit says
        return ()
    document["gauges"]["a"].pop("kit", None)  # answered before
    return _put(document, question.field, _readings(typed))


_FILL = {
    "readings": _fill_readings,
    "choice": _fill_choice,
    "sides": _fill_sides,
    "count": _fill_count,
    "words": _fill_words,
    "stock": _fill_stock,
    "gauge": _fill_gauge,
}
"""What puts an answer into the file, by the question's kind."""


def _refuse_print(text: str) -> None:
    """Refuse bars that no print has, as reading the whole job would."""
    target = TargetTable.model_validate(tomllib.loads(text)["target"])
    x, y = (None if bar is None else bar.value for bar in (target.bar_x, target.bar_y))
    for refusal in check_print(x, y, target.paper).refusals:
        raise one_problem(JOB_FILE_NAME, refusal.reason, refusal.remedy)
