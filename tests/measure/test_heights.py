"""Height of a flange's middle, weighed from bores, upper and lower edges and empty bores."""

import numpy as np
import pytest

from hubsight.measure.heights import (
    EDGE_ABOVE_MM,
    HALF_WAY_HIGH_MM,
    STAGGER_MM,
    WIRE_HIGH_MM,
    Bore,
    paired_middle,
    radial_middle,
)
from hubsight.see.bosses.holes import MIDDLES_MM, STAGGERS_MM, Holes
from hubsight.see.turned.underside import Underside

MIDDLE = 90.0
EDGES = MIDDLE + EDGE_ABOVE_MM.mean
LOWER = 2 * (MIDDLE + HALF_WAY_HIGH_MM.mean - EDGES)
ONE_LOWER_EDGE = Underside(np.array([LOWER]), np.array([0.4]))


def bore(side, stagger=STAGGER_MM.mean):
    return Bore(MIDDLE + side * stagger + WIRE_HIGH_MM.mean, 0.06)


def holes(side, edges, stagger=STAGGER_MM.mean):
    """Holes that show clearly where they are, and half as clearly with the bores exchanged."""
    off = MIDDLES_MM[:, None] - (MIDDLE - edges)

    def near(at):
        return np.exp(-0.5 * ((off / 0.4) ** 2 + ((STAGGERS_MM - at) / 0.4) ** 2))

    return Holes(0.8 * near(side * stagger) + 0.4 * near(-side * stagger))


@pytest.mark.parametrize("side", [1, -1])
def test_the_edges_tell_on_which_side_the_bore_lies(side):
    middle = paired_middle([bore(side)], EDGES, None)
    assert middle.height == pytest.approx(MIDDLE, abs=0.03)
    assert middle.u < 0.3


def test_lower_edges_settle_what_the_rest_leaves_open():
    shaky = EDGES - 0.8 * STAGGER_MM.mean
    open_ = paired_middle([bore(-1)], shaky, None)
    settled = paired_middle([bore(-1)], shaky, Underside(np.array([2 * (MIDDLE - shaky)]), np.array([0.5])))
    assert open_.u > 0.5
    assert settled.u < 0.7 * open_.u
    assert settled.height == pytest.approx(MIDDLE, abs=0.1)


def test_of_several_lines_the_one_that_fits_is_believed():
    lines = Underside(np.array([LOWER + 1.6, LOWER]), np.array([0.45, 0.35]))
    assert paired_middle([bore(1)], EDGES, lines).height == pytest.approx(MIDDLE, abs=0.08)


def test_two_gauges_on_either_side_need_no_stagger():
    one = paired_middle([bore(1, 1.6)], EDGES, None)
    two = paired_middle([bore(1, 1.6), bore(-1, 1.6)], EDGES, None)
    assert two.height == pytest.approx(MIDDLE, abs=0.04)
    assert two.u < one.u
    assert abs(one.height - MIDDLE) > 0.1


@pytest.mark.parametrize("side", [1, -1])
def test_empty_bores_tell_on_which_side_the_gauge_lies(side):
    shaky = EDGES + side * STAGGER_MM.mean
    open_ = paired_middle([bore(side)], shaky, None)
    settled = paired_middle([bore(side)], shaky, None, holes(side, shaky))
    assert open_.u > 0.8
    assert settled.u < 0.6 * open_.u
    assert settled.height == pytest.approx(MIDDLE, abs=0.2)


def test_what_shows_no_holes_changes_nothing():
    without = paired_middle([bore(1)], EDGES, None)
    blank = Holes(np.full((len(MIDDLES_MM), len(STAGGERS_MM)), 0.3))
    with_blank = paired_middle([bore(1)], EDGES, None, blank)
    assert (with_blank.height, with_blank.u) == pytest.approx((without.height, without.u))


def test_radial_bores_lie_in_the_middle():
    middle = radial_middle([bore(0), bore(0)], EDGES, ONE_LOWER_EDGE)
    assert middle.height == pytest.approx(MIDDLE, abs=0.02)
    assert middle.u < 0.15


def test_a_wire_misread_in_height_on_a_radial_hub_shows_in_the_uncertainty():
    low = Bore(MIDDLE + WIRE_HIGH_MM.mean - 1.1, 0.2)
    middle = radial_middle([low], EDGES, ONE_LOWER_EDGE)
    assert abs(middle.height - MIDDLE) < 1.96 * middle.u
    assert abs(middle.height - MIDDLE) < 0.5


def test_a_wire_that_is_surely_seen_outweighs_edges():
    middle = radial_middle([bore(0)], EDGES + 0.6, None)
    assert middle.height == pytest.approx(MIDDLE, abs=0.15)


def test_intervals_hold_over_hubs_that_are_as_assumed():
    random = np.random.default_rng(3)
    held = 0
    for _ in range(200):
        side, stagger = random.choice([-1, 1]), random.normal(STAGGER_MM.mean, 0.16)
        edges = EDGES + random.normal(0, 0.35)
        depth = 2 * (MIDDLE + HALF_WAY_HIGH_MM.mean + random.normal(0, 0.1) - edges)
        middle = paired_middle(
            [Bore(bore(side, stagger).height + random.normal(0, 0.12), 0.06)],
            edges,
            Underside(np.array([depth]), np.array([0.4])),
        )
        held += abs(middle.height - MIDDLE) < 1.96 * middle.u
    assert 0.9 <= held / 200 <= 1.0
