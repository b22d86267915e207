"""What does not belong into one set is named, with the reason."""

import shutil

import numpy as np
import pytest

from hubsight.photo import camera_signature, check_photo_set, load_photo, same_camera, same_picture

MAIN = {"focal": 5.43, "f35": 27, "lens": "Main", "zoom": 1.0, "width": 160, "height": 96}


@pytest.fixture
def take(save, scene, phone_exif):
    """Take a photo: each number another scene."""

    def _take(number: int, size=(160, 96), name=None, **tags):
        pixels = np.roll(scene(*size), 3 * number, axis=1)
        exif = phone_exif(**{**MAIN, "width": size[0], "height": size[1], **tags})
        return load_photo(save(name or f"IMG_{number}.png", pixels, exif))

    return _take


def sentences(photos):
    return [refusal.sentence() for refusal in check_photo_set(photos)]


def test_a_good_set_passes(take):
    assert check_photo_set([take(number) for number in range(4)]) == ()
    assert check_photo_set([]) == ()


def test_the_same_file_twice(take, tmp_path):
    photos = [take(1), take(2)]
    copy = tmp_path / "copy of IMG_2.png"
    shutil.copy(photos[1].path, copy)
    (sentence,) = sentences([*photos, load_photo(copy)])
    assert sentence.startswith("copy of IMG_2.png is the same picture as IMG_2.png.")


def test_the_pixels_are_not_needed(take):
    photos = [take(1), take(2), take(1, name="twin.png")]
    bare = [photo.without_pixels() for photo in photos]
    assert all(photo.pixels.shape == (96, 160, 3) and not photo.pixels.any() for photo in bare)
    assert check_photo_set(bare) == check_photo_set(photos)
    assert [refusal.photo for refusal in check_photo_set(bare)] == ["twin.png"]


def test_the_same_pixels_saved_again(take):
    one, again = take(1), take(1, name="saved.png", lens="Main", zoom=1.001)
    assert one.sha256 != again.sha256
    assert same_picture(one, again)
    assert not same_picture(one, take(2))
    (sentence,) = sentences([one, again])
    assert "saved.png is the same picture as IMG_1.png" in sentence


@pytest.mark.parametrize(
    ("odd", "words"),
    [
        ({"lens": "Wide", "focal": 2.2, "f35": 13}, "another lens (Wide, 2.2 mm)"),
        ({"focal": 9.0}, "another lens (Main, 9 mm)"),
        ({"zoom": 2.0, "f35": 54}, "with a zoom of 2"),
        ({"f35": 54}, "another zoom (54 mm equivalent)"),
        ({"size": (80, 48)}, "another size (80 x 48 pixels)"),
        ({"size": (96, 160)}, "stored turned by a quarter"),
    ],
)
def test_the_odd_one_out_is_named(take, odd, words):
    photos = [take(1, **odd), take(2), take(3)]
    (refusal,) = check_photo_set(photos)
    assert refusal.photo == "IMG_1.png"
    assert words in refusal.sentence()
    assert not same_camera(photos[0], photos[1])
    assert same_camera(photos[1], photos[2])


def test_another_phone_is_named(take, save, scene, phone_exif):
    exif = phone_exif(make="Other", **MAIN)
    stranger = load_photo(save("b.png", np.roll(scene(), 20, axis=0), exif))
    (sentence,) = sentences([take(1), take(2), stranger])
    assert "b.png was taken with another camera (Other One)" in sentence


def test_a_cut_out_that_kept_its_tags(take):
    cut = take(3, size=(90, 90), width=160, height=96)
    (sentence,) = sentences([take(1), take(2), cut])
    assert "IMG_3.png is a cut-out: 90 x 90 pixels of a picture of 160 x 96" in sentence


def test_a_photo_without_tags_may_stay_if_its_size_fits(take, save, scene):
    bare = load_photo(save("bare.png", np.roll(scene(), 20, axis=0)))
    assert camera_signature(bare).make == ""
    assert check_photo_set([take(1), take(2), bare]) == ()


def test_an_equivalent_rounded_to_the_next_millimetre_is_the_same_lens(take):
    assert same_camera(take(1), take(2, f35=28))
    assert not same_camera(take(1), take(2, f35=29))
    assert not same_camera(take(1, focal=0), take(2, focal=0, f35=28))
