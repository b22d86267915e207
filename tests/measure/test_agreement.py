"""Whether photos agree: opinions against each other, other ends of a gauge, figures without one photo."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.special import expit
from scipy.stats import chi2

from hubsight.measure.agreement import U_MM, Says, _end_faces, agreement, apart, contradicts
from hubsight.measure.doubts import _of_features
from hubsight.measure.gauge_ends import runners_up
from hubsight.measure.left_out import unsteady
from hubsight.model.agreement import WithoutPhoto
from hubsight.model.figure import BudgetItem, Figure
from hubsight.see.gauge.end_odds import SAME_END_MM, SURE, EndOdds
from hubsight.see.turned.end_face import EndFace
from hubsight.see.turned.ends import NOTHING_SEEN, EndsSeen
from hubsight.see.turned.rings import OwnHeights

FILES = ("a.jpg", "b.jpg", "c.jpg", "d.jpg")
U = U_MM["gauge_end"]


def of_photos(*values, feature="gauge_end"):
    return agreement(feature, [Says(v, k) for k, v in enumerate(values)], gauge=0, files=FILES)


def test_chi2_of_opinions_that_scatter_as_stated_is_distributed_as_chi2():
    """Outside check: scipy's chi-square quantiles."""
    rng = np.random.default_rng(4)
    sums = np.array([of_photos(*rng.normal(0, U, 4)).chi2 for _ in range(2000)])
    assert of_photos(0.0, 0.0, 0.0, 0.0).freedom == 3
    for share in (0.5, 0.95):
        assert np.mean(sums < chi2(3).ppf(share)) == pytest.approx(share, abs=0.025)


def test_an_opinion_is_compared_with_the_mean_of_all_others():
    one = of_photos(0.0, 0.0, 0.0, 0.3).opinions[3]
    assert one.against == pytest.approx(0.3 / (U * np.sqrt(1 + 1 / 3)))
    assert one.photo == "d.jpg"


@pytest.mark.parametrize(
    ("values", "odd", "contradiction"),
    [
        ((0.0, 0.01, -0.02, 0.02), 0, False),
        ((0.0, 0.01, -0.02, 0.5), 1, False),
        ((0.0, 0.01, 0.5, 0.52), 2, True),
        ((0.0, 0.01, 0.5, -0.52), 2, True),
    ],
)
def test_two_of_four_photos_contradict_and_one_is_a_mistake(values, odd, contradiction):
    out = of_photos(*values)
    assert len(out.odd) == odd
    assert contradicts(out) == contradiction


def test_two_bosses_of_six_contradict_and_name_themselves():
    values = [0.01, -0.4, 0.0, 0.02, 0.45, -0.01]
    out = agreement("bosses", [Says(v, boss=k) for k, v in enumerate(values)])
    assert [o.boss for o in out.odd] == [1, 4]
    assert contradicts(out)
    assert apart(out) == pytest.approx(0.445)
    few = [0.5, -0.5, *[0.01, 0.0] * 4]
    assert not contradicts(agreement("bosses", [Says(v, boss=k) for k, v in enumerate(few)])), "two of ten"


@pytest.mark.parametrize(("bosses", "contradiction"), [(8, True), (9, False)])
def test_a_quarter_of_odd_opinions_contradicts_and_less_is_misread(bosses, contradiction):
    values = [0.5, -0.5, *[0.0] * (bosses - 2)]
    assert contradicts(agreement("bosses", [Says(v, boss=k) for k, v in enumerate(values)])) == contradiction


def test_the_furthest_odd_opinion_counts_whichever_way_it_lies():
    values = [0.0, 0.0, 0.0, 0.0, 0.4, -0.6]
    assert apart(agreement("bosses", [Says(v, boss=k) for k, v in enumerate(values)])) == pytest.approx(-0.6)


def test_weights_count_as_inverse_squares_of_uncertainties():
    """The textbook's weighted mean, and the sum of squares about it (GUM H.3 weighs alike; from memory)."""
    values, weights = np.array([0.0, 0.02, 0.1]), np.array([1.0, 4.0, 0.25])
    out = agreement("gauge_end", [Says(v, weight=w) for v, w in zip(values, weights, strict=True)])
    assert [o.u for o in out.opinions] == pytest.approx([U, U / 2, 2 * U])
    mean = np.average(values, weights=weights)
    assert out.chi2 == pytest.approx(np.sum(weights * (values - mean) ** 2) / U**2)
    without_last = np.average(values[:2], weights=weights[:2])
    u_without = U / np.sqrt(5.0)
    assert out.opinions[2].against == pytest.approx((0.1 - without_last) / np.hypot(2 * U, u_without))


