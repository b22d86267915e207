"""Each figure without each photo, from the sightings: what hangs on one photo alone is not sure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from hubsight.measure.adjust.without import LinearRows, renumbered
from hubsight.measure.side_figures import on_its_boss
from hubsight.measure.side_models import flange_figures
from hubsight.measure.sightings import Sightings, without_photo
from hubsight.model.agreement import WithoutPhoto
from hubsight.model.figure import Figure
from hubsight.model.side import FigureName
from hubsight.model.uncertainty import APART_SIGMAS, COVERAGE_FACTOR

Array = NDArray[np.float64]

LEAST_PHOTOS = 3
"""Two photos without one of them are one photo, which measures in another way."""
LEAST_EXPECTED_MM = 0.02
"""Scatter of such differences beyond what the uncertainties make of it (found on rendered hubs)."""
KNOWS_NOTHING_MM = 3.0
"""Standard uncertainty of the change from which on the other photos do not show a figure."""


def left_out(seen: Sightings, figures: dict[FigureName, Figure]) -> tuple[WithoutPhoto, ...]:
    """Return each figure without each photo.

    Parameters
    ----------
    seen, figures
        A side, and its figures from all photos.

    Notes
    -----
    The observations stay linearised where all photos put the unknowns; robust weights follow the photos that
    are left.
    """
    problem = seen.adjusted.problem
    if problem is None or len(seen.files) < LEAST_PHOTOS or seen.stated.side.corrections.bosses is not None:
        return ()
    rows = LinearRows.of(problem, seen.solution)
    changes = {file: rows.without(k) for k, file in enumerate(seen.files)}
    expected = _expected(seen, {file: covariance for file, (_, covariance) in changes.items()})
    out = []
    for k, file in enumerate(seen.files):
        without = _values(_moved(seen, k, changes[file][0]))
        out += [
            _compared(name, file, figure, without.get(name), expected.get((name, file), 0.0))
            for name, figure in figures.items()
        ]
    return tuple(out)


def _values(seen: Sightings) -> dict[FigureName, Figure]:
    geometry, line, _ = on_its_boss(seen)
    return flange_figures(seen, geometry, line, centreline_warnings=[], end_warnings=[])


def _moved(seen: Sightings, photo: int, change: Array) -> Sightings:
    """Return what the other photos show, adjusted without this one."""
    keep = [k for k in range(len(seen.files)) if k != photo]
    solution = renumbered(seen.solution, keep, change)
    return replace(without_photo(seen, photo), adjusted=replace(seen.adjusted, solution=solution))


def _expected(seen: Sightings, covariances: dict[str, Array]) -> dict[tuple[FigureName, str], float]:
    """Return by how much chance moves each figure without each photo, mm: a budget of the changes."""
    solution = replace(seen.solution, parts=covariances)
    figures = _values(replace(seen, adjusted=replace(seen.adjusted, solution=solution)))
    return {
        (name, item.source): item.u
        for name, figure in figures.items()
        for item in figure.budget
        if item.source in covariances
    }


def _compared(
    name: FigureName, photo: str, figure: Figure, without: Figure | None, expected: float
) -> WithoutPhoto:
    if without is None or expected > KNOWS_NOTHING_MM or not np.isfinite(without.value):
        return WithoutPhoto(figure=name, photo=photo, value=None)
    moved = without.value - figure.value
    chance = float(np.hypot(expected, LEAST_EXPECTED_MM))
    return WithoutPhoto(figure=name, photo=photo, value=without.value, moved=moved, expected=chance)


def moved(before: Mapping[FigureName, Figure], after: Mapping[FigureName, Figure]) -> bool:
    """Tell whether any figure moves by more than its standard uncertainty, or is there no more."""
    return any(
        name not in after or abs(after[name].value - figure.value) > max(figure.u, after[name].u)
        for name, figure in before.items()
    )


def unsteady(without: WithoutPhoto, figure: Figure) -> bool:
    """Tell whether a figure leaves its interval without a photo, and moves further than chance moves it."""
    beyond = abs(without.moved) > COVERAGE_FACTOR * figure.u
    return without.value is not None and beyond and abs(without.moved) > APART_SIGMAS * without.expected
