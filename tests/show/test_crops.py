"""Which close-ups exist, what of them disagrees, and what is drawn solid or dashed."""

import numpy as np
import pytest

from hubsight.model.agreement import Agreement, Opinion, PhotosAgree, Question, RunnerUp
from hubsight.model.hub import LyingMeasurement
from hubsight.model.side import PhotoEvidence, SeenEdge
from hubsight.show.crops import crops_of, exit_of, lying_crops, side_crops
from hubsight.show.marks import marks_of, stretches
from made_up import make_evidence, make_side

SQUARE = ((100.0, 100.0), (140.0, 100.0), (140.0, 140.0), (100.0, 140.0))
LARGE = ((300.0, 300.0), (380.0, 300.0), (380.0, 380.0), (300.0, 380.0))
RING = tuple((200.0 + 30 * np.cos(a), 80.0 + 20 * np.sin(a)) for a in np.linspace(0, 2 * np.pi, 13))


def photo(file, **more):
    seen = {
        "boss_outlines": (SQUARE, LARGE),
        "centrelines": (),
        "gauges": (tuple((120.0 + 10 * k, 120.0) for k in range(24)),),
        "gauge_ends": ((350.0, 120.0),),
        "ends_seen": ((351.0, 120.0),),
        "edges": (SeenEdge(kind="end_face", points=RING, seen=(True,) * 7 + (False,) * 6),),
        **more,
    }
    return make_evidence(file, width=600, height=500, **seen)


def kinds(groups):
    return [group.kind for group in groups]


def odd(feature, file="", boss=None, value=0.4, gauge=None):
    opinion = Opinion(photo=file, boss=boss, value=value, u=0.05, odd=True)
    return Agreement(feature=feature, words="", gauge=gauge, opinions=(opinion,), chi2=9.0, freedom=1)


def test_everything_that_a_figure_hangs_on_has_its_close_up():
    groups = crops_of([photo("a.jpg"), photo("b.jpg", ends_seen=(None,))])
    assert kinds(groups) == ["gauge_end", "exit", "boss", "end_face"]
    ends, exits, bosses, faces = groups
    assert [(c.photo, c.seen) for c in ends.crops] == [("a.jpg", True), ("b.jpg", False)]
    assert [c.photo for c in exits.crops] == ["a.jpg", "b.jpg"]
    assert [c.words for c in bosses.crops] == ["boss 1", "boss 2"]
    assert len(faces.crops) == 2
    assert not any(group.odd for group in groups)
    for group in groups:
        assert group.figures


def test_a_boss_is_shown_where_it_is_found_and_largest():
    near = photo("near.jpg", boss_outlines=(LARGE, SQUARE), bosses_seen=(1,))
    far = photo("far.jpg", boss_outlines=(SQUARE, LARGE), bosses_seen=(0, 1))
    bosses = next(g for g in crops_of([near, far]) if g.kind == "boss").crops
    assert [(c.photo, c.seen) for c in bosses] == [("far.jpg", True), ("far.jpg", True)]
    nowhere = photo("near.jpg", bosses_seen=())
    assert not any(c.seen for c in next(g for g in crops_of([nowhere]) if g.kind == "boss").crops)


