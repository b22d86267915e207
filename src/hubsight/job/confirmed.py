"""What an order hangs on and nothing confirms: statements made once, features that no caliper has checked.

Confirmed is what was read more than once (in the job, or in the kit that it takes it from), what a second
way shows (a ruler on the sheet), what a proof has shown, and what other readings would contradict if it were
wrong by enough to spoil a wheel. Lengths in mm.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hubsight.job.file.load import Job, JobSide
from hubsight.job.joint.effects import length_errors
from hubsight.job.joint.gauss import System
from hubsight.job.joint.observe import gauge_name, system_of
from hubsight.model.catalogue import SIDE_WORDS
from hubsight.model.hub import LyingMeasurement
from hubsight.model.result import MeasuredSide
from hubsight.model.stated import SideName, StatedGauge
from hubsight.model.verdict import Reason

Array = NDArray[np.float64]

SILENT_MM = 0.8
"""Change of a length that spoils a wheel, mm: a nipple forgives about 1 mm either way; raising it asks for
fewer readings."""
NOTICED_SIGMAS = 3.3
"""Contradiction of a slip by the other readings, in standard uncertainties, from which the joint test notices
it; raising it asks for more readings."""
ENOUGH_READINGS = 2
"""Readings of one thing that confirm each other; raising it asks for more of them."""

GAUGE_RISK = 0.006
"""The `_Hanging.risk` of a gauge's length."""


@dataclass(frozen=True)
class _Hanging:
    """Something that nothing confirms: its path, words for it, and what to read.

    ``risk`` is the probability that it spoils an order (common practice, no source); the largest is asked for
    first.
    """

    about: str
    what: str
    remedy: str
    risk: float


def unconfirmed(
    job: Job,
    sides: Sequence[MeasuredSide],
    lying: LyingMeasurement | None = None,
    *,
    proved: Collection[str] = (),
) -> tuple[Reason, ...]:
    """Return what the order hangs on and nothing confirms: one reason at most, asking for one reading first.

    Parameters
    ----------
    job
        With what is stated.
    sides
        As measured; those without photos are left out.
    lying
        The hub lying on its flanges, if there are photos of it.
    proved
        Paths of what something else confirms, as a proof on the same desk: ``"target"`` (the print's scale),
        ``"photos"`` (how the photos see a gauge's end), ``"gauges"``, ``"rim.erd"``.
    """
    both = [(stated, side) for stated in job.sides for side in sides if side.name == stated.stated.name]
    both = [(stated, side) for stated, side in both if side.measurement is not None]
    hanging = list(_of_wheel(job))
    if both:
        hanging += _of_photos(job, both, lying)
    hanging += _of_gauges(job, both)
    open_ones = [one for one in hanging if one.about not in proved and one.about.split(".")[0] not in proved]
    open_ones.sort(key=lambda one: -one.risk)
    return (_reason(open_ones),) if open_ones else ()


def _reason(hanging: Sequence[_Hanging]) -> Reason:
    """Return one reason for everything that nothing confirms; the remedy is for the gravest of it."""
    first, *others = hanging
    sentence = f"the order hangs on {first.what}, and nothing confirms that"
    if others:
        sentence += f"; nor {', nor '.join(dict.fromkeys(one.what for one in others))}"
    return Reason(sentence=sentence, remedy=first.remedy, about=first.about, severity="check")


def _of_wheel(job: Job) -> Iterator[_Hanging]:
    erd = next((side.wheel.erd for side in job.sides if side.wheel.erd is not None), None)
    if erd is not None and erd.count < ENOUGH_READINGS:
        yield _Hanging(
            "rim.erd",
            "one reading of the ERD",
            "Measure the ERD on two more diameters of the rim",
            risk=0.015,
        )


