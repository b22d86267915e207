"""What the measuring child does: measure a job, keeping what it saw; the next time it only adjusts anew."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from hubsight.job import Job, JobFileError, load_job
from hubsight.job.flat import with_flat_scale
from hubsight.job.measure import MeasureOthers, lying_report, measure_job
from hubsight.measure.lying import LyingSeen, lying_measurement, see_lying
from hubsight.measure.measurement import evidence_of, measurement_of
from hubsight.measure.settle import corrected, covers, needs_no_look
from hubsight.measure.side import see_side
from hubsight.measure.sightings import Sightings, Stated
from hubsight.model.corrections import NO_CORRECTIONS, Corrections
from hubsight.model.hub import LyingMeasurement
from hubsight.model.refusal import Refusal
from hubsight.model.result import FlatReport, JobResult, LyingReport
from hubsight.model.side import PhotoEvidence, SideMeasurement
from hubsight.model.stated import EndName, SideName, StatedSide, StatedTarget, StatedWheel
from hubsight.page.planned import hub_here, plan_of
from hubsight.page.seen import keep_lying, keep_seen, lying_before, rests_on, seen_before
from hubsight.page.stated import hub_of
from hubsight.page.words import in_page_words
from hubsight.record import measure_and_record
from hubsight.record.planned import recorded_with_photos
from hubsight.record.store import place_of
from hubsight.report import render_order, render_report

MEASURE_MEMORY = 8_000_000_000
"""Bytes of address space, for a set of many photos."""
MEASURE_S = 900.0
"""How long measuring a job may take, s."""
NO_HUB_RECORD = (
    "A wheel's report is made from the record of its hub. Open the job “{}”, and write its report first."
)
"""Said of a wheel whose hub's job has no record yet."""
QUICK_DRAWS = 10_000
"""Draws for the wheel's risks while somebody corrects: a risk of 5 % is known to 0.2 %; raising it answers
later."""
KEPT = 12
"""Sides whose sightings are kept."""


@dataclass(frozen=True)
class Outcome:
    """A job measured, or why it cannot be.

    Attributes
    ----------
    measured
        None with ``problems``, and with the ``fields`` that they are about.
    provisional
        Whether a side was adjusted from what had been seen with other corrections, which looking
        anew can change, or its figures are not yet thorough.
    refused_photos
        What was seen in the photos of sides whose figures are refused: it shows what to correct.
    """

    measured: JobResult | None
    problems: tuple[str, ...] = ()
    fields: tuple[str, ...] = ()
    provisional: bool = False
    refused_photos: dict[SideName, tuple[PhotoEvidence, ...]] = field(default_factory=dict)


@dataclass(frozen=True)
class _Kept:
    """Sightings, or a refusal, with the corrections of that time."""

    seen: Sightings | Refusal
    corrections: Corrections


@dataclass(frozen=True)
class _Last:
    """The last figures of a side, and what they rest on."""

    kept: _Kept
    side: StatedSide
    wheel: StatedWheel
    measured: SideMeasurement
    thorough: bool


