"""A gauge that leans in its bore, by diameters and by its slope."""

from __future__ import annotations

import math

import numpy as np
import pytest

from hubsight.measure.gauge_lift import (
    BORE_LENGTH_MM,
    BORE_MM,
    HEAD_RADIUS_MM,
    PLAY_U_MM,
    USUAL_LEAN_DEG,
    droop_advice,
    droop_deg,
    droop_u,
    play_u,
)
from hubsight.model.stated import Reading, StatedGauge

UP = np.array([0.0, 0.0, 1.0])


def gauge(diameter: float | None) -> StatedGauge:
    return StatedGauge(Reading(100.0, 0.03), diameter=None if diameter is None else Reading(diameter, 0.01))


def pointing_down(degrees: float) -> np.ndarray:
    return np.array([math.cos(math.radians(degrees)), 0.0, -math.sin(math.radians(degrees))])


def test_a_thinner_wire_has_more_play() -> None:
    assert play_u(gauge(None)) == PLAY_U_MM
    assert play_u(gauge(1.8)) > play_u(gauge(2.0)) > play_u(gauge(2.3))
    assert play_u(gauge(BORE_MM + 0.1)) == 0.0
    # a rectangle from none to all of the play, which lifts the head's edge by its radius times the lean
    rng = np.random.default_rng(1)
    lean = rng.uniform(0.0, (BORE_MM - 2.0) / BORE_LENGTH_MM, 100_000)
    assert play_u(gauge(2.0)) == pytest.approx(float(np.std(HEAD_RADIUS_MM * lean)), rel=0.01)


def test_only_what_points_down_more_than_a_bore_droops() -> None:
    assert droop_deg(pointing_down(USUAL_LEAN_DEG - 1.0), UP) == 0.0
    assert droop_deg(pointing_down(-8.0), UP) == 0.0
    assert droop_deg(pointing_down(USUAL_LEAN_DEG + 2.5), UP) == pytest.approx(2.5)


def test_a_leaning_hub_is_no_drooping_gauge() -> None:
    axis = np.array([math.sin(math.radians(5.0)), 0.0, math.cos(math.radians(5.0))])
    assert droop_deg(pointing_down(6.0), axis) == 0.0


def test_a_droop_counts_to_one_side_and_is_worth_a_hint() -> None:
    lift = HEAD_RADIUS_MM * math.tan(math.radians(3.0))
    assert droop_u(3.0) == pytest.approx(lift / math.sqrt(3.0))
    assert droop_u(0.0) == 0.0
    assert "support its far end" in droop_advice([0.0, 3.0])[0]
    assert droop_advice([0.0]) == []
