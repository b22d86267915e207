"""Both bores' mouths on drawn bosses, where centreline and faces are known exactly."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from hub_pictures import CAMERA, Picture, views
from hubsight.camera import View
from hubsight.scene.bored_boss import FIRST, SECOND, BoredBoss, SideFace
from hubsight.scene.boss_shape import BossShape, Face
from hubsight.scene.pattern_pose import PatternPose
from hubsight.see.bosses.bore_fit import BoreLine
from hubsight.see.bosses.bore_mouths import see_bore_mouths

COUNT, RADIUS = 6, 23.5
POSE = PatternPose(np.array([-8.0, 2.0]), 92.0, np.array([0.004, -0.003]), 0.3, COUNT, RADIUS)
CENTRELINE = np.radians(1.7)
"""Of the lopsided boss, from where its outline mirrors itself."""
BETA = np.radians(78.0)
TRUE = BoredBoss(
    CENTRELINE,
    CENTRELINE + BETA,
    RADIUS * np.sin(BETA),
    (-3.2, -5.9),
    -0.03,
    (1.18, 2.26),
    SideFace(1, RADIUS, 4.4, -0.03, 0.0, 0.04),
    SideFace(-1, RADIUS, 5.5, -0.06, 0.0, -0.03),
)
TOP, WALL, HOLE = 0.5, 0.22, 0.015
"""Linear light."""
INNER, OUTER, FOOT = RADIUS - 7.0, RADIUS + 4.0, -9.5
AROUND = np.linspace(0, 2 * np.pi, 60, endpoint=False)


def photos():
    """Photos with as many pixels to the millimetre as a phone's."""
    close = np.concatenate([[2.2 * CAMERA[0]], CAMERA[1:]])
    return [View(close, v.own) for v in views(count=4, distance=330.0, roll=0.0)]


def upright(boss, side):
    """Corners (4, 3) of a side face, in the boss' frame."""
    face = boss.face(side)
    corners = []
    for x, z in ((INNER, 0.0), (OUTER, 0.0), (OUTER, FOOT), (INNER, FOOT)):
        at = face.offset + face.slope * (x - RADIUS) + face.lean * (z + 4.5)
        corners.append([x, side * at, z])
    return np.array(corners)


def picture(view, boss=TRUE, *, holes=True, seed=0):
    """A flange of bosses, the farthest drawn first, on paper; walls, their mouths, then the top."""
    drawn = Picture(view)
    frames = [POSE.frame(k) for k in range(COUNT)]
    far = [np.linalg.norm(axes[0] * RADIUS + origin - view.position) for origin, axes in frames]
    for k in np.argsort(far)[::-1]:
        origin, axes = frames[k]
        left, right = (upright(boss, side) @ axes + origin for side in (1, -1))
        drawn.fill(np.concatenate([left, right]), 0.3)
        eye = axes @ (view.position - origin)
        for side, wall in ((1, left), (-1, right)):
            if boss.face(side).beyond(eye) > 0:
                drawn.fill(wall, WALL)
                for which in (FIRST, SECOND) if holes else ():
                    drawn.fill(boss.rim(which, side, AROUND) @ axes + origin, HOLE)
        drawn.fill(np.concatenate([left[:2], right[:2]]), TOP)
    return drawn.developed(seed=seed)


def known(boss=TRUE, *, off=0.15):
    """What upper edges and a gauge in the first boss say: the outline's mirror line is 0, faces are off."""
    shape = BossShape(
        Face(1, boss.left.offset + off, boss.left.slope, 0.0),
        Face(-1, boss.right.offset - off, boss.right.slope, 0.0),
        (0.0, 0.0, 0.0),
    )
    _, axes = POSE.frame(0)
    left = axes[:2, :2].T @ np.array([-np.sin(boss.direction), np.cos(boss.direction)])
    gauge = BoreLine((0,), boss.direction, boss.miss, boss.heights[0], boss.rise, left)
    return POSE, shape, gauge


@pytest.fixture(scope="module")
def seen():
    own = photos()
    pictures = [picture(v, seed=k) for k, v in enumerate(own)]
    return see_bore_mouths(pictures, own, *known())


def test_the_mouths_show_the_centreline_of_a_lopsided_boss(seen):
    assert seen.shows_boss
    assert (seen.boss.centreline - CENTRELINE) * RADIUS == pytest.approx(0.0, abs=0.06)
    assert abs(seen.boss.centreline - CENTRELINE) < 2.5 * seen.centreline_u


def test_the_mouths_show_which_bore_lies_higher(seen):
    assert np.diff(seen.boss.heights)[0] == pytest.approx(np.diff(TRUE.heights)[0], abs=0.15)


@pytest.mark.parametrize("turn", [1.0, -1.0])
def test_the_mouths_show_the_faces_where_the_bores_pass_them(seen, turn):
    which = FIRST if turn * TRUE.exits(FIRST) > 0 else SECOND
    for side, face in ((1, seen.faces(turn).left), (-1, seen.faces(turn).right)):
        bore = TRUE.bore(which)
        at = TRUE.face(side).met(bore.foot, bore.along)
        assert float(face.y(at[0] - RADIUS)) == pytest.approx(at[1], abs=0.15)
        assert seen.face_u(turn, side) < 0.25


def test_the_mirrored_boss_gives_the_mirrored_centreline():
    """What is written for the left has to hold for the right."""
    left, right = (replace(face, side=-face.side) for face in (TRUE.right, TRUE.left))
    boss = replace(
        TRUE, centreline=-TRUE.centreline, direction=-TRUE.direction, miss=-TRUE.miss, left=left, right=right
    )
    own = photos()
    found = see_bore_mouths([picture(v, boss, seed=k) for k, v in enumerate(own)], own, *known(boss))
    assert found.shows_boss
    assert (found.boss.centreline + CENTRELINE) * RADIUS == pytest.approx(0.0, abs=0.06)


def test_faces_without_mouths_show_no_centreline():
    own = photos()
    found = see_bore_mouths([picture(v, holes=False, seed=k) for k, v in enumerate(own)], own, *known())
    assert found is None or not found.shows_centreline


def test_a_photo_from_straight_above_shows_no_mouths():
    own = photos()[:1]
    found = see_bore_mouths([picture(own[0])], own, *known())
    assert found is None or not found.shows_centreline


def test_a_shifted_axis_does_not_turn_the_centreline():
    """Bosses all round show where the axis is: a pattern that is a tenth of a millimetre off is no matter."""
    own = photos()
    pose, shape, gauge = known()
    pictures = [picture(v, seed=k) for k, v in enumerate(own)]
    off = np.array([0.08, -0.06])
    shifted = replace(gauge, miss=gauge.miss + float(gauge.left @ off))
    found = see_bore_mouths(pictures, own, replace(pose, centre=pose.centre + off), shape, shifted)
    assert (found.boss.centreline - CENTRELINE) * RADIUS == pytest.approx(0.0, abs=0.08)
    np.testing.assert_allclose(found.boss.shift, -off, atol=0.06)


def test_without_a_photo_the_others_say_nearly_the_same(seen):
    for k in range(1, 4):
        less = seen.only_photos([i for i in range(4) if i != k])
        assert less.centreline_u > seen.centreline_u
        assert abs(less.boss.centreline - seen.boss.centreline) < 3 * less.centreline_u
    assert not seen.only_photos([0]).shows_centreline
    np.testing.assert_allclose(seen.only_photos(range(4)).boss.unknowns(), seen.boss.unknowns(), atol=1e-12)
