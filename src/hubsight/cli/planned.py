"""What the commands about the wheel share: a job, its measurement, and its plan."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from hubsight.cli.common import announce
from hubsight.job import Job, load_job
from hubsight.job.document import JobMeasurement
from hubsight.job.file.measured_file import check_belongs, read_measured
from hubsight.job.measure import measure_job
from hubsight.job.plan import Planned, plan_job
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


def measured_of(job: Job, file: Path | None) -> JobMeasurement | None:
    """Return a job's measurement: from a file, by measuring, or none where there are no photos."""
    if file is not None:
        return read_measured(file, job)
    if not any(side.stated.photos for side in job.sides):
        return None
    announce(job)
    return measure_job(job)


def planned_from_record(path: Path) -> tuple[Job, Planned]:
    """Return a job and its plan, by its newest record if there is one, so that nothing is measured again."""
    job = load_job(path, need_photos=False)
    file = place_of(path).current
    if not file.is_file():
        return job, plan_job(job, measured_of(job, None))
    known = read_record(path).measurement
    check_belongs(known, job, str(file))
    return job, plan_job(job, known)
