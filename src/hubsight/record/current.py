"""Whether a record's figures still are those of its job: what the hub was measured by may have changed."""

from __future__ import annotations

from fnmatch import fnmatchcase

from hubsight.job import Job
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


def _measured_by(statements: tuple[Statement, ...]) -> dict[str, Statement]:
    return {one.field: one for one in statements if any(fnmatchcase(one.field, p) for p in MEASURED_BY)}
