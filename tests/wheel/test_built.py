"""As built, over all jobs, and single spokes."""

from __future__ import annotations

import numpy as np
import pytest

from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading
from hubsight.wheel.built import AsBuilt, OverJobs, Replacement, as_built, over_jobs, replacement
from hubsight.wheel.choice import Task
from hubsight.wheel.nipple import Stock, Window

PREDICTED = Reading(0.4, 0.2)
TASK = Task(
    longest=296.9,
    shortest=296.7,
    u_length=0.15,
    sits=Reading(0.6, 0.1),
    window=Window(-1.0, 1.5),
    stock=Stock(),
)


def compared(ends: list[float], predicted: Reading = PREDICTED) -> AsBuilt:
    result = as_built(predicted, ends)
    assert isinstance(result, AsBuilt)
    return result


def built(bias: float, u: float, scatter: float, sides: int, seed: int) -> OverJobs:
    rng = np.random.default_rng(seed)
    results = [
        compared(list(0.4 + rng.normal(bias, scatter) + rng.normal(0.0, 0.3, 6)), Reading(0.4, u))
        for _ in range(sides)
    ]
    total = over_jobs(results)
    assert isinstance(total, OverJobs)
    return total


def replaced(*spokes: float, stretch: float = 0.0) -> Replacement:
    result = replacement(TASK, spokes, stretch=stretch)
    assert isinstance(result, Replacement)
    return result


def test_ends_where_predicted() -> None:
    result = compared([0.3, 0.6, 0.5])
    assert "as computed" in result.sentence()
    assert result.difference == pytest.approx(0.4667 - 0.4, abs=1e-3)


def test_ends_elsewhere_say_which_way() -> None:
    assert "1.5 mm shorter" in compared([1.8, 2.0]).sentence()
    assert "1.5 mm longer" in compared([-1.2, -1.0]).sentence()


def test_nothing_noted_is_refused() -> None:
    for ends in ([], [float("nan")]):
        assert isinstance(as_built(PREDICTED, ends), Refusal)
    assert isinstance(over_jobs([compared([0.4])]), Refusal)


def test_honest_predictions_hold_over_many_jobs() -> None:
    total = built(0.0, 0.2, 0.2, 60, 11)
    assert total.inside >= total.least_inside
    assert "stated too small" not in total.sentence()
    assert abs(total.bias.value) < 3.0 * total.bias.u


def test_bias_over_many_jobs_is_found() -> None:
    assert "shorter than computed" in built(0.3, 0.2, 0.2, 40, 12).sentence()
    assert "longer than computed" in built(-0.3, 0.2, 0.2, 40, 13).sentence()


def test_boastful_uncertainties_are_found() -> None:
    total = built(0.0, 0.05, 0.6, 40, 14)
    assert total.inside < total.least_inside
    assert "stated too small" in total.sentence()


def test_fitting_spokes() -> None:
    result = replaced(296.0, 296.2, 295.8)
    assert result.fit == "fits"
    assert result.order == 296.0
    assert "they fit" in result.sentence


def test_spokes_measured_in_the_wheel_are_stretched() -> None:
    assert replaced(296.5, stretch=0.5).measured.value == pytest.approx(296.0)


def test_spokes_of_another_sort() -> None:
    assert replaced(292.0).fit == "does not fit"
    assert "3.7 mm shorter" in replaced(291.6).sentence
    assert "longer than fits" in replaced(301.0).sentence


def test_edge_of_the_window_is_doubtful() -> None:
    result = replaced(298.0)
    assert result.fit == "doubtful"
    assert result.order == 298.0


def test_no_spoke_is_refused() -> None:
    assert isinstance(replacement(TASK, []), Refusal)
    assert isinstance(replacement(TASK, [-1.0]), Refusal)
