"""Repeated photo sets of one side."""

import math

import pytest

from hubsight.job.repeats import with_repeats
from hubsight.model.figure import BudgetItem
from hubsight.model.side import FaceGauge, FaceGeometry
from hubsight.model.verdict import Reason
from made_up import make_figure, make_side


def side(offset, u=0.1, **more):
    made = make_side("drive", ())
    figures = {**made.figures, "spoke_offset": make_figure(offset, u)}
    return made.model_copy(update={"figures": figures, **more})


def test_without_repeats_nothing_changes():
    first = side(2.2)
    assert with_repeats(first, []) is first


def test_figures_are_combined_and_the_scatter_is_told():
    found = with_repeats(side(2.1), [side(2.2), side(2.3)])
    offset = found.figures["spoke_offset"]
    assert offset.value == pytest.approx(2.2)
    assert offset.u < 0.1
    told = "spoke offset: 3 photo sets scatter by 0.10 mm, where ± 0.10 mm is stated of each"
    assert told in found.repeats
    assert not found.warnings


def test_the_mean_of_opposite_errors_is_free_of_them():
    found = with_repeats(side(2.2 + 0.25, u=0.3), [side(2.2 - 0.25, u=0.3)])
    assert found.figures["spoke_offset"].value == pytest.approx(2.2)
    assert found.figures["spoke_offset"].u >= 0.3 / math.sqrt(2) - 1e-9


def test_the_odd_one_is_pointed_at_and_widens_the_interval():
    found = with_repeats(side(2.2), [side(2.25), side(3.1)])
    assert "repeat 2 stands out: was its head not seated, or a boss worn?" in found.warnings[-1]
    assert found.figures["spoke_offset"].warnings
    assert found.figures["spoke_offset"].u > 0.2


def test_of_two_that_differ_none_is_blamed():
    found = with_repeats(side(2.2), [side(3.1)])
    assert "stands out" not in found.warnings[-1]
    assert "head not seated" in found.warnings[-1]


def test_another_hub_is_said():
    found = with_repeats(side(2.2), [side(2.2, boss_count=8)])
    assert "8 bosses" in found.warnings[0]


@pytest.mark.parametrize(
    ("apart", "u", "troubled"),
    [(0.19, 0.001, False), (0.21, 0.001, True), (0.42, 0.1, False), (0.43, 0.1, True)],
)
def test_sets_differ_by_more_than_they_should_beyond_three_sigmas_and_a_fifth_of_a_millimetre(
    apart, u, troubled
):
    """Joint sigma of two sets of 0.1 is 0.1414, three of them 0.424."""
    found = with_repeats(side(2.2, u), [side(2.2 + apart, u)])
    assert bool(found.warnings) is troubled
    assert bool(found.figures["spoke_offset"].warnings) is troubled
    assert bool([told for told in found.repeats if told.startswith("spoke offset")]) is not troubled


def test_scatter_is_told_of_the_figures_that_matter_and_of_no_other():
    found = with_repeats(side(2.2), [side(2.3)])
    assert [told.partition(":")[0] for told in found.repeats] == ["spoke offset", "flange diameter"]


def test_figures_of_the_gauge_itself_stay_those_of_the_first_set():
    first = side(2.2)
    other = first.model_copy(update={"figures": {**first.figures, "protrusion": make_figure(90.0, 0.05)}})
    found = with_repeats(first, [other])
    assert found.figures["protrusion"] == first.figures["protrusion"]
    assert not found.warnings


def doubt(about):
    return Reason(sentence="it is open", remedy="Look", about=about, severity="check")


@pytest.mark.parametrize(
    ("own", "repeated", "left"),
    [
        ((0, 1), (1,), (1,)),
        ((1,), (1, 0), (1,)),
        ((0,), (1,), (0, 1)),
        ((1, 0), (0, 1), (1, 0)),
        ((), (), ()),
    ],
)
def test_a_set_that_settles_the_first_hole_settles_it_for_all(own, repeated, left):
    open_, row = doubt("sides.drive.first_hole"), doubt("drive.spoke_offset")
    again = side(2.2, first_holes=repeated, doubts=(open_, row))
    found = with_repeats(side(2.2, first_holes=own, doubts=(open_,)), [again])
    assert found.first_holes == left
    assert found.doubts == ((row,) if len(left) == 1 else (open_, row))


def hand(offset, sideways, length=100.0, **parts):
    """Return a side whose offset was measured by a gauge of one hand, with this budget."""
    budget = tuple(BudgetItem(source=source.replace("_", " "), u=u) for source, u in parts.items())
    made = side(offset, math.hypot(*parts.values()))
    figures = {**made.figures}
    figures["spoke_offset"] = figures["spoke_offset"].model_copy(update={"budget": budget})
    gauge = FaceGauge(boss=0, radius=22.0, outward=0.2, sideways=sideways, reach=97.8, length=length)
    return made.model_copy(update={"figures": figures, "face": FaceGeometry(gauges=(gauge,))})


def test_the_centreline_is_one_for_bores_of_one_hand():
    one, other = (hand(2.2, 0.98, boss_centreline=0.3, seating=0.03) for _ in range(2))
    u = with_repeats(one, [other]).figures["spoke_offset"].u
    assert u == pytest.approx(math.hypot(0.3, 0.03 / math.sqrt(2)), rel=1e-3)


def test_the_centreline_cancels_between_bores_of_both_hands():
    one = hand(2.5, 0.98, boss_centreline=0.3, seating=0.03)
    other = hand(1.9, -0.98, boss_centreline=0.3, seating=0.06)
    found = with_repeats(one, [other]).figures["spoke_offset"]
    assert found.value == pytest.approx(2.2, abs=0.01)
    assert found.u == pytest.approx(math.hypot(0.03, 0.06) / 2, rel=0.05)  # each half of the mean


def test_one_gauge_brings_one_length_to_all_sets():
    same = [hand(2.2, s, gauge_length=0.1, seating=0.03) for s in (0.98, -0.98)]
    hands = ((0.98, 100.0), (-0.98, 100.3))
    others = [hand(2.2, s, length, gauge_length=0.1, seating=0.03) for s, length in hands]
    u_same, u_others = (with_repeats(a, [b]).figures["spoke_offset"].u for a, b in (same, others))
    assert u_same == pytest.approx(math.hypot(0.1, 0.03 / math.sqrt(2)), rel=1e-3)
    assert u_others == pytest.approx(math.hypot(0.1, 0.03) / math.sqrt(2), rel=1e-3)
