"""Waves of the sheet: how far its mean plane lies above the table."""

from dataclasses import replace

import numpy as np
import pytest

from hubsight.estimate.problem import Layout
from hubsight.model.stated import Reading
from hubsight.target.lift import sheet_lift
from hubsight.target.sheet import PAPER_HEIGHT_PRIOR_MM, CameraPrior, sheet_problem
from scenes import CAMERA, scene

NOISE_PX = 0.04
KNOWN = CameraPrior(CAMERA, np.diag((1e-4 * np.maximum(np.abs(CAMERA), 1e-3)) ** 2))


def lift_of(heights, *, seed=1):
    """Lift of a sheet with these heights of its corners above the table."""
    flat = scene(count=4)
    waves = replace(flat, heights=np.asarray(heights))
    scale = Reading(1.0, 1e-3)
    sightings = waves.board_set(NOISE_PX, seed=seed).sightings
    solution = sheet_problem(sightings, KNOWN, (scale, scale), 4032).solve()
    return sheet_lift(solution, flat.board.saddles)


def wave(length, turn, start, height=0.25):
    """A wave that touches the table in its troughs, and the mean plane's height over the sheet's middle."""
    corners = scene(count=4).board.saddles
    along = corners @ [np.cos(turn), np.sin(turn)]
    heights = height / 2 * (1 - np.cos(2 * np.pi * along / length + start))
    plane = np.linalg.lstsq(np.column_stack([np.ones(len(corners)), corners]), heights, rcond=None)[0]
    return heights, float(plane[0])


@pytest.mark.parametrize(("length", "turn", "start"), [(150, 0.3, 0.5), (190, 1.2, 2.0), (120, 2.4, 4.0)])
def test_a_sheet_that_waves_lies_above_the_table(length, turn, start):
    heights, mean = wave(length, turn, start)
    lift = lift_of(heights)
    assert mean > 0.08
    assert abs(lift.value - mean) < 2 * lift.u
    assert lift.u < 0.6 * mean


def test_a_flat_sheet_lies_on_the_table():
    corners = len(scene(count=4).board.saddles)
    assert max(lift_of(np.zeros(corners), seed=seed).value for seed in range(4)) < 0.02


def test_a_single_corner_misread_is_no_wave():
    heights = np.zeros(len(scene(count=4).board.saddles))
    heights[10] = -0.3
    assert lift_of(heights).value < 0.03


def by_hand(heights, u=0.01, spacing=12.0):
    """Lift of a row of corners whose heights are known to ``u``."""
    layout = Layout()
    layout.add("paper", len(heights))
    covariance = np.diag(np.broadcast_to(np.square(u), len(heights)))
    corners = np.column_stack([spacing * np.arange(len(heights)), np.zeros(len(heights))])
    return sheet_lift(_Known(layout, covariance, np.array(heights)), corners)


class _Known:
    def __init__(self, layout, covariance, heights):
        self.layout, self.covariance, self.heights = layout, covariance, heights

    def __getitem__(self, name):
        return {"paper": self.heights}[name]


def test_the_lift_is_twice_what_neighbours_have_in_common():
    """Neighbours at 12 mm share their wave: the mean product of their heights is its variance."""
    common = np.sqrt((0.2 * 0.3 + 0.3 * 0.1) / 2)
    lift = by_hand([0.2, 0.3, 0.1])
    assert lift.value == pytest.approx(2.0 * common)
    assert lift.u == pytest.approx(0.35 * 2.0 * common)
    assert by_hand([0.3, -0.3, 0.3]) == Reading(0.0, 0.0), "what neighbours contradict is no wave"


def test_only_neighbours_that_photos_show_count():
    assert by_hand([0.2, 0.3, 0.1], spacing=12.6) == Reading(0.0, 0.0)
    assert by_hand([0.2, 0.3, 0.1], u=0.51 * PAPER_HEIGHT_PRIOR_MM) == Reading(0.0, 0.0)
    half = by_hand([0.2, 0.3, 0.1], u=np.array([0.49, 0.49, 0.51]) * PAPER_HEIGHT_PRIOR_MM)
    assert half.value == pytest.approx(2.0 * np.sqrt(0.2 * 0.3))
