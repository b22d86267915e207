"""How round a rim is, from diameters read round it."""

import math

import numpy as np
import pytest

from hubsight.model.stated import ZERO, Reading
from hubsight.wheel.rim import UNKNOWN_SEAT_U_MM, Fitting, refitted
from hubsight.wheel.roundness import reading_directions, roundness


def ellipse_diameter(a, b, direction):
    """Distance of both ends of a chord through the middle of an ellipse with half axes a (at 0) and b."""
    t = math.radians(direction)
    return 2.0 * a * b / math.hypot(b * math.cos(t), a * math.sin(t))


def test_an_ellipse_is_found():
    turned = 35.0
    at = reading_directions(6)
    found = roundness([ellipse_diameter(298.4, 297.8, d - turned) for d in at], at)
    assert found.oval == pytest.approx(1.2, abs=0.005)
    assert found.largest_at == pytest.approx(turned, abs=0.2)
    assert found.diameter(turned) == pytest.approx(596.8, abs=0.005)
    assert found.diameter(turned + 90.0) == pytest.approx(595.6, abs=0.005)
    assert found.seen
    assert "single spokes end up to 0.3 mm" in found.sentence()


def test_of_round_rims_one_in_twenty_looks_oval_and_the_u_is_the_scatter():
    rng = np.random.default_rng(5)
    at = reading_directions(6)
    found = [roundness(596.0 + rng.normal(0.0, 0.3, 6), at, 0.3) for _ in range(600)]
    assert 0.01 < np.mean([one.seen for one in found]) < 0.09
    oval = np.array([ellipse_diameter(299.0, 298.0, d - 20.0) for d in at])
    ovals = [roundness(oval + rng.normal(0.0, 0.3, 6), at, 0.3) for _ in range(600)]
    stated = np.median([one.u for one in ovals])
    assert np.std([one.oval for one in ovals]) == pytest.approx(stated, rel=0.15)
    assert np.mean([one.oval for one in ovals]) == pytest.approx(2.0, abs=0.05)


def test_what_would_show_is_what_does_show():
    at = reading_directions(8)
    limit = roundness([596.0] * 8, at).visible
    for share, seen in ((0.98, False), (1.02, True)):
        values = [596.0 + share * limit / 2.0 * math.cos(2.0 * math.radians(d)) for d in at]
        assert roundness(values, at).seen is seen


def test_directions_by_holes_and_evenly():
    assert reading_directions(4) == (0.0, 45.0, 90.0, 135.0)
    assert reading_directions(2, 24, (1, 13)) == pytest.approx((7.5, 7.5)), "opposite holes, one diameter"
    assert reading_directions(2, 24, (1,)) == (0.0, 90.0)


@pytest.mark.parametrize(("count", "at"), [(2, (0.0, 90.0)), (4, (0.0, 0.5, 180.0, 90.0))])
def test_too_few_directions_say_nothing(count, at):
    assert roundness([596.0] * count, at) is None


def test_an_erd_follows_nipple_and_washer():
    erd, seat, thick = Reading(596.0, 0.2), Reading(2.0, 0.1), Reading(0.6, 0.05)
    taken = Fitting("slotted", seat)
    assert refitted(erd, taken, taken).erd == erd
    more = refitted(erd, taken, Fitting("slotted", Reading(3.5, 0.1), thick))
    assert more.erd.value == pytest.approx(596.0 + 3.0 + 1.2)
    assert more.erd.u == pytest.approx(math.sqrt(0.2**2 + 2 * 0.2**2 + 0.1**2))
    assert more.change == pytest.approx(4.2)
    back = refitted(erd, Fitting(washer=thick), Fitting(washer=ZERO))
    assert back.change == pytest.approx(-1.2)
    unknown = refitted(erd, Fitting("slotted"), Fitting("tall_head"))
    assert unknown.change == 0.0
    assert unknown.erd.u == pytest.approx(math.hypot(0.2, 2.0 * UNKNOWN_SEAT_U_MM))
    assert "measure of both" in unknown.warning
