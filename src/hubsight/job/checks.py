"""Every caliper reading of a job beside the photos' figure of the same name."""

from __future__ import annotations

from collections.abc import Sequence

from hubsight.job.by_hand import worked_out
from hubsight.job.double_check import double_check
from hubsight.job.file.load import Job, JobSide
from hubsight.job.slips import Surroundings
from hubsight.model.figure import Figure
from hubsight.model.result import Check, MeasuredSide
from hubsight.model.stated import Reading, SideName


def caliper_checks(job: Job, sides: Sequence[MeasuredSide]) -> dict[SideName, tuple[Check, ...]]:
    """Compare the caliper readings of all sides, once both are known: readings get exchanged between them."""
    stated = {side.stated.name: side for side in job.sides}
    seen = {side.name: figures_seen(side) for side in sides}
    checks = {}
    for name, own in stated.items():
        other = next((side for key, side in stated.items() if key != name), None)
        readings = caliper_readings(own)
        around = Surroundings(
            figures=seen[name],
            readings=readings,
            other_figures={} if other is None else seen[other.stated.name],
            other_readings={} if other is None else other.stated.caliper,
            gauge_length=own.stated.gauges[0].length.value if own.stated.gauges else None,
            over_locknut=own.wheel.over_locknut.value if own.wheel.over_locknut else None,
        )
        checks[name] = double_check(name, readings, around)
    return checks


def caliper_readings(side: JobSide) -> dict[str, Reading]:
    """Return a side's readings by the names of the figures that they compare with."""
    width = side.wheel.over_locknut
    return {
        **worked_out(side),
        **side.stated.caliper,
        **({} if width is None else {"over_locknut": width}),
    }


def figures_seen(side: MeasuredSide) -> dict[str, Figure]:
    """Return what the photos say of a side."""
    return {} if side.measurement is None else {str(k): f for k, f in side.measurement.figures.items()}
