"""Reading back what was measured: the JSON of a measurement, or a record."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from hubsight.job.document import JobMeasurement
from hubsight.job.file.load import Job
from hubsight.job.file.problems import one_problem

LARGEST_MEASUREMENT = 50_000_000
"""Bytes; a measurement of eight photos has a quarter of a million."""


def read_measured(file: Path, job: Job) -> JobMeasurement:
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
        content = file.read_bytes() if file.stat().st_size <= LARGEST_MEASUREMENT else None
    except OSError as error:
        what = f"this cannot be read ({error.strerror})"
        raise one_problem(str(file), what, "Check the name, or measure the job") from error
    if content is None:
        raise one_problem(str(file), "this is too large for a measurement", "Name the right file")
    try:
        raw: Any = json.loads(content)
        measured = JobMeasurement.model_validate(_measurement(raw))
    except (ValueError, ValidationError, RecursionError) as error:
        remedy = "Name what `hubsight measure --json` printed, or a record"
        raise one_problem(str(file), "this is no measurement of this version", remedy) from error
    check_belongs(measured, job, str(file))
    return measured


def check_belongs(measured: JobMeasurement, job: Job, file: str) -> None:
    """Raise JobFileError if a measurement, read from ``file``, is one of other photos than the job names."""
    stated = {side.stated.name: {photo.name for photo in side.stated.photos} for side in job.sides}
    for side in measured.sides:
        if {Path(photo).name for photo in side.photos} != stated.get(side.name):
            what = f"this is a measurement of other photos than the job's {side.name.replace('_', '-')} side"
            raise one_problem(file, what, "Measure the job again")


def _measurement(raw: Any) -> Any:
    """Return the measurement in a document: all of it, or that of a record."""
    return raw["measurement"] if isinstance(raw, dict) and "measurement" in raw else raw