@pytest.mark.parametrize(
    ("agreement", "kind", "words"),
    [
        ({"features": (odd("gauge_end", "b.jpg", gauge=0),)}, "gauge_end", "0.40 mm farther out"),
        ({"features": (odd("gauge_end", "b.jpg", value=-0.4, gauge=0),)}, "gauge_end", "nearer the hub"),
        ({"features": (odd("tip", "b.jpg", gauge=0),)}, "gauge_end", "another kind of end"),
        ({"features": (odd("bore_mouth", "b.jpg", gauge=0),)}, "exit", "mouth 0.40 mm"),
        ({"features": (odd("bosses", "b.jpg"),)}, "exit", "0.40 mm round the axis"),
        ({"features": (odd("end_face", "b.jpg"),)}, "end_face", "0.40 mm from where the others have it"),
        (
            {"runners_up": (RunnerUp(gauge=0, beyond=6.2, share=0.9, photos=("b.jpg",), others=("a.jpg",)),)},
            "gauge_end",
            "another end 6.2 mm farther out",
        ),
        (
            {
                "questions": (
                    Question(
                        photo="b.jpg",
                        mark="end",
                        index=0,
                        sigmas=5.0,
                        figure="spoke_offset",
                        by_mark=None,
                        by_photos=None,
                    ),
                )
            },
            "gauge_end",
            "your mark contradicts",
        ),
    ],
)
def test_what_disagrees_is_framed_and_comes_first(agreement, kind, words):
    groups = crops_of([photo("a.jpg"), photo("b.jpg")], PhotosAgree(**agreement))
    assert groups[0].kind == kind
    assert groups[0].crops[0].photo == "b.jpg"
    assert words in groups[0].crops[0].odd[0]
    assert [bool(c.odd) for g in groups for c in g.crops].count(True) == 1


def test_a_boss_that_disagrees_comes_first():
    groups = crops_of([photo("a.jpg")], PhotosAgree(features=(odd("bosses", boss=1),)))
    assert groups[0].kind == "boss"
    assert [c.words for c in groups[0].crops] == ["boss 2", "boss 1"]


def test_the_exit_is_where_the_wire_leaves_the_boss():
    line = [(100.0 + 10 * k, 120.0) for k in range(24)]
    assert exit_of(line, [SQUARE]) == pytest.approx((140.0, 120.0), abs=1.0)
    assert exit_of(line, [LARGE])[0] < 130.0, "where no outline holds it, near the seat"


def test_a_lying_hub_shows_both_ends_and_both_flanges_in_every_photo():
    edges = tuple(
        SeenEdge(kind=kind, number=number, points=RING, seen=(True,) * 13)
        for kind in ("end_face", "flange")
        for number in (0, 1)
    )
    evidence = PhotoEvidence(file="l.jpg", width=600, height=500, used=True, edges=edges)
    groups = lying_crops(LyingMeasurement(figures={}, evidence=(evidence,)))
    assert kinds(groups) == ["lying_end", "lying_flange"]
    assert [c.words for g in groups for c in g.crops] == ["end face 1", "end face 2", "flange 1", "flange 2"]


def test_a_radial_flange_shows_its_rim():
    groups = crops_of([photo("a.jpg", boss_outlines=(LARGE,))])
    assert "rim" in kinds(groups)
    assert "boss" not in kinds(groups)


def test_a_side_of_old_times_has_close_ups_too():
    assert kinds(side_crops(make_side(photos=("a.jpg",)))) == ["gauge_end", "exit", "rim"]


def test_seen_is_solid_and_inferred_is_dashed():
    marks = marks_of(photo("a.jpg", bosses_seen=(1,), ends_seen=(None,)))
    assert [m.dashed for m in marks if m.kind == "outline"] == [True, False]
    assert [m.dashed for m in marks if m.kind == "end"] == [True]
    assert [m.dashed for m in marks if m.kind == "end_face"] == [False, True]
    assert not [m for m in marks if m.kind == "end-seen"]
    seen = [m for m in marks_of(photo("a.jpg")) if m.kind in ("end", "end-seen")]
    assert [(m.kind, m.dashed, m.points) for m in seen] == [
        ("end", False, ((350.0, 120.0),)),
        ("end-seen", False, ((351.0, 120.0),)),
    ]


def test_the_stretches_of_an_edge_cover_it():
    edge = SeenEdge(kind="end_face", points=RING, seen=(True, True, False, True, True, True, *(False,) * 7))
    pieces = list(stretches(edge))
    assert [len(points) - 1 for points, _ in pieces] == [1, 2, 2, 7]
    assert [seen for _, seen in pieces] == [True, False, True, False]
    assert pieces[0][0][-1] == pieces[1][0][0]
