"""A file of alternatives to a job's wheel: what if it had another rim, nipple, lacing, tension or wire."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from hubsight.job.file.changes import RIM_FIELDS, SIDE_FIELDS, STOCK_FIELDS, WHEEL_TABLES, WIRE_FIELDS
from hubsight.job.file.lines import FieldPath, field_lines, line_of
from hubsight.job.file.problems import JobFileError, Problem, one_problem, syntax_problem
from hubsight.job.file.text import read_job_text
from hubsight.model.stated import SIDES

MOST_ALTERNATIVES = 40
"""Alternatives in one file: each is planned in about half a second."""
LONGEST_NAME = 40
"""Letters of an alternative's name: it heads a column."""

SHORT: Mapping[str, str] = {
    **dict.fromkeys(RIM_FIELDS, "this_rim"),
    **dict.fromkeys(("crosses", "tension"), "wheel"),
    **dict.fromkeys((*WIRE_FIELDS, *STOCK_FIELDS), "spokes"),
}
"""Fields that stand in an alternative by themselves, and the table that they belong to."""


@dataclass(frozen=True)
class Alternative:
    """One alternative.

    Attributes
    ----------
    name
        In the builder's words.
    changes
        See `hubsight.job.file.changes.changed`.
    says
        What is different, as it is written.
    places
        From a field of the job file to the field of the alternative that states it.
    """

    name: str
    changes: dict[str, Any]
    says: tuple[str, ...]
    places: dict[FieldPath, FieldPath] = field(default_factory=dict)


class Alternatives:
    """What a text of alternatives says; problems name its lines.

    Parameters
    ----------
    text
        As TOML.
    name
        Of its file, for problems.

    Raises
    ------
    JobFileError
        If it says what no alternative can.
    """

    def __init__(self, text: str, name: str) -> None:
        text = _quoted_names(text)
        self._file, self._lines = name, field_lines(text)
        self._problems: list[Problem] = []
        try:
            raw = tomllib.loads(text)
        except tomllib.TOMLDecodeError as error:
            raise JobFileError([syntax_problem(error, text, self._file)]) from error
        self.every = tuple(self._read(raw))
        if self._problems:
            raise JobFileError(self._problems)

    @classmethod
    def of_file(cls, file: Path) -> Alternatives:
        """Read a file of alternatives; raises JobFileError, also where it cannot be read."""
        if not file.is_file():
            remedy = "Write one: a [name] for each wheel, and below it what differs, as crosses = 3"
            raise one_problem(str(file), "there is no such file", remedy)
        return cls(read_job_text(file), file.name)

    def problem(self, alternative: Alternative, problem: Problem) -> Problem:
        """Return a problem of the job with an alternative, as one of this file."""
        path = tuple(problem.field.split("."))
        where: FieldPath = (alternative.name,)
        for depth in range(len(path), 0, -1):
            if path[:depth] in alternative.places:
                rest = (part for part in path[depth:] if part != "kit")
                where = (alternative.name, *alternative.places[path[:depth]], *rest)
                break
        return Problem(self._file, line_of(self._lines, where), ".".join(where), problem.what, problem.remedy)

    def _complain(self, path: FieldPath, what: str, remedy: str) -> None:
        self._problems.append(Problem(self._file, line_of(self._lines, path), ".".join(path), what, remedy))

    def _read(self, raw: dict[str, Any]) -> Iterator[Alternative]:
        if not raw:
            remedy = "Write [a name], and below it what differs"
            raise one_problem(self._file, "there is no alternative in it", remedy)
        if len(raw) > MOST_ALTERNATIVES:
            what = f"{len(raw)} alternatives are too many"
            raise one_problem(self._file, what, f"Keep the {MOST_ALTERNATIVES} that matter")
        for name, table in raw.items():
            if not isinstance(table, dict):
                remedy = "Write the alternative's name above it, in [brackets] on a line of its own"
                self._complain((name,), "this belongs to no alternative", remedy)
            elif not name.strip() or len(name) > LONGEST_NAME:
                self._complain((name,), "this cannot be a name", f"Use up to {LONGEST_NAME} letters")
            elif not table:
                self._complain((name,), "nothing is different here", "Say what is, as crosses = 3")
            else:
                yield self._alternative(name, table)

    def _alternative(self, name: str, table: dict[str, Any]) -> Alternative:
        changes: dict[str, Any] = {}
        places: dict[FieldPath, FieldPath] = {}
        for key, value in table.items():
            for into, stated, job_path in self._sorted((name, key), value):
                if into == "sides":
                    changes.setdefault("sides", {}).setdefault(job_path[1], {}).update(stated)
                elif isinstance(stated, dict):
                    known = changes.get(into)
                    changes[into] = {**known, **stated} if isinstance(known, dict) else stated
                else:
                    changes[into] = stated
                places[job_path] = (key,)
        return Alternative(name, changes, tuple(_says(table)), places)

    def _sorted(self, path: FieldPath, value: object) -> Iterator[tuple[str, Any, FieldPath]]:
        """Yield the table that a field belongs to, what it states there, and its path in the job file."""
        key = path[-1]
        if key == "spokes" and not isinstance(value, dict):
            yield "wheel", {"spokes": value}, ("wheel", "spokes")
        elif key == "rim" and isinstance(value, str):
            yield "rim", value, ("rim",)
        elif key in WHEEL_TABLES and isinstance(value, dict):
            yield key, value, (key,)
        elif key in SIDES and isinstance(value, dict):
            yield from self._of_side(path, key, value)
        elif key in SHORT:
            table = SHORT[key]
            yield table, {key: value}, ("rim" if table == "this_rim" else table, key)
        elif key in WHEEL_TABLES or key in SIDES:
            self._complain(
                path, "this must be a table", f"Write {key} = {{ ... }}, fields as in the job file"
            )
        else:
            self._complain(path, *_unknown(key))

    def _of_side(
        self, path: FieldPath, side: str, table: dict[str, Any]
    ) -> Iterator[tuple[str, Any, FieldPath]]:
        for key, value in table.items():
            if key in SIDE_FIELDS:
                yield "sides", {key: value}, ("sides", side, key)
            else:
                remedy = f"Known of a side are: {', '.join(SIDE_FIELDS)}"
                self._complain((*path, key), "an alternative changes the wheel, not the hub", remedy)


