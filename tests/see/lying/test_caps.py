"""Outlines of end caps: where they are seen, how they move, and which edge near them counts."""

from __future__ import annotations

import numpy as np
import pytest

from hub_pictures import Picture, circle
from hubsight.camera import View
from hubsight.see.lying.caps import (
    Cap,
    Part,
    edge_across,
    outline,
    rim,
    soften,
)
from hubsight.see.lying.frame import FAR_MM, frame_between
from scenes import look_at

CAMERA = np.array([1525.0, 1010.0, 745.0, 0, 0, 0, 0, 0])
FRAME = frame_between(np.array([-40.0, -3.0, 24.0]), np.array([40.0, 4.0, 26.0]))
EYES = {"inside": np.array([20.0, 10.0, 400.0]), "outside": np.array([260.0, -60.0, 300.0])}
CAP = Cap(1, 55.0, 9.0)


@pytest.mark.parametrize("eye", EYES.values(), ids=EYES)
@pytest.mark.parametrize("moved", range(6))
def test_derivatives_tell_how_an_outline_moves(eye, moved):
    step = 1e-4
    change = np.eye(6)[moved] * step
    before = outline(eye, FRAME, CAP, None)
    cap = Cap(1, CAP.place + change[4], CAP.radius + change[5])
    after = outline(eye, FRAME.moved(change[:4]), cap, None)
    told = np.hstack([before.by_axis, before.by_cap])[:, moved]
    # Sides slide round the cap as the camera's direction changes, which does not show across them.
    assert np.sum((after.points - before.points) * before.across, 1) / step == pytest.approx(told, abs=2e-3)


@pytest.mark.parametrize("eye", EYES.values(), ids=EYES)
def test_an_outline_is_square_to_the_line_of_sight(eye):
    seen = outline(eye, FRAME, CAP, None)
    assert np.sum(seen.across * (seen.points - eye), 1) == pytest.approx(0.0, abs=1e-9)
    assert np.linalg.norm(seen.across, axis=1) == pytest.approx(1.0)


def test_a_face_that_looks_at_the_camera_shows_both_halves_of_its_rim():
    assert set(rim(EYES["outside"], FRAME, CAP).part) == {Part.RIM, Part.INNER_RIM}
    assert set(rim(EYES["inside"], FRAME, CAP).part) == {Part.RIM}


def test_a_face_seen_almost_from_beside_shows_its_far_rim_outermost():
    eye = np.array([64.0, 0.0, 400.0])
    seen = rim(eye, FRAME, CAP)
    assert set(seen.part) == {Part.RIM}
    assert np.all((seen.points - FRAME.at(CAP.place)) @ FRAME.up < 0)


def test_sides_of_a_bright_cap_are_seen_inside_of_its_outlines():
    eye, white = EYES["inside"], (111.0, 69.0)
    dull, bright = (outline(eye, FRAME, CAP, w) for w in (None, white))
    for side in (Part.LEFT_SIDE, Part.RIGHT_SIDE):
        inwards = (
            (dull.points - bright.points)[dull.part == side]
            @ FRAME.left
            * (1 if side == Part.LEFT_SIDE else -1)
        )
        assert np.all((inwards > 0.1 * CAP.radius) & (inwards < 0.3 * CAP.radius))


def test_sides_lie_where_lines_of_sight_touch_the_cap():
    eye = EYES["inside"]
    seen = outline(eye, FRAME, CAP, None)
    side = seen.points[seen.part == Part.LEFT_SIDE]
    from_axis = side - FRAME.origin - ((side - FRAME.origin) @ FRAME.along)[:, None] * FRAME.along
    assert np.linalg.norm(from_axis, axis=1) == pytest.approx(CAP.radius)
    assert np.sum(from_axis * (eye - side), 1) == pytest.approx(0.0, abs=1e-6)


def test_moving_both_far_points_alike_shifts_the_frame():
    up = FRAME.moved(np.array([0.0, 0.0, 2.0, 2.0]))
    assert up.origin - FRAME.origin == pytest.approx(2.0 * FRAME.up)
    assert up.along == pytest.approx(FRAME.along)
    turned = FRAME.moved(np.array([0.0, 0.0, -1.0, 1.0]))
    assert turned.along @ FRAME.up == pytest.approx(1.0 / FAR_MM, rel=1e-3)


@pytest.mark.parametrize(("outermost", "off"), [(True, 0.0), (False, -2.0)])
def test_of_a_chamfers_two_edges_the_outermost_is_the_rim(outermost, off):
    """An end seen from outside: a dark disc in a grey ring on paper, whose inner edge is the stronger one."""
    view = View(CAMERA, np.concatenate([np.zeros(3), look_at(10.0, 50.0, 430.0)]))
    frame = frame_between(np.array([-40.0, 0.0, 20.0]), np.array([40.0, 0.0, 20.0]))
    cap = Cap(1, 30.0, 9.0)
    picture = Picture(view)
    for radius, light in ((9.0, 0.3), (7.0, 0.02)):
        picture.fill(circle(frame.at(cap.place), frame.along, radius), light)
    seen = rim(view.position, frame, cap)
    at, ok = edge_across(soften(picture.developed(seed=1), view), seen, 2.2, outermost=outermost)
    across_paper = ok & (seen.part == Part.RIM)
    outward = at[across_paper] / seen.by_cap[across_paper, 1]
    assert len(outward) > 20
    assert np.median(outward) == pytest.approx(off, abs=0.15)
