"""Whom the centreline believes: outline, gauge direction or a pair of gauges, in their limits."""

from __future__ import annotations

import numpy as np
import pytest

from hubsight.measure.adjust.centreline import (
    ASYMMETRIC_SIGMA_MM,
    LEAST_DOUBT,
    PAIR_SIGMA_MM,
    SYMMETRIC_SIGMA_MM,
    Drilled,
    Opinion,
    outline_doubt,
    weigh,
)
from hubsight.scene.boss_shape import BossShape, Face

RADIUS = 22.0
FACE = Face(1, 4.0, 0.0, 0.0)
EXACT = 1e-6
VAGUE = Opinion(0.0, np.radians(0.45))


def boss(outline, inner=0.0, outer=0.0):
    return BossShape(FACE, FACE, (outline, inner, outer))


def test_a_symmetric_outline_wins_over_a_vaguer_gauge():
    line = weigh(boss(0.0), RADIUS, [Drilled((Opinion(np.radians(0.2), VAGUE.u),))])
    assert abs(line.angle) < np.radians(0.05)
    assert line.u < 0.5 * VAGUE.u
    assert line.doubt < LEAST_DOUBT
    assert not line.settled


def test_a_lopsided_outline_yields_to_the_gauge():
    outline = np.radians(3.0)
    line = weigh(boss(outline, -0.02, 0.02), RADIUS, [Drilled((VAGUE,))])
    assert line.doubt > 0.99
    assert abs(line.angle - VAGUE.angle) < 0.5 * outline
    assert line.u > 0.7 * VAGUE.u


def test_an_outline_that_looks_whole_is_doubted_when_the_gauge_contradicts():
    agreed, contradicted = (
        weigh(boss(0.0), RADIUS, [Drilled((Opinion(a, VAGUE.u),))]) for a in (0.0, 4 * VAGUE.u)
    )
    assert contradicted.doubt > 0.5 > agreed.doubt
    assert contradicted.u > 2 * agreed.u


def test_without_a_gauge_the_doubt_stays_in_the_interval():
    line = weigh(boss(0.01), RADIUS)
    assert line.angle == pytest.approx(0.01)
    expected = np.sqrt((1 - LEAST_DOUBT) * SYMMETRIC_SIGMA_MM**2 + LEAST_DOUBT * ASYMMETRIC_SIGMA_MM**2)
    assert line.u * RADIUS == pytest.approx(expected, rel=0.03)


def test_a_pair_settles_it():
    truth = np.radians(1.0)
    pair = Opinion(truth, PAIR_SIGMA_MM / RADIUS)
    line = weigh(boss(np.radians(-1.0), -0.02, 0.02), RADIUS, [Drilled((VAGUE,))], pair)
    assert line.settled
    assert abs(line.angle - truth) < 2 * pair.u
    assert line.u <= 1.1 * pair.u


def test_exact_sources_meet_at_the_weighted_mean():
    gauge = Opinion(0.002, SYMMETRIC_SIGMA_MM / RADIUS)
    line = weigh(boss(0.0), RADIUS, [Drilled((gauge,))])
    assert line.angle == pytest.approx(0.001, rel=0.1)


def test_doubt_grows_with_the_outlines_unrest():
    doubts = [outline_doubt(boss(0.0, 0.0, unrest / RADIUS), RADIUS) for unrest in (0.0, 0.12, 0.5)]
    assert doubts == sorted(doubts)
    assert doubts[0] == pytest.approx(LEAST_DOUBT, abs=0.01)
    assert doubts[2] > 0.95


@pytest.mark.parametrize("shift", [-0.3, 0.0, 0.7])
def test_turning_everything_turns_the_centreline(shift):
    straight = weigh(boss(0.0), RADIUS, [Drilled((Opinion(0.004, VAGUE.u),))])
    turned = weigh(boss(shift), RADIUS, [Drilled((Opinion(0.004 + shift, VAGUE.u),))])
    assert turned.angle == pytest.approx(straight.angle + shift)
    assert turned.u == pytest.approx(straight.u, abs=EXACT)


def test_both_bores_mouths_settle_a_lopsided_boss():
    """An outline a degree off, where bores that mirror each other say otherwise: as two gauges do."""
    bores = Opinion(np.radians(-0.1), 0.06 / RADIUS)
    line = weigh(boss(np.radians(-1.0), -0.02, 0.02), RADIUS, [Drilled((VAGUE,))], bores=bores)
    assert line.settled
    assert abs(line.angle - bores.angle) < 0.5 * bores.u
    assert line.u < 1.2 * bores.u
    assert line.doubt > 0.9
