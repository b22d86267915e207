"""Several wheels from one measured hub: each planned like a job of its own, side by side. Lengths in mm."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from hubsight.job.file.alternatives import Alternatives
from hubsight.job.file.load import Job, load_job
from hubsight.job.file.problems import JobFileError, Problem
from hubsight.job.plan import Planned, plan_job, stated_erd
from hubsight.model.catalogue import SIDE_WORDS
from hubsight.model.frozen import Frozen
from hubsight.model.lengths import UsedFigure
from hubsight.model.refusal import Refusal
from hubsight.model.result import JobResult, MeasuredSide
from hubsight.model.stated import SideName
from hubsight.model.verdict import Reason, Verdict, VerdictWord
from hubsight.wheel.compare import Best, Wheel, best_wheels

AS_STATED = "the job's own"
"""Name of the wheel that the job file itself describes."""


class ToOrder(Frozen):
    """Spokes of a side that are ordered in one length, where their ends lie, and the risks."""

    count: int
    length: float
    end: float
    p_too_short: float
    p_too_long: float
    close_call: bool


class ComparedSide(Frozen):
    """One side of a wheel; without lengths the refusal says why.

    Attributes
    ----------
    side, crosses, spokes
        How it is laced.
    length, u
        Computed mean length, and its standard uncertainty.
    orders
        What to order; more than one where the spokes differ. Empty where the verdict is to stop.
    bracing_angle, tension, stretch
        In the finished wheel: degrees, N, mm.
    refusal
        Why there is no length.
    """

    side: SideName
    crosses: int | None = None
    spokes: int = 0
    length: float | None = None
    u: float | None = None
    orders: tuple[ToOrder, ...] = ()
    bracing_angle: float | None = None
    tension: float | None = None
    stretch: float | None = None
    refusal: Refusal | None = None


class ComparedWheel(Frozen):
    """One wheel from the hub.

    Attributes
    ----------
    name, says
        Of the alternative, and what it changes.
    erd
        As it went in.
    sides
        As far as the hub is known.
    p_wrong, tension_ratio
        See `hubsight.model.lengths.PlannedWheel`.
    verdict, reasons
        Whether to order.
    best
        What it is best at.
    """

    name: str
    says: tuple[str, ...] = ()
    erd: UsedFigure | None = None
    sides: tuple[ComparedSide, ...]
    p_wrong: float | None = None
    tension_ratio: float | None = None
    verdict: VerdictWord
    reasons: tuple[Reason, ...] = ()
    best: tuple[str, ...] = ()


class WhatIf(Frozen):
    """Several wheels from one hub.

    Attributes
    ----------
    job
        Whose hub it is.
    wheels
        The job's own first, where it states one.
    best
        Which is best at what, with the reason.
    """

    schema_version: Literal[1] = 1
    job: str
    wheels: tuple[ComparedWheel, ...]
    best: tuple[Best, ...] = ()


@dataclass(frozen=True)
class _Named:
    name: str
    says: tuple[str, ...]
    result: JobResult


def what_if(path: Path, job: Job, measured: JobResult, alternatives: Alternatives) -> WhatIf:
    """Plan every alternative for a hub that is measured already.

    Parameters
    ----------
    path, job
        The job, and as it was read from there.
    measured
        Its result: the figures are taken from it, nothing is measured.
    alternatives
        From a file, or as they were chosen.

    Raises
    ------
    JobFileError
        With file, line, field and remedy of everything that is wrong with the alternatives.
    """
    wheels: list[_Named] = []
    problems: list[Problem] = []
    if stated_erd(job) is not None:
        wheels.append(_Named(AS_STATED, (), plan_job(job, measured).result))
    for one in alternatives.every:
        try:
            planned = _planned(path, one.changes, job, measured)
        except JobFileError as error:
            problems += [alternatives.problem(one, problem) for problem in error.problems]
        else:
            wheels.append(_Named(one.name, one.says, planned.result))
    if problems:
        raise JobFileError(problems)
    return _document(job.name, wheels)


def _planned(path: Path, changes: dict[str, Any], own: Job, measured: JobResult) -> Planned:
    """Plan one alternative; a rim drilled in another way is doubted, where photos were read by the job's."""
    _check_sides(changes, own)
    job = load_job(path, need_photos=False, changes=changes)
    if stated_erd(job) is None:
        remedy = 'Name a rim of your kit, as rim = "name", or state erd'
        raise JobFileError([Problem("", None, "", "it has no rim, so there are no spoke lengths", remedy)])
    planned = plan_job(job, measured)
    _check_hub(planned.result, plan_job(own, measured).result)
    return doubting_holes(planned, job, own)