class Measurer:
    """Measures sides; sees each set of photos once."""

    def __init__(self) -> None:
        self._kept: dict[Any, _Kept] = {}
        self._asked: set[Any] = set()
        self._last: dict[SideName, _Last] = {}
        self._flat_kept: tuple[Any, tuple[StatedTarget, FlatReport | None, tuple[str, ...]]] | None = None
        self._lying_kept: tuple[Any, LyingSeen | Refusal] | None = None
        self.begin(None, exact=True)

    def begin(self, folder: Path | None, *, exact: bool) -> None:
        """Begin with a job, in whose folder what is seen is kept; None keeps it in memory alone.

        Where not ``exact``, photos just marked as unusable need no new look.
        """
        self.folder, self.exact, self.provisional = folder, exact, False
        self.called: set[SideName] = set()
        self.refused_photos: dict[SideName, tuple[PhotoEvidence, ...]] = {}

    def __call__(
        self, side: StatedSide, target: StatedTarget, wheel: StatedWheel, *, camera_profile: Any = None
    ) -> SideMeasurement | Refusal:
        """Measure a side, as `hubsight.measure.measure_side` does."""
        self.called.add(side.name)
        stated = Stated(side, target, wheel, camera_profile)
        kept = self.known(stated) or self._look(stated)
        if isinstance(kept.seen, Refusal):
            return kept.seen
        self.provisional |= not _as_good_as_new(kept, side.corrections)
        last = self._last.get(side.name)
        same = last is not None and last.kept is kept and (last.side, last.wheel) == (side, wheel)
        if last is not None and same and (last.thorough or not self.exact):
            self.provisional |= not last.thorough
            return last.measured
        measured = self._adjusted(kept, kept.seen, stated)
        self.provisional |= not self.exact
        if not isinstance(measured, Refusal):
            self._last[side.name] = _Last(kept, side, wheel, measured, self.exact)
        return measured

    def _adjusted(self, kept: _Kept, seen: Sightings, stated: Stated) -> SideMeasurement | Refusal:
        """Turn what was seen into figures, with the corrections of now."""
        side = stated.side
        seen = replace(seen, stated=stated)
        if side.corrections != kept.corrections:
            again = corrected(seen, side.corrections)
            if isinstance(again, Refusal):
                return again
            seen = again
        measured = measurement_of(seen, thorough=self.exact)
        if isinstance(measured, Refusal):
            self.refused_photos[side.name] = evidence_of(seen)
        return measured

    def known(self, stated: Stated) -> _Kept | None:
        """Return sightings for which adjusting anew is enough, also those kept in the job's folder."""
        looked_for = _looked_for(stated)
        key = (stated.side.name, _stamps(stated.side.photos), looked_for)
        found = self._find(key, stated.side.corrections)
        if found is not None or key in self._asked or self.folder is None:
            return found
        self._asked.add(key)
        with suppress(OSError):
            before = seen_before(self.folder, rests_on(stated.side.photos, looked_for), stated)
            if before is not None:
                self._keep((key, before[1]), _Kept(*before))
        return self._find(key, stated.side.corrections)

    def _look(self, stated: Stated) -> _Kept:
        """Look at the photos, and keep what is seen."""
        side, looked_for = stated.side, _looked_for(stated)
        seen = see_side(side, stated.target, stated.wheel, camera_profile=stated.camera_profile)
        kept = _Kept(seen, side.corrections)
        self._keep(((side.name, _stamps(side.photos), looked_for), side.corrections), kept)
        if self.folder is not None:
            with suppress(OSError):
                fingerprint = rests_on(side.photos, looked_for)
                keep_seen(self.folder, side.name, fingerprint, seen, side.corrections)
        return kept

    def _keep(self, key: Any, kept: _Kept) -> None:
        self._kept.pop(key, None)
        self._kept[key] = kept
        while len(self._kept) > KEPT:
            del self._kept[next(iter(self._kept))]

    def _find(self, key: Any, now: Corrections) -> _Kept | None:
        """Return sightings for which adjusting anew is enough."""
        known = [kept for (k, _), kept in self._kept.items() if k == key]
        exact = next((kept for kept in reversed(known) if _as_good_as_new(kept, now)), None)
        if exact is not None or self.exact:
            return exact
        near = [kept for kept in known if _will_do(kept, now)]
        return max(near, key=lambda kept: len(kept.corrections.unusable), default=None)

    def others(self) -> MeasureOthers:
        """Return what measures the other sets, each once."""
        return MeasureOthers(self._flat, self._lying)

    def _flat(self, job: Job, profile: Any) -> tuple[Job, FlatReport | None, tuple[str, ...]]:
        if job.flat is None:
            return job, None, ()
        key = ("flat", _stamps(job.flat.photos), job.target, job.flat.ruler, repr(profile))
        if self._flat_kept is None or self._flat_kept[0] != key:
            with_scale, report, said = with_flat_scale(job, profile)
            self._flat_kept = key, (with_scale.target, report, said)
        target, report, said = self._flat_kept[1]
        return replace(job, target=target), report, said

    def _lying(self, job: Job, profile: Any) -> LyingReport | None:
        return lying_report(job, profile, self._measure_lying)

    def _measure_lying(
        self,
        photos: Sequence[Path],
        target: StatedTarget,
        *,
        drive_end: EndName | None = None,
        camera_profile: Any = None,
        corrections: Corrections = NO_CORRECTIONS,
    ) -> LyingMeasurement | Refusal:
        """Measure a lying hub, as `hubsight.measure.measure_lying` does; its photos are looked at once."""
        key = (_stamps(photos), target, repr(camera_profile))
        if self._lying_kept is None or self._lying_kept[0] != key:
            self._lying_kept = key, self._look_at_lying(photos, target, camera_profile)
        seen = self._lying_kept[1]
        return seen if isinstance(seen, Refusal) else lying_measurement(seen, target, drive_end, corrections)

    def _look_at_lying(
        self, photos: Sequence[Path], target: StatedTarget, profile: Any
    ) -> LyingSeen | Refusal:
        """Return what is kept of a lying hub's photos, or look at them and keep it."""
        if self.folder is None:
            return see_lying(photos, target, camera_profile=profile)
        fingerprint = rests_on(photos, (target, repr(profile)))
        seen = lying_before(self.folder, fingerprint)
        if seen is None:
            seen = see_lying(photos, target, camera_profile=profile)
            keep_lying(self.folder, fingerprint, seen)
        return seen


