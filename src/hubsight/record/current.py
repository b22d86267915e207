"""Whether a record's figures still are those of its job: what the hub was measured by may have changed."""

from __future__ import annotations

from collections.abc import Iterator
from fnmatch import fnmatchcase
from pathlib import Path

from hubsight.job import Job, JobFileError, load_job
from hubsight.job.file.load import photo_sets
from hubsight.model.files import sha256_of
from hubsight.record.history import statement_reasons
from hubsight.record.make import statements_of
from hubsight.record.model import Record, Statement

MEASURED_BY = (
    "target.*",
    "gauges.*",
    "camera.*",
    "lying.*",
    "hub.over_locknut",
    "sides.*.photos",
    "sides.*.gauges",
    "sides.*.flange_height",
    "sides.*.gauge_height_at_*",
    "sides.*.block_thickness",
    "sides.*.repeats*",
)
"""Fields of the job file that go into the figures that the photos show. The rest is worked out anew."""


def changed_since(record: Record, job: Job) -> tuple[str, ...]:
    """Return the fields that the figures rest on and that were changed since a job was recorded, sorted."""
    before = _measured_by(record.statements)
    now = _measured_by(() if job.table is None else tuple(statements_of(job.table)))
    return tuple(sorted(name for name in {*before, *now} if before.get(name) != now.get(name)))


def out_of_date(record: Record, folder: Path) -> tuple[str, ...]:
    """Return what is different in a job's folder from what its record was made of, a sentence each.

    Parameters
    ----------
    record
        As read.
    folder
        Of the job; nothing is said where it holds no job file, as where a record was sent alone.
    """
    file = folder / record.job_file
    if not file.is_file():
        return ()
    try:
        job = load_job(file, need_photos=False)
    except JobFileError as error:
        return (f"{file.name} cannot be read as it is now ({error.problems[0].what})",)
    stated = () if job.table is None else tuple(statements_of(job.table))
    label = job.table is not None and job.table.label != record.label
    said = (f"in {file.name} {reason}" for reason in statement_reasons(record.statements, stated))
    return (
        *said,
        *([f"in {file.name} the words of [label] are others"] if label else ()),
        *_photos(record, job),
    )


def _photos(record: Record, job: Job) -> Iterator[str]:
    """Yield the photos that were added, taken out or exchanged."""
    before = {file.path: file.sha256 for file in record.inputs if file.kind == "photo"}
    now = {photo.relative_to(job.folder).as_posix(): photo for photos in photo_sets(job) for photo in photos}
    yield from (f"{path} was added" for path in now if path not in before)
    yield from (f"{path} was taken out" for path in before if path not in now)
    yield from (
        f"{path} is another file" for path in before if path in now and sha256_of(now[path]) != before[path]
    )


def _measured_by(statements: tuple[Statement, ...]) -> dict[str, Statement]:
    return {one.field: one for one in statements if any(fnmatchcase(one.field, p) for p in MEASURED_BY)}
