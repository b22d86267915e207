"""Reading records of every version: older ones are brought up to date, newer ones refused.

Each step takes the plain JSON of one version to that of the next; it may rename, move and add, and never
invents a figure. ``tests/record/data`` holds a file of every version.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from pydantic import ValidationError

from hubsight.job.file.problems import JobFileError, Problem, one_problem
from hubsight.job.verdict import with_verdict
from hubsight.model.older import from_version_1
from hubsight.record.model import SCHEMA_VERSION, Record

Step = Callable[[dict[str, Any]], dict[str, Any]]


def _one_result(raw: dict[str, Any]) -> dict[str, Any]:
    """Version 1 kept a measurement and a document of lengths; version 2 has one result."""
    rest = {key: value for key, value in raw.items() if key != "lengths"}
    return {
        **rest,
        "schema_version": 2,
        "measurement": from_version_1(raw["measurement"], raw.get("lengths")),
    }


FIRST_WITH_VERDICT = 2
"""Version from which records hold a verdict; on older ones it is passed anew."""

STEPS: dict[int, Step] = {1: _one_result}
"""From the version that is the key to the next one."""


class NewerRecordError(JobFileError):
    """A record that a newer version of the program wrote."""


def parse_record(data: bytes, name: str) -> Record:
    """Read a record of this or an older version.

    Parameters
    ----------
    data
        The file's content.
    name
        The file, for sentences.

    Raises
    ------
    NewerRecordError
        If a newer version wrote it.
    JobFileError
        If it is damaged.
    """
    try:
        raw = json.loads(data)
    except (ValueError, RecursionError) as error:
        raise _damaged(name, "this is no complete JSON document") from error
    found = raw.get("schema_version") if isinstance(raw, dict) else None
    if not isinstance(found, int) or isinstance(found, bool) or found < 1:
        raise _damaged(name, "this is not a record of a measurement")
    if found > SCHEMA_VERSION:
        what = (
            f"a newer version of hubsight wrote this record (schema {found}, this one reads {SCHEMA_VERSION})"
        )
        raise NewerRecordError([Problem(name, None, "", what, "Update hubsight")])
    try:
        if found == SCHEMA_VERSION:
            return Record.model_validate_json(data)
        older = Record.model_validate_json(json.dumps(migrated(raw, found)))
        if found >= FIRST_WITH_VERDICT:
            return older
        return older.model_copy(update={"measurement": with_verdict(older.measurement)})
    except (ValidationError, KeyError, TypeError, ValueError, AttributeError) as error:
        raise _damaged(name, f"this record is not as it was written ({_first(error)})") from error


def migrated(raw: dict[str, Any], version: int) -> dict[str, Any]:
    """Return a record's plain JSON brought from ``version`` to the present one."""
    while version < SCHEMA_VERSION:
        raw = STEPS[version](raw)
        version += 1
    return raw


def _first(error: Exception) -> str:
    if isinstance(error, ValidationError):
        detail = error.errors(include_url=False, include_input=False)[0]
        place = ".".join(str(part) for part in detail["loc"])
        return f"{place}: {detail['msg']}"
    return str(error)


def _damaged(name: str, what: str) -> JobFileError:
    return one_problem(
        name, what, "Take the newest file from its folder of earlier records, or measure again"
    )
