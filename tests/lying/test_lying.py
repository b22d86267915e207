"""A lying hub in drawn pictures of which the truth is known."""

from __future__ import annotations

import numpy as np
import pytest

from hub_pictures import Picture, circle, rod
from hubsight.camera import View
from hubsight.lying.axis import see_course
from hubsight.lying.ends import ROUNDED_MM
from hubsight.lying.measure import _from_above, _from_all, _last_is_drive, _measurement, _Seen
from scenes import look_at

CAMERA = np.array([1525.0, 1010.0, 745.0, 0, 0, 0, 0, 0])
FIELD = (111.0, 69.0)
OLD, RADIUS, THICKNESS = 110.0, 25.0, 7.6
CENTRES = (-33.0, 21.0)
"""Flanges' middles from the hub's middle: non-drive, drive."""
ANGLE, MIDDLE = np.radians(4.0), np.array([3.0, -2.0, 25.0])
ALONG = np.array([np.cos(ANGLE), np.sin(ANGLE), 0.0])


def along(s):
    return MIDDLE + s * ALONG


def turned(picture, last, first, diameter, light):
    """Draw a turned part: its side, and the end that faces the camera in another light."""
    picture.fill(rod(along(last), ALONG, last - first, diameter, rounding=0.0), light)
    for end, sign in ((last, 1), (first, -1)):
        if sign * (picture.view.position - along(end)) @ ALONG > 0:
            picture.fill(circle(along(end), ALONG, diameter / 2), 2.5 * light)


def draw(view, seed):
    picture = Picture(view)
    turned(picture, 40.0, -45.0, 24.0, 0.3)
    turned(picture, OLD / 2, 38.0, 18.0, 0.15)
    turned(picture, -40.0, -OLD / 2, 18.0, 0.2)
    for middle in CENTRES:
        turned(picture, middle + THICKNESS / 2, middle - THICKNESS / 2, 2 * RADIUS, 0.08)
    return picture.developed(seed=seed)


@pytest.fixture(scope="module")
def photos():
    poses = [look_at(0.0, 0.0, 430.0, 3.0), look_at(40.0, 24.0, 430.0, 10.0)]
    views = [View(CAMERA, np.concatenate([np.zeros(3), pose])) for pose in poses]
    return [(draw(view, k), view) for k, view in enumerate(views)]


@pytest.fixture(scope="module")
def found(photos):
    course = see_course(*photos[0], FIELD)
    return _from_above(*photos[0], course, FIELD)


def seen(found, photos):
    return _Seen(*found, len(photos), float(photos[0][1].position[2]), (1525.0, 8.0), 0.0005)


def test_the_axis_is_seen(photos):
    course = see_course(*photos[0], FIELD)
    assert course.angle % np.pi == pytest.approx(ANGLE, abs=np.radians(0.5))
    assert course.sideways == pytest.approx(MIDDLE[:2] @ course.left, abs=0.4)


def test_nothing_lies_on_bare_paper(photos):
    _, view = photos[0]
    assert see_course(Picture(view).developed(), view, FIELD) is None


def test_several_photos_agree_on_the_hub(photos, found):
    placed, ends, flanges = _from_all(photos, found, FIELD)
    assert placed.frame.height(ends.middle) == pytest.approx(MIDDLE[2], abs=1.0)
    assert ends.length - 2 * ROUNDED_MM == pytest.approx(OLD, abs=0.3)
    assert [f.middle - ends.middle for f in flanges] == pytest.approx(CENTRES, abs=0.3)
    assert [f.radius for f in flanges] == pytest.approx([RADIUS, RADIUS], abs=1.0)


def test_one_photo_says_that_it_does_not_see_the_height(photos, found):
    measured = _measurement(seen(found, photos[:1]), "right", (), ("one.jpg",))
    assert all("how high" in f.warnings[1] for f in measured.figures.values())


def test_the_stated_drive_end_names_the_sides(photos, found):
    right, left = (_measurement(seen(found, photos), end, (), ()).figures for end in ("right", "left"))
    assert right["centre_to_flange_ds"].value == pytest.approx(CENTRES[1], abs=1.0)
    assert right["centre_to_flange_ds"].value == left["centre_to_flange_nds"].value


def test_without_it_only_the_over_locknut_is_given(photos, found):
    measured = _measurement(seen(found, photos), None, (), ())
    assert set(measured.figures) == {"over_locknut"}
    assert "drive_end" in measured.warnings[0]


def test_a_drive_end_across_the_hub_is_refused(found):
    refusal = _last_is_drive(found[0], "top")
    assert not refusal
    assert "left" in refusal.remedy
