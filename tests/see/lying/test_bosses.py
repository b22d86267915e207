"""Outer faces of a lying hub's bosses: found, and fitted."""

from __future__ import annotations

import numpy as np
import pytest

from hub_pictures import Picture
from hubsight.camera import View
from hubsight.see.lying.boss_fit import Flange, _edges, fit_flange
from hubsight.see.lying.boss_tops import find_tops
from hubsight.see.lying.caps import soften
from hubsight.see.lying.frame import frame_between
from scenes import look_at

CAMERA = np.array([1525.0, 1010.0, 745.0, 0, 0, 0, 0, 0])
FRAME = frame_between(np.array([-60.0, -2.0, 24.0]), np.array([60.0, 2.0, 24.0]))
ANGLES = np.radians([-35.0, 25.0])
TRUE = Flange(np.zeros(2), 27.0, 8.0, 31.0, 8.0, tuple(ANGLES))
WEB_RADIUS, WEB_MM = 20.0, (26.0, 32.5)
"""Of a web that does not lie in the flange's middle."""


def corners(angle, radius, width, s):
    outward = np.sin(angle) * FRAME.left + np.cos(angle) * FRAME.up
    tangent = np.cos(angle) * FRAME.left - np.sin(angle) * FRAME.up
    y = np.array([-1, 1, 1, -1]) * width / 2
    along = np.array([s[0], s[0], s[1], s[1]])
    return FRAME.origin + radius * outward + y[:, None] * tangent + along[:, None] * FRAME.along


def draw(view, seed):
    """A web of narrow strips, and two bosses' outer faces before it."""
    picture = Picture(view)
    for angle in np.radians(np.arange(-60.0, 61.0, 4.0)):
        picture.fill(corners(angle, WEB_RADIUS, 1.6, WEB_MM), 0.25)
    half = TRUE.thickness / 2
    for angle in ANGLES:
        ends = (TRUE.middle - half, TRUE.middle + half)
        picture.fill(corners(angle, TRUE.radius, TRUE.width, ends), 0.06)
    return picture.developed(seed=seed)


@pytest.fixture(scope="module")
def photos():
    poses = [look_at(0.0, 0.0, 430.0, 3.0), look_at(60.0, 24.0, 430.0, 10.0)]
    views = [View(CAMERA, np.concatenate([np.zeros(3), pose])) for pose in poses]
    return [soften(draw(view, k), view) for k, view in enumerate(views)]


@pytest.fixture(scope="module")
def tops(photos):
    return find_tops(photos, FRAME, TRUE.middle + 0.8)


def test_outer_faces_are_found_and_the_web_is_not_taken_for_one(tops):
    assert tops.radius == pytest.approx(TRUE.radius, abs=1.0)
    assert tops.middle == pytest.approx(TRUE.middle, abs=0.4)
    middles = sorted((first + last) / 2 for first, last in tops.faces)
    assert middles == pytest.approx(sorted(ANGLES), abs=np.radians(3.0))


def test_the_fit_is_sharper_than_the_search(photos, tops):
    fit = fit_flange(photos, FRAME, tops, (0.1, 0.3))
    assert fit.middle == pytest.approx(TRUE.middle, abs=0.1)
    assert fit.radius == pytest.approx(TRUE.radius, abs=0.5)


def test_where_no_flange_can_be_none_is_found(photos):
    low = frame_between(np.array([-60.0, 0.0, 10.0]), np.array([60.0, 0.0, 10.0]))
    assert find_tops(photos, low, TRUE.middle) is None


@pytest.mark.parametrize("moved", range(8))
def test_derivatives_tell_how_edges_move(photos, moved):
    """A flange moved by a little is seen where the derivatives say, against the one as it was."""
    step = 1e-3
    shifts = np.eye(8)[moved] * step
    after = Flange(
        TRUE.shift + shifts[:2],
        *(np.array([TRUE.radius, TRUE.width, TRUE.middle, TRUE.thickness]) + shifts[2:6]),
        tuple(np.array(TRUE.angles) + shifts[6:] / TRUE.radius),
    )
    for photo in photos:
        for old, new in zip(_edges([photo], FRAME, TRUE), _edges([photo], FRAME, after), strict=True):
            sight = old.points - photo.eye
            square = np.cross(sight, np.gradient(old.points, axis=0))
            square /= np.sum(square * old.way, axis=1)[:, None]
            seen = np.sum((new.points - old.points) * square, axis=1) / step
            assert seen == pytest.approx(old.design[:, moved], abs=0.01)
