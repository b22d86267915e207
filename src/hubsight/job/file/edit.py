"""Changing a job file field by field, its explanations kept, and never into one that cannot be read."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import tomlkit
from pydantic import ValidationError
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Table

from hubsight.job.file.model import JobFile
from hubsight.job.file.problems import JobFileError, Problem, one_problem, validation_problems
from hubsight.job.file.starter import STARTER_TEXT, write_starter
from hubsight.job.file.text import JOB_FILE_NAME, read_job_text
from hubsight.model.files import write_atomically
from hubsight.model.stated import SideName

Value = float | int | str | list[float] | list[str] | None
"""What a field may be set to; None is "not stated"."""

_BETWEEN = re.compile(r"(?:[\s;]|,(?=\s))+")
"""What parts two numbers: spaces, semicolons, a comma before a space."""
_MILLIMETRES = re.compile(r"(?<=\d)\s*mm(?![^\s;,])", re.IGNORECASE)
"""The unit after a number, which may be left out."""


def new_job(folder: Path, gauge_length: list[float] | None = None) -> Path:
    """Make a job's folder without sides: each gets its table with its first photo, see `with_side`.

    Parameters
    ----------
    folder
        Made if it is not there.
    gauge_length
        Readings, mm: the one thing that no measurement goes without. A job that is begun without them states
        no gauge yet; `set_fields` adds it.

    Raises
    ------
    JobFileError
        If there is a job already, the readings are a slip, or the folder cannot be written.
    """
    document = tomlkit.parse(STARTER_TEXT)
    if gauge_length is None:
        document["gauges"] = tomlkit.table()
        document["gauges"].comment("a table for each gauge in the photos")
    else:
        document["gauges"]["a"]["length"] = gauge_length
    document["sides"] = _no_sides()
    text = tomlkit.dumps(document)
    refuse_if_worse(text, "gauges.a.length")
    return write_starter(folder, text)


def new_wheel(folder: Path, hub: str) -> Path:
    """Make a job's folder for a wheel on the hub of another job, named from this folder; return the file.

    Raises
    ------
    JobFileError
        If there is a job already, or the folder cannot be written.
    """
    document = tomlkit.document()
    document["schema_version"] = 1
    document["hub"] = {"job": hub}
    return write_starter(folder, tomlkit.dumps(document))


def set_fields(folder: Path, values: dict[str, Value]) -> None:
    """Set fields of a job file.

    Parameters
    ----------
    folder
        Of the job.
    values
        By dotted name, as ``gauges.a.length``; their tables are added if they are not there.

    Raises
    ------
    JobFileError
        With what is wrong with a new value; the file is then as it was.
    """
    file = folder / JOB_FILE_NAME
    document = _document(file)
    for field, value in values.items():
        *tables, name = field.split(".")
        table: Any = document
        for part in tables:
            if part not in table:
                table[part] = tomlkit.table()
            table = table[part]
        table[name] = [] if value is None else value
    text = tomlkit.dumps(document)
    refuse_if_worse(text, *(field for field, value in values.items() if value is not None))
    _write(file, text)


def with_side(folder: Path, side: SideName) -> None:
    """Add a side's table to a job file, with all its explanations, if it is not there."""
    file = folder / JOB_FILE_NAME
    document = _document(file)
    sides: Any = document.get("sides")
    if sides is not None and side in sides:
        return
    if sides is None:
        document["sides"] = sides = _no_sides()
    starter: Any = tomlkit.parse(STARTER_TEXT)
    table: Table = starter["sides"][side]
    sides[side] = table
    _write(file, tomlkit.dumps(document))


def without_side(folder: Path, side: SideName) -> None:
    """Take a side out of a job file: without photos the job could not be read."""
    file = folder / JOB_FILE_NAME
    document = _document(file)
    sides: Any = document.get("sides")
    if sides is not None and side in sides:
        del sides[side]
        _write(file, tomlkit.dumps(document))


def without_gauge(folder: Path, gauge: str) -> None:
    """Take a gauge out of a job file, and out of the sides that name it."""
    file = folder / JOB_FILE_NAME
    document = _document(file)
    gauges: Any = document.get("gauges")
    if gauges is None or gauge not in gauges:
        return
    del gauges[gauge]
    sides: Any = document.get("sides") or {}
    for side in sides.values():
        named = side.get("gauges")
        if named == gauge or (isinstance(named, list) and gauge in named):
            side["gauges"] = [] if isinstance(named, str) else [n for n in named if n != gauge]
    _write(file, tomlkit.dumps(document))


def typed_readings(text: str) -> list[float]:
    """Read what a person types: one or several numbers, with a decimal point or comma, with "mm" or without.

    Several are parted by spaces or semicolons; a comma before a space, or between numbers with points, parts
    them too.

    Raises
    ------
    JobFileError
        If something is no number.
    """
    values = []
    for word in _words(_MILLIMETRES.sub(" ", text)):
        try:
            value = float(word.replace(",", "."))
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            remedy = "Type a number such as 119.52, several with a space between them"
            raise one_problem(JOB_FILE_NAME, f'"{word[:40]}" is not a number', remedy)
        values.append(value)
    return values


def _words(text: str) -> Iterator[str]:
    """Yield what stands for one number each."""
    for word in filter(None, (part.strip(",") for part in _BETWEEN.split(text.strip()))):
        parts = word.split(",")
        yield from parts if all("." in part for part in parts) else [word]


def _no_sides() -> Table:
    sides = tomlkit.table()
    sides.comment("a table for each side that has photos")
    return sides


def _document(file: Path) -> tomlkit.TOMLDocument:
    try:
        return tomlkit.parse(read_job_text(file))
    except TOMLKitError as error:
        what = f"this is not valid TOML ({error})"
        raise one_problem(file.name, what, "Mend it in a text editor; it was not changed") from error


def _problems(text: str) -> list[Problem]:
    try:
        JobFile.model_validate(tomllib.loads(text))
    except ValidationError as error:
        return validation_problems(error, text, JOB_FILE_NAME, JobFile)
    return []


def refuse_if_worse(text: str, *fields: str) -> None:
    """Refuse a text in which one of the fields, or their tables, is wrong."""
    own = [
        p
        for p in _problems(text)
        if any(p.field == f or f.startswith(f"{p.field}.") for f in fields if p.field)
    ]
    if own:
        raise JobFileError(own)


def _write(file: Path, text: str) -> None:
    try:
        write_atomically(file, text.encode())
    except OSError as error:
        what = f"this cannot be written ({error.strerror})"
        raise one_problem(file.name, what, "Check the folder's permissions") from error
