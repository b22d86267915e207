"""After building: where the spokes' ends came to lie against the prediction, and single spokes; mm."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Literal

from hubsight.job.file.build_tables import BuiltSideTable
from hubsight.job.file.load import Job
from hubsight.job.plan import Planned
from hubsight.model.catalogue import SIDE_WORDS
from hubsight.model.frozen import Frozen
from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading, SideName
from hubsight.wheel.built import AsBuilt, OverJobs, Replacement, as_built, over_jobs, replacement
from hubsight.wheel.choice import task
from hubsight.wheel.order import PlannedLength, PlannedSide

SCHEMA_VERSION: Literal[1] = 1
"""Raised whenever a reader of the old document would misread the new one."""


SLOT = "the slot's bottom"


class BuiltSide(Frozen):
    """One side as built, or why nothing can be said of it.

    Attributes
    ----------
    length
        Of the spokes that were built in.
    result, refusal
        Exactly one of them.
    """

    job: str
    side: SideName
    length: float | None = None
    result: AsBuilt | None = None
    refusal: Refusal | None = None

    def sentence(self) -> str:
        """Return one sentence for the user."""
        where = f"{self.job}, {SIDE_WORDS[self.side].lower()}"
        if self.result is not None:
            return f"{where}, spokes of {self.length:g} mm: {self.result.sentence()}"
        return f"{where}: {'' if self.refusal is None else self.refusal.sentence()}"


class BuiltDocument(Frozen):
    """What the built wheels say of the prediction.

    Attributes
    ----------
    sides
        Every side of which the builder noted something.
    overall
        All of them together; None with fewer than two.
    """

    schema_version: Literal[1] = SCHEMA_VERSION
    sides: tuple[BuiltSide, ...]
    overall: OverJobs | None = None


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

    schema_version: Literal[1] = SCHEMA_VERSION
    job: str
    sides: tuple[ReplacedSide, ...]


def compare_built(jobs: Iterable[tuple[Job, Planned]]) -> BuiltDocument:
    """Compare the notes of built wheels with their predictions, over all jobs.

    Parameters
    ----------
    jobs
        Each with its plan, from :func:`hubsight.job.plan.plan_job`.
    """
    sides = tuple(side for job, planned in jobs for side in _built_sides(job, planned))
    together = over_jobs([side.result for side in sides if side.result is not None])
    return BuiltDocument(sides=sides, overall=together if isinstance(together, OverJobs) else None)


def _built_sides(job: Job, planned: Planned) -> Iterator[BuiltSide]:
    for name, notes in _notes(job):
        if not notes.ends:
            continue
        side = _planned_side(planned, name)
        if isinstance(side, Refusal):
            yield BuiltSide(job=job.name, side=name, refusal=side)
            continue
        order = _order_of(side, notes.length)
        proposed = order.choice.proposed
        length = proposed.length if notes.length is None else notes.length
        predicted = Reading(proposed.end + length - proposed.length, order.choice.u_end)
        zero = SLOT if planned.plan is None else planned.plan.build.nipple_window.zero
        result = as_built(predicted, notes.ends, zero=zero)
        if isinstance(result, Refusal):
            yield BuiltSide(job=job.name, side=name, length=length, refusal=result)
        else:
            yield BuiltSide(job=job.name, side=name, length=length, result=result)


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
