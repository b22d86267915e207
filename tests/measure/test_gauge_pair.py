"""Which of two gauges is believed where their offsets contradict each other."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from hubsight.measure.gauge_consistency import TWO_GAUGES_MM
from hubsight.measure.gauge_pair import OTHER_LENGTH, believed_gauge
from hubsight.model.stated import Reading, StatedGauge
from hubsight.see.gauge.end_odds import EndOdds

AHEAD = np.arange(-26.0, 22.0, 0.05)
STATED = (StatedGauge(Reading(100.1, 0.03)), StatedGauge(Reading(100.2, 0.03)))
SURE_END = 40.0


def gauge(rival=None, less=0.0, tip="flat", tip_odds=-20.0):
    """Return a gauge whose end four photos show at 0, and with log-odds of ``-less`` at a rival place."""
    row = SURE_END * np.exp(-0.5 * (AHEAD / 0.1) ** 2)
    if rival is not None:
        row = np.maximum(row, (SURE_END - less) * np.exp(-0.5 * ((AHEAD - rival) / 0.1) ** 2))
    other = "nipple" if tip == "flat" else "flat"
    kinds = {tip: np.zeros(4), other: np.full(4, tip_odds / 4)}
    odds = EndOdds(AHEAD, np.tile(row / 4, (4, 1)), tip, kinds, "flat")
    return SimpleNamespace(odds=odds, tip=tip)


def test_two_gauges_that_agree_need_no_choice():
    assert believed_gauge([gauge(), gauge()], STATED, [3.0, 3.0 + 0.99 * TWO_GAUGES_MM]) is None
    assert believed_gauge([gauge()], STATED[:1], [3.0]) is None


@pytest.mark.parametrize("swapped", [False, True])
def test_the_gauge_whose_end_may_lie_elsewhere_is_not_believed(swapped):
    """Offsets 1 and 5 are as usual; but the second end may as well lie 4 mm further out: 1 for both."""
    gauges, offsets = [gauge(), gauge(rival=4.0, less=0.5)], [1.0, 5.0]
    if swapped:
        gauges, offsets = gauges[::-1], offsets[::-1]
    found = believed_gauge(gauges, STATED, offsets)
    assert found.gauge == int(swapped)
    assert found.apart == pytest.approx(4.0)


def test_an_end_that_may_lie_on_the_wrong_side_changes_nothing():
    """Nearer to the hub the second gauge's offset would be larger still, not that of the first."""
    assert believed_gauge([gauge(), gauge(rival=-4.0, less=0.5)], STATED, [1.0, 5.0]) is None


def test_where_both_ends_are_as_sure_the_usual_offset_is_believed():
    """Then one of the gauges is not as long as stated; no usual hub has an offset of 10 mm."""
    assert believed_gauge([gauge(), gauge()], STATED, [10.3, 3.0]).gauge == 1
    assert believed_gauge([gauge(), gauge()], STATED, [0.5, 4.2]) is None, "as usual, both"


def test_a_gauge_that_does_not_end_as_stated_is_believed_less():
    wrong = gauge(tip="nipple")
    assert believed_gauge([wrong, gauge()], STATED, [0.5, 4.2]).gauge == 1
    near = gauge(tip="nipple", tip_odds=-4.0)
    assert believed_gauge([near, gauge()], STATED, [0.5, 4.2]) is None


def test_near_odds_decide_nothing():
    even = [gauge(rival=-4.0, less=0.5), gauge(rival=4.0, less=0.5)]
    assert believed_gauge(even, STATED, [0.25, 4.25]) is None
    assert OTHER_LENGTH < 0.1
