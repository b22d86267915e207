"""What the commands about the wheel share: a job, its measurement, and its plan."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from hubsight.cli.common import announce
from hubsight.job import Job, load_job
from hubsight.job.file.measured_file import check_belongs, read_measured
from hubsight.job.measure import measure_job
from hubsight.job.plan import Planned, plan_job, require_rim
from hubsight.model.result import JobResult
from hubsight.record import read_record
from hubsight.record.store import place_of

MeasuredFile = Annotated[
    Path | None,
    typer.Option(
        help="Take the figures from what `measure --json` wrote, or a record, instead of measuring.",
        show_default=False,
        metavar="FILE",
    ),
]


def result_of(job: Job, file: Path | None) -> JobResult:
    """Return a job's result: by what was measured before, from a file, or by measuring."""
    if file is not None:
        return plan_job(job, read_measured(file, job)).result
    announce(job)
    return measure_job(job)


def planned_from_record(path: Path) -> tuple[Job, Planned]:
    """Return a job and its plan, by its newest record if there is one, so that nothing is measured again."""
    job = load_job(path, need_photos=False)
    require_rim(job)
    file = place_of(path).current
    if not file.is_file():
        return job, plan_job(job, result_of(job, None))
    known = read_record(path).measurement
    check_belongs(known, job, str(file))
    return job, plan_job(job, known)
