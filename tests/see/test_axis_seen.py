"""Seeing where the hub's axis stands by drawn end faces."""

from __future__ import annotations

import numpy as np
import pytest

from hub_pictures import Picture, circle, rod, views
from hubsight.see.bosses.axis_seen import UNLIKELY, see_axis

AXIS, TOP = np.array([-48.0, 3.0]), 130.0
UP = np.array([0.0, 0.0, 1.0])
AXIS_BIAS_MM = 0.3
SHELL, CAP, BORE = 0.15, 0.55, 0.05
NEAR = AXIS + np.array([8.0, -6.0])


def draw(view, *, rings):
    """A gauge, and circles round the axis: (height, radius, light)."""
    picture = Picture(view)
    picture.fill(rod(np.array([40.0, 25.0, 80.0]), np.array([1.0, 0.2, 0.0]) / np.hypot(1, 0.2), 95, 2), CAP)
    for height, radius, light in rings:
        picture.fill(circle(np.append(AXIS, height), UP, radius), light)
    return picture.developed()


HUB = [(85.0, 21.0, SHELL), (112.0, 15.0, CAP), (TOP, 9.5, SHELL), (TOP, 6.0, BORE)]


@pytest.mark.parametrize("photo", [0, 1, 2])
def test_the_axis_is_where_the_normals_of_the_end_face_meet(photo):
    view = views()[photo]
    seen = see_axis(draw(view, rings=HUB), view, NEAR, TOP)
    assert min(np.linalg.norm(seen.places - AXIS, axis=1)) < AXIS_BIAS_MM
    assert seen.likely(AXIS) > 0.9


def test_a_place_beside_the_axis_is_unlikely():
    view = views()[0]
    seen = see_axis(draw(view, rings=HUB), view, NEAR, TOP)
    for angle in np.linspace(0, 2 * np.pi, 8, endpoint=False):
        beside = AXIS + 9.0 * np.array([np.cos(angle), np.sin(angle)])
        assert seen.likely(beside) < UNLIKELY + 0.1


def test_nothing_is_seen_where_nothing_is_round():
    view = views()[0]
    assert see_axis(draw(view, rings=[]), view, NEAR, TOP) is None
