"""Jobs side by side: the same figure of every one, and whether they differ by more than is known of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from hubsight.job import JobFileError, load_job
from hubsight.job.as_built import compare_built
from hubsight.job.plan import plan_job
from hubsight.model.catalogue import ON_SHELF, SIDE_WORDS
from hubsight.model.stated import SIDES, SideName
from hubsight.model.uncertainty import COVERAGE_FACTOR
from hubsight.page.kept import remembered
from hubsight.page.summaries import Summary
from hubsight.shelf import Repeats, ShelvedSide, repeats
from hubsight.shelf.model import Measured


@dataclass(frozen=True)
class Line:
    """One figure of every job; ``told`` says in words whether they differ."""

    words: str
    values: tuple[Measured | None, ...]
    told: str
    apart: bool


@dataclass(frozen=True)
class SideBySide:
    """One side of every job."""

    words: str
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Comparison:
    """Jobs side by side.

    Attributes
    ----------
    jobs
        In the order of the columns.
    sides
        The figures.
    repeats
        Of jobs whose hub has the same name: scatter beside the stated uncertainty.
    builds
        Where the spokes' ends came to lie in the built wheels, against the prediction; a sentence each.
    """

    jobs: tuple[Summary, ...]
    sides: tuple[SideBySide, ...]
    repeats: tuple[Repeats, ...]
    builds: tuple[str, ...]


def compare(jobs: Sequence[Summary], folders: Sequence[Path]) -> Comparison:
    """Return jobs side by side; ``folders`` are theirs."""
    every = [side for job in jobs for side in job.sides]
    sides = (_of_side(name, jobs) for name in SIDES)
    return Comparison(
        jobs=tuple(jobs),
        sides=tuple(side for side in sides if side.lines),
        repeats=tuple(repeats(every)),
        builds=tuple(_builds(folders)),
    )


def _of_side(name: SideName, jobs: Sequence[Summary]) -> SideBySide:
    own: list[ShelvedSide | None] = [next((s for s in job.sides if s.side == name), None) for job in jobs]
    lines = (
        _line(entry.words, tuple(None if side is None else side.figures.get(figure) for side in own))
        for figure, entry in ON_SHELF.items()
    )
    return SideBySide(SIDE_WORDS[name], tuple(line for line in lines if any(line.values)))


def _line(words: str, values: tuple[Measured | None, ...]) -> Line:
    known = [value for value in values if value is not None]
    if len(known) < 2:
        return Line(words, values, "", apart=False)
    low, high = min(known, key=lambda v: v.value), max(known, key=lambda v: v.value)
    by = high.value - low.value
    apart = by > COVERAGE_FACTOR * float((low.u**2 + high.u**2) ** 0.5)
    told = f"{by:.2f} mm apart, more than their uncertainties allow" if apart else f"alike within {by:.2f} mm"
    return Line(words, values, told, apart=apart)


def _builds(folders: Sequence[Path]) -> Iterator[str]:
    """Yield what the built wheels say; a job that cannot be planned says nothing."""
    planned = []
    for folder in folders:
        result = remembered(folder).result
        if result is None:
            continue
        try:
            job = load_job(folder, need_photos=False)
            planned.append((job, plan_job(job, result)))
        except JobFileError:
            continue
    document = compare_built(planned)
    yield from (side.sentence() for side in document.sides)
    if document.overall is not None:
        yield f"All together: {document.overall.sentence()}"
