"""A job's plan by what the page knows of it: nothing is measured for it."""

from __future__ import annotations

from pathlib import Path

from hubsight.job import Job, load_job
from hubsight.job.file.load import photo_sets
from hubsight.job.file.problems import one_problem
from hubsight.job.measure import measure_job
from hubsight.job.plan import Planned, plan_job, require_rim
from hubsight.job.what_if import doubting_holes
from hubsight.model.result import JobResult
from hubsight.page.kept import remembered


def hub_here(job: Job) -> JobResult:
    """Return what the page knows of the hub of a job, which may be that of another one.

    Raises
    ------
    JobFileError
        If it was never measured, or was changed since.
    """
    if not any(photo_sets(job)):
        return measure_job(job)
    last = remembered(job.folder)
    name = job.folder.resolve().name
    if last.result is None:
        raise one_problem(name, f'the hub of the job "{name}" is not measured yet', "Measure it there first")
    if job.hub is not None and not last.of_now:
        what = f'the job "{name}" was changed since its hub was measured'
        raise one_problem(name, what, "Measure it there again")
    return last.result.model_copy(update={"job": job.name})


def planned_here(folder: Path, measured: JobResult | None = None) -> tuple[Job, Planned]:
    """Return a job and its plan.

    Parameters
    ----------
    folder
        Of the job.
    measured
        What its photos show; looked up if not given.

    Raises
    ------
    JobFileError
        If the job cannot be read, states no rim, or its hub was not measured.
    """
    job = load_job(folder, need_photos=False)
    require_rim(job)
    return job, plan_of(job, hub_here(job) if measured is None else measured)


def plan_of(job: Job, measured: JobResult) -> Planned:
    """Return a job's plan; a rim drilled in another way than that of its hub's job is doubted."""
    planned = plan_job(job, measured)
    if job.hub is None:
        return planned
    return doubting_holes(planned, job, load_job(job.hub, need_photos=False))