@pytest.mark.parametrize("values", [(0.0, 0.05, 0.5, 0.51), (0.5, 0.51, 0.0, 0.05)])
def test_of_two_pairs_the_closer_one_agrees(values):
    assert {o.value for o in of_photos(*values).odd} == {0.0, 0.05}


def test_opinions_nearer_than_the_limit_are_not_odd():
    limit = 4.0 * U * np.sqrt(2)
    assert not of_photos(0.0, 0.0, 0.0, 0.98 * limit).odd
    assert of_photos(0.0, 0.0, 0.0, 1.02 * limit).odd


AHEAD = np.arange(-26.0, 22.0, 0.05)


def ends_at(*places, sure=9.0):
    """Return a photo's log-likelihood of an end: 0, and at each place, by its log-odds, more."""
    row = np.zeros(len(AHEAD))
    for place in places:
        at, odds = place if isinstance(place, tuple) else (place, sure)
        row = np.maximum(row, odds * np.exp(-0.5 * ((AHEAD - at) / 0.08) ** 2))
    return row


def sighted(*photos, nipple=None):
    """Photos of one gauge, by the ends that each one shows."""
    kinds = {"flat": np.zeros(len(photos))} | ({} if nipple is None else {"nipple": np.array(nipple)})
    odds = EndOdds(AHEAD, np.array(photos), "flat", kinds, "flat")
    return SimpleNamespace(gauges=(SimpleNamespace(odds=odds),), files=FILES[: len(photos)])


def test_an_end_on_which_all_agree_has_no_runner_up():
    assert runners_up(sighted(*(ends_at(0.02 * k) for k in range(4)))) == ()


@pytest.mark.parametrize(("less", "told"), [(SURE - 0.5, True), (SURE + 0.5, False)])
def test_a_second_place_that_is_nearly_as_likely_is_said(less, told):
    both = ends_at(0.0, (0.7, 9.0 - less / 4))
    out = runners_up(sighted(*[both] * 4))
    assert bool(out) == told
    if told:
        assert out[0].beyond == pytest.approx(0.7, abs=0.03)
        assert out[0].share == pytest.approx(np.exp(-less), rel=0.05)


def test_a_place_hardly_beside_the_end_is_the_same_end():
    near = ends_at(0.0, (0.9 * SAME_END_MM, 8.9))
    assert runners_up(sighted(*[near] * 4)) == ()


def test_photos_that_end_the_gauge_elsewhere_are_named_together():
    (other,) = runners_up(
        sighted(ends_at(0.0, sure=15.0), ends_at(0.0, sure=15.0), ends_at(-3.0), ends_at(-3.2))
    )
    assert other.photos == ("c.jpg", "d.jpg")
    assert other.others == ("a.jpg", "b.jpg")
    assert other.beyond == pytest.approx(-3.1, abs=0.1)


@pytest.mark.parametrize(("against", "told"), [(SURE + 0.5, 1), (SURE - 0.5, 0)])
def test_one_photo_says_another_end_where_it_is_sure(against, told):
    one = ends_at((0.0, 3.0), (6.0, 3.0 + against))
    assert len(runners_up(sighted(*[ends_at(0.0)] * 3, one))) == told


def test_another_end_that_wins_as_soon_as_one_photo_is_missing_is_said():
    """One very clear photo outvotes three that show another end, each less than surely."""
    (other,) = runners_up(sighted(ends_at(0.0, sure=12.0), *[ends_at(6.0, sure=2.0)] * 3))
    assert other.beyond == pytest.approx(6.0, abs=0.1)
    assert other.photos == ("b.jpg", "c.jpg", "d.jpg")
    assert other.others == ("a.jpg",)
    assert runners_up(sighted(ends_at(0.0, sure=12.0), *[ends_at(6.0, sure=0.9)] * 3)) == ()


