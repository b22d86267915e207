"""Measuring that looks at the same photos once: what was seen is kept, and adjusted for other statements."""

from __future__ import annotations

import hashlib
import pickle
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from hubsight.measure.measurement import measurement_of
from hubsight.measure.settle import corrected, needs_no_look, restated
from hubsight.measure.side import measure_side, see_side
from hubsight.measure.sightings import Sightings, Stated
from hubsight.model.corrections import NO_CORRECTIONS
from hubsight.model.refusal import Refusal
from hubsight.model.side import SideMeasurement
from hubsight.model.stated import StatedSide, StatedTarget, StatedWheel


class SeenOnce:
    """Measures a side as `hubsight.measure.side.measure_side` does, but looks at a set of photos once.

    A side whose photos and statements are those of an earlier call is not measured again: caliper readings
    are compared after measuring.

    Parameters
    ----------
    cache
        Folder in which what was seen is kept between runs.
    """

    def __init__(self, cache: Path) -> None:
        self.cache = cache
        cache.mkdir(parents=True, exist_ok=True)
        self._measured: dict[str, SideMeasurement | Refusal] = {}

    def __call__(
        self, side: StatedSide, target: StatedTarget, wheel: StatedWheel, *, camera_profile: Any = None
    ) -> SideMeasurement | Refusal:
        """Measure one side."""
        told = repr((replace(side, photos=(), caliper={}), _of_photos(side), target, wheel, camera_profile))
        if told not in self._measured:
            self._measured[told] = self._measure(side, target, wheel, camera_profile)
        return self._measured[told]

    def _measure(
        self, side: StatedSide, target: StatedTarget, wheel: StatedWheel, camera_profile: Any
    ) -> SideMeasurement | Refusal:
        plain = replace(side, corrections=NO_CORRECTIONS)
        seen = self._seen(plain, target, wheel)
        if isinstance(seen, Refusal):
            return (
                seen
                if side.corrections == NO_CORRECTIONS
                else measure_side(side, target, wheel, camera_profile=camera_profile)
            )
        again = restated(seen, Stated(plain, target, wheel, camera_profile))
        if isinstance(again, Refusal):
            return measure_side(side, target, wheel, camera_profile=camera_profile)
        if side.corrections != NO_CORRECTIONS:
            if not needs_no_look(again, side.corrections):
                return measure_side(side, target, wheel, camera_profile=camera_profile)
            again = corrected(again, side.corrections)
        return again if isinstance(again, Refusal) else measurement_of(again)

    def _seen(self, side: StatedSide, target: StatedTarget, wheel: StatedWheel) -> Sightings | Refusal:
        file = self.cache / f"{_key(side, target, wheel)}.pickle"
        if file.is_file():
            kept: Sightings | Refusal = pickle.loads(file.read_bytes())
            return kept if isinstance(kept, Refusal) else _of_the_same_photos(kept, side)
        seen = see_side(side, target, wheel)
        unfinished = file.with_suffix(".part")
        unfinished.write_bytes(pickle.dumps(seen))
        unfinished.replace(file)
        return seen


def _of_the_same_photos(seen: Sightings, side: StatedSide) -> Sightings:
    """Return what was seen, its photos where they lie now: in another folder they are no other photos."""
    own = replace(seen.stated.side, photos=side.photos)
    return replace(seen, stated=replace(seen.stated, side=own))


def _key(side: StatedSide, target: StatedTarget, wheel: StatedWheel) -> str:
    """Return a name for all that decides what is looked for in the photos."""
    told: Sequence[Any] = (
        _of_photos(side),
        [gauge.tip for gauge in side.gauges],
        target.paper,
        wheel.spokes,
        wheel.crosses,
        getattr(wheel, "rim_holes", None),
    )
    return hashlib.sha256(repr(told).encode()).hexdigest()[:32]


def _of_photos(side: StatedSide) -> list[str]:
    """Return what tells a side's photos from others: their names and contents."""
    return [f"{photo.name} {hashlib.sha256(photo.read_bytes()).hexdigest()}" for photo in side.photos]
