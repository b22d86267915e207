"""``hubsight lengths --what-if``: several wheels from one hub that is measured already."""

from __future__ import annotations

import sys
from pathlib import Path

from rich.console import Console

from hubsight.cli.common import ExitCode
from hubsight.job import load_job
from hubsight.job.file.alternatives import Alternatives
from hubsight.job.file.measured_file import read_measured
from hubsight.job.what_if import what_if
from hubsight.record.planned import known_hub
from hubsight.show.what_if_screen import print_what_if


def compare(path: Path, alternatives: Path, measured: Path | None, *, json: bool) -> ExitCode:
    """Print which spokes the wheels in a file of alternatives take, and how they compare.

    Raises
    ------
    JobFileError
        If the job or the alternatives cannot be read, or if the hub was never measured.
    """
    job = load_job(path, need_photos=False)
    known = known_hub(job) if measured is None else read_measured(measured, job)
    found = what_if(path, job, known, Alternatives.of_file(alternatives))
    if json:
        sys.stdout.write(found.model_dump_json(indent=1) + "\n")
    else:
        print_what_if(Console(), found)
    stopped = any(wheel.verdict == "stop" for wheel in found.wheels)
    return ExitCode.PARTLY if stopped else ExitCode.MEASURED
