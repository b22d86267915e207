"""What the commands about the wheel share: a job, its measurement, and its plan."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from hubsight.job import Job, JobFileError, load_job
from hubsight.job.file.load import photo_sets
from hubsight.job.file.measured_file import check_belongs, read_measured
from hubsight.job.measure import measure_job
from hubsight.job.plan import Planned, plan_job, require_rim
from hubsight.model.result import JobResult
from hubsight.record import Record, read_record
from hubsight.record.store import place_of

MeasuredFile = Annotated[
    Path | None,
    typer.Option(
        help="Take the figures from what `measure --json` wrote, or a record, instead of measuring.",
        show_default=False,
        metavar="FILE",
    ),
]


def recorded(job: Job) -> Record | None:
    """Return a job's newest record; None where there is none that can be read."""
    if job.file is None or not place_of(job.file).current.is_file():
        return None
    try:
        return read_record(job.file)
    except JobFileError:  # writing the next record says what is wrong with it
        return None


def result_of(job: Job, file: Path | None = None, before: Record | None = None) -> JobResult:
    """Return a job's result: from a file, else by measuring what changed since its record."""
    if file is not None:
        return plan_job(job, read_measured(file, job)).result
    return measure_job(job, before=None if before is None else before.measurement)


def planned_from_record(path: Path) -> tuple[Job, Planned]:
    """Return a job and its plan; only what changed since its newest record is measured again.

    Raises
    ------
    JobFileError
        If the job cannot be read, or if photos that its record knows are gone, so that it cannot be measured.
    """
    job = load_job(path, need_photos=False)
    require_rim(job)
    before = recorded(job)
    if before is not None and not any(photo_sets(job)):
        check_belongs(before.measurement, job, str(place_of(path).current))
    return job, plan_job(job, result_of(job, before=before))