def doubting_holes(planned: Planned, job: Job, own: Job) -> Planned:
    """Doubt a planned wheel whose rim is drilled in another way than the one by which photos were read.

    Parameters
    ----------
    planned, job
        The wheel.
    own
        The job in which the hub was measured.
    """
    if _drilled(job) == _drilled(own) or not any(side.measurement for side in planned.result.sides):
        return planned
    drilled = Reason(
        sentence="this rim is drilled in another way than the one by which the photos were read: the spoke"
        " offset rests on that",
        remedy="Measure the hub in a job that states this rim before ordering",
        about="wheel",
        severity="check",
    )
    verdict = Verdict.of([*planned.result.verdict.reasons, drilled])
    return replace(planned, result=planned.result.model_copy(update={"verdict": verdict}))


def _check_sides(changes: dict[str, Any], own: Job) -> None:
    """Refuse what is stated of a side that the job has not."""
    stated = {side.stated.name for side in own.sides}
    for name, table in changes.get("sides", {}).items():
        if name not in stated:
            what, remedy = "the job has no such side", f"Known are: {', '.join(sorted(stated))}"
            raise JobFileError([Problem("", None, f"sides.{name}.{next(iter(table))}", what, remedy)])


def _check_hub(result: JobResult, own: JobResult) -> None:
    """Refuse a number of spokes that makes another hub of readings by hand, which state no bosses."""
    for side in own.sides:
        other = result.side(side.name)
        if side.spoke_lengths is None or other is None or other.spoke_lengths is None:
            continue
        was, now = side.spoke_lengths.origin.bosses, other.spoke_lengths.origin.bosses
        if was != now:
            what = f"that takes {now} bosses on the {SIDE_WORDS[side.name].lower()}, the hub has {was}"
            raise JobFileError([Problem("", None, "wheel.spokes", what, "Keep the hub's number of spokes")])


def _drilled(job: Job) -> list[object]:
    """Return what the photos were read by: how the rim is drilled on each side."""
    return [(side.wheel.rim_holes, side.wheel.even_rim, side.wheel.spokes) for side in job.sides]


def _document(job: str, wheels: Sequence[_Named]) -> WhatIf:
    compared = [
        Wheel(
            name=wheel.name,
            p_wrong=wheel.result.wheel.p_wrong,
            tension_ratio=wheel.result.wheel.tension_ratio,
            bracing=tuple(_bracings(wheel.result)),
            lengths=tuple(line.length for line in wheel.result.order),
        )
        for wheel in wheels
        if wheel.result.wheel is not None
        and wheel.result.wheel.p_wrong is not None
        and wheel.result.verdict.word != "stop"
    ]
    best = best_wheels(compared)
    return WhatIf(job=job, wheels=tuple(_wheel(wheel, best) for wheel in wheels), best=best)


def _bracings(result: JobResult) -> Iterator[float]:
    for side in result.sides:
        if side.spoke_lengths is not None and side.spoke_lengths.order is not None:
            yield side.spoke_lengths.order.bracing_angle


def _wheel(one: _Named, best: Sequence[Best]) -> ComparedWheel:
    wheel = one.result.wheel
    return ComparedWheel(
        name=one.name,
        says=one.says,
        erd=None if wheel is None else wheel.erd,
        sides=tuple(map(_side, one.result.sides)),
        p_wrong=None if wheel is None else wheel.p_wrong,
        tension_ratio=None if wheel is None else wheel.tension_ratio,
        verdict=one.result.verdict.word,
        reasons=one.result.verdict.reasons,
        best=tuple(mark.at for mark in best if one.name in mark.wheels),
    )


def _side(side: MeasuredSide) -> ComparedSide:
    lengths = side.spoke_lengths
    if lengths is None or lengths.order is None:
        return ComparedSide(side=side.name, refusal=side.spoke_lengths_refusal)
    order = lengths.order
    return ComparedSide(
        side=side.name,
        crosses=lengths.origin.crosses,
        spokes=sum(choice.count for choice in order.choices),
        length=lengths.length.value,
        u=lengths.length.u,
        orders=()
        if side.verdict.word == "stop"
        else tuple(
            ToOrder(
                count=choice.count,
                length=choice.proposed.length,
                end=choice.proposed.end,
                p_too_short=choice.proposed.p_too_short,
                p_too_long=choice.proposed.p_too_long,
                close_call=choice.close_call,
            )
            for choice in order.choices
        ),
        bracing_angle=order.bracing_angle,
        tension=order.tension,
        stretch=order.stretch,
    )