def _as_good_as_new(kept: _Kept, now: Corrections) -> bool:
    """Tell whether adjusting what was seen makes what looking anew would."""
    if now == kept.corrections:
        return True
    return isinstance(kept.seen, Sightings) and needs_no_look(kept.seen, now)


def _will_do(kept: _Kept, now: Corrections) -> bool:
    """Tell whether what was seen makes provisional figures."""
    more = set(kept.corrections.unusable) <= set(now.unusable)
    return more and isinstance(kept.seen, Sightings) and covers(kept.seen, now)


def _stamps(photos: Sequence[Path]) -> tuple[tuple[str, int, int], ...]:
    return tuple((str(p), p.stat().st_size, p.stat().st_mtime_ns) for p in photos)


def _looked_for(stated: Stated) -> Any:
    """Return what decides which gauges and bosses are looked for; ERD and over-locknut hardly do."""
    side, wheel = stated.side, stated.wheel
    heights = (side.flange_height, side.gauge_height_at_boss, side.gauge_height_at_end)
    tips = tuple(gauge.tip for gauge in side.gauges)
    laced = (wheel.spokes, wheel.crosses, wheel.rim_holes)
    return tips, heights, stated.target, laced, repr(stated.camera_profile)


_measurer = Measurer()


def _not_measured(error: JobFileError) -> Outcome:
    return Outcome(None, in_page_words(error), tuple(problem.field for problem in error.problems))


def measure(folder: Path, exact: bool, before: Outcome | None = None) -> Outcome:
    """Measure a job folder.

    Parameters
    ----------
    folder
        The job.
    exact
        Else photos just marked as unusable need no new look, and the figures are not thorough.
    before
        The job's last exact outcome: what rests on nothing that was changed since is taken from it.
    """
    _measurer.begin(folder, exact=exact)
    known = None if before is None else before.measured
    try:
        job = load_job(folder, need_photos=not hub_of(folder))
        if job.hub is not None:
            return Outcome(plan_of(job, hub_here(job)).result)
        job = job if exact else replace(job, draws=QUICK_DRAWS)
        measured = measure_job(job, measure=_measurer, others=_measurer.others(), before=known)
    except JobFileError as error:
        return _not_measured(error)
    refused = {} if before is None else before.refused_photos
    taken_over = {side: photos for side, photos in refused.items() if side not in _measurer.called}
    return Outcome(measured, (), (), _measurer.provisional, taken_over | _measurer.refused_photos)


def ready(folder: Path, before: JobResult) -> bool:
    """Tell whether corrections can be answered without looking at the photos; takes up what is kept of them.

    ``before`` is the job's last result.
    """
    _measurer.begin(folder, exact=False)
    known = []

    def ask(
        side: StatedSide, target: StatedTarget, wheel: StatedWheel, *, camera_profile: Any = None
    ) -> Refusal:
        known.append(_measurer.known(Stated(side, target, wheel, camera_profile)) is not None)
        return Refusal(reason="", remedy="")  # nobody reads it: figures are not wanted here

    others = before.model_copy(update={"sides": ()})
    try:
        measure_job(load_job(folder), measure=ask, others=_measurer.others(), before=others)
    except JobFileError:
        return False
    return all(known)


def record(folder: Path) -> Outcome:
    """Measure a job folder exactly, and write its record; a wheel's hub has its record in the hub's job."""
    _measurer.begin(folder, exact=True)
    try:
        hub = hub_of(folder)
        if hub and not place_of(folder / hub).current.is_file():
            return Outcome(None, (NO_HUB_RECORD.format(Path(hub).name),))
        if hub:
            return Outcome(recorded_with_photos(folder)[0].measurement)
        written = measure_and_record(
            load_job(folder),
            measure=lambda job: measure_job(job, measure=_measurer, others=_measurer.others()),
        )
    except JobFileError as error:
        return _not_measured(error)
    return Outcome(written.measurement, refused_photos=_measurer.refused_photos)


def report_page(folder: Path) -> tuple[str, tuple[str, ...]]:
    """Make the report of a job's record, whose photos are decoded for it; or say why it cannot be made."""
    try:
        record, photos = recorded_with_photos(folder)
        return render_report(record, folder, photos), ()
    except JobFileError as error:
        return "", in_page_words(error)


def order_page(folder: Path) -> tuple[str, tuple[str, ...]]:
    """Make the order sheet of a job's record; or say why it cannot be made."""
    try:
        record, _ = recorded_with_photos(folder)
        return render_order(record, folder), ()
    except JobFileError as error:
        return "", in_page_words(error)
