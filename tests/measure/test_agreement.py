"""Whether photos agree: opinions against each other, other ends of a gauge, figures without one photo."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import chi2

from hubsight.camera import View
from hubsight.measure.agreement import U_MM, Says, _end_faces, agreement, apart, contradicts
from hubsight.measure.doubts import _of_features
from hubsight.measure.gauge_ends import RIVAL_MISFIT, runners_up
from hubsight.measure.left_out import unsteady
from hubsight.model.agreement import WithoutPhoto
from hubsight.model.figure import BudgetItem, Figure
from hubsight.see.gauge.end import EndVotes
from hubsight.see.turned.end_face import EndFace
from hubsight.see.turned.ends import NOTHING_SEEN, EndsSeen
from hubsight.see.turned.rings import OwnHeights
from hubsight.target.geometry import target_geometry
from scenes import CAMERA, look_at

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


def test_opinions_nearer_than_the_limit_are_not_odd():
    limit = 4.0 * U * np.sqrt(2)
    assert not of_photos(0.0, 0.0, 0.0, 0.98 * limit).odd
    assert of_photos(0.0, 0.0, 0.0, 1.02 * limit).odd


AHEAD = np.arange(-26.0, 22.0, 0.05)


def bump(at, height=1.0):
    return height * np.exp(-0.5 * ((AHEAD - at) / 0.08) ** 2)


def sighted(
    steps,
    own=(0.0,) * 4,
    clear=(50.0,) * 4,
    backing=(1.0,) * 4,
    *,
    end=(40.0, 0.0, 60.0),
    wire=None,
    lens=(90, 5),
):
    """Four photos of one gauge along +x over the sheet's white field."""
    shown = np.zeros((4, len(AHEAD))) if wire is None else np.array(wire)
    votes = EndVotes(AHEAD, np.array(steps), shown, 0.0, *map(np.array, (own, clear, backing)))
    gauge = SimpleNamespace(
        votes=votes,
        ends=tuple(object() if b > 0.5 else None for b in backing),
        end=np.array(end),
        line=SimpleNamespace(direction=np.array([1.0, 0.0, 0.0]), width=2.0),
        tip="flat",
    )
    sheet = SheetSeen([View(CAMERA, np.concatenate([np.zeros(3), look_at(*lens, 400)]))] * 4)
    target = SimpleNamespace(geometry=target_geometry("a4"))
    return SimpleNamespace(gauges=(gauge,), files=FILES, sheet=sheet, targets=(target,) * 4)


class SheetSeen:
    """An adjusted sheet of which only the views and the scale are asked."""

    def __init__(self, views):
        self.views = views

    def __getitem__(self, name):
        return np.ones(2)


@pytest.fixture(autouse=True)
def views_of_the_sheet(monkeypatch):
    monkeypatch.setattr("hubsight.measure.gauge_ends.view_in", lambda sheet, k: sheet.views[k])


def test_an_end_on_which_all_agree_has_no_runner_up():
    assert runners_up(sighted([bump(0.02 * k) for k in range(4)])) == ()


def test_a_second_step_that_half_the_photos_share_is_said():
    twice = bump(0.0) + bump(0.7, 0.9)
    (other,) = runners_up(sighted([bump(0.0), bump(0.0), twice, bump(0.7)]))
    assert other.beyond == pytest.approx(0.7, abs=0.03)
    assert other.photos == ("c.jpg", "d.jpg")
    assert other.others == ("a.jpg", "b.jpg", "c.jpg")
    assert other.share == pytest.approx(1.9 / 3.0, abs=0.02)


def test_a_weak_second_step_is_not():
    weak = bump(0.0) + bump(0.7, 0.45)
    assert runners_up(sighted([weak] * 4)) == ()


@pytest.mark.parametrize(("azimuth", "rivals"), [(0, 0), (180, 1)])
def test_the_near_rim_of_an_end_face_that_photos_look_at_is_no_other_end(azimuth, rivals):
    """A lens 25 degrees beyond the end sees a 2 mm wire's face 2 * 129 / 302 mm long; behind it, none."""
    both = bump(0.0) + bump(-2 * 129 / 302, 0.9)
    assert len(runners_up(sighted([both] * 4, lens=(azimuth, 25)))) == rivals