def _unknown(key: str) -> tuple[str, str]:
    known = ("rim", "spokes", "nipple", "wheel", *SIDES, *SHORT)
    if key in ("hub", "sides", "gauges", "target", "camera", "lying"):
        remedy = "Only rim, wheel, spokes and nipple can differ; a side's lacing under drive or non_drive"
        return "an alternative changes the wheel, not the hub", remedy
    close = difflib.get_close_matches(key, known, n=1, cutoff=0.6)
    remedy = f'Did you mean "{close[0]}"?' if close else f"Known here are: {', '.join(known)}"
    return "this field is not known", remedy


def _quoted_names(text: str) -> str:
    """Put names of alternatives into quotes, line by line: ``[three crosses]`` is a name, too."""
    lines = []
    for line in text.splitlines():
        head, bracket, rest = line.partition("]")
        name = head.strip().removeprefix("[")
        plain = bracket and head.strip().startswith("[") and not name.startswith(("[", '"', "'"))
        if plain and "=" not in head and rest.strip()[:1] in ("", "#") and not _bare(name):
            line = f'["{name.strip()}"]{rest}'  # noqa: PLW2901 - the line, mended
        lines.append(line)
    return "\n".join(lines)


def _bare(name: str) -> bool:
    """Tell a name that TOML takes without quotes; dots part it into a table of an alternative."""
    return all(part.strip() and part.strip().replace("-", "_").isidentifier() for part in name.split("."))


def _says(table: dict[str, Any]) -> Iterator[str]:
    """Yield what an alternative states, as a person reads it."""
    for key, value in table.items():
        if isinstance(value, dict) and "value" not in value:
            inner = ", ".join(_says(value))
            yield f"{key}: {inner}" if inner else key
        else:
            yield f"{key.replace('_', ' ')} {_words(value)}"


def _words(value: object) -> str:
    if isinstance(value, list):
        return "/".join(map(_words, value))
    if isinstance(value, dict):
        return f"{value['value']} ± {value['u']}" if "u" in value else str(value["value"])
    return f"{value:g}" if isinstance(value, float) else str(value).replace("_", " ")
