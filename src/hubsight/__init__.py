"""Measure straight-pull bicycle hubs from photographs, and compute the spoke lengths.

Read a job and measure it, as the commands do::

    from pathlib import Path

    from hubsight import load_job, measure_job

    measured = measure_job(load_job(Path("sample_images")))
    for side in measured.sides:
        print(side.name, side.measurement.figures["spoke_offset"].value)

Measure it, keep the record in its folder, and make the report::

    from hubsight import measure_and_record, read_record, render_report

    record = measure_and_record(load_job(Path("my-hub")))
    Path("report.html").write_text(render_report(record, Path("my-hub")), encoding="utf-8")

Plan the wheel, with photos or from readings by hand alone::

    from hubsight import plan_job

    job = load_job(Path("my-hub"), need_photos=False)
    for line in measure_job(job).order:
        print(line.side, line.count, line.length)

What fails on account of the photos comes back as a :class:`Refusal`, with its reason and its remedy.
"""

from hubsight.job import Job, JobFileError, load_job
from hubsight.job.measure import measure_job
from hubsight.job.plan import Planned, plan_job
from hubsight.measure.side import measure_side
from hubsight.model.figure import BudgetItem, Figure
from hubsight.model.refusal import Refusal
from hubsight.model.result import JobResult
from hubsight.model.side import SideMeasurement
from hubsight.record import (
    Record,
    make_record,
    measure_and_record,
    read_history,
    read_inputs,
    read_record,
    write_record,
)
from hubsight.record.export import export_job
from hubsight.record.history import RecordChange, record_changes
from hubsight.record.verify import Verification, verify_job
from hubsight.report import render_report
from hubsight.show.overlay import write_overlays

__all__ = [
    "BudgetItem",
    "Figure",
    "Job",
    "JobFileError",
    "JobResult",
    "Planned",
    "Record",
    "RecordChange",
    "Refusal",
    "SideMeasurement",
    "Verification",
    "export_job",
    "load_job",
    "make_record",
    "measure_and_record",
    "measure_job",
    "measure_side",
    "plan_job",
    "read_history",
    "read_inputs",
    "read_record",
    "record_changes",
    "render_report",
    "verify_job",
    "write_overlays",
    "write_record",
]
