"""Errors of a job file, as sentences: where, what is wrong, what to do."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from types import UnionType
from typing import Any, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError

from hubsight.job.file.lines import FieldPath, field_lines, line_of

_POINT_NOT_COMMA = "Write decimals with a point, not a comma, as 119.52"
"""What to do about a decimal comma."""

_SYNTAX_PLACE = re.compile(r"\s*\(at (?:line (\d+), column \d+|end of document)\)$")
"""Where the TOML reader's message says that something is wrong; the line as the group."""


@dataclass(frozen=True)
class Problem:
    """One thing wrong with a job.

    Attributes
    ----------
    file
        The job file's name.
    line
        Counted from 1; None if the problem has no line.
    field
        Dotted name, as ``sides.drive.photos``; empty if the whole file is meant.
    what, remedy
        A sentence each.
    """

    file: str
    line: int | None
    field: str
    what: str
    remedy: str = ""

    def sentence(self) -> str:
        """Return the problem as the user reads it."""
        where = ", ".join(
            part for part in (self.file, f"line {self.line}" if self.line else "", self.field) if part
        )
        text = " ".join(f"{where}: {self.what}. {self.remedy}".split())
        return text if text.endswith(("?", ".")) else f"{text}."


class JobFileError(ValueError):
    """A job that cannot be read. ``problems`` says why; ``str`` gives one line per problem."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(problem.sentence() for problem in self.problems))


def one_problem(file: str, what: str, remedy: str) -> JobFileError:
    """Return the error of one file: which one, what is wrong, what to do."""
    return JobFileError([Problem(file, None, "", what, remedy)])


def syntax_problem(error: tomllib.TOMLDecodeError, text: str, file: str) -> Problem:
    """Turn the TOML reader's complaint about a text into a problem with a line."""
    message = str(error)
    place = _SYNTAX_PLACE.search(message)
    line = int(place.group(1)) if place and place.group(1) else None
    what = _SYNTAX_PLACE.sub("", message)
    remedy = 'Write one "name = value" a line, words in "quotes", several values in [brackets]'
    if line is not None and re.search(r"\d,\d", text.splitlines()[line - 1].partition("#")[0]):
        remedy = _POINT_NOT_COMMA
    return Problem(file, line, "", f"this is not valid TOML ({what})", remedy)


def validation_problems(
    error: ValidationError, text: str, file: str, model: type[BaseModel]
) -> list[Problem]:
    """Turn a model's complaints into problems with lines and remedies."""
    lines = field_lines(text)
    problems = []
    for detail in error.errors(include_url=False):
        path = tuple(str(part) for part in detail["loc"])
        what, remedy = _explain(detail, path, model)
        problems.append(Problem(file, line_of(lines, path), ".".join(path), what, remedy))
    return problems


def _explain(detail: Any, path: FieldPath, model: type[BaseModel]) -> tuple[str, str]:
    """Return what is wrong and the remedy, for one entry of a model's error list."""
    given, context = detail["input"], detail.get("ctx", {})
    match detail["type"]:
        case "reading":
            what, _, remedy = detail["msg"].partition(". ")
            remedy = _with_comma_hint(remedy, given) or "Write it without quotes, as 12.5"
        case "extra_forbidden":
            what, remedy = "this field is not known", _known_fields(path, model)
        case "missing":
            what, remedy = "this is missing", f"Add {_example(path)}; `hubsight start` shows every field"
        case "literal_error":
            what, remedy = f"{given!r} is not known here", _known_words(str(given), context["expected"])
        case "greater_than_equal" | "less_than_equal":
            what = f"{given!r} is out of range"
            remedy = (
                f"It must be {'at least' if 'ge' in context else 'at most'} {next(iter(context.values())):g}"
            )
        case "too_short":
            what, remedy = "nothing is filled in", f"Add at least {context['min_length']}"
        case "too_long":
            what, remedy = f"{context['actual_length']} are too many", f"At most {context['max_length']}"
        case "int_parsing" | "int_type" | "int_from_float":
            what, remedy = f"{given!r} is not a whole number", "Write it without quotes, as 24"
        case "float_parsing" | "float_type":
            what, remedy = f"{given!r} is not a number of millimetres", "Write it without quotes, as 12.5"
        case "string_type" | "list_type" | "tuple_type":
            what, remedy = f"{given!r} is not text", 'Write it in "quotes", several as ["one", "two"]'
        case "model_type" | "dict_type" | "model_attributes_type":
            what = "this must be a table"
            remedy = f"Write [{'.'.join(path)}] on a line of its own, its fields below it"
        case _:
            what, remedy = f"{detail['msg'][0].lower()}{detail['msg'][1:]}", ""
    return what, remedy


def _with_comma_hint(remedy: str, given: object) -> str:
    """Add what to do about a comma in a text that is no number."""
    suspicious = isinstance(given, str) and bool(re.search(r"\d,\d", given))
    return ". ".join(part for part in (remedy, _POINT_NOT_COMMA if suspicious else "") if part)


def _known_words(given: str, expected: str) -> str:
    close = difflib.get_close_matches(given, re.findall(r"'([^']*)'", expected), n=1)
    return f'Did you mean "{close[0]}"?' if close else f"It is one of {expected}"


def _example(path: FieldPath) -> str:
    name = path[-1]
    if len(path) == 1:
        return f"a table [{name}.NAME]" if name == "gauges" else f"a table [{name}]"
    return f'{name} = "..."' if name == "photos" else f"{name} = ... to [{'.'.join(path[:-1])}]"


def _known_fields(path: FieldPath, model: type[BaseModel]) -> str:
    table = _table_model(model, path[:-1])
    names = sorted(table.model_fields) if table else []
    close = difflib.get_close_matches(path[-1], names, n=1, cutoff=0.6)
    return f'Did you mean "{close[0]}"?' if close else f"Known here are: {', '.join(names)}"


def _table_model(model: type[BaseModel], path: FieldPath) -> type[BaseModel] | None:
    """Follow ``path`` through nested models and name -> model dictionaries."""
    current: Any = model
    for part in path:
        if isinstance(current, type) and issubclass(current, BaseModel):
            field = current.model_fields.get(part)
            current = _plain_type(field.annotation) if field else None
        elif get_origin(current) is dict:
            current = get_args(current)[1]
    return current if isinstance(current, type) and issubclass(current, BaseModel) else None


def _plain_type(annotation: Any) -> Any:
    if get_origin(annotation) in {Union, UnionType}:
        rest = [arg for arg in get_args(annotation) if arg is not type(None)]
        return rest[0]
    return annotation
