"""Upper end face, lower edges and empty bores in drawn pictures of which the truth is known."""

from __future__ import annotations

import numpy as np
import pytest

from hub_pictures import Picture, circle, rod, views
from hubsight.scene.boss_shape import BossShape, Face
from hubsight.scene.pattern_pose import PatternPose
from hubsight.scene.turned import HubAxis
from hubsight.see.bosses.holes import MIDDLES_MM, STAGGERS_MM, GaugeInBoss, see_holes
from hubsight.see.bosses.walls import boss_walls, face_outward, facing, rim_walls
from hubsight.see.turned.end_face import see_end_face
from hubsight.see.turned.rings import ring_height
from hubsight.see.turned.underside import DEPTHS_MM, lower_edges, see_underside

CENTRE = np.array([-48.0, 2.0])
FLANGE, TOP = 90.0, 128.0
UP = np.array([0.0, 0.0, 1.0])
AXIS = HubAxis(CENTRE + np.array([0.15, -0.1]), FLANGE, np.zeros(2))
CAP, BORE, STUB = 9.5, 6.0, 4.9
HEIGHT_BIAS_MM, RADIUS_BIAS_MM = 0.12, 0.1


def at(height):
    return np.append(CENTRE, height)


def turned(picture, top, bottom, radius, lights):
    side, face = lights
    picture.fill(rod(at(top), UP, top - bottom, 2 * radius, rounding=0.0), side)
    picture.fill(circle(at(top), UP, radius), face)


def draw(view, *, stub=False, seed=0):
    picture = Picture(view)
    turned(picture, FLANGE - 4, 0.0, 20.0, (0.08, 0.15))
    turned(picture, TOP - 12, FLANGE - 4, 15.0, (0.2, 0.35))
    turned(picture, TOP, TOP - 12, CAP, (0.15, 0.5))
    if stub:
        turned(picture, TOP + 5.5, TOP, STUB, (0.2, 0.45))
        picture.fill(circle(at(TOP + 5.5), UP, 2.6), 0.02)
    else:
        picture.fill(circle(at(TOP), UP, BORE), 0.02)
    return picture.developed(seed=seed)


@pytest.fixture(scope="module")
def cameras():
    return views()


def test_end_face_is_found_at_its_height(cameras):
    face = see_end_face([draw(v, seed=k) for k, v in enumerate(cameras)], cameras, AXIS)
    assert face.both_edges
    assert not face.stub
    assert not face.doubtful
    outer, inner = face.rings[0], face.rings[-1]
    assert [r.height for r in (outer, inner)] == pytest.approx([TOP, TOP], abs=HEIGHT_BIAS_MM)
    assert [outer.radius, inner.radius] == pytest.approx([CAP, BORE], abs=RADIUS_BIAS_MM)
    assert face.inner(inner)
    assert not face.inner(outer)
    assert ring_height(cameras, outer) == pytest.approx(outer.height, abs=0.05)


def test_axle_standing_out_is_not_the_end_face(cameras):
    face = see_end_face([draw(v, stub=True, seed=k) for k, v in enumerate(cameras)], cameras, AXIS)
    assert face.stub
    assert face.rings[0].height == pytest.approx(TOP, abs=HEIGHT_BIAS_MM)
    assert face.rings[0].radius == pytest.approx(CAP, abs=RADIUS_BIAS_MM)


def test_axis_is_taken_from_the_turned_edges_themselves(cameras):
    """The bosses, far below, tell it less well."""
    astray = HubAxis(CENTRE + np.array([0.5, -0.3]), FLANGE, np.zeros(2))
    face = see_end_face([draw(v, seed=k) for k, v in enumerate(cameras)], cameras, astray)
    assert face.rings[0].height == pytest.approx(TOP, abs=HEIGHT_BIAS_MM)


def test_height_follows_the_cameras(cameras):
    """Cameras believed to be higher by a share see the face higher by the same share."""
    face = see_end_face([draw(v, seed=k) for k, v in enumerate(cameras)], cameras, AXIS)
    grown = [type(v)(v.shared, np.concatenate([v.own[:6], 1.01 * v.own[6:]])) for v in cameras]
    ring = face.rings[0]
    assert ring_height(grown, ring) / ring_height(cameras, ring) == pytest.approx(1.01, abs=1e-4)


def test_no_end_face_on_bare_paper(cameras):
    assert see_end_face([Picture(v).developed(seed=k) for k, v in enumerate(cameras)], cameras, AXIS) is None


def test_one_photo_tells_no_height(cameras):
    assert see_end_face([draw(cameras[0])], cameras[:1], AXIS) is None


COUNT, RADIUS, HALF_WIDTH, THICKNESS = 6, 23.5, 4.1, 7.4
SHAPE = BossShape(Face(1, HALF_WIDTH, 0.0, 0.0), Face(-1, HALF_WIDTH, 0.0, 0.0), (0, 0, 0))
POSE = PatternPose(CENTRE, FLANGE, np.zeros(2), 0.3, COUNT, RADIUS)


def boss(picture, k, light):
    corners = np.array([(-6.0, -1), (4.0, -1), (4.0, 1), (-6.0, 1)])
    top = POSE.to_target(k, corners[:, 0], HALF_WIDTH * corners[:, 1])
    picture.fill(np.concatenate([top, top - THICKNESS * UP]), light)
    picture.fill(top, 2 * light)


