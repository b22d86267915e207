"""An adjustment without one photo, against the other photos adjusted anew, and against noisy refits."""

from __future__ import annotations

import numpy as np
import pytest

from hubsight.measure.adjust.without import LinearRows, renumbered
from hubsight.model.stated import Reading
from hubsight.target.sheet import CameraPrior, sheet_problem
from scenes import CAMERA, scene

NOISE_PX, PHOTOS, REFITS = 0.05, 5, 30
LOOSE = CameraPrior(CAMERA, np.diag(np.maximum(np.abs(CAMERA) * 0.02, 1e-3) ** 2))
SCALE = Reading(1.0, 1e-3)


def of(sightings, long_side):
    return sheet_problem(sightings, LOOSE, (SCALE, SCALE), long_side)


@pytest.fixture(scope="module")
def data():
    return scene(count=PHOTOS, seed=11).board_set(NOISE_PX, seed=12)


@pytest.mark.parametrize("photo", [0, 3])
def test_the_change_is_that_of_adjusting_the_other_photos_anew(data, photo):
    problem = of(data.sightings, data.long_side)
    whole = problem.solve()
    change, _ = LinearRows.of(problem, whole).without(photo)
    keep = [k for k in range(PHOTOS) if k != photo]
    moved = renumbered(whole, keep, change)
    anew = of([data.sightings[k] for k in keep], data.long_side).solve()
    assert moved.layout.names == anew.layout.names
    u = np.sqrt(np.diag(anew.covariance))
    assert np.abs((moved.x - anew.x) / u).max() < 0.05
    assert np.abs((renumbered(whole, keep, 0 * change).x - anew.x) / u).max() > 0.2
    assert not np.any(change[whole.layout[f"photo{photo}"]])


def test_its_covariance_is_the_scatter_of_such_changes():
    """Outside check: an estimate's difference from an efficient one has the difference of their covariances
    (Hausman 1978, Econometrica 46, 1251; from memory)."""
    squares = []
    for seed in range(REFITS):
        noisy = scene(count=PHOTOS, seed=11).board_set(NOISE_PX, seed=100 + seed)
        problem = of(noisy.sightings, noisy.long_side)
        whole = problem.solve()
        change, covariance = LinearRows.of(problem, whole).without(2)
        camera = whole.layout["camera"]
        squares.append(change[camera] ** 2 / np.diag(covariance)[camera])
    assert np.mean(squares) == pytest.approx(1.0, abs=0.4)
