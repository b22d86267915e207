"""Measuring a job: every side, then its spoke lengths, gathered in one document."""

from __future__ import annotations

import platform
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any, Protocol

import cv2
import numpy as np
import scipy

from hubsight.job.by_hand import worked_out
from hubsight.job.document import FlatReport, JobMeasurement, LyingReport, MeasuredSide, RepeatedSet, Software
from hubsight.job.double_check import Surroundings, double_check
from hubsight.job.file.load import Job, JobSide
from hubsight.job.file.problems import JobFileError, Problem
from hubsight.job.flat import with_flat_scale
from hubsight.job.lengths import centre_to_flange_seen, spoke_lengths
from hubsight.job.repeats import with_repeats
from hubsight.measure.hub_figures import SetFigures, StatedHub, apart, hub_figures
from hubsight.model.figure import Figure
from hubsight.model.hub import CENTRE, SIDE_WORDS, HubFigureName, HubFigures
from hubsight.model.refusal import Refusal
from hubsight.model.side import SideMeasurement
from hubsight.model.stated import SideName, StatedSide, StatedTarget, StatedWheel
from hubsight.target.print_scale import check_print


class MeasureSide(Protocol):
    """The signature of ``hubsight.measure.measure_side``."""

    def __call__(
        self,
        side: StatedSide,
        target: StatedTarget,
        wheel: StatedWheel,
        *,
        camera_profile: Any = None,
    ) -> SideMeasurement | Refusal:
        """Measure one side from its photos."""


def lying_report(job: Job, profile: Any) -> LyingReport | None:
    """Measure the job's photos of the hub lying on its flanges, if it has any."""
    if job.lying is None:
        return None
    from hubsight.measure.lying import measure_lying  # noqa: PLC0415 - needs all image processing

    photos = tuple(_relative(photo, job.folder) for photo in job.lying.photos)
    found = measure_lying(job.lying.photos, job.target, drive_end=job.lying.drive_end, camera_profile=profile)
    if isinstance(found, Refusal):
        return LyingReport(photos=photos, refusal=found)
    return LyingReport(photos=photos, measurement=found)


@dataclass(frozen=True)
class MeasureOthers:
    """What measures a job's photos of the ruler on the sheet, and of the lying hub."""

    flat: Callable[[Job, Any], tuple[Job, FlatReport | None, tuple[str, ...]]] = with_flat_scale
    lying: Callable[[Job, Any], LyingReport | None] = lying_report


MEASURE_OTHERS = MeasureOthers()


def measure_job(
    job: Job, *, measure: MeasureSide | None = None, others: MeasureOthers = MEASURE_OTHERS
) -> JobMeasurement:
    """Measure every side of a job.

    Parameters
    ----------
    job
        As read by :func:`hubsight.job.load_job`.
    measure
        What measures one side; ``hubsight.measure.measure_side`` if not given.
    others
        What measures the other photo sets; another one may keep what it saw.

    Returns
    -------
    JobMeasurement
        A side that could not be measured carries its refusal.

    Raises
    ------
    JobFileError
        If the job's camera profile cannot be read.
    """
    profile = _camera_profile(job)
    job, flat, said = others.flat(job, profile)
    measure = measure or _measure_side()
    sides = tuple(_measured(side, job, measure, profile) for side in job.sides if side.stated.photos)
    lying = others.lying(job, profile)
    hub = whole_hub(job, sides, lying)
    sides = tuple(with_agreed_centre(side, job, hub) for side in sides)
    return JobMeasurement(
        job=job.name,
        sides=with_caliper_checks(job, sides),
        warnings=(*print_warnings(job.target), *job.warnings, *said),
        kit=job.kit,
        flat=flat,
        lying=lying,
        hub=hub,
        software=software(),
    )


def not_measured(job: Job) -> JobMeasurement:
    """Return the measurement of a job without photos: no side, but versions and kit."""
    return JobMeasurement(
        job=job.name,
        sides=(),
        warnings=(*print_warnings(job.target), *job.warnings),
        kit=job.kit,
        software=software(),
    )


def _measure_side() -> MeasureSide:
    """Import late: reading and writing of jobs needs no image processing."""
    from hubsight.measure.side import measure_side  # noqa: PLC0415

    function: MeasureSide = measure_side
    return function


def _camera_profile(job: Job) -> Any:
    if job.camera_profile is None:
        return None
    from hubsight.camera import load_profile  # noqa: PLC0415

    profile = load_profile(job.camera_profile)
    if isinstance(profile, Refusal):
        raise JobFileError([Problem(str(job.camera_profile), None, "", profile.reason, profile.remedy)])
    return profile


def _measured(side: JobSide, job: Job, measure: MeasureSide, profile: Any) -> MeasuredSide:
    stated = side.stated
    photos = tuple(_relative(photo, job.folder) for photo in stated.photos)
    start = time.perf_counter()
    outcome = measure(stated, job.target, side.wheel, camera_profile=profile)
    repeated = tuple(
        _repeated(again, measure(again, job.target, side.wheel, camera_profile=profile), job.folder)
        for again in side.repeats
    )
    seconds = time.perf_counter() - start
    if isinstance(outcome, Refusal):
        return MeasuredSide(
            name=stated.name, photos=photos, refusal=outcome, repeated=repeated, seconds=seconds
        )
    outcome = with_repeats(outcome, [r.measurement for r in repeated if r.measurement is not None])
    measured = MeasuredSide(name=stated.name, photos=photos, repeated=repeated, seconds=seconds)
    return _with_lengths(measured, outcome, side)


