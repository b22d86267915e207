"""Measuring a job: every photo set, then all that follows, gathered in one result."""

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

from hubsight.job.file.load import Job, JobSide
from hubsight.job.file.problems import JobFileError, Problem
from hubsight.job.flat import with_flat_scale
from hubsight.job.plan import plan_job
from hubsight.job.recall import Recall, measured_with, with_recalled_scale
from hubsight.job.repeats import with_repeats
from hubsight.measure.hub_figures import SetFigures, StatedHub, hub_figures
from hubsight.model.catalogue import CENTRE, SIDE_WORDS, HubFigureName
from hubsight.model.corrections import NO_CORRECTIONS, Corrections
from hubsight.model.figure import Figure
from hubsight.model.hub import HubFigures, LyingMeasurement
from hubsight.model.progress import announce, begin
from hubsight.model.refusal import Refusal
from hubsight.model.result import FlatReport, JobResult, LyingReport, MeasuredSide, RepeatedSet, Software
from hubsight.model.side import SideMeasurement
from hubsight.model.stated import EndName, SideName, StatedSide, StatedTarget, StatedWheel
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


class MeasureLying(Protocol):
    """The signature of ``hubsight.measure.measure_lying``."""

    def __call__(
        self,
        photos: Sequence[Path],
        target: StatedTarget,
        *,
        drive_end: EndName | None = None,
        camera_profile: Any = None,
        corrections: Corrections = NO_CORRECTIONS,
    ) -> LyingMeasurement | Refusal:
        """Measure a lying hub."""


def lying_report(job: Job, profile: Any, measure: MeasureLying | None = None) -> LyingReport | None:
    """Measure the job's photos of the hub lying on its flanges, if it has any.

    ``measure`` does so in place of `hubsight.measure.measure_lying`.
    """
    if job.lying is None:
        return None
    from hubsight.measure.lying import measure_lying  # noqa: PLC0415 - needs all image processing

    photos = tuple(_relative(photo, job.folder) for photo in job.lying.photos)
    found = (measure or measure_lying)(
        job.lying.photos,
        job.target,
        drive_end=job.lying.drive_end,
        camera_profile=profile,
        corrections=job.lying.corrections,
    )
    if isinstance(found, Refusal):
        return LyingReport(photos=photos, refusal=found)
    return LyingReport(photos=photos, measurement=found)


@dataclass(frozen=True)
class MeasureOthers:
    """What measures a job's photos of the ruler on the sheet, and of the lying hub."""

    flat: Callable[[Job, Any], tuple[Job, FlatReport | None, tuple[str, ...]]] = with_flat_scale
    lying: Callable[[Job, Any], LyingReport | None] = lying_report


MEASURE_OTHERS = MeasureOthers()
"""As the program measures; tests put other functions in."""


def measure_job(
    job: Job,
    *,
    measure: MeasureSide | None = None,
    others: MeasureOthers = MEASURE_OTHERS,
    before: JobResult | None = None,
) -> JobResult:
    """Measure every side of a job, and work out its spoke lengths and the verdict.

    Parameters
    ----------
    job
        As read by :func:`hubsight.job.load_job`.
    measure
        What measures one side; ``hubsight.measure.measure_side`` if not given.
    others
        What measures the other photo sets; another one may keep what it saw.
    before
        The job's earlier result: photo sets are taken from it where nothing that they rest on has changed.

    Returns
    -------
    JobResult
        A side that could not be measured carries its refusal.

    Raises
    ------
    JobFileError
        If the job's camera profile cannot be read.
    """
    profile = _camera_profile(job)
    job, flat, said = _with_scale(job, others, profile, before)
    recall = Recall(job, before)
    known, known_lying = [recall.side(side) for side in job.sides], recall.lying()
    _announce(job, known, known_lying)
    sides = tuple(
        before or _measured(side, recall, measure or _measure_side(), profile)
        for side, before in zip(job.sides, known, strict=True)
    )
    lying = known_lying or _lying(recall, others, profile)
    seen = JobResult(
        job=job.name,
        sides=sides,
        warnings=(*print_warnings(job.target), *said),
        notes=job.warnings,
        kit=job.kit,
        flat=flat,
        lying=lying,
        hub=whole_hub(job, sides, lying),
        left_out=job.left_out,
        software=software(),
    )
    return plan_job(job, seen).result


def _with_scale(
    job: Job, others: MeasureOthers, profile: Any, before: JobResult | None
) -> tuple[Job, FlatReport | None, tuple[str, ...]]:
    """Return the job with the scale of a ruler on the sheet, if there is one, known before or measured."""
    recall = Recall(job, before)
    known = recall.flat()
    if known is not None:
        return with_recalled_scale(job, known)
    if job.flat is not None:
        begin("looking for the ruler on the sheet", len(job.flat.photos))
    scaled, flat, said = others.flat(job, profile)
    return scaled, flat and flat.model_copy(update={"rests_on": recall.flat_rests_on()}), said


def _announce(job: Job, known: Sequence[MeasuredSide | None], lying: LyingReport | None) -> None:
    """Tell somebody who waits how many photos are going to be measured."""
    sets = [job.lying.photos] if job.lying is not None and lying is None else []
    for side, before in zip(job.sides, known, strict=True):
        if before is None:
            sets += [side.stated.photos, *(again.photos for again in side.repeats)]
    announce(sum(map(len, sets)))


def _lying(recall: Recall, others: MeasureOthers, profile: Any) -> LyingReport | None:
    if recall.job.lying is not None:
        begin("looking at the lying hub", len(recall.job.lying.photos))
    lying = others.lying(recall.job, profile)
    return lying and lying.model_copy(update={"rests_on": recall.lying_rests_on()})


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


def _measured(side: JobSide, recall: Recall, measure: MeasureSide, profile: Any) -> MeasuredSide:
    job, stated = recall.job, side.stated
    if not stated.photos:
        return MeasuredSide(name=stated.name)
    rests_on = recall.side_rests_on(side)
    start = time.perf_counter()

    def look(photos: StatedSide) -> SideMeasurement | Refusal:
        begin(f"{SIDE_WORDS[stated.name].lower()}: beginning", len(photos.photos))
        return measure(measured_with(photos), job.target, side.wheel, camera_profile=profile)

    outcome = look(stated)
    repeated = tuple(_repeated(again, look(again), job.folder) for again in side.repeats)
    measured = MeasuredSide(
        name=stated.name,
        photos=tuple(_relative(photo, job.folder) for photo in stated.photos),
        repeated=repeated,
        seconds=time.perf_counter() - start,
        rests_on=rests_on,
    )
    if isinstance(outcome, Refusal):
        return measured.model_copy(update={"refusal": outcome})
    outcome = with_repeats(outcome, [r.measurement for r in repeated if r.measurement is not None])
    own_centre = outcome.figures.get("centre_to_flange")
    return measured.model_copy(update={"measurement": outcome, "own_centre": own_centre})


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
        f"{SIDE_WORDS[name].lower()} up", {key: figure for key, figure in words.items() if figure is not None}
    )


def _repeated(stated: StatedSide, outcome: SideMeasurement | Refusal, folder: Path) -> RepeatedSet:
    photos = tuple(_relative(photo, folder) for photo in stated.photos)
    if isinstance(outcome, Refusal):
        return RepeatedSet(photos=photos, refusal=outcome)
    return RepeatedSet(photos=photos, measurement=outcome)


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
