"""Photographs from memory: the same as from a file."""

import numpy as np
import pytest

from hubsight.photo import check_photo_set, load_photo, photo_of_array
from hubsight.photo.tags import CameraTag


def test_an_array_is_the_photo_that_a_file_holds(save, scene):
    read = load_photo(save("a.png"))
    held = photo_of_array(scene(), "a.png")
    assert np.array_equal(held.pixels, read.pixels)
    assert (held.file, held.width, held.height) == (read.file, read.width, read.height)
    assert held.pixels_sha256 == read.pixels_sha256
    assert held.focal_prior_px is None


def test_a_grey_array_is_a_grey_photo():
    grey = np.arange(400, dtype=np.uint8).reshape(20, 20)
    photo = photo_of_array(grey, "a")
    assert photo.pixels.shape == (20, 20, 3)
    assert all(np.array_equal(photo.pixels[:, :, k], grey) for k in range(3))


def test_the_array_is_a_copy_that_nobody_changes(scene):
    pixels = scene()
    photo = photo_of_array(pixels, "a")
    before = photo.pixels[0, 0].copy()
    pixels[0, 0] = 1
    assert np.array_equal(photo.pixels[0, 0], before)
    assert not photo.pixels.flags.writeable


def test_a_stated_focal_length_holds_in_place_of_the_tags(scene):
    tag = CameraTag(focal_35mm=27.0)
    by_tag = photo_of_array(scene(), "a", camera=tag).focal_prior_px
    stated = photo_of_array(scene(), "a", camera=tag, focal_px=(150.0, 1.5)).focal_prior_px
    rough = photo_of_array(scene(), "a", focal_px=150.0).focal_prior_px
    assert by_tag.value != stated.value
    assert tuple(stated) == (150.0, 1.5)
    assert tuple(rough) == pytest.approx((150.0, 4.5))


def test_two_arrays_are_one_picture_only_if_their_pixels_are(scene):
    one, other = photo_of_array(scene(), "a"), photo_of_array(scene()[::-1], "b")
    assert check_photo_set([one, other]) == ()
    (refusal,) = check_photo_set([one, other, photo_of_array(scene(), "c")])
    assert refusal.photo == "c"


@pytest.mark.parametrize(
    "pixels",
    [np.zeros((20, 20)), np.zeros((20, 20, 4), np.uint8), np.zeros((20, 8), np.uint8), np.zeros(9, np.uint8)],
)
def test_what_is_no_picture_is_an_error(pixels):
    with pytest.raises(ValueError, match=r"a: .* is no picture"):
        photo_of_array(pixels, "a")


@pytest.mark.parametrize("focal", [0.0, -1.0, (100.0, 0.0), float("nan")])
def test_a_focal_length_that_is_none_is_an_error(scene, focal):
    with pytest.raises(ValueError, match="focal length"):
        photo_of_array(scene(), "a", focal_px=focal)