def _with_lengths(measured: MeasuredSide, measurement: SideMeasurement, side: JobSide) -> MeasuredSide:
    lengths = spoke_lengths(measurement, side.stated, side.wheel, side.drilling)
    refused = isinstance(lengths, Refusal)
    return measured.model_copy(
        update={
            "measurement": measurement,
            "spoke_lengths": None if refused else lengths,
            "spoke_lengths_refusal": lengths if refused else None,
        }
    )


def with_agreed_centre(measured: MeasuredSide, job: Job, hub: HubFigures | None) -> MeasuredSide:
    """Give a side the centre to flange on which the job's photo sets agree, and the lengths that follow.

    A side whose own photos do not show it takes it from the photos of the lying hub.
    """
    agreed = None if hub is None else hub.figures.get(CENTRE[measured.name])
    if agreed is None or measured.measurement is None:
        return measured
    own = measured.measurement.figures.get("centre_to_flange")
    if own is not None and (agreed.warnings or agreed.u >= own.u or apart(agreed, own)):
        return measured
    figures = {**measured.measurement.figures, "centre_to_flange": agreed}
    side = next(side for side in job.sides if side.stated.name == measured.name)
    return _with_lengths(measured, measured.measurement.model_copy(update={"figures": figures}), side)


def whole_hub(job: Job, sides: Sequence[MeasuredSide], lying: LyingReport | None = None) -> HubFigures | None:
    """Return the figures of the whole hub, from the photo sets of its sides and of the lying hub."""
    sets = [_of_hub(side.name, side.measurement) for side in sides if side.measurement is not None]
    if lying is not None and lying.measurement is not None:
        sets.append(SetFigures("hub lying", lying.measurement.figures))
    centre = {
        side.stated.name: side.stated.centre_to_flange
        for side in job.sides
        if side.stated.centre_to_flange is not None
    }
    width = next((s.wheel.over_locknut for s in job.sides if s.wheel.over_locknut is not None), None)
    return hub_figures(sets, StatedHub(width, centre))


def _of_hub(name: SideName, side: SideMeasurement) -> SetFigures:
    """Return what one side's set says of the whole hub."""
    words: dict[HubFigureName, Figure | None] = {
        "over_locknut": side.figures.get("over_locknut"),
        CENTRE[name]: side.figures.get("centre_to_flange"),
    }
    return SetFigures(
        f"{SIDE_WORDS[name]} up", {key: figure for key, figure in words.items() if figure is not None}
    )


def _repeated(stated: StatedSide, outcome: SideMeasurement | Refusal, folder: Path) -> RepeatedSet:
    photos = tuple(_relative(photo, folder) for photo in stated.photos)
    if isinstance(outcome, Refusal):
        return RepeatedSet(photos=photos, refusal=outcome)
    return RepeatedSet(photos=photos, measurement=outcome)


def with_caliper_checks(job: Job, sides: Sequence[MeasuredSide]) -> tuple[MeasuredSide, ...]:
    """Compare the caliper readings, once both sides are known: readings get exchanged between sides."""
    stated = {side.stated.name: side for side in job.sides}
    seen = {side.name: _seen(stated[side.name], side) for side in sides}
    checked = []
    for side in sides:
        own = stated[side.name]
        others = [name for name in stated if name != side.name]
        gauges = own.stated.gauges
        readings = {**worked_out(own), **own.stated.caliper}
        if own.wheel.over_locknut is not None:
            readings["over_locknut"] = own.wheel.over_locknut
        surroundings = Surroundings(
            figures=seen[side.name],
            readings=readings,
            other_figures=seen.get(others[0], {}) if others else {},
            other_readings=stated[others[0]].stated.caliper if others else {},
            gauge_length=gauges[0].length.value if gauges else None,
            over_locknut=own.wheel.over_locknut.value if own.wheel.over_locknut else None,
        )
        checks = double_check(side.name, readings, surroundings)
        checked.append(side.model_copy(update={"caliper_checks": checks}))
    return tuple(checked)


def _seen(stated: JobSide, side: MeasuredSide) -> dict[str, Figure]:
    """Return what the photos say, centre to flange among it."""
    if side.measurement is None:
        return {}
    figures = {str(name): figure for name, figure in side.measurement.figures.items()}
    centre = centre_to_flange_seen(side.measurement, stated.stated, stated.wheel)
    return figures if isinstance(centre, Refusal) else {**figures, "centre_to_flange": centre}


def _relative(photo: Path, folder: Path) -> str:
    return photo.relative_to(folder).as_posix() if photo.is_relative_to(folder) else photo.name


def print_warnings(target: StatedTarget) -> tuple[str, ...]:
    """Return what the check bars' readings say against the print."""
    x, y = (None if bar is None else bar.value for bar in (target.bar_x, target.bar_y))
    return check_print(x, y, target.paper).warnings


def software() -> Software:
    """Return the versions that a measurement was made with."""
    try:
        own = version("hubsight")
    except PackageNotFoundError:  # run from a source tree that is not installed
        own = "unknown"
    return Software(
        hubsight=own,
        python=platform.python_version(),
        numpy=np.__version__,
        opencv=cv2.__version__,
        scipy=scipy.__version__,
    )
