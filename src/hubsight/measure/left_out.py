"""Each figure without each photo, from the sightings: what hangs on one photo alone is not sure."""

from __future__ import annotations

import numpy as np

from hubsight.measure.settle import restated
from hubsight.measure.side_figures import side_measurement
from hubsight.measure.sightings import Sightings, without_photo
from hubsight.model.agreement import WithoutPhoto
from hubsight.model.figure import Figure
from hubsight.model.refusal import Refusal
from hubsight.model.side import FigureName
from hubsight.model.uncertainty import COVERAGE_FACTOR

LEAST_PHOTOS = 3
"""Two photos without one of them are one photo, which measures in another way."""
SCATTER_SIGMAS = 3.0
LEAST_EXPECTED_MM = 0.02
"""Scatter of such differences beyond what the uncertainties make of it (found on rendered hubs)."""


def left_out(seen: Sightings, figures: dict[FigureName, Figure]) -> tuple[WithoutPhoto, ...]:
    """Return each figure without each photo.

    Parameters
    ----------
    seen, figures
        A side, and its figures from all photos.

    Notes
    -----
    Of two estimates of which one uses part of the other's observations, the difference has the variance
    u(without)^2 - u(with)^2.
    """
    photos = len(seen.files)
    if photos < LEAST_PHOTOS or seen.stated.side.corrections.bosses is not None:
        return ()
    out = []
    for k, file in enumerate(seen.files):
        rest = restated(without_photo(seen, k), seen.stated)
        measured = rest if isinstance(rest, Refusal) else side_measurement(rest)
        without = {} if isinstance(measured, Refusal) else measured.figures
        out += [_compared(name, file, figure, without.get(name)) for name, figure in figures.items()]
    return tuple(out)


def _compared(name: FigureName, photo: str, figure: Figure, without: Figure | None) -> WithoutPhoto:
    if without is None:
        return WithoutPhoto(figure=name, photo=photo, value=None)
    expected = float(np.sqrt(max(without.u**2 - figure.u**2, 0.0) + LEAST_EXPECTED_MM**2))
    moved = without.value - figure.value
    return WithoutPhoto(figure=name, photo=photo, value=without.value, moved=moved, expected=expected)


def unsteady(without: WithoutPhoto, figure: Figure) -> bool:
    """Tell whether a figure leaves its interval without a photo, and moves further than chance moves it."""
    beyond = abs(without.moved) > COVERAGE_FACTOR * figure.u
    return without.value is not None and beyond and abs(without.moved) > SCATTER_SIGMAS * without.expected