def test_lower_edges_are_found_at_the_bosses_thickness(cameras):
    pictures = []
    for k, view in enumerate(cameras):
        picture = Picture(view)
        for j in range(COUNT):
            boss(picture, j, 0.1)
        pictures.append(picture.developed(seed=k))
    seen = see_underside(pictures, cameras, boss_walls(POSE, SHAPE))
    assert seen.depth[np.argmax(seen.weight)] == pytest.approx(-THICKNESS, abs=0.15)


def line(depth, height, width=0.25):
    return height * np.exp(-0.5 * ((DEPTHS_MM - depth) / width) ** 2)


def test_lines_that_stand_out_count_fully():
    seen = lower_edges(line(-7.0, 0.5) + line(-9.0, 0.3))
    assert seen.depth == pytest.approx([-9.0, -7.0], abs=0.02)
    assert seen.weight == pytest.approx([0.3, 0.5], abs=0.01)


@pytest.mark.parametrize("bump", [0.0, 0.005, 0.01, 0.02])
def test_a_shoulder_becomes_a_line_by_and_by(bump):
    """Trifles decide whether it is one at all; so it may not weigh much where it has just become one."""
    slope = line(-7.0, 0.5, 1.0)
    seen = lower_edges(slope + line(-8.5, bump, 0.15))
    beside = seen.weight[np.abs(seen.depth + 8.5) < 0.4]
    assert beside.sum() < 0.1 * seen.weight.max()


def test_from_straight_above_no_face_is_seen(cameras):
    above = views(count=1)
    far = [type(v)(v.shared, v.own + np.array([0, 0, 0, 0, 0, 0, 48.0, 0, 0])) for v in above]
    assert see_underside([Picture(far[0]).developed()], far, boss_walls(POSE, SHAPE)) is None


def test_lower_edge_of_a_radial_rim_is_found(cameras):
    pictures = []
    for k, view in enumerate(cameras):
        picture = Picture(view)
        turned(picture, FLANGE, FLANGE - THICKNESS, RADIUS, (0.1, 0.25))
        pictures.append(picture.developed(seed=k))
    seen = see_underside(pictures, cameras, rim_walls(POSE, RADIUS))
    assert seen.depth[np.argmax(seen.weight)] == pytest.approx(-THICKNESS, abs=0.2)


MIDDLE_BELOW, STAGGER, SLANT = 3.7, 1.4, np.radians(80.0)
GAUGE = GaugeInBoss((0,), 0.0, float(np.cos(SLANT)), float(np.sin(SLANT)), 0.0)


def drilled(view, side, *, holes=True, seed=0):
    """Draw bosses with holes on the faces that the photo shows; the gauge's bores lie above for side 1."""
    picture = Picture(view)
    around = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    for k in range(COUNT):
        boss(picture, k, 0.1)
        for face in (SHAPE.left, SHAPE.right):
            x = HALF_WIDTH / np.tan(SLANT)
            own = side if face.side > 0 else -side
            foot = POSE.to_target(k, np.array([x]), face.y(np.array([x])))
            if not holes or facing(view, foot, face_outward(POSE, k, face)) < 0.05:
                continue
            for along, lift, radius in ((x, own, 1.2), (-x, -own, 2.3)):
                on_face = along + radius * np.cos(around) / np.sin(SLANT)
                outline = POSE.to_target(k, on_face, face.y(on_face))
                outline[:, 2] += -MIDDLE_BELOW + lift * STAGGER + radius * np.sin(around)
                picture.fill(outline, 0.01)
    return picture.developed(seed=seed)


@pytest.mark.parametrize("side", [1, -1])
def test_empty_bores_show_the_middle_and_the_gauges_side_of_it(cameras, side):
    pictures = [drilled(v, side, seed=k) for k, v in enumerate(cameras)]
    clear = see_holes(pictures, cameras, POSE, SHAPE, GAUGE).clear
    middle, stagger = np.unravel_index(clear.argmax(), clear.shape)
    assert MIDDLES_MM[middle] == pytest.approx(-MIDDLE_BELOW, abs=0.25)
    assert STAGGERS_MM[stagger] == pytest.approx(side * STAGGER, abs=0.35)
    assert clear.max() > clear[:, side * STAGGERS_MM < 0].max() + 0.2


def test_bosses_without_bores_show_no_holes(cameras):
    pictures = [drilled(v, 1, holes=False, seed=k) for k, v in enumerate(cameras)]
    blank = see_holes(pictures, cameras, POSE, SHAPE, GAUGE).clear
    pictures = [drilled(v, 1, seed=k) for k, v in enumerate(cameras)]
    assert blank.max() < 0.7 * see_holes(pictures, cameras, POSE, SHAPE, GAUGE).clear.max()


def test_faces_of_bosses_with_a_gauge_are_not_looked_at(cameras):
    held = GaugeInBoss(tuple(range(COUNT)), 0.0, GAUGE.outward, GAUGE.sideways, 0.0)
    assert see_holes([drilled(cameras[1], 1)], cameras[1:2], POSE, SHAPE, held) is None
