"""After building: where the spokes' ends came to lie against the prediction, and single spokes; mm."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from hubsight.job.file.build_tables import BuiltSideTable
from hubsight.job.file.load import Job
from hubsight.job.plan import Planned
from hubsight.model.catalogue import SIDE_WORDS
from hubsight.model.frozen import Frozen
from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading, SideName
from hubsight.wheel.built import AsBuilt, OverJobs, Replacement, as_built, over_jobs, replacement
from hubsight.wheel.causes import BuiltEnds, Cause, likely_causes, pointed_at
from hubsight.wheel.choice import task
from hubsight.wheel.order import PlannedLength, PlannedSide
from hubsight.wheel.practice import BuiltOn, Practice, practice

MOST_CAUSES = 4
"""Causes that are told of one wheel."""


class BuiltSide(Frozen):
    """One side as built, or why nothing can be said of it.

    Attributes
    ----------
    rim, nipple, hub
        What it was built of, in the builder's words: the rim of the kit, else the job; the hub's label.
    length
        Of the spokes that were built in.
    result, refusal
        Exactly one of them.
    """

    job: str
    side: SideName
    rim: str = ""
    nipple: str = ""
    hub: str = ""
    length: float | None = None
    result: AsBuilt | None = None
    refusal: Refusal | None = None

    def sentence(self) -> str:
        """Return one sentence for the user."""
        where = f"{self.job}, {SIDE_WORDS[self.side].lower()}"
        if self.result is not None:
            return f"{where}, spokes of {self.length:g} mm: {self.result.sentence()}"
        return f"{where}: {'' if self.refusal is None else self.refusal.sentence()}"


class ContradictedWheel(Frozen):
    """A wheel whose ends lie elsewhere than predicted, and its likeliest ``causes``, falling."""

    job: str
    causes: tuple[Cause, ...]

    def sentence(self) -> str:
        """Return what the likeliest cause is, and what would settle it."""
        return f"{self.job}: {pointed_at(self.causes)}"


class BuiltDocument(Frozen):
    """What the built wheels say of the prediction.

    Attributes
    ----------
    sides
        Every side of which the builder noted something.
    overall
        All of them together; None with fewer than two.
    practice
        The builder's own bias of ERD practice; None with fewer than two rims.
    contradicted
        Wheels that contradict their prediction, with what the cause may be.
    """

    schema_version: Literal[1] = 1
    sides: tuple[BuiltSide, ...]
    overall: OverJobs | None = None
    practice: Practice | None = None
    contradicted: tuple[ContradictedWheel, ...] = ()


class ReplacedSide(Frozen):
    """One side's spokes against the computed length, or why nothing can be said of them."""

    side: SideName
    result: Replacement | None = None
    refusal: Refusal | None = None

    def sentence(self) -> str:
        """Return one sentence for the user."""
        where = SIDE_WORDS[self.side]
        if self.result is not None:
            return f"{where}: {self.result.sentence}"
        return f"{where}: {'' if self.refusal is None else self.refusal.sentence()}"


class ReplacementDocument(Frozen):
    """Which spokes to order for broken ones."""

    schema_version: Literal[1] = 1
    job: str
    sides: tuple[ReplacedSide, ...]


def compare_built(jobs: Iterable[tuple[Job, Planned]]) -> BuiltDocument:
    """Compare the notes of built wheels with their predictions, over all jobs.

    Parameters
    ----------
    jobs
        Each with its plan, from :func:`hubsight.job.plan.plan_job`.
    """
    wheels = [_wheel(job, planned) for job, planned in jobs]
    sides = tuple(side for wheel in wheels for side in wheel.sides)
    together = over_jobs([side.result for side in sides if side.result is not None])
    own = practice([one for wheel in wheels for one in wheel.on_rims])
    return BuiltDocument(
        sides=sides,
        overall=together if isinstance(together, OverJobs) else None,
        practice=own if isinstance(own, Practice) else None,
        contradicted=tuple(
            ContradictedWheel(job=wheel.job, causes=wheel.causes) for wheel in wheels if wheel.causes
        ),
    )


@dataclass(frozen=True)
class _Wheel:
    """A built wheel: its sides, what they say of the ERD, and causes where it contradicts its prediction."""

    job: str
    sides: tuple[BuiltSide, ...] = ()
    on_rims: tuple[BuiltOn, ...] = ()
    causes: tuple[Cause, ...] = ()


def _wheel(job: Job, planned: Planned) -> _Wheel:
    compared = list(_compared(job, planned))
    known = [(side, ends) for side, ends in compared if side.result is not None and ends is not None]
    if planned.plan is None or job.table is None:
        return _Wheel(job.name, tuple(side for side, _ in compared))
    rim, table = planned.plan.rim, job.table.rim
    added = 0.0 if table.correction is None else table.correction.value
    on_rims = tuple(
        BuiltOn(
            rim=side.rim,
            difference=ends.difference - ends.slope * added,
            u=math.sqrt(max(ends.predicted.u**2 - (ends.slope * rim.erd.u) ** 2, 0.0) + ends.observed.u**2),
            slope=ends.slope,
        )
        for side, ends in known
    )
    contradicts = any(side.result is not None and abs(side.result.e_n) > 1.0 for side, _ in known)
    washer = 0.0 if table.washer is None else table.washer.value
    causes = likely_causes([ends for _, ends in known], rim, washer) if contradicts else ()
    return _Wheel(job.name, tuple(side for side, _ in compared), on_rims, causes[:MOST_CAUSES])