def test_two_photos_that_are_sure_of_another_tip_contradict():
    four = sighted(*[ends_at(0.0)] * 4, nipple=(-9.0, -9.0, 8.0, 9.0))
    values = expit(four.gauges[0].odds.for_kind("nipple"))
    assert contradicts(agreement("tip", [Says(float(v), k) for k, v in enumerate(values)], files=FILES))
    unsure = expit(np.array([-9.0, -9.0, 0.5, 0.0]))
    assert not contradicts(agreement("tip", [Says(float(v), k) for k, v in enumerate(unsure)], files=FILES))


FIGURE = Figure(value=2.0, u=0.1, low=1.804, high=2.196, budget=(BudgetItem(source="gauge axis", u=0.1),))


@pytest.mark.parametrize(
    ("moved", "expected", "told"),
    [(0.19, 0.02, False), (0.21, 0.02, True), (-0.21, 0.02, True), (0.21, 0.08, False)],
)
def test_a_figure_is_unsteady_when_it_leaves_its_interval_beyond_chance(moved, expected, told):
    one = WithoutPhoto(figure="reach", photo="a.jpg", value=2.0 + moved, moved=moved, expected=expected)
    assert unsteady(one, FIGURE) == told


def test_a_figure_that_holds_another_value_says_why_it_is_wide():
    wide = FIGURE.holding(2.9, "marks")
    assert wide.value == FIGURE.value
    assert wide.low <= 2.9 <= wide.high
    assert wide.high == pytest.approx(2.0 + np.hypot(0.9, 0.196), abs=1e-3)
    assert wide.u == pytest.approx(np.sqrt(sum(b.u**2 for b in wide.budget)))
    assert wide.budget[0].source == "marks"
    assert wide.confidence == "poor"


def seen_with_end_face(above, u=0.1):
    own = OwnHeights(np.array(above), np.full(len(above), u))
    face = EndFace((), both_edges=True, stub=False, own=own)
    return SimpleNamespace(
        files=FILES,
        ends=EndsSeen(face),
        marked_ends=EndsSeen(face),
        side=SimpleNamespace(name="drive"),
        gauges=(),
        mouths=(),
    )


def test_photos_that_show_another_end_face_are_doubted():
    """By hand: 1.5 mm higher, over-locknut is 1.5 mm more and centre to flange half of that less."""
    seen = seen_with_end_face([0.0, 1.5, 0.02, 1.5])
    found = agreement("end_face", list(_end_faces(seen)), files=FILES)
    assert [o.photo for o in found.odd] in ([FILES[1], FILES[3]], [FILES[0], FILES[2]])
    values = {"over_locknut": 130.0, "centre_to_flange": 20.0}
    figures = {n: Figure(value=v, u=0.1, low=v - 0.2, high=v + 0.2) for n, v in values.items()}
    (doubt,) = _of_features(seen, [found], figures)
    off = apart(found)
    assert abs(off) == pytest.approx(1.5, abs=0.05)
    assert doubt.instead == {
        "over_locknut": pytest.approx(130.0 + off),
        "centre_to_flange": pytest.approx(20.0 - off / 2),
    }
    assert "the upper end face" in doubt.reason.sentence
    assert doubt.reason.about == "drive.over_locknut"


def test_photos_that_show_no_end_face_have_no_opinion_of_it():
    assert [s.photo for s in _end_faces(seen_with_end_face([0.0, np.nan, 0.1, 0.0]))] == [0, 2, 3]
    assert not list(_end_faces(SimpleNamespace(marked_ends=NOTHING_SEEN)))


def test_an_end_face_that_a_photo_hardly_shows_is_not_odd():
    """Each photo's own uncertainty counts: a view from straight above tells next to no height."""
    says = [Says(v, k, weight=float((0.1 / u) ** 2)) for k, (v, u) in enumerate(((0.0, 0.06), (1.0, 0.5)))]
    assert not agreement("end_face", [*says, Says(0.0, 2), Says(0.0, 3)], files=FILES).odd


def test_an_end_face_is_known_by_each_photo_as_well_as_that_photo_says():
    says = list(_end_faces(seen_with_end_face([0.0, 0.1, 0.0, 0.0], u=0.2)))
    assert [o.u for o in agreement("end_face", says, files=FILES).opinions] == pytest.approx([0.2] * 4)
