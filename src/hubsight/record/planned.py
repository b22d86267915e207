"""A job with its measurement and its plan, by what is recorded; only what changed is measured again."""

from __future__ import annotations

from pathlib import Path

from hubsight.job import JOB_FILE_NAME, Job, JobFileError, load_job
from hubsight.job.file.hub_of import named_hub
from hubsight.job.file.load import photo_sets
from hubsight.job.file.measured_file import check_belongs, read_measured
from hubsight.job.file.problems import one_problem
from hubsight.job.file.text import parse_job, read_job_text
from hubsight.job.measure import measure_job
from hubsight.job.plan import Planned, plan_job, require_rim
from hubsight.job.what_if import doubting_holes
from hubsight.model.result import JobResult
from hubsight.record.current import changed_since
from hubsight.record.make import statements_of
from hubsight.record.model import Record
from hubsight.record.store import place_of, read_record


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
            raise one_problem(str(file), what, f"Measure it again: {again}")
        return record.measurement
    if any(photo_sets(job)):
        raise one_problem(str(file.parent), "this hub is not measured yet", f"Measure it first: {again}")
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


def record_of_wheel(job: Job) -> Record:
    """Return the record of a wheel whose hub was measured in another job: the hub's, with this wheel's plan.

    Raises
    ------
    JobFileError
        If the hub has no record, or was changed since.
    """
    assert job.hub is not None, "other jobs have a record of their own"
    assert job.table is not None
    assert job.file is not None
    return read_record(job.hub).model_copy(
        update={
            "job": job.name,
            "job_file": job.file.name,
            "label": job.table.label,
            "statements": tuple(statements_of(job.table)),
            "measurement": result_of(job),
        }
    )


def recorded_with_photos(path: Path) -> tuple[Record, Path]:
    """Return the record of a job or of a wheel whose hub is another job's, and the folder of its photos.

    Raises
    ------
    JobFileError
        If there is no record, or a wheel's hub was changed since it was recorded.
    """
    file = path / JOB_FILE_NAME if path.is_dir() else path
    if file.is_file() and named_hub(parse_job(read_job_text(file), file.name)) is not None:
        job = load_job(file, need_photos=False)
        return record_of_wheel(job), job.folder
    return read_record(path), path if path.is_dir() else path.parent
