"""A lying hub in drawn pictures of which the truth is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from hub_pictures import Picture, circle, rod
from hubsight.camera import View
from hubsight.measure.lying import (
    DOUBTFUL_END,
    ONE_PHOTO,
    UNCLEAR_FLANGE,
    _last_is_drive,
    _measurement,
    _Seen,
)
from hubsight.see.lying.axis import see_course
from hubsight.see.lying.caps import soften
from hubsight.see.lying.flanges import _Rim, _with_faces
from hubsight.see.lying.pattern import find_pattern
from hubsight.see.lying.place import place
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


def draw(view, seed, *, stub=0.0):
    picture = Picture(view)
    turned(picture, 40.0, -45.0, 24.0, 0.3)
    if stub:
        turned(picture, OLD / 2 + stub, -OLD / 2 - stub, 9.5, 0.25)
    turned(picture, OLD / 2, 38.0, 18.0, 0.15)
    turned(picture, -40.0, -OLD / 2, 18.0, 0.2)
    for middle in CENTRES:
        turned(picture, middle + THICKNESS / 2, middle - THICKNESS / 2, 2 * RADIUS, 0.08)
    return picture.developed(seed=seed)


@pytest.fixture(scope="module")
def views():
    poses = [look_at(0.0, 0.0, 430.0, 3.0), look_at(40.0, 24.0, 430.0, 10.0)]
    return [View(CAMERA, np.concatenate([np.zeros(3), pose])) for pose in poses]


@pytest.fixture(scope="module")
def photos(views):
    return [soften(draw(view, k), view) for k, view in enumerate(views)]


def placed(photos):
    return place(photos, see_course(photos[0].picture, photos[0].view, FIELD), FIELD)


@pytest.fixture(scope="module")
def found(photos):
    return placed(photos)


def seen(found, count=2, **changes):
    hub, flanges = found
    return _Seen(replace(hub, **changes), flanges, count, 430.0, (1525.0, 8.0), 0.0005)


def test_the_axis_is_seen(photos):
    course = see_course(photos[0].picture, photos[0].view, FIELD)
    assert course.angle % np.pi == pytest.approx(ANGLE, abs=np.radians(0.5))
    assert course.sideways == pytest.approx(MIDDLE[:2] @ course.left, abs=0.4)


def test_nothing_lies_on_bare_paper(views):
    assert see_course(Picture(views[0]).developed(), views[0], FIELD) is None


def test_several_photos_agree_on_the_hub(found):
    hub, flanges = found
    assert hub.frame.at(hub.middle)[2] == pytest.approx(MIDDLE[2], abs=0.5)
    assert hub.frame.along[2] == pytest.approx(0.0, abs=0.008)
    assert hub.length == pytest.approx(OLD, abs=0.2)
    assert [f.middle - hub.middle for f in flanges] == pytest.approx(CENTRES, abs=0.2)
    assert [f.radius for f in flanges] == pytest.approx([RADIUS, RADIUS], abs=1.0)


def test_what_is_said_to_be_known_holds(found):
    hub, _ = found
    assert abs(hub.frame.at(hub.middle)[2] - MIDDLE[2]) < 2 * hub.height_u
    assert abs(hub.frame.along[2]) < 2 * hub.slope_u


def test_an_axle_that_stands_out_is_not_the_end_face(views):
    hub, _ = placed([soften(draw(view, k, stub=5.0), view) for k, view in enumerate(views)])
    assert hub.length == pytest.approx(OLD, abs=0.3)


def test_one_photo_knows_the_height_less_well(photos, found):
    one, _ = placed(photos[:1])
    assert one.height_u > 2 * found[0].height_u
    assert abs(one.length - OLD) < 2 * OLD * one.height_u / 430.0 + 0.3


def test_one_photo_says_that_it_does_not_see_the_height(found):
    assert ONE_PHOTO in _measurement(seen(found, 1), "right", (), ()).warnings
    assert ONE_PHOTO not in _measurement(seen(found), "right", (), ()).warnings


def test_clear_ends_and_flanges_need_no_warning(found):
    measured = _measurement(seen(found), "right", (), ())
    assert not any(figure.warnings for figure in measured.figures.values())


@pytest.mark.parametrize(
    "changes",
    [
        {"fit": 0.5},
        {"worst": 0.3},
        {"length_u": 0.5},
        {"outside": (0.0, 9.0), "fit": 0.75},
        {"outside": (-8.0, 0.0), "fit": 0.75},
    ],
)
def test_doubtful_ends_are_said_of_every_figure(found, changes):
    doubtful = _measurement(seen(found, **changes), "right", (), ())
    assert all(figure.warnings == (DOUBTFUL_END,) for figure in doubtful.figures.values())


def test_a_length_that_no_hub_has_is_doubtful(found):
    first, last = found[0].ends
    doubtful = _measurement(seen(found, ends=(first - 2.5, last + 2.5)), "right", (), ())
    assert doubtful.figures["over_locknut"].warnings == (DOUBTFUL_END,)


def test_a_flange_that_may_be_something_else_is_said(found):
    hub, (first, last) = found
    unclear = _measurement(seen((hub, (first, replace(last, doubtful=True)))), "right", (), ())
    warned = [name for name, figure in unclear.figures.items() if UNCLEAR_FLANGE in figure.warnings]
    assert warned == ["centre_to_flange_ds"]


def test_an_unclear_flange_about_an_unsure_axis_makes_both_doubtful(found):
    hub, (first, last) = found
    for fit, names in (
        (0.7, {"centre_to_flange_ds", "centre_to_flange_nds"}),
        (0.9, {"centre_to_flange_ds"}),
    ):
        flanges = first, replace(last, doubtful=True)
        unclear = _measurement(seen((hub, flanges), fit=fit), "right", (), ())
        assert {n for n, figure in unclear.figures.items() if UNCLEAR_FLANGE in figure.warnings} == names


def test_the_stated_drive_end_names_the_sides(found):
    right, left = (_measurement(seen(found), end, (), ()).figures for end in ("right", "left"))
    assert right["centre_to_flange_ds"].value == pytest.approx(CENTRES[1], abs=0.3)
    assert right["centre_to_flange_ds"].value == left["centre_to_flange_nds"].value


def test_without_it_only_the_over_locknut_is_given(found):
    measured = _measurement(seen(found), None, (), ())
    assert set(measured.figures) == {"over_locknut"}
    assert "drive_end" in measured.warnings[0]


def test_a_drive_end_across_the_hub_is_refused(found):
    refusal = _last_is_drive(found[0], "top")
    assert not refusal
    assert "left" in refusal.remedy


@pytest.mark.parametrize("turned_by", [0.0, 90.0])
def test_a_course_is_found_whichever_way_the_hub_lies_on_the_sheet(turned_by):
    """Rough direction and extent are found along one of two directions, and given to the other one."""
    view = View(CAMERA, np.concatenate([np.zeros(3), look_at(0.0, 0.0, 430.0, 3.0)]))
    angle = np.radians(turned_by + 5.0)
    ahead, middle = np.array([np.cos(angle), np.sin(angle), 0.0]), np.array([13.0, 12.0, 25.0])
    picture = Picture(view)
    for length, diameter in ((76.0, 18.0), (40.0, 40.0)):
        picture.fill(rod(middle + length / 2 * ahead, ahead, length, diameter, rounding=0.0), 0.1)
    course = see_course(picture.developed(), view, FIELD)
    assert course.sideways == pytest.approx(middle[:2] @ course.left, abs=0.4)
    assert (course.start + course.end) / 2 == pytest.approx(middle[:2] @ course.along, abs=3.0)


def test_a_place_beside_a_doubtful_flange_is_put_right_by_the_whole_pattern(photos, found):
    hub, (_, last) = found
    wrong = _Rim(last.middle + 5.0, last.radius, 0.4, 0.97)
    span = hub.middle + 5.0, hub.ends[1] - 12.0
    put_right = _with_faces(photos, hub.frame, wrong, span)
    assert put_right.middle == pytest.approx(last.middle, abs=0.6)
    assert put_right.doubtful
    assert find_pattern(photos, hub.frame, span) == pytest.approx(last.middle, abs=0.4)


def test_no_flange_is_as_large_as_a_high_axis_needs(photos, found):
    hub, _ = found
    high = hub.frame.moved(np.array([0.0, 0.0, 30.0, 30.0]))
    assert find_pattern(photos, high, (10.0, 30.0)) is None
