"""What a job file states, as it is typed; nothing of a file that cannot be read."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from hubsight.job import JOB_FILE_NAME, JobFileError
from hubsight.job.file.text import read_job_text


def hub_of(folder: Path) -> str:
    """Return the job that a job names as that of its hub; empty if the hub is its own."""
    return read_stated(folder, ("hub.job",))["hub.job"]


def read_stated(folder: Path, names: Sequence[str]) -> dict[str, str]:
    """Return what a job file states in some fields, as it is typed; empty where it states nothing."""
    stated = stated_tables(folder)
    return {name: as_typed(look_up(stated, name)) for name in names}


def stated_tables(folder: Path) -> dict[str, Any]:
    """Return the tables of a job file; none of one that cannot be read."""
    try:
        return tomllib.loads(read_job_text(folder / JOB_FILE_NAME))
    except (JobFileError, tomllib.TOMLDecodeError):
        return {}


def look_up(stated: dict[str, Any], name: str) -> Any:
    """Return what a dotted field holds; None where there is none."""
    value: Any = stated
    for part in name.split("."):
        value = value.get(part) if isinstance(value, dict) else None
    return value


def as_typed(value: Any) -> str:
    """Return a value as somebody types it."""
    if isinstance(value, dict):
        value = value.get("value")
    if isinstance(value, list):
        return "  ".join(as_typed(item) for item in value)
    return (
        ""
        if value is None or isinstance(value, bool)
        else f"{value:g}"
        if isinstance(value, float)
        else str(value)
    )