def test_a_second_step_over_printed_squares_is_print():
    both = bump(0.0) + bump(0.7, 0.9)
    assert runners_up(sighted([both] * 4, end=(40.0, 0.0, 30.0)))
    assert not runners_up(sighted([both] * 4, end=(106.0, 0.0, 30.0)))


def test_photos_that_end_the_gauge_elsewhere_are_named_together():
    out = runners_up(sighted([bump(0.0)] * 4, own=(0.0, 0.0, -3.0, -3.2), backing=(1.0, 1.0, 0.1, 0.2)))
    assert [(o.photos, o.others) for o in out] == [(("c.jpg", "d.jpg"), ("a.jpg", "b.jpg"))]
    assert out[0].beyond == pytest.approx(-3.1)


@pytest.mark.parametrize(
    "harmless",
    [
        {"own": (0.0, 0.0, 0.0, -3.0), "backing": (1.0, 1.0, 1.0, 0.4)},
        {"own": (0.0, 0.0, 0.0, -3.0), "backing": (1.0, 1.0, 1.0, 0.1), "clear": (50, 50, 50, 3)},
        {"own": (0.0, 0.0, 0.0, np.nan), "backing": (1.0, 1.0, 1.0, 0.0)},
        {"own": (0.0, 0.0, 0.0, 0.3), "backing": (1.0, 1.0, 1.0, 0.1)},
    ],
)
def test_a_photo_that_backs_the_end_or_shows_none_says_nothing(harmless):
    assert runners_up(sighted([bump(0.0)] * 4, **harmless)) == ()


def wire_to(end, beyond=0.0, to=99.0):
    """How much a photo shows of a wire that ends at a place, and of what looks like one beyond it."""
    return np.where(end > AHEAD, 1.0, np.where(to > AHEAD, beyond, 0.0))


def test_an_end_at_which_all_photos_part_wire_from_paper_has_no_rival():
    assert runners_up(sighted([bump(0.0)] * 4, wire=[wire_to(0.02 * k) for k in range(4)])) == ()


def test_another_end_that_wins_as_soon_as_one_photo_is_missing_is_said():
    """Of four photos two show each end; their median lies half way."""
    wire = [wire_to(0.0), wire_to(0.0), wire_to(6.0), wire_to(6.0)]
    (other,) = runners_up(sighted([bump(0.0)] * 4, own=(0.0, 0.0, 6.0, 6.0), wire=wire))
    assert other.beyond == pytest.approx(6.0, abs=0.1)
    assert other.photos == ("c.jpg", "d.jpg")
    assert other.others == ("a.jpg", "b.jpg")


def test_an_end_that_fits_nearly_as_well_is_said():
    """What lies beyond looks half like wire: it goes with the wire as well as with the paper."""
    half = [wire_to(0.0, beyond=0.5, to=8.0)] * 4
    (other,) = runners_up(sighted([bump(0.0)] * 4, wire=half))
    assert abs(other.beyond) > 4.0
    assert other.share > 1 / RIVAL_MISFIT
    assert runners_up(sighted([bump(0.0)] * 4, wire=[wire_to(0.0, beyond=0.1, to=8.0)] * 4)) == ()


def test_an_end_before_printed_squares_says_nothing():
    over = {"own": (0.0, 0.0, 0.0, 3.0), "backing": (1.0, 1.0, 1.0, 0.1)}
    assert runners_up(sighted([bump(0.0)] * 4, **over, end=(40.0, 0.0, 30.0)))
    assert not runners_up(sighted([bump(0.0)] * 4, **over, end=(102.0, 0.0, 30.0)))


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
        files=FILES, ends=EndsSeen(face), side=SimpleNamespace(name="drive"), gauges=(), mouths=()
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
    assert not list(_end_faces(SimpleNamespace(ends=NOTHING_SEEN)))


def test_an_end_face_that_a_photo_hardly_shows_is_not_odd():
    """Each photo's own uncertainty counts: a view from straight above tells next to no height."""
    says = [Says(v, k, weight=float((0.1 / u) ** 2)) for k, (v, u) in enumerate(((0.0, 0.06), (1.0, 0.5)))]
    assert not agreement("end_face", [*says, Says(0.0, 2), Says(0.0, 3)], files=FILES).odd
