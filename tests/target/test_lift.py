"""Waves and curled edges of the sheet: how far its mean plane lies above the table."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from hubsight.estimate.problem import Layout
from hubsight.model.stated import Reading
from hubsight.target.lift import HOVERS, LIFT_U_SHARE, sheet_lift
from hubsight.target.sheet import PAPER_HEIGHT_PRIOR_MM, CameraPrior, sheet_problem
from scenes import CAMERA, scene

NOISE_PX = 0.04
KNOWN = CameraPrior(CAMERA, np.diag((1e-4 * np.maximum(np.abs(CAMERA), 1e-3)) ** 2))
CORNERS = scene(count=4).board.saddles
HUB = np.array([-50.0, 0.0])


def lift_of(heights, *, seed=1, hub=HUB):
    """Lift of a sheet with these heights of its corners above the table."""
    flat = scene(count=4)
    waves = replace(flat, heights=np.asarray(heights))
    scale = Reading(1.0, 1e-3)
    sightings = waves.board_set(NOISE_PX, seed=seed).sightings
    solution = sheet_problem(sightings, KNOWN, (scale, scale), 4032).solve()
    return sheet_lift(solution, flat.board.saddles, hub)


def mean_plane(heights, at=HUB):
    """Height of the corners' mean plane above the table, at a place."""
    plane = np.linalg.lstsq(np.column_stack([np.ones(len(CORNERS)), CORNERS]), heights, rcond=None)[0]
    return float(plane @ [1.0, *at])


def wave(length, turn, start, height=0.25):
    """A wave that touches the table in its troughs."""
    along = CORNERS @ [np.cos(turn), np.sin(turn)]
    return height / 2 * (1 - np.cos(2 * np.pi * along / length + start))


def curled(edge, lift):
    """A sheet that lies flat but for one edge, which rises from some 40 mm before it."""
    out = CORNERS @ np.array({"right": (1, 0), "left": (-1, 0), "top": (0, 1), "bottom": (0, -1)}[edge])
    return lift * np.clip((out - out.max() + 40.0) / 40.0, 0, 1) ** 2


@pytest.mark.parametrize(("length", "turn", "start"), [(150, 0.3, 0.5), (190, 1.2, 2.0), (120, 2.4, 4.0)])
def test_a_sheet_that_waves_lies_above_the_table(length, turn, start):
    heights = wave(length, turn, start)
    mean, lift = mean_plane(heights), lift_of(heights)
    assert mean > 0.08
    assert abs(lift.value - mean) < 2 * lift.u
    assert lift.u < 0.9 * mean


@pytest.mark.parametrize("edge", ["right", "left", "top", "bottom"])
def test_a_curled_edge_leaves_the_rest_on_the_table(edge):
    """Its heights scatter as those of waves twice as high; where the sheet lies flat it touches the table."""
    heights = curled(edge, 0.6)
    mean, lift = mean_plane(heights), lift_of(heights)
    assert lift.value == pytest.approx(mean, abs=0.025)
    assert lift.u < 0.4 * mean


def test_it_is_the_lift_where_the_hub_stands():
    heights, near, far = curled("right", 0.6), np.array([80.0, 0.0]), np.array([-80.0, 0.0])
    assert mean_plane(heights, near) - mean_plane(heights, far) > 0.2
    above_mean = heights - np.array([mean_plane(heights, corner) for corner in CORNERS])
    for hub in (near, far, HUB):
        expected = max(mean_plane(heights, hub), 0.0)
        assert by_hand(above_mean, hub=hub).value == pytest.approx(expected, abs=0.02)


def test_a_flat_sheet_lies_on_the_table():
    assert max(lift_of(np.zeros(len(CORNERS)), seed=seed).value for seed in range(4)) < 0.02


def test_a_single_corner_misread_is_no_wave():
    heights = np.zeros(len(CORNERS))
    heights[10] = -0.3
    assert lift_of(heights).value < 0.03


class _Known:
    """Heights of corners that are known as they are, each to ``u``."""

    def __init__(self, heights, u):
        self.layout = Layout()
        self.layout.add("paper", len(heights))
        self.covariance = np.diag(np.broadcast_to(np.square(u), len(heights)))
        self.heights = np.array(heights)

    def __getitem__(self, name):
        return {"paper": self.heights}[name]


def by_hand(heights, u=0.01, hub=HUB):
    return sheet_lift(_Known(heights, u), CORNERS, hub)


def test_the_table_is_the_lower_hull_of_the_corners():
    """Another construction: the facet of the convex hull of all corners that lies below the hub."""
    heights = 0.15 * (CORNERS[:, 0] / 130) ** 2 + 0.1 * (CORNERS[:, 1] / 85) ** 2
    facets = [e for e in ConvexHull(np.column_stack([CORNERS, heights])).equations if e[2] < -1e-6]
    below = max(-(e[:2] @ HUB + e[3]) / e[2] for e in facets)
    lift = by_hand(heights - 0.5)
    assert lift.value == pytest.approx(0.5 - below, abs=0.06)
    hovers = np.sqrt(lift.u**2 - (LIFT_U_SHARE * lift.value) ** 2)
    assert lift.value - hovers == pytest.approx(0.5 - below, abs=0.02)
    assert hovers < HOVERS * heights.std()


def test_a_plane_that_leans_lifts_nothing():
    assert by_hand(0.002 * CORNERS[:, 0] - 0.001 * CORNERS[:, 1] + 0.1).value == pytest.approx(0.0, abs=0.01)


def test_only_corners_that_photos_show_count():
    heights = curled("left", 0.6) - 0.1
    assert by_hand(heights).value > 0.05
    assert by_hand(heights, u=0.51 * PAPER_HEIGHT_PRIOR_MM) == Reading(0.0, 0.0)


def test_errors_of_the_corners_alone_lift_nothing():
    generator = np.random.default_rng(5)
    lifts = [by_hand(generator.normal(0, 0.03, len(CORNERS))).value for _ in range(20)]
    assert np.mean(lifts) < 0.03
