"""Measure straight-pull bicycle hubs from photographs, and compute the spoke lengths.

Read a job and measure it, as the commands do::

    from pathlib import Path

    from hubsight import load_job, measure_job

    measured = measure_job(load_job(Path("sample_images")))
    for side in measured.sides:
        print(side.name, side.measurement.figures["spoke_offset"].value)

What fails on account of the photos comes back as a :class:`Refusal`, with its reason and its remedy.
"""

from hubsight.figures import BudgetItem, Figure
from hubsight.job import Job, JobFileError, load_job
from hubsight.job.document import JobMeasurement
from hubsight.job.measure import measure_job
from hubsight.job.overlay import write_overlays
from hubsight.measure import measure_side
from hubsight.measurement import Refusal, SideMeasurement

__all__ = [
    "BudgetItem",
    "Figure",
    "Job",
    "JobFileError",
    "JobMeasurement",
    "Refusal",
    "SideMeasurement",
    "load_job",
    "measure_job",
    "measure_side",
    "write_overlays",
]
