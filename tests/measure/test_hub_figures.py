"""The whole hub from several photo sets: combined, compared, and told apart where they are not one hub."""

import math

import pytest

from hubsight.measure.hub_figures import (
    CONTRADICTED,
    SetFigures,
    StatedHub,
    combined,
    hub_figures,
    standard_widths,
)
from hubsight.model.figure import BudgetItem, Figure
from hubsight.model.stated import Reading


def seen(value, own=0.12, scale=0.05, warnings=()):
    u = math.hypot(own, scale)
    budget = (BudgetItem(source="rounding", u=own), BudgetItem(source="print scale", u=scale))
    return Figure(
        value=value, u=u, low=value - 1.96 * u, high=value + 1.96 * u, budget=budget, warnings=warnings
    )


def width(value, name="drive side up", **more):
    return SetFigures(name, {"over_locknut": seen(value, **more)})


def both(ds, nds, old=135.0):
    return [
        SetFigures("drive side up", {"over_locknut": seen(old), "centre_to_flange_ds": seen(ds)}),
        SetFigures("non-drive side up", {"over_locknut": seen(old), "centre_to_flange_nds": seen(nds)}),
    ]


def test_what_errs_alike_is_not_averaged_away():
    mean = combined([seen(135.0), seen(135.1)])
    assert mean.value == pytest.approx(135.05)
    assert mean.u == pytest.approx(math.hypot(0.12 / math.sqrt(2), 0.05))
    assert math.hypot(*(b.u for b in mean.budget)) == pytest.approx(mean.u)


def test_weighted_mean_and_birge_ratio_of_a_published_example():
    """Four values with unequal uncertainties: the formulas of Birge (1932), worked by hand."""
    values, us = [10.0, 10.6, 9.8, 10.3], [0.1, 0.2, 0.1, 0.2]
    mean = combined([seen(v, own=u, scale=0.0) for v, u in zip(values, us, strict=True)])
    weights = [100.0, 25.0, 100.0, 25.0]
    expected = sum(w * v for w, v in zip(weights, values, strict=True)) / 250.0
    chi2 = sum(w * (v - expected) ** 2 for w, v in zip(weights, values, strict=True))
    assert mean.value == pytest.approx(expected)
    assert mean.u == pytest.approx(math.sqrt(chi2 / 3 / 250.0), rel=1e-3)


def test_one_set_is_left_as_it_is():
    figure = seen(135.2)
    assert combined([figure]) is figure


def test_agreeing_sets_are_noted_not_warned_of():
    hub = hub_figures([width(135.0), width(135.2, "non-drive side up")], StatedHub())
    assert not hub.warnings
    assert "agree" in hub.notes[0]


def test_another_hub_is_said():
    hub = hub_figures([width(135.0), width(142.0, "non-drive side up")], StatedHub())
    assert "contradict" in hub.warnings[0]
    assert "135.00 mm (drive side up)" in hub.warnings[0]


def test_the_odd_one_of_three_is_named_and_left_out():
    hub = hub_figures([width(135.0), width(135.1, "repeat"), width(137.0, "lying")], StatedHub())
    assert "the lying stands out" in hub.warnings[0]
    assert hub.figures["over_locknut"].value == pytest.approx(135.05)
    assert hub.figures["over_locknut"].warnings == (CONTRADICTED,)


def test_of_two_that_contradict_each_other_the_surer_one_stays_with_a_warning():
    hub = hub_figures([width(135.0, own=0.3), width(142.0, "non-drive side up")], StatedHub())
    assert hub.figures["over_locknut"].value == 142.0
    assert hub.figures["over_locknut"].warnings == (CONTRADICTED,)


def test_a_lying_hub_with_its_ends_exchanged_is_said():
    standing = both(17.5, 34.0)
    right = SetFigures("hub lying", {"centre_to_flange_ds": seen(17.4), "centre_to_flange_nds": seen(34.1)})
    wrong = SetFigures("hub lying", {"centre_to_flange_ds": seen(34.1), "centre_to_flange_nds": seen(17.4)})
    another = SetFigures("hub lying", {"centre_to_flange_ds": seen(26.0), "centre_to_flange_nds": seen(17.4)})
    assert not hub_figures([*standing, right], StatedHub()).warnings
    assert any("right end" in w for w in hub_figures([*standing, wrong], StatedHub()).warnings)
    assert any("right end" in w for w in hub_figures([standing[0], wrong], StatedHub()).warnings)
    assert not any("right end" in w for w in hub_figures([*standing, another], StatedHub()).warnings)


@pytest.mark.parametrize(("value", "fits"), [(135.1, (135,)), (141.5, (141, 142)), (138.0, ())])
def test_standard_widths_are_named_but_not_snapped_to(value, fits):
    figure = seen(value, own=0.15)
    assert standard_widths(figure) == fits
    hub = hub_figures([SetFigures("drive side up", {"over_locknut": figure})], StatedHub())
    assert hub.figures["over_locknut"].value == value
    assert any("standard width" in note for note in hub.notes) == bool(fits)


def test_a_width_that_fits_many_standard_ones_is_named_after_none():
    assert standard_widths(seen(138.0, own=4.0)) == ()


def test_stated_values_are_compared():
    stated = StatedHub(Reading(135.0, 0.05), {"drive": Reading(17.5, 0.2)})
    assert not hub_figures(both(17.6, 34.0), stated).warnings
    wrong = hub_figures(both(19.5, 34.0), stated)
    assert "17.50 mm is stated" in wrong.warnings[0]


def test_swapped_sides_are_said_on_rear_hubs():
    assert not hub_figures(both(17.5, 34.0), StatedHub()).warnings
    assert "swapped" in hub_figures(both(34.0, 17.5), StatedHub()).warnings[0]
    assert not hub_figures(both(34.0, 27.5, old=100.0), StatedHub()).warnings


def test_swapped_statements_are_said():
    stated = StatedHub(None, {"drive": Reading(34.0, 0.2), "non_drive": Reading(17.5, 0.2)})
    assert "swapped" in hub_figures(both(17.5, 34.0), stated).warnings[-1]


def test_nothing_seen_is_nothing():
    assert hub_figures([SetFigures("drive side up", {})], StatedHub()) is None


def test_a_figure_with_a_warning_is_compared_but_not_mixed_in():
    lying = SetFigures("hub lying", {"over_locknut": seen(137.0).warned("a shoulder, perhaps")})
    both_ = hub_figures([width(135.0), lying], StatedHub())
    assert both_.figures["over_locknut"].value == 135.0
    assert "contradict" in both_.warnings[0]
    assert hub_figures([lying], StatedHub()).figures["over_locknut"].value == 137.0
