"""Bored bosses against rays cast at triangles, and against the definition of a mirror image."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from hubsight.scene.bored_boss import FIRST, SECOND, BoredBoss, SideFace

RADIUS = 23.0
LEFT = SideFace(1, RADIUS, 4.6, -0.08, 0.0, 0.11)
RIGHT = SideFace(-1, RADIUS, 5.9, 0.05, -0.02, -0.06)
BOSS = BoredBoss(0.03, 1.32, 21.5, (-3.1, -6.0), -0.04, (1.2, 2.3), LEFT, RIGHT)
AROUND = np.radians(np.arange(0.0, 360.0, 15.0))


def cast(start, along, face, step=0.05):
    """Where a line from afar first meets a face cut into triangles (Moeller and Trumbore 1997)."""
    x, z = np.meshgrid(np.arange(-9.0, 9.01, step), [-14.0, 4.0], indexing="ij")
    y = face.side * (face.offset + face.slope * x + face.bend * x * x + face.lean * (z + 4.5))
    grid = np.stack([x + RADIUS, y, z], -1)
    a, b, c, d = grid[:-1, 0], grid[1:, 0], grid[:-1, 1], grid[1:, 1]
    triangles = np.concatenate([np.stack([a, b, c], 1), np.stack([b, d, c], 1)])
    first, ab, ac = triangles[:, 0], triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    p = np.cross(along, ac)
    det = np.sum(ab * p, 1)
    to = start - first
    u = np.sum(to * p, 1) / det
    q = np.cross(to, ab)
    v, t = (q @ along) / det, np.sum(ac * q, 1) / det
    hit = t[(u >= -1e-9) & (v >= -1e-9) & (u + v <= 1 + 1e-9) & (t > 0)]
    return start + hit.min() * along


@pytest.mark.parametrize("face", [LEFT, RIGHT, replace(RIGHT, bend=0.04), replace(LEFT, bend=-0.03)])
def test_a_line_of_sight_meets_a_face_where_a_cast_ray_does(face):
    eye = np.array([90.0, face.side * 160.0, 330.0])
    off = np.array([[-4, 0, -3], [0, 0, 0], [3, 0.4, 2.5], [-2, -0.5, 3]])
    targets = np.array([RADIUS, face.side * 5.0, -4.5]) + off
    along = (targets - eye) / np.linalg.norm(targets - eye, axis=1)[:, None]
    met = face.met(eye, along)
    np.testing.assert_allclose(met, [cast(eye, one, face) for one in along], atol=1e-3)
    np.testing.assert_allclose(face.beyond(met), 0.0, atol=1e-4)


def test_a_face_lies_outward_of_its_own_boss():
    assert LEFT.beyond(np.array([RADIUS, 5.0, -4.5])) == pytest.approx(0.4)
    assert RIGHT.beyond(np.array([RADIUS, -6.2, -4.5])) == pytest.approx(0.3)


def test_seen_at_a_height_a_leaning_face_lies_farther_out():
    line = LEFT.seen_at(-2.5)
    assert float(line.y(1.0)) == pytest.approx(4.6 - 0.08 + 0.11 * 2.0)


def test_the_second_bore_mirrors_the_first_about_the_centreline():
    mirror = np.array([np.cos(BOSS.centreline), np.sin(BOSS.centreline)])
    reflect = 2 * np.outer(mirror, mirror) - np.eye(2)
    first, second = BOSS.bore(FIRST), BOSS.bore(SECOND)
    np.testing.assert_allclose(second.along[:2], reflect @ first.along[:2])
    np.testing.assert_allclose(second.foot[:2], reflect @ first.foot[:2])
    assert second.along[2] == pytest.approx(first.along[2])
    assert (first.foot[2], second.foot[2]) == BOSS.heights
    assert BOSS.exits(FIRST) == -BOSS.exits(SECOND)


def test_the_hub_s_axis_lies_to_the_left_of_the_first_bore():
    bore = BOSS.bore(FIRST)
    left = np.array([-bore.along[1], bore.along[0]]) / np.hypot(*bore.along[:2])
    assert -bore.foot[:2] @ left == pytest.approx(BOSS.miss)
    assert bore.foot[:2] @ bore.along[:2] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("which", [FIRST, SECOND])
@pytest.mark.parametrize("side", [1, -1])
def test_a_mouth_s_rim_lies_on_its_face_and_on_its_bore(which, side):
    rim = BOSS.rim(which, side, AROUND)
    bore, radius = BOSS.mouth(which, side)
    np.testing.assert_allclose(BOSS.face(side).beyond(rim), 0.0, atol=1e-4)
    along, off = bore.along, rim - bore.foot
    np.testing.assert_allclose(np.linalg.norm(np.cross(off, along), axis=1), radius, atol=1e-9)
    np.testing.assert_allclose(bore.off(rim), radius, atol=1e-9)
    assert radius == (1.2 if side == BOSS.exits(which) else 2.3)


def test_unknowns_describe_the_whole_boss():
    moved = replace(BOSS, shift=(0.1, -0.2))
    assert moved.with_unknowns(moved.unknowns()) == moved
    assert len(moved.unknowns()) == 18
