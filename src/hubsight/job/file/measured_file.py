"""Reading back what was measured: the JSON of a measurement, or a record."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from hubsight.job.file.load import Job
from hubsight.job.file.problems import one_problem
from hubsight.model.files import LARGEST_RESULT
from hubsight.model.older import from_version_1
from hubsight.model.result import JobResult


def read_measured(file: Path, job: Job) -> JobResult:
    """Read a job's measurement.

    Parameters
    ----------
    file
        What ``measure --json`` printed, or a record.
    job
        To which it has to belong: its sides, and the photos that they name.

    Raises
    ------
    JobFileError
        If it cannot be read, is no measurement, or is one of other photos.
    """
    try:
        content = file.read_bytes() if file.stat().st_size <= LARGEST_RESULT else None
    except OSError as error:
        what = f"this cannot be read ({error.strerror})"
        raise one_problem(str(file), what, "Check the name, or measure the job") from error
    if content is None:
        raise one_problem(str(file), "this is too large for a measurement", "Name the right file")
    try:
        raw: Any = json.loads(content)
        measured = JobResult.model_validate_json(json.dumps(_result(raw)))
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        remedy = "Name what `hubsight measure --json` printed, or a record"
        raise one_problem(str(file), "this is no measurement of this version", remedy) from error
    check_belongs(measured, job, str(file))
    return measured


def check_belongs(measured: JobResult, job: Job, file: str) -> None:
    """Raise JobFileError if a measurement, read from ``file``, is one of other photos than the job names."""
    stated = {side.stated.name: {photo.name for photo in side.stated.photos} for side in job.sides}
    for side in measured.sides:
        if side.photos and {Path(photo).name for photo in side.photos} != stated.get(side.name):
            what = f"this is a measurement of other photos than the job's {side.name.replace('_', '-')} side"
            raise one_problem(file, what, "Measure the job again")


def _result(raw: Any) -> Any:
    """Return the result in a document, all of it or that of a record, in the present shape."""
    whole = raw if isinstance(raw, dict) else {}
    measured = whole.get("measurement", raw)
    if isinstance(measured, dict) and measured.get("schema_version") == 1:
        return from_version_1(measured, whole.get("lengths"))
    return measured