def _of_photos(
    job: Job, both: Sequence[tuple[JobSide, MeasuredSide]], lying: LyingMeasurement | None
) -> Iterator[_Hanging]:
    """Yield the print's scale, and what no caliper reading of a side would contradict."""
    system = system_of(job.target, both, lying)
    errors = length_errors(system, both)
    if not _print_confirmed(job) and hidden(system, errors, _print_slip(system)) > SILENT_MM:
        bars = (job.target.bar_x, job.target.bar_y)
        unread = any(bar is None for bar in bars)
        what = "the print's scale, which was not measured" if unread else "one reading of each check bar"
        remedy = "Measure both check bars three times each, or photograph the gauge lying on the sheet"
        yield _Hanging("target.bars", what, remedy, risk=0.05 if unread else 0.01)
    for stated, side in both:
        name, words = stated.stated.name, SIDE_WORDS[side.name].lower()
        if _end_confirmed(system, name):
            continue
        ends = [f"{name}.photos.reach", f"{name}.photos.protrusion"]
        slip = np.array([1.0 if one.name in ends else 0.0 for one in system.observations])
        if name in errors and hidden(system, errors, slip) > SILENT_MM:
            yield _Hanging(
                f"photos.{name}.gauge_end",
                f"what the photos show of the {words}'s gauge",
                f"Measure with the caliper how far the gauge sticks out of the boss, {words}",
                risk=0.003,
            )


def _of_gauges(job: Job, both: Sequence[tuple[JobSide, MeasuredSide]]) -> Iterator[_Hanging]:
    on_the_sheet = job.flat is not None and job.flat.ruler.kind == "gauge" and _bars_read(job)
    once: dict[str, float] = {}
    for stated, _ in both:
        for gauge in stated.stated.gauges:
            confirmed = gauge.length.count >= ENOUGH_READINGS
            if on_the_sheet and job.flat is not None and job.flat.ruler.length == gauge.length:
                confirmed = True
            elif confirmed and gauge.length.value.is_integer():
                yield _nominal(gauge)
            if not confirmed:
                once[gauge_name(gauge)] = gauge.length.value
    if once:
        lengths = " and ".join(f"{value:.2f} mm" for value in once.values())
        which = "the gauge" if len(once) == 1 else "each gauge"
        yield _Hanging(
            f"gauges.{next(iter(once))}",
            f"one reading of {which}'s length ({lengths})",
            f"Measure {which} once more, from under its head to its end",
            risk=GAUGE_RISK,
        )


def _nominal(gauge: StatedGauge) -> _Hanging:
    """Doubt readings that all show a whole millimetre: they are rather what the gauge was to be cut to."""
    return _Hanging(
        f"gauges.{gauge_name(gauge)}",
        f"a gauge's length of exactly {gauge.length.value:.0f} mm, which looks like what it was to be cut to",
        "Measure the gauge once more, and state what the caliper shows to the hundredth",
        risk=GAUGE_RISK,
    )


def _print_confirmed(job: Job) -> bool:
    """Tell whether the print's scale was measured more than once, or in two ways."""
    bars = (job.target.bar_x, job.target.bar_y)
    often = all(bar is not None and bar.count >= ENOUGH_READINGS for bar in bars)
    return often or (job.target.along is not None and _bars_read(job))


def _end_confirmed(system: System, side: SideName) -> bool:
    """Tell whether a caliper reading of a side compares with what its photos show of the gauge's end.

    How well it does is for the joint test: here it counts that there is one.
    """
    ends = {f"{side}.{who}.{what}" for who in ("caliper", "photos") for what in ("reach", "protrusion")}
    seen = {one.split(".")[1] for one in ends & set(system.index)}
    return seen == {"caliper", "photos"} or f"{side}.caliper.spoke_offset" in system.index


def _bars_read(job: Job) -> bool:
    return job.target.bar_x is not None or job.target.bar_y is not None


def _print_slip(system: System) -> Array:
    """(n,) errors of all observations if both check bars are stated too long alike."""
    shared = [[one.shared.get(bar, 0.0) for one in system.observations] for bar in ("bar_x", "bar_y")]
    x, y = np.array(shared)
    return np.asarray(x / max(np.max(x), 1e-9) + y / max(np.max(y), 1e-9))


def hidden(system: System, errors: Mapping[SideName, Array], slip: Array) -> float:
    """Return by how much a slip of this kind may move a length without a contradiction, mm.

    Parameters
    ----------
    system
        All observations.
    errors
        Derivatives of each side's length by the observations' errors.
    slip
        (n,) errors that the slip makes, at any size.
    """
    visible = math.sqrt(max(float(slip @ system.weighed(slip)), 0.0))
    moved = max((abs(float(slopes @ slip)) for slopes in errors.values()), default=0.0)
    if moved == 0.0:
        return 0.0
    return math.inf if visible < 1e-9 else NOTICED_SIGMAS * moved / visible
