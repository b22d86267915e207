"""What came of a case: the verdict, whether the proposed length is wrong, whether the slip was named."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from pathlib import Path

from bench.corpus import SIDES, Side
from bench.marks import moved_by_marks
from bench.seen_once import SeenOnce
from bench.slip_list import SLIPS
from hubsight import load_job, measure_job
from hubsight.job.file.problems import JobFileError
from hubsight.model.result import JobResult, MeasuredSide
from hubsight.model.verdict import Reason, Verdict

NO_SLIP, UNCONFIRMED = "no slip, everything confirmed", "no slip, every value stated once"
OUTSIDE_MM = 0.25
"""A spoke's end so far outside of the nipple's window is a wrong order."""
CLOSE_CALL = "close call"
"""Words in a reason that it is one."""
MOVES_U = 1.0
"""A mark that moves no figure by more standard uncertainties than this is no slip that matters."""
NUMBER = re.compile(r"[+-]?\d+(\.\d+)?")


@dataclass(frozen=True)
class Outcome:
    """One case, judged.

    Attributes
    ----------
    word
        Of the verdict on the side; ``none`` where the side or the job was refused.
    proposed, outside
        Stock length that was proposed, and how far outside of the nipple's window its end would lie by the
        truth, mm; None without a proposal.
    named, nameable
        Whether a reason is about the slip that is not given without it too (a note will do, but for photos),
        and whether a reading contradicts the slip at all.
    moves
        How far a mark by hand moves any figure, in its standard uncertainty; None of other slips.
    grave
        Sentences of the reasons that keep it from ``order``.
    said
        What all reasons are about, and their sentences, without numbers.
    """

    slip: str
    hub: str
    side: str
    word: str
    proposed: float | None = None
    outside: float | None = None
    named: bool = False
    nameable: bool = False
    close_call_only: bool = False
    moves: float | None = None
    grave: tuple[str, ...] = ()
    said: tuple[str, ...] = ()

    @property
    def wrong(self) -> bool:
        """Whether the proposed length is wrong by the truth."""
        return self.outside is not None and self.outside > OUTSIDE_MM


def outcome(
    slip: str, job: Path, side: Side, measure: SeenOnce, said_anyway: Collection[str] = ()
) -> Outcome:
    """Measure a job, and judge what it says of one side; ``said_anyway`` is what is said without the slip."""
    planted = next((one for one in SLIPS if one.name == slip), None)
    nameable = planted is not None and planted.contradicted
    try:
        stated = load_job(job)
        result = measure_job(stated, measure=measure)
    except JobFileError as error:
        said = "; ".join(f"{problem.field}: {problem.what}" for problem in error.problems)
        fields = [problem.field for problem in error.problems]
        named = planted is not None and any(planted.names(about, side) for about in fields)
        return Outcome(slip, side.hub, side.side, "none", named=named, nameable=nameable, grave=(said,))
    own = next((one for one in result.sides if one.name == SIDES[side.side]), None)
    verdict = of_side(result, SIDES[side.side])
    grave = tuple(reason for reason in verdict.reasons if reason.severity != "note")
    naming = grave if planted is not None and planted.kind == "photo" else verdict.reasons
    moves = None
    if planted is not None and planted.kind == "hand":
        its = next(one for one in stated.sides if one.stated.name == SIDES[side.side])
        moves = moved_by_marks(stated, its, measure)
        nameable = moves is not None and moves > MOVES_U
    proposed, outside = proposal(own, side.truth["spoke_length"])
    return Outcome(
        slip,
        side.hub,
        side.side,
        verdict.word if own is not None and own.refusal is None else "none",
        proposed,
        outside,
        named=planted is not None
        and any(planted.names(one.about, side) for one in naming if _without_numbers(one) not in said_anyway),
        nameable=nameable,
        close_call_only=bool(grave) and all(_is_close_call(reason) for reason in grave),
        moves=moves,
        grave=tuple(f"[{reason.about}] {reason.sentence}" for reason in grave),
        said=tuple(_without_numbers(reason) for reason in verdict.reasons),
    )


def _without_numbers(reason: Reason) -> str:
    return f"[{reason.about}] {NUMBER.sub('#', reason.sentence)}"


def of_side(result: JobResult, side: str) -> Verdict:
    """Return the verdict on a side with what concerns the whole job, without what concerns the other side."""
    other = next(name for name in SIDES.values() if name != side)
    of_the_job = (
        reason
        for reason in result.verdict.reasons
        if not reason.about.startswith((f"{other}.", f"sides.{other}."))
    )
    own = (reason for one in result.sides if one.name == side for reason in one.verdict.reasons)
    return Verdict.of([*own, *of_the_job])


def proposal(side: MeasuredSide | None, true_length: float) -> tuple[float | None, float | None]:
    """Return the proposed length, and how far its end would lie outside of the window by the truth, mm.

    The end lies where the program says, but farther out by as much as its length is too large.
    """
    lengths = None if side is None else side.spoke_lengths
    if lengths is None or lengths.order is None:
        return None, None
    low, high = lengths.order.window
    end = lengths.order.choices[0].proposed.end + lengths.length.value - true_length
    return lengths.order.proposed, max(low - end, end - high)


def _is_close_call(reason: Reason) -> bool:
    return CLOSE_CALL in reason.sentence.lower()


@dataclass(frozen=True)
class Row:
    """A slip over all sides.

    ``named`` of the ``nameable`` ones; of marks that move nothing ``noticed`` of ``idle``.
    """

    slip: str
    sides: int
    wrong: int
    wrong_under_order: int
    named: int
    nameable: int
    noticed: int = 0
    idle: int = 0
    words: Counter[str] = field(default_factory=Counter)


def _idle(one: Outcome) -> bool:
    """Tell whether a mark moves nothing: no reading need contradict it."""
    return one.moves is not None and one.moves <= MOVES_U


def rows(found: Sequence[Outcome]) -> Iterator[Row]:
    """Yield a row per slip, in the order of the list."""
    order = [NO_SLIP, UNCONFIRMED, *(slip.name for slip in SLIPS)]
    for slip, group in groupby(
        sorted(found, key=lambda one: order.index(one.slip)), key=lambda one: one.slip
    ):
        own = list(group)
        yield Row(
            slip,
            sides=len(own),
            wrong=sum(one.wrong for one in own),
            wrong_under_order=sum(one.wrong and one.word == "order" for one in own),
            named=sum(one.named for one in own if one.nameable),
            nameable=sum(one.nameable for one in own),
            noticed=sum(one.named for one in own if _idle(one)),
            idle=sum(_idle(one) for one in own),
            words=Counter(one.word for one in own),
        )
