"""What the measuring child does: measure a job, keeping what it saw; the next time it only adjusts anew."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from hubsight.corrections import Corrections
from hubsight.job import JobFileError, load_job
from hubsight.job.document import JobMeasurement
from hubsight.job.measure import measure_job
from hubsight.measure import see_side
from hubsight.measurement import PhotoEvidence, Refusal, SideMeasurement
from hubsight.progress import PROGRESS
from hubsight.record import measure_and_record
from hubsight.sightings import Sightings, Stated, corrected, evidence_of, measurement_of
from hubsight.stated import SideName, StatedSide, StatedTarget, StatedWheel

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
    """

    measured: JobMeasurement | None
    problems: tuple[str, ...] = ()
    provisional: bool = False
    refused_photos: dict[SideName, tuple[PhotoEvidence, ...]] = field(default_factory=dict)


@dataclass(frozen=True)
class _Kept:
    """Sightings, or a refusal, with the corrections of that time."""

    seen: Sightings | Refusal
    corrections: Corrections


class Measurer:
    """Measures sides; sees each set of photos once."""

    def __init__(self) -> None:
        self._kept: dict[Any, _Kept] = {}
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
        seen = replace(kept.seen, stated=Stated(side, target, wheel, camera_profile))
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
        measured = measure_job(load_job(folder), measure=_measurer)
    except JobFileError as error:
        return Outcome(None, tuple(problem.sentence() for problem in error.problems))
    return Outcome(measured, (), _measurer.provisional, _measurer.refused_photos)


def record(folder: Path) -> Outcome:
    """Measure a job folder exactly, and write its record."""
    _measurer.exact = True
    try:
        written = measure_and_record(
            load_job(folder), measure=lambda job: measure_job(job, measure=_measurer)
        )
    except JobFileError as error:
        return Outcome(None, tuple(problem.sentence() for problem in error.problems))
    return Outcome(written.measurement)
