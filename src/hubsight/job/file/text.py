"""A job file as text, and as the tables that TOML makes of it."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from hubsight.job.file.lines import field_lines, line_of
from hubsight.job.file.model import SCHEMA_VERSION
from hubsight.job.file.problems import JobFileError, Problem, one_problem, syntax_problem
from hubsight.model.files import LARGEST_TEXT

JOB_FILE_NAME = "job.toml"
"""In a job's folder."""


def read_job_text(file: Path) -> str:
    """Return a job file's text; raises `JobFileError` if it cannot be read."""
    try:
        if file.stat().st_size > LARGEST_TEXT:
            raise one_problem(file.name, "this is too large for a job file", "Name the job file")
        return file.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        what = "this is not a text file in UTF-8"
        raise one_problem(file.name, what, "Save it as UTF-8 in a text editor") from error
    except OSError as error:
        raise one_problem(
            file.name, f"this cannot be read ({error.strerror})", "Check its permissions"
        ) from error


def parse_job(text: str, file: str) -> dict[str, Any]:
    """Return the tables of a job file of this version; raises `JobFileError`."""
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise JobFileError([syntax_problem(error, text, file)]) from error
    version = raw.get("schema_version", SCHEMA_VERSION)
    if version != SCHEMA_VERSION:
        line = line_of(field_lines(text), ("schema_version",))
        what = f"this version of hubsight reads schema_version {SCHEMA_VERSION}, not {version!r}"
        remedy = "Use the version that wrote the file"
        raise JobFileError([Problem(file, line, "schema_version", what, remedy)])
    return raw
