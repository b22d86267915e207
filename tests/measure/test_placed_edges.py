"""Points placed by hand on turned edges: an end face, a radial rim and a lying hub, put together by hand."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from hubsight.camera import View
from hubsight.estimate.problem import Layout
from hubsight.measure.adjust.judged import Judged
from hubsight.measure.adjust.placed_edges import Edges
from hubsight.measure.adjust.placed_rim import placed_rim, rim_blocks
from hubsight.measure.face_height import OUTER_EDGE_MM, FaceHeight
from hubsight.measure.lying_marks import with_marks
from hubsight.model.corrections import Corrections, PlacedEdge
from hubsight.scene.pattern_pose import Matches, PatternPose
from hubsight.scene.turned import Circle, HubAxis
from hubsight.see.bosses.sighting import BossSighting
from hubsight.see.lying.flanges import FlangeSeen
from hubsight.see.lying.frame import frame_between
from hubsight.see.lying.place import Placed
from hubsight.see.marks import Marks
from hubsight.see.turned.end_face import EndFace
from hubsight.see.turned.ends import NOTHING_SEEN, EndsSeen
from hubsight.see.turned.likelihood import SECTORS, Evidence
from hubsight.see.turned.placed import off_circle, placed_ring
from hubsight.see.turned.rings import Ring
from scenes import CAMERA, look_at

TOP, RADIUS, FLANGE, RIM = 140.0, 9.0, 90.0, 20.5
AXIS = HubAxis(np.zeros(2), FLANGE, np.zeros(2))
EDGE = Circle(np.zeros(2), TOP, RADIUS, np.zeros(2))
ROUND = (0.0, 90.0, 180.0, 270.0)
U_PX = 1.0
POSES = [look_at(0.0, 0.0, 430.0, 3.0), *(look_at(120.0 * k, 24.0, 430.0, 10.0) for k in range(3))]
CAMERAS = [View(CAMERA, np.concatenate([np.zeros(3), pose])) for pose in POSES]
FILES = tuple(f"{k}.jpg" for k in range(len(CAMERAS)))
PATTERN = np.array([0.0, 0.0, FLANGE, 0.0, 0.0, RIM, 0.3])


def adjusted():
    """An adjustment that knows cameras and flange exactly."""
    layout, values = Layout(), {"camera": CAMERA}
    values |= {f"photo{k}": np.concatenate([np.zeros(3), pose]) for k, pose in enumerate(POSES)}
    values["pattern"] = PATTERN
    for name, value in values.items():
        layout.add(name, len(value))

    class Known(SimpleNamespace):
        def __getitem__(self, name):
            return self.x[self.layout[name]]

    return Known(layout=layout, x=np.concatenate(list(values.values())))


def points(circle, photos, *, edge="end_face", around=ROUND, beside=0.0, rng=None):
    """Marks on a circle, moved by some px to the right, or scattered by their uncertainty."""
    out = []
    for k in photos:
        for n, pixel in enumerate(CAMERAS[k].project(circle.points(np.radians(around)))):
            off = np.array([beside, 0.0]) if rng is None else rng.normal(0.0, U_PX, 2)
            out.append(PlacedEdge(photo=FILES[k], edge=edge, point=n, pixel=tuple(pixel + off), u_px=U_PX))
    return tuple(out)


def marks_of(edges, **more):
    return Marks(Corrections(edges=edges, **more), FILES, CAMERAS)


def ring_of(edges, near=None, **how):
    return placed_ring(marks_of(edges).edge("end_face"), len(CAMERAS), AXIS, near, **how)


# ---- one edge


def test_points_in_two_photos_tell_how_high_an_edge_lies():
    ring = ring_of(points(EDGE, (0, 2)))
    assert ring.height == pytest.approx(TOP, abs=0.1)
    assert ring.radius == pytest.approx(RADIUS, abs=0.1)
    assert [len(p) for p in ring.pixels] == [4, 0, 4, 0]


def test_one_point_alone_tells_no_height():
    assert ring_of(points(EDGE, (1,), around=(0.0,))) is None


def test_marks_miss_the_height_as_their_uncertainty_says():
    """Over many hands; a height told by fewer photos is less sure."""
    rng = np.random.default_rng(5)
    rings = [ring_of(points(EDGE, (0, 1, 2), rng=rng)) for _ in range(60)]
    off = np.array([(ring.height - TOP) / ring.height_u for ring in rings])
    assert abs(off.mean()) < 0.5
    assert 0.5 < off.std() < 1.3
    assert ring_of(points(EDGE, (0, 1))).height_u > 1.1 * ring_of(points(EDGE, (0, 1, 2, 3))).height_u


def test_a_point_beside_an_edge_lies_off_it_by_its_uncertainties():
    (beside,) = marks_of(points(EDGE, (0,), around=(0.0,), beside=8.0)).edge("end_face")
    (on,) = marks_of(points(EDGE, (0,), around=(0.0,))).edge("end_face")
    assert off_circle(on, EDGE, 0.0, 0.0) < 0.1
    assert off_circle(beside, EDGE, 0.0, 0.0) > 5.0
    assert off_circle(beside, EDGE, 0.0, 10.0) < 0.2, "a circle that is hardly known is not contradicted"


# ---- an end face

SEEN = Ring(
    np.zeros(2),
    TOP,
    RADIUS,
    np.zeros(2),
    evidence=Evidence(np.ones((len(CAMERAS), SECTORS))),
    pixels=tuple(v.project(EDGE.points(np.radians(np.arange(0, 360, 10.0)))) for v in CAMERAS),
)
FACE = EndFace((SEEN,), both_edges=False, stub=False)
LOWER = Circle(np.zeros(2), TOP - 4.0, RADIUS, np.zeros(2))
PAIRED = BossSighting(
    "paired",
    PatternPose.of_unknowns(PATTERN, 6),
    Matches(np.arange(1), np.arange(1), np.zeros((1, 2)), np.ones(1)),
    None,
    None,
    1.0,
)


def edges_seen(ends=None, bosses=PAIRED):
    return Edges(FILES, adjusted(), bosses, EndsSeen(FACE) if ends is None else ends)


def height(edges, corrections):
    face = edges.marked_ends(corrections).end_face
    known = FaceHeight(edges.solution, len(CAMERAS), face)
    return known.at(edges.solution.x), known


def test_marks_that_agree_leave_the_face_and_those_that_do_not_are_asked_about_together():
    edges = edges_seen()
    agreeing, other = Corrections(edges=points(EDGE, (0,))), Corrections(edges=points(LOWER, (1,)))
    assert edges.judged(Judged(agreeing)) == Judged(agreeing)
    assert height(edges, agreeing)[0] == pytest.approx(TOP + OUTER_EDGE_MM.mean, abs=0.1)
    judged = edges.judged(Judged(other))
    assert judged.believed.edges == (), "none of its points counts"
    (conflict,) = judged.conflicts
    assert conflict.mark in other.edges
    assert set(conflict.photos) == set(FILES)


def test_a_face_answered_to_be_right_takes_the_place_of_what_was_seen():
    edges, other = edges_seen(), Corrections(edges=points(LOWER, (1, 2)))
    told = other.answered(other.edges[0], "mark").answered(other.edges[-1], "mark")
    judged = edges.judged(Judged(told))
    assert not judged.conflicts
    at, known = height(edges, judged.believed)
    assert at == pytest.approx(TOP - 4.0 + OUTER_EDGE_MM.mean, abs=0.15)
    assert known.placed_u > 0.02
    moved = told.model_copy(update={"edges": points(LOWER, (1, 2), beside=2.0)})
    assert edges.judged(Judged(moved)).conflicts, "marks that were moved since were not answered"


def test_where_nothing_was_seen_marks_make_the_face():
    edges = edges_seen(NOTHING_SEEN)
    corrections = Corrections(edges=points(EDGE, (0, 1, 3)))
    assert not edges.judged(Judged(corrections)).conflicts
    at, known = height(edges, corrections)
    assert at == pytest.approx(TOP + OUTER_EDGE_MM.mean, abs=0.1)
    assert known.placed_u == known.face.rings[0].height_u
    few = Corrections(edges=points(EDGE, (0,), around=(0.0,)))
    assert edges.marked_ends(few).end_face is None


def test_the_placed_height_follows_the_cameras_as_a_seen_one_does():
    edges = edges_seen(NOTHING_SEEN)
    _, hand = height(edges, Corrections(edges=points(EDGE, (0, 1, 2, 3))))
    seen = FaceHeight(edges.solution, len(CAMERAS), FACE)
    x = edges.solution.x.copy()
    x[edges.solution.layout["camera"].start] *= 1.002
    by_hand, by_eye = (one.at(x) - one.at(edges.solution.x) for one in (hand, seen))
    assert by_eye != pytest.approx(0.0, abs=0.02)
    assert by_hand == pytest.approx(by_eye, rel=0.25)


# ---- a radial rim

RADIAL = replace(PAIRED, kind="radial", rim_radius=RIM)
FLANGE_RIM = Circle(np.zeros(2), FLANGE, RIM, np.zeros(2))
LARGER = Circle(np.zeros(2), FLANGE, RIM + 1.0, np.zeros(2))


def test_points_on_a_rim_count_with_what_was_seen_or_are_asked_about():
    edges = edges_seen(bosses=RADIAL)
    radius, u = edges.marked_rim(Corrections(edges=points(FLANGE_RIM, (0,), edge="rim")))
    assert radius == pytest.approx(RIM, abs=0.03)
    assert 0.0 < u < 0.1
    other = Corrections(edges=points(LARGER, (0,), edge="rim"))
    (conflict,) = edges.judged(Judged(other)).conflicts
    assert conflict.mark.edge == "rim"
    told = other.answered(conflict.mark, "mark")
    assert edges.judged(Judged(told)).conflicts == ()
    assert edges.marked_rim(told)[0] == pytest.approx(RIM + 1.0, abs=0.05)


GAUGE = SimpleNamespace(
    start=np.array([18.0, 0.0, FLANGE - 4.4]),
    end=np.array([110.0, 0.0, FLANGE - 12.0]),
    line=SimpleNamespace(direction=np.array([0.996, 0.0, -0.08])),
)


def test_a_rim_placed_by_hand_makes_a_radial_flange():
    six = (10.0, 70.0, 130.0, 190.0, 250.0, 310.0)
    marks = marks_of(points(FLANGE_RIM, (0, 1, 2), edge="rim", around=six), bosses=10)
    flange = placed_rim(marks, GAUGE, None)
    assert flange.kind == "radial"
    assert flange.by_hand
    assert flange.pose.count == 10
    assert flange.rim_radius == pytest.approx(RIM, abs=0.1)
    assert flange.pose.height == pytest.approx(FLANGE, abs=0.5)
    assert flange.pose.centre == pytest.approx([0.0, 0.0], abs=0.1)
    assert [block.photo for block in rim_blocks(marks, flange)] == [0, 1, 2]


@pytest.mark.parametrize(
    ("around", "bosses", "said"),
    [
        ((0.0, 90.0, 180.0), 10, "3 points were placed"),
        ((0.0, 30.0, 60.0, 90.0), 10, "on one side of the hub"),
        ((0.0, 90.0, 180.0, 270.0), 5, "how many bores"),
    ],
)
def test_what_makes_no_rim_is_told(around, bosses, said):
    marks = marks_of(points(FLANGE_RIM, (0,), edge="rim", around=around), bosses=bosses)
    assert said in placed_rim(marks, GAUGE, None).reason


def test_a_rim_s_points_observe_radius_height_and_axis_alone():
    """The derivatives against steps of the unknowns."""
    marks = marks_of(points(LARGER, (1,), edge="rim"), bosses=10)
    (block,) = rim_blocks(marks, replace(RADIAL, pose=PatternPose.of_unknowns(PATTERN, 10)))
    solution = adjusted()
    here = block.linearise(solution.layout, solution.x)
    first = solution.layout["pattern"].start
    for k, step in enumerate([1e-3, 1e-3, 1e-3, 1e-5, 1e-5, 1e-3, 1e-3]):
        x = solution.x.copy()
        x[first + k] += step
        by = (block.linearise(solution.layout, x).residual - here.residual) / step
        assert here.jacobian[:, first + k] == pytest.approx(by, rel=2e-3, abs=2e-3)
    assert np.all(here.jacobian[:, first + 6] == 0.0)


# ---- a lying hub

LYING = frame_between(np.array([-50.0, 0.0, 24.0]), np.array([50.0, 0.0, 24.0]))
PLACED = Placed(LYING, (-50.0, 50.0), (9.0, 9.0), 0.95, 0.9, (0.0, 0.0), 0.1, 0.3, 0.003)
FLANGES = (FlangeSeen(-35.0, 21.0, 0.1, False), FlangeSeen(34.0, 21.0, 0.1, False))


def lying_mark(edge, number, place, radius, *, photo=0, around=0.0):
    at = LYING.round(np.array([place]), radius, np.radians([around]))[0]
    pixel = tuple(CAMERAS[photo].project(at)[0])
    return PlacedEdge(photo=FILES[photo], edge=edge, number=number, pixel=pixel, u_px=U_PX)


@pytest.mark.parametrize("around", [0.0, 40.0])
def test_a_mark_on_a_lying_hub_says_where_along_the_axis_an_edge_is(around):
    mark = lying_mark("end_face", 1, 53.0, 9.0, around=around)
    hand = with_marks(PLACED, FLANGES, Corrections(edges=(mark,)), FILES, adjusted())
    assert [c.mark for c in hand.conflicts] == [mark], "3 mm off what the photos show"
    assert hand.placed == PLACED
    told = Corrections(edges=(mark,)).answered(mark, "mark")
    hand = with_marks(PLACED, FLANGES, told, FILES, adjusted())
    assert hand.conflicts == ()
    assert hand.placed.ends == pytest.approx((-50.0, 53.0), abs=0.05)
    assert hand.instead == {("end_face", 1)}
    assert 0.05 < hand.u["end_face", 1] < 0.3


def test_a_mark_that_agrees_moves_a_flange_a_little_and_one_that_was_wrong_not_at_all():
    near = lying_mark("flange", 0, -34.8, 21.0)
    hand = with_marks(PLACED, FLANGES, Corrections(edges=(near,)), FILES, adjusted())
    assert -35.0 < hand.flanges[0].middle < -34.8
    assert hand.flanges[1] == FLANGES[1]
    wrong = Corrections(edges=(near,)).answered(near, "photos")
    hand = with_marks(PLACED, FLANGES, wrong, FILES, adjusted())
    assert hand.flanges == FLANGES
