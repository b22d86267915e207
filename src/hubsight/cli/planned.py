"""What the commands about the wheel share: a job, its measurement, and its plan."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from hubsight.cli.common import bad
from hubsight.job import JOB_FILE_NAME, Job, JobFileError, load_job
from hubsight.job.file.load import photo_sets
from hubsight.job.file.measured_file import check_belongs, read_measured
from hubsight.job.measure import measure_job
from hubsight.job.plan import Planned, plan_job, require_rim
from hubsight.job.what_if import doubting_holes
from hubsight.model.result import JobResult
from hubsight.record import Record, read_record
from hubsight.record.current import changed_since
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
    """Return the newest record of a job's hub; None where there is none that can be read."""
    file = job.hub or job.file
    if file is None or not place_of(file).current.is_file():
        return None
    try:
        return read_record(file)
    except JobFileError:  # writing the next record says what is wrong with it
        return None


def result_of(job: Job, file: Path | None = None, before: Record | None = None) -> JobResult:
    """Return a job's result: from a file, else by measuring what changed since its record."""
    if file is not None:
        return plan_job(job, read_measured(file, job)).result
    if job.hub is not None:
        own = load_job(job.hub, need_photos=False)
        known = known_hub(job).model_copy(update={"job": job.name})
        return doubting_holes(plan_job(job, known), job, own).result
    return measure_job(job, before=None if before is None else before.measurement)


def known_hub(job: Job) -> JobResult:
    """Return what is known of a job's hub without measuring: from its record, or its readings by hand.

    Raises
    ------
    JobFileError
        If the hub was never measured, or if its record is of other photos or statements.
    """
    file = job.hub or job.file
    assert file is not None, "bare photos are measured"
    again = f"hubsight measure {file.parent if file.name == JOB_FILE_NAME else file}"
    if place_of(file).current.is_file():
        record = read_record(file)
        check_belongs(record.measurement, job, str(place_of(file).current))
        changed = changed_since(record, job)
        if changed:
            what = f"{', '.join(changed)} changed since the hub was measured"
            raise bad(str(file), what, f"Measure it again: {again}")
        return record.measurement
    if any(photo_sets(job)):
        raise bad(str(file.parent), "this hub is not measured yet", f"Measure it first: {again}")
    return measure_job(job)


def planned_from_record(path: Path) -> tuple[Job, Planned]:
    """Return a job and its plan; only what changed since its newest record is measured again.

    Raises
    ------
    JobFileError
        If the job cannot be read, or if photos that its record knows are gone, so that it cannot be measured.
    """
    job = load_job(path, need_photos=False)
    require_rim(job)
    before = recorded(job) if job.hub is None else None
    if before is not None and not any(photo_sets(job)):
        check_belongs(before.measurement, job, str(place_of(path).current))
    return job, plan_job(job, result_of(job, before=before))
