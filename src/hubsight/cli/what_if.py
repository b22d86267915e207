"""``hubsight lengths --what-if``: several wheels from one hub that is measured already."""

from __future__ import annotations

import sys
from pathlib import Path

from rich.console import Console

from hubsight.cli.common import ExitCode, bad
from hubsight.job import Job, load_job
from hubsight.job.file.load import photo_sets
from hubsight.job.file.measured_file import check_belongs, read_measured
from hubsight.job.measure import measure_job
from hubsight.job.what_if import what_if
from hubsight.model.result import JobResult
from hubsight.record import read_record
from hubsight.record.current import changed_since
from hubsight.record.store import place_of
from hubsight.show.what_if_screen import print_what_if


def compare(path: Path, alternatives: Path, measured: Path | None, *, json: bool) -> ExitCode:
    """Print which spokes the wheels in a file of alternatives take, and how they compare.

    Raises
    ------
    JobFileError
        If the job or the alternatives cannot be read, or if the hub was never measured.
    """
    job = load_job(path, need_photos=False)
    found = what_if(path, job, _known(path, job, measured), alternatives)
    if json:
        sys.stdout.write(found.model_dump_json(indent=1) + "\n")
    else:
        print_what_if(Console(), found)
    stopped = any(wheel.verdict == "stop" for wheel in found.wheels)
    return ExitCode.PARTLY if stopped else ExitCode.MEASURED


def _known(path: Path, job: Job, measured: Path | None) -> JobResult:
    """Return what is known of the hub without measuring: from a file, the record, or readings by hand."""
    if measured is not None:
        return read_measured(measured, job)
    file = place_of(path).current
    if file.is_file():
        record = read_record(path)
        check_belongs(record.measurement, job, str(file))
        changed = changed_since(record, job)
        if changed:
            what = f"{', '.join(changed)} changed since the hub was measured"
            raise bad(str(job.file), what, f"Measure it again: hubsight measure {path}")
        return record.measurement
    if any(photo_sets(job)):
        remedy = f"Measure it first: hubsight measure {path}"
        raise bad(str(path), "this hub is not measured yet", remedy)
    return measure_job(job)
