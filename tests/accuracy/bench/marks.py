"""What a mark by hand moves: only where it moves something does a slip of the hand matter."""

from __future__ import annotations

import math
from dataclasses import replace

from bench.seen_once import SeenOnce
from hubsight.job.file.load import Job, JobSide
from hubsight.model.corrections import NO_CORRECTIONS
from hubsight.model.refusal import Refusal
from hubsight.model.side import SideMeasurement


def moved_by_marks(job: Job, side: JobSide, measure: SeenOnce) -> float | None:
    """Return how far the marks of a side move any of its figures, in the figure's standard uncertainty.

    As the program uses them, and as it would if they were said to be right: what a person might take them
    for. Infinite where they leave a figure, or the side, without a value; None without figures to move.
    """
    stated = side.stated
    right = stated.corrections
    for mark in stated.corrections.marks():
        right = right.answered(mark, "mark")

    def measured(corrections: object) -> SideMeasurement | Refusal:
        return measure(replace(stated, corrections=corrections), job.target, side.wheel)  # type: ignore[arg-type]

    before = measured(NO_CORRECTIONS)
    if isinstance(before, Refusal):
        return None
    return max(moved(before, measured(stated.corrections)), moved(before, measured(right)))


def moved(before: SideMeasurement, after: SideMeasurement | Refusal) -> float:
    """Return the largest move of any figure, in its standard uncertainty before."""
    if isinstance(after, Refusal):
        return math.inf
    return max(
        abs(after.figures[name].value - figure.value) / figure.u if name in after.figures else math.inf
        for name, figure in before.figures.items()
    )
