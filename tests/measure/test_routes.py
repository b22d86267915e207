"""The offset by its two routes: how far apart is chance, and what both share."""

import numpy as np
import pytest
from scipy.stats import norm

from hubsight.measure.routes import routes_apart, u_of_difference
from hubsight.model.figure import BudgetItem
from hubsight.model.uncertainty import FALSE_ALARM
from made_up import make_figure

COMMON = {"gauge length": 0.03, "gauge end": 0.2}


def offset(value, **own):
    """An offset whose budget has the common sources and its own."""
    parts = {**COMMON, **{name.replace("_", " "): u for name, u in own.items()}}
    u = float(np.hypot.reduce(list(parts.values())))
    return make_figure(value, u, budget=tuple(BudgetItem(source=s, u=v) for s, v in parts.items()))


def routes(apart, lopsided=0.3, centreline=0.4):
    return {
        "spoke_offset": offset(2.0, boss_centreline=centreline),
        "spoke_offset_by_width": offset(2.0 + apart, lopsided_bosses=lopsided),
    }


def test_what_moves_both_routes_alike_is_no_part_of_their_difference():
    one, other = routes(0.0).values()
    assert u_of_difference(one, other) == pytest.approx(0.5)
    longer = offset(2.0, lopsided_bosses=0.3).model_copy(
        update={"budget": (BudgetItem(source="gauge end", u=0.5),)}
    )
    assert u_of_difference(one, longer) == pytest.approx(np.hypot.reduce([0.03, 0.3, 0.4]))


@pytest.mark.parametrize("sign", [1, -1])
def test_routes_contradict_each_other_beyond_what_chance_makes_of_a_lopsided_boss(sign):
    limit = norm.isf(FALSE_ALARM / 2) * 0.5
    assert not routes_apart(routes(sign * 0.98 * limit))
    (said,) = routes_apart(routes(sign * 1.02 * limit))
    assert f"{1.02 * limit:.1f} mm" in said


def test_a_boss_that_is_surely_no_lopsided_one_is_doubted_sooner():
    assert routes_apart(routes(0.5, lopsided=0.1, centreline=0.08))
    assert not routes_apart(routes(0.5, lopsided=0.4, centreline=0.3))


def test_one_route_alone_contradicts_nothing():
    assert not routes_apart({"spoke_offset": offset(2.0)})
