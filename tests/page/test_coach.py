"""From where the next photo of a set is wanted."""

from __future__ import annotations

import pytest

from hubsight.measure.first_look import FirstLook, next_place, still_missing


def look(tilt, around=0.0):
    return FirstLook(width=4000, height=3000, orientation=1, corners=(), tilt_deg=tilt, around_deg=around)


def test_a_set_begins_from_above():
    assert next_place([]).above
    assert next_place([look(20, 90), look(25, 200), look(22, 320)]).above


def test_after_that_the_widest_gap_is_wanted():
    wanted = next_place([look(4), look(20, 80), look(20, 100)])
    assert not wanted.above
    assert wanted.around_deg == pytest.approx(270.0)
    wanted = next_place([look(4), look(20, 350), look(20, 10), look(20, 180)])
    assert wanted is None, "no gap is wider than half a turn, and three are from around"


def test_nothing_is_wanted_once_nothing_is_missing():
    whole = [look(4), look(20, 0), look(20, 120), look(20, 240)]
    for looks in ([], whole[:1], whole[:3], whole):
        assert (next_place(looks) is None) == (not still_missing(looks))


def test_photos_from_too_low_take_no_place():
    steep = [look(4), look(60, 0), look(60, 120), look(60, 240)]
    assert next_place(steep) is not None
