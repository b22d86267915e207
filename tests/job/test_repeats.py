"""Repeated photo sets of one side."""

import math

import pytest

from hubsight.job.repeats import with_repeats
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
    assert [told.partition(":")[0] for told in found.repeats] == ["flange diameter", "spoke offset"]


def test_figures_of_the_gauge_itself_stay_those_of_the_first_set():
    first = side(2.2)
    other = first.model_copy(update={"figures": {**first.figures, "protrusion": make_figure(90.0, 0.05)}})
    found = with_repeats(first, [other])
    assert found.figures["protrusion"] == first.figures["protrusion"]
    assert not found.warnings
