"""A first look at single photos: what it sees in the sample, what it says of spoilt ones, what is missing."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from hubsight.measure.first_look import FirstLook, look_at, still_missing
from hubsight.model.refusal import Refusal
from hubsight.photo import load_photo

PHOTO = Path(__file__).parents[2] / "sample_images" / "drive" / "IMG_7508.jpg"


@pytest.fixture(scope="module")
def good():
    look = look_at(load_photo(PHOTO))
    assert isinstance(look, FirstLook), look
    return look


def spoilt(tmp_path, change, **more):
    """The photo after something was done to it, its tags kept unless told otherwise."""
    file = tmp_path / "photo.jpg"
    with Image.open(PHOTO) as picture:
        options = {"exif": picture.info["exif"]} | more
        change(picture).save(file, quality=92, **{k: v for k, v in options.items() if v is not None})
    return look_at(load_photo(file))


def test_a_good_photo_gets_no_complaint(good):
    assert good.better == ()
    assert len(good.corners) == 70
    assert good.tilt_deg < 12


def test_gauge_and_end_are_where_they_are(good):
    """The end at (2777, 1313) was read off the photo by eye, to a few pixels."""
    assert np.hypot(good.gauge_end[0] - 2777, good.gauge_end[1] - 1313) < 12


def turned(picture, degrees):
    """The photo as the same camera takes it when it is turned aside: a homography about the lens."""
    pixels = np.array(picture)
    height, width = pixels.shape[:2]
    focal = load_photo(PHOTO).focal_prior_px.value
    matrix = np.array([[focal, 0, (width - 1) / 2], [0, focal, (height - 1) / 2], [0, 0, 1]])
    turn = cv2.Rodrigues(np.array([0, np.radians(degrees), 0]))[0]
    return matrix @ turn @ np.linalg.inv(matrix), pixels


@pytest.mark.parametrize(("degrees", "told"), [(0, False), (10, False), (20, True), (22, True)])
def test_an_end_out_of_view_is_told_and_only_then(tmp_path, degrees, told):
    def turn(picture):
        matrix, pixels = turned(picture, degrees)
        return Image.fromarray(cv2.warpPerspective(pixels, matrix, picture.size, borderValue=(150, 120, 90)))

    look = spoilt(tmp_path, turn)
    assert any("out of view" in words for words in look.better) == told, look.better
    if not told:
        with Image.open(PHOTO) as picture:
            matrix, _ = turned(picture, degrees)
        end = matrix @ np.array([2777.4, 1312.7, 1.0])
        np.testing.assert_allclose(look.gauge_end, end[:2] / end[2], atol=3.0)


def test_a_shrunk_photo_is_told(tmp_path):
    look = spoilt(tmp_path, lambda p: p.resize((p.width // 2, p.height // 2)))
    assert any("shrunk" in words for words in look.better), look.better


def test_a_photo_without_its_tags_is_told(tmp_path):
    look = spoilt(tmp_path, lambda p: p, exif=None)
    assert any("tags" in words for words in look.better), look.better


def test_a_photo_without_a_target_is_refused(tmp_path):
    look = spoilt(tmp_path, lambda p: Image.new("RGB", p.size, (120, 110, 100)))
    assert isinstance(look, Refusal)
    assert look.photo == "photo.jpg"


def look(tilt, around):
    return FirstLook(width=4000, height=3000, orientation=1, corners=(), tilt_deg=tilt, around_deg=around)


def test_an_empty_set_begins_with_the_photo_from_above():
    assert "above" in still_missing([])[0]


def test_a_full_set_lacks_nothing():
    assert still_missing([look(4, 0), look(22, 0), look(20, 120), look(25, 240)]) == ()


@pytest.mark.parametrize(
    ("around", "side"),
    [((0, 60, 300), "the left"), ((180, 120, 240), "the right"), ((90, 30, 150), "the near side")],
)
def test_a_gap_is_named_by_its_side(around, side):
    """Directions count from the sheet's right, anticlockwise; somebody stands at its lower edge."""
    missing = still_missing([look(4, 0), *(look(20, a) for a in around)])
    assert len(missing) == 1
    assert side in missing[0]


def test_too_few_from_around_are_counted():
    assert "Two more" in still_missing([look(4, 0), look(20, 90)])[0]


def test_flat_photos_do_not_count():
    missing = still_missing([look(4, 0), *(look(60, a) for a in (0, 120, 240))])
    assert "Three more" in missing[0]
