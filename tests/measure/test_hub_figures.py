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


# ---- the mean of several sets, by hand


def test_sets_are_weighed_by_what_they_do_not_share():
    """By hand: of 0.13 = (0.12, 0.05) and 0.07 = (0.049, 0.05) the common 0.05 is no reason to weigh less."""
    first, second = seen(135.0, own=0.12, scale=0.05), seen(135.1, own=0.049, scale=0.05)
    weights = [0.12**-2, 0.049**-2]
    expected = (135.0 * weights[0] + 135.1 * weights[1]) / sum(weights)
    assert combined([first, second]).value == pytest.approx(expected, abs=1e-6)


def test_the_mean_has_the_interval_of_its_uncertainty_and_says_what_it_rests_on():
    mean = combined([seen(135.0), seen(135.1)])
    assert mean.low == pytest.approx(mean.value - 1.96 * mean.u, abs=1e-4)
    assert mean.high == pytest.approx(mean.value + 1.96 * mean.u, abs=1e-4)
    assert mean.seen == "2 photo sets"
    assert mean.confidence == "good"
    assert [item.source for item in mean.budget] == ["rounding", "print scale"], "the largest share first"


def test_what_both_sets_warn_of_the_mean_warns_of_once():
    mean = combined([seen(135.0, warnings=("a",)), seen(135.1, warnings=("a", "b"))])
    assert mean.warnings == ("a", "b")
    assert mean.confidence == "fair"


def test_common_errors_add_up_and_what_no_budget_names_averages_out():
    """By hand: two equal sets of (rounding 0.12, scale 0.05, and 0.09 that no item names)."""
    one = seen(135.0)
    u = math.hypot(0.12, 0.05, 0.09)
    unnamed = one.model_copy(update={"u": u})
    shares = {item.source: item.u for item in combined([unnamed, unnamed]).budget}
    assert shares == pytest.approx(
        {"rounding": 0.12 / math.sqrt(2), "print scale": 0.05, "other": 0.09 / math.sqrt(2)}
    )
    assert {item.source for item in combined([one, one]).budget} == {"rounding", "print scale"}


def test_a_set_that_only_shares_its_error_still_has_a_weight():
    mean = combined([seen(135.0, own=0.0), seen(135.0, own=0.0)])
    assert mean.value == pytest.approx(135.0)
    assert mean.u == pytest.approx(0.05)


# ---- thresholds and what is said


@pytest.mark.parametrize(
    ("off", "own", "contradict"),
    [(0.19, 0.001, False), (0.21, 0.001, True), (0.42, 0.1, False), (0.43, 0.1, True)],
)
def test_sets_contradict_beyond_three_sigmas_and_a_fifth_of_a_millimetre(off, own, contradict):
    """Joint sigma of two sets of 0.1 each is 0.1414, three of them 0.424."""
    sets = [width(135.0, own=own, scale=0.0), width(135.0 + off, "lying", own=own, scale=0.0)]
    hub = hub_figures(sets, StatedHub())
    assert bool(hub.warnings) is contradict
    assert (hub.figures["over_locknut"].warnings == (CONTRADICTED,)) is contradict


def test_a_hub_without_a_width_still_has_its_flanges():
    hub = hub_figures([SetFigures("drive side up", {"centre_to_flange_ds": seen(17.5)})], StatedHub())
    assert set(hub.figures) == {"centre_to_flange_ds"}
    assert hub.standard == ()
    assert hub.notes == ()


def test_the_standard_width_is_kept_and_named():
    hub = hub_figures([width(141.5, own=0.15)], StatedHub())
    assert hub.standard == (141, 142)
    assert hub.notes == ("the over-locknut fits the standard width of 141 or 142 mm",)


def test_of_four_sets_of_two_hubs_none_is_the_odd_one():
    pairs = [("a", 135.0), ("b", 135.1), ("c", 142.0), ("d", 142.1)]
    hub = hub_figures([width(value, name) for name, value in pairs], StatedHub())
    assert "stands out" not in hub.warnings[0]
    assert hub.warnings[0].endswith(
        "142.00 mm (c), 142.10 mm (d). Is it one hub, with the right side up in each, and is the block's "
        "thickness right?"
    )


def test_a_stated_over_locknut_is_compared_beside_the_flanges():
    stated = StatedHub(Reading(142.0, 0.05), {"drive": Reading(17.5, 0.2)})
    (sentence,) = hub_figures(both(17.6, 34.0), stated).warnings
    assert sentence.startswith("over-locknut: 142.00 mm is stated, but the photos show 135.00 mm")


@pytest.mark.parametrize(
    ("ds", "nds", "old", "said"),
    [
        (30.0, 26.9, 135.0, True),
        (30.0, 27.1, 135.0, False),  # 3 mm at least
        (30.0, 26.9, 117.9, False),  # a front hub
        (30.0, 26.9, 118.1, True),
    ],
)
def test_only_a_clear_difference_on_a_rear_hub_looks_swapped(ds, nds, old, said):
    warnings = hub_figures(both(ds, nds, old=old), StatedHub()).warnings
    assert any("lies 3.1 mm farther out than the other one" in w for w in warnings) is said


@pytest.mark.parametrize(
    ("drive", "non_drive", "said"),
    [
        (34.0, 17.5, True),
        (34.0, 21.0, False),  # one of them is what the other side shows, the other is not
        (21.0, 17.5, False),
    ],
)
def test_statements_are_swapped_only_if_both_are_the_other_sides(drive, non_drive, said):
    stated = StatedHub(None, {"drive": Reading(drive, 0.2), "non_drive": Reading(non_drive, 0.2)})
    warnings = hub_figures(both(17.5, 34.0), stated).warnings
    assert any("drive and non-drive side swapped" in w for w in warnings) is said


def test_sides_alike_are_not_swapped():
    stated = StatedHub(None, {"drive": Reading(30.1, 0.2), "non_drive": Reading(30.0, 0.2)})
    assert not hub_figures(both(30.0, 30.1), stated).warnings


def test_one_side_alone_is_not_swapped():
    one = [SetFigures("drive side up", {"over_locknut": seen(135.0), "centre_to_flange_ds": seen(34.0)})]
    assert not hub_figures(one, StatedHub()).warnings
