"""The mouth of the bore on drawn bosses, where the truth is exact."""

import numpy as np
import pytest

from hub_pictures import CAMERA, PAPER, STEEL, Picture, circle, rod, views
from hubsight.camera import View
from hubsight.see.bosses.mouth import Expected, Mouth, see_mouth

FACE = np.array([-20.0, -4.0, 40.0])
"""Where the wire comes out."""
DIRECTION = np.array([1.0, 0.0, 0.0])
LENGTH = 80.0
WIRE, BORE = 2.0, 2.4
TOP, FRONT = 0.30, 0.16


def boss_picture(view, *, bore=True, seed=0):
    """A box with the wire coming out of its front face, or only the wire, running on into the hub."""
    picture = Picture(view)
    y, z = np.array([-4.0, 4.0, 4.0, -4.0]), np.array([-4.0, -4.0, 4.0, 4.0])
    front = np.stack([np.zeros(4), y, z], -1) + FACE
    end = FACE + LENGTH * DIRECTION
    if bore:
        back = front - 9.0 * DIRECTION
        picture.fill(np.concatenate([front, back]), TOP)
        if (view.position - FACE) @ DIRECTION > 0:
            picture.fill(front, FRONT)
            picture.fill(circle(FACE, DIRECTION, BORE / 2), 0.01)
    picture.fill(rod(end, DIRECTION, LENGTH if bore else LENGTH + 30.0, WIRE), STEEL)
    return picture.developed(seed=seed)


def expected(miss=0.0, normal=DIRECTION):
    return Expected(FACE + LENGTH * DIRECTION, DIRECTION, LENGTH + miss, normal, WIRE / 2)


def near_views():
    """Photos with as many pixels to the millimetre as a phone's."""
    close = np.concatenate([[2.4 * CAMERA[0]], CAMERA[1:]])
    return [View(close, v.own) for v in views(count=4, distance=330.0, roll=0.0)]


def facing_views():
    """The same; some of them look at the face."""
    chosen = near_views()
    assert any((v.position - FACE) @ DIRECTION > 0.25 * np.linalg.norm(v.position - FACE) for v in chosen)
    return chosen


@pytest.mark.parametrize("miss", [-0.6, -0.2, 0.0, 0.3, 0.6])
def test_the_mouth_is_seen_wherever_the_face_was_expected(miss):
    photos = facing_views()
    pictures = [boss_picture(v, seed=k) for k, v in enumerate(photos)]
    seen = see_mouth(pictures, photos, expected(miss))
    assert seen is not None
    found = seen.sight_lines(photos).before_end(FACE + LENGTH * DIRECTION, DIRECTION)
    assert found == pytest.approx(LENGTH, abs=0.2)


def test_a_face_that_no_photo_looks_at_shows_no_mouth():
    photos = [v for v in near_views() if (v.position - FACE) @ DIRECTION < 0]
    assert photos
    assert see_mouth([boss_picture(v) for v in photos], photos, expected()) is None


def test_a_wire_that_runs_on_shows_no_mouth():
    photos = facing_views()
    pictures = [boss_picture(v, bore=False, seed=k) for k, v in enumerate(photos)]
    assert see_mouth(pictures, photos, expected()) is None


def test_empty_paper_shows_no_mouth():
    photos = facing_views()
    pictures = [Picture(v, PAPER).developed(seed=k) for k, v in enumerate(photos)]
    assert see_mouth(pictures, photos, expected()) is None


def test_the_distance_follows_from_the_lines_of_sight_alone():
    photos = views(count=3)
    end = FACE + LENGTH * DIRECTION
    pixels = np.array([v.project(FACE[None])[0] for v in photos])
    mouth = Mouth(np.arange(3), pixels, np.ones(3), np.zeros(3)).sight_lines(photos)
    assert mouth.before_end(end, DIRECTION) == pytest.approx(LENGTH, abs=1e-6)
    # A gauge that lies higher than thought makes photos from either side disagree, not the mean of them all.
    assert mouth.before_end(end + 2.0 * DIRECTION, DIRECTION) == pytest.approx(LENGTH + 2.0, abs=1e-6)


def test_photos_that_are_left_out_take_their_share_with_them():
    mouth = Mouth(np.array([0, 2]), np.array([[1.0, 2.0], [3.0, 4.0]]), np.array([0.4, 0.5]), np.zeros(2))
    left = mouth.only_photos([1, 2])
    assert left is not None
    assert left.photos.tolist() == [1]
    assert left.pixels.tolist() == [[3.0, 4.0]]
    assert mouth.only_photos([1]) is None
