"""A wheel whose hub was measured in another job: that job's tables of the hub, this one's of the wheel."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from hubsight.job.file.changes import SIDE_FIELDS, WHEEL_TABLES
from hubsight.job.file.lines import field_lines, line_of
from hubsight.job.file.problems import JobFileError, Problem
from hubsight.job.file.text import JOB_FILE_NAME, parse_job, read_job_text

Table = dict[str, Any]

OWN_TABLES = ("schema_version", *WHEEL_TABLES, "built", "label", "sides", "hub")
"""Tables that a job may have beside the hub of another one; of ``sides`` only `SIDE_FIELDS`."""


def with_hub(raw: Table, file: Path, *, need_photos: bool) -> tuple[Table, Path | None]:
    """Return a job's tables with those of the hub's job, and that job's file; None if the hub is its own.

    Parameters
    ----------
    raw
        As TOML gives it; ``job`` in its table ``hub`` names the other job, from this one's folder.
    file
        The job file.
    need_photos
        Whether photos are to be measured: a hub is measured in its own job only.

    Raises
    ------
    JobFileError
        If there is no such job, if the job states a hub of its own beside it, or if photos are needed.
    """
    name = named_hub(raw)
    if name is None:
        return raw, None
    if need_photos:
        remedy = f"Measure that job; what to order for this wheel says: hubsight lengths {file.parent}"
        raise _problem(file, "hub.job", f'the hub is measured in the job "{name}"', remedy)
    for field in _of_a_hub(raw):
        what = f'the hub is that of the job "{name}"'
        raise _problem(file, field, what, "Delete this, or state it in the hub's job")
    folder = file.parent / name
    hub_file = folder / JOB_FILE_NAME if folder.is_dir() else folder
    if not hub_file.is_file():
        remedy = "Name its folder, from this job's folder"
        raise _problem(file, "hub.job", f'there is no job "{name}"', remedy)
    known = parse_job(read_job_text(hub_file), hub_file.name)
    if named_hub(known) is not None:
        what = f'the job "{name}" takes its hub from another one'
        raise _problem(file, "hub.job", what, f"Name that one: {known['hub']['job']}")
    return _together(raw, known), hub_file


def named_hub(raw: Table) -> str | None:
    """Return the job that a job's tables name as that of their hub; None if the hub is their own."""
    table = raw.get("hub")
    name = table.get("job") if isinstance(table, dict) else None
    return name if isinstance(name, str) else None


def _together(raw: Table, known: Table) -> Table:
    """Return the hub of one job with the wheel of another."""
    tables = {name: table for name, table in known.items() if name not in (*WHEEL_TABLES, "built", "label")}
    tables["sides"] = {
        side: {key: value for key, value in table.items() if key not in SIDE_FIELDS}
        | raw.get("sides", {}).get(side, {})
        for side, table in known.get("sides", {}).items()
    }
    own = {name: table for name, table in raw.items() if name not in ("sides", "hub", "schema_version")}
    return tables | own


def _of_a_hub(raw: Table) -> list[str]:
    """Return the fields of a job that belong to a hub."""
    found = [name for name in raw if name not in OWN_TABLES]
    found += [f"hub.{name}" for name in raw["hub"] if name != "job"]
    sides = raw.get("sides", {})
    for side, table in sides.items() if isinstance(sides, dict) else ():
        found += [f"sides.{side}.{name}" for name in table if name not in SIDE_FIELDS]
    return found


def _problem(file: Path, field: str, what: str, remedy: str) -> JobFileError:
    lines, path = field_lines(read_job_text(file)), tuple(field.split("."))
    inner = min((at for where, at in lines.items() if where[: len(path)] == path), default=None)
    line = inner or line_of(lines, path)
    return JobFileError([Problem(file.name, line, field, what, remedy)])
