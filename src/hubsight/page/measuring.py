"""What the measuring child does: measure a job, keeping what it saw; the next time it only adjusts anew."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from hubsight.corrections import Corrections
from hubsight.job import JobFileError, load_job
from hubsight.job.document import JobMeasurement
from hubsight.job.measure import measure_job
from hubsight.job.plan import plan_job
from hubsight.measure import see_side
from hubsight.measurement import PhotoEvidence, Refusal, SideMeasurement
from hubsight.progress import PROGRESS
from hubsight.record import measure_and_record
from hubsight.sightings import Sightings, Stated, corrected, evidence_of, measurement_of
from hubsight.stated import SideName, StatedSide, StatedTarget, StatedWheel
from hubsight.wheel.document import LengthsDocument

MEASURE_MEMORY = 8_000_000_000
"""Bytes of address space, for a set of many photos."""
MEASURE_S = 900.0
KEPT = 12
"""Sides whose sightings are kept."""


@dataclass(frozen=True)
class Outcome:
    """A job measured, or why it cannot be.

    Attributes
    ----------
    measured
        None with ``problems``.
    provisional
        Whether a side was adjusted from what had been seen together with photos that are now unusable.
    refused_photos
        What was seen in the photos of sides whose figures are refused: it shows what to correct.
    lengths
        The planned wheel, if a rim is stated.
    """

    measured: JobMeasurement | None
    problems: tuple[str, ...] = ()
    provisional: bool = False
    refused_photos: dict[SideName, tuple[PhotoEvidence, ...]] = field(default_factory=dict)
    lengths: LengthsDocument | None = None


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


class Measurer:
    """Measures sides; sees each set of photos once."""

    def __init__(self) -> None:
        self._kept: dict[Any, _Kept] = {}
        self._last: dict[Any, _Last] = {}
        self.exact = True
        self.provisional = False
        self.refused_photos: dict[SideName, tuple[PhotoEvidence, ...]] = {}

    def __call__(
        self, side: StatedSide, target: StatedTarget, wheel: StatedWheel, *, camera_profile: Any = None
    ) -> SideMeasurement | Refusal:
        """Measure a side, as `hubsight.measure.measure_side` does."""
        key = _key(side, target, camera_profile)
        kept = self._kept.get(key)
        if kept is None or not self._serves(kept, side.corrections):
            PROGRESS.info("%s side: beginning", side.name.replace("_", "-"))
            seen = see_side(side, target, wheel, camera_profile=camera_profile)
            kept = _Kept(seen, side.corrections)
            self._kept.pop(key, None)
            self._kept[key] = kept
            while len(self._kept) > KEPT:
                del self._kept[next(iter(self._kept))]
        if isinstance(kept.seen, Refusal):
            return kept.seen
        last = self._last.get(key)
        if last is not None and last.kept is kept and (last.side, last.wheel) == (side, wheel):
            return last.measured
        measured = self._adjusted(kept, kept.seen, Stated(side, target, wheel, camera_profile))
        self._last = {k: v for k, v in self._last.items() if k in self._kept}
        if not isinstance(measured, Refusal):
            self._last[key] = _Last(kept, side, wheel, measured)
        return measured

    def _adjusted(self, kept: _Kept, seen: Sightings, stated: Stated) -> SideMeasurement | Refusal:
        """Turn what was seen into figures, with the corrections of now."""
        side = stated.side
        seen = replace(seen, stated=stated)
        if side.corrections != kept.corrections:
            self.provisional |= set(side.corrections.unusable) != set(kept.corrections.unusable)
            again = corrected(seen, side.corrections)
            if isinstance(again, Refusal):
                return again
            seen = again
        measured = measurement_of(seen)
        if isinstance(measured, Refusal):
            self.refused_photos[side.name] = evidence_of(seen)
        return measured

    def _serves(self, kept: _Kept, now: Corrections) -> bool:
        """Tell whether adjusting what was kept is enough."""
        if now == kept.corrections:
            return True
        if isinstance(kept.seen, Refusal):
            return False
        unusable, before = set(now.unusable), set(kept.corrections.unusable)
        if not unusable >= before or (self.exact and unusable != before):
            return False
        marked = now.marked_photos()
        return marked - unusable <= set(kept.seen.files)


def _key(side: StatedSide, target: StatedTarget, profile: Any) -> Any:
    stamps = tuple((str(p), p.stat().st_size, p.stat().st_mtime_ns) for p in side.photos)
    heights = (side.flange_height, side.gauge_height_at_boss, side.gauge_height_at_end)
    tips = tuple(gauge.tip for gauge in side.gauges)
    return side.name, stamps, tips, heights, target, repr(profile)


_measurer = Measurer()


def measure(folder: Path, exact: bool) -> Outcome:
    """Measure a job folder; where not ``exact``, photos just marked as unusable need no new look."""
    _measurer.exact, _measurer.provisional, _measurer.refused_photos = exact, False, {}
    try:
        job = load_job(folder)
        measured = measure_job(job, measure=_measurer)
        planned = plan_job(job, measured).document if job.sides[0].wheel.erd is not None else None
    except JobFileError as error:
        return Outcome(None, tuple(problem.sentence() for problem in error.problems))
    return Outcome(measured, (), _measurer.provisional, _measurer.refused_photos, planned)


def record(folder: Path) -> Outcome:
    """Measure a job folder exactly, and write its record."""
    _measurer.exact, _measurer.refused_photos = True, {}
    try:
        written = measure_and_record(
            load_job(folder), measure=lambda job: measure_job(job, measure=_measurer)
        )
    except JobFileError as error:
        return Outcome(None, tuple(problem.sentence() for problem in error.problems))
    return Outcome(written.measurement, (), False, _measurer.refused_photos, written.lengths)