def _compared(job: Job, planned: Planned) -> Iterator[tuple[BuiltSide, BuiltEnds | None]]:
    """Yield every noted side, with what its causes are weighed by where it could be compared."""
    for name, notes in _notes(job):
        if not notes.ends:
            continue
        base = _about(job, planned, name)
        side = _planned_side(planned, name)
        if isinstance(side, Refusal):
            yield base.model_copy(update={"refusal": side}), None
            continue
        order = _order_of(side, notes.length)
        proposed = order.choice.proposed
        length = proposed.length if notes.length is None else notes.length
        predicted = Reading(proposed.end + length - proposed.length, order.choice.u_end)
        zero = "the slot's bottom" if planned.plan is None else planned.plan.build.nipple_window.zero
        result = as_built(predicted, notes.ends, zero=zero)
        base = base.model_copy(update={"length": length})
        if isinstance(result, Refusal):
            yield base.model_copy(update={"refusal": result}), None
            continue
        mean = side.lengths.mean
        yield (
            base.model_copy(update={"result": result}),
            BuiltEnds(
                geometry=side.geometry,
                length=length,
                computed=mean.value,
                predicted=predicted,
                observed=result.observed,
                sits=side.tension.sits,
                slope=mean.sensitivities.erd,
                step=_step(planned, length),
            ),
        )


def _about(job: Job, planned: Planned, side: SideName) -> BuiltSide:
    """Return a side with what it was built of."""
    label = "" if job.table is None else job.table.label.hub
    kit = None if job.table is None else job.table.rim.kit
    return BuiltSide(
        job=job.name,
        side=side,
        rim=kit or job.name,
        nipple="" if planned.plan is None else planned.plan.build.nipple.name,
        hub=label or (job.name if job.hub is None else job.folder.resolve().name),
    )


def _step(planned: Planned, length: float) -> float:
    """Return how far the next stock length is from one that was built in."""
    stock = None if planned.plan is None else planned.plan.build.stock
    if stock is None or not stock.lengths:
        return 2.0 if stock is None else stock.step
    apart = [abs(one - length) for one in stock.lengths if one != length]
    return min(apart, default=2.0)


def replace_spokes(
    job: Job,
    planned: Planned,
    *,
    side: SideName | None = None,
    spokes: Sequence[float] = (),
    in_wheel: bool = False,
) -> ReplacementDocument:
    """Say whether a wheel's spokes fit the computed length, and what to order for a broken one.

    Parameters
    ----------
    job, planned
        The job and its plan.
    side, spokes, in_wheel
        Measured lengths on one side, loose or in the tensioned wheel; if not given, those that the job file
        notes in ``[built.SIDE]``.
    """
    if side is not None and spokes:
        asked: list[tuple[SideName, tuple[float, ...], bool]] = [(side, tuple(spokes), in_wheel)]
    else:
        asked = [
            (name, measured, tense)
            for name, notes in _notes(job)
            for measured, tense in ((notes.spokes, False), (notes.spokes_in_wheel, True))
            if measured and side in (None, name)
        ]
    return ReplacementDocument(
        job=job.name,
        sides=tuple(_replaced(planned, name, lengths, in_wheel=tense) for name, lengths, tense in asked),
    )


def _replaced(planned: Planned, name: SideName, spokes: tuple[float, ...], *, in_wheel: bool) -> ReplacedSide:
    side = _planned_side(planned, name)
    if isinstance(side, Refusal) or planned.plan is None:
        return ReplacedSide(side=name, refusal=side if isinstance(side, Refusal) else None)
    build = planned.plan.build
    order = _order_of(side, sum(spokes) / len(spokes))
    job = task(order.spokes, side.tension.sits, build.nipple_window, build.stock, u_cut=build.u_cut)
    result = replacement(job, spokes, stretch=side.tension.stretch if in_wheel else 0.0)
    if isinstance(result, Refusal):
        return ReplacedSide(side=name, refusal=result)
    return ReplacedSide(side=name, result=result)


def _notes(job: Job) -> Iterator[tuple[SideName, BuiltSideTable]]:
    if job.table is None:
        return
    if job.table.built.drive is not None:
        yield "drive", job.table.built.drive
    if job.table.built.non_drive is not None:
        yield "non_drive", job.table.built.non_drive


def _planned_side(planned: Planned, name: SideName) -> PlannedSide | Refusal:
    sides = () if planned.plan is None else planned.plan.sides
    for side in sides:
        if side.geometry.name == name:
            return side
    known = planned.result.side(name)
    if known is not None and known.spoke_lengths_refusal is not None:
        return known.spoke_lengths_refusal
    return Refusal(
        reason="nothing is stated of this side of the hub",
        remedy=f"Add a table [sides.{name}] to the job file",
    )


def _order_of(side: PlannedSide, length: float | None) -> PlannedLength:
    """Return the spokes that a length belongs to where a side takes several: the nearest."""
    if length is None:
        return side.orders[0]
    return min(side.orders, key=lambda order: abs(order.choice.proposed.length - length))
