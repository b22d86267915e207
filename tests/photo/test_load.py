"""Every format and orientation gives the same stored array; what is no photo gives a sentence."""

import itertools
import os
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageOps

from hubsight.model.refusal import Refusal
from hubsight.photo import Photo, as_stored, load_photo, upright
from hubsight.photo import load as load_module
from hubsight.photo.heif import container_orientation

DATA = Path(__file__).parent / "data"
ORIENTATIONS = range(1, 9)
LOSSY = 12
"""Grey levels that a JPEG or HEIC may move a flat colour by."""


def assert_shows(photo: Photo | Refusal, expected: np.ndarray, tolerance: int = 0) -> None:
    """Compare the four quarters away from their borders."""
    assert isinstance(photo, Photo), photo
    assert photo.pixels.shape == expected.shape
    assert photo.pixels.dtype == np.uint8
    height, width = expected.shape[:2]
    for row, column in itertools.product((height // 4, 3 * height // 4), (width // 4, 3 * width // 4)):
        error = photo.pixels[row, column].astype(int) - expected[row, column]
        assert np.abs(error).max() <= tolerance


@pytest.mark.parametrize("orientation", ORIENTATIONS)
@pytest.mark.parametrize("suffix", ["jpg", "png", "tif"])
def test_pixels_come_as_stored_whatever_the_tag_says(save, suffix, orientation, scene, phone_exif):
    options = {"quality": 95} if suffix == "jpg" else {}
    photo = load_photo(save(f"a.{suffix}", exif=phone_exif(orientation), **options))
    assert_shows(photo, scene(), LOSSY)
    assert photo.orientation == orientation
    assert photo.camera.make == "Acme"


@pytest.mark.parametrize("compression", ["tiff_lzw", "tiff_deflate", "jpeg"])
def test_compressed_tiff_comes_as_stored(save, compression, scene, phone_exif):
    photo = load_photo(save("a.tiff", exif=phone_exif(6), compression=compression))
    assert_shows(photo, scene(), LOSSY)
    assert photo.orientation == 6


@pytest.mark.parametrize("orientation", ORIENTATIONS)
def test_heic_comes_as_stored_although_its_decoder_turns_it(orientation, scene):
    photo = load_photo(DATA / f"orientation_{orientation}.heic")
    assert_shows(photo, scene(), LOSSY)
    assert photo.orientation == orientation
    assert photo.camera.make == "Acme"


def test_heic_turned_by_its_container_alone(tmp_path, scene):
    data = (DATA / "orientation_6.heic").read_bytes()
    tag = bytes.fromhex("01120003000000010006")
    little = bytes.fromhex("12010300010000000600")
    assert (tag in data) + (little in data) == 1
    untagged = data.replace(tag, tag[:-1] + b"\1").replace(little, little[:-2] + b"\1\0")
    path = tmp_path / "container.heic"
    path.write_bytes(untagged)
    photo = load_photo(path)
    assert_shows(photo, scene(), LOSSY)
    assert photo.orientation == 6


def test_heic_turned_by_its_tag_alone(tmp_path, scene):
    data = (DATA / "orientation_6.heic").read_bytes()
    assert data.count(b"irot\3") == 1
    path = tmp_path / "tag.heic"
    path.write_bytes(data.replace(b"irot\3", b"irot\0"))
    photo = load_photo(path)
    assert_shows(photo, scene(), LOSSY)
    assert photo.orientation == 6


@pytest.mark.parametrize("data", [b"", b"\0\0\0\1meta", b"\0\0\0\x0cmeta\0\0\0\0", bytes(range(256))])
def test_a_container_that_cannot_be_read_turns_nothing(data):
    assert container_orientation(data) == 1


@pytest.mark.parametrize("orientation", ORIENTATIONS)
def test_upright_turns_as_pillow_does_and_back(orientation, scene):
    picture = Image.fromarray(scene())
    picture.getexif()[0x0112] = orientation
    turned = upright(scene(), orientation)
    assert np.array_equal(turned, np.asarray(ImageOps.exif_transpose(picture)))
    assert np.array_equal(as_stored(turned, orientation), scene())


@pytest.mark.parametrize("mode", ["L", "LA", "P", "I;16", "RGBA", "CMYK"])
def test_other_colour_models_become_rgb(tmp_path, mode):
    grey = 102  # in the standard palette
    plain = Image.new("L", (40, 30), grey)
    picture = (
        Image.new(mode, (40, 30), grey * 256 + 9) if mode == "I;16" else plain.convert("RGB").convert(mode)
    )
    path = tmp_path / "a.tif"
    picture.save(path)
    photo = load_photo(path)
    assert isinstance(photo, Photo), photo
    assert np.abs(photo.pixels.astype(int) - grey).max() <= 1


def test_pixels_are_read_only_and_named_by_file(save):
    path = save("IMG 7.png")
    photo = load_photo(str(path))
    assert (photo.file, photo.width, photo.height, len(photo.sha256)) == ("IMG 7.png", 160, 96, 64)
    with pytest.raises(ValueError, match="read-only"):
        photo.pixels[0, 0] = 0


def refused(path, *words: str) -> None:
    refusal = load_photo(path)
    assert isinstance(refusal, Refusal)
    assert refusal.remedy
    for word in (path.name, *words):
        assert word in refusal.sentence()


def test_a_missing_file_a_folder_and_an_empty_file(tmp_path):
    refused(tmp_path / "none.jpg", "does not exist")
    refused(tmp_path, "is a folder")
    empty = tmp_path / "empty.jpg"
    empty.touch()
    refused(empty, "is empty")


def test_a_pipe_is_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "pipe.jpg")
    refused(tmp_path / "pipe.jpg", "is not a file")


@pytest.mark.parametrize(
    "data", [b"no photo at all", b"%PDF-1.7 and so on", b"\xff\xd8\xff\xe0\x00", bytes(range(256)) * 20]
)
def test_what_is_no_photo(tmp_path, data):
    path = tmp_path / "a.jpg"
    path.write_bytes(data)
    refused(path, "no photo that can be read", "JPEG, PNG, TIFF or HEIC")


def test_a_format_that_is_not_read(save):
    refused(save("a.gif"), "no photo that can be read")


@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.tif", "a.heic"])
@pytest.mark.parametrize("share", [0.5, 0.9])
def test_a_truncated_file(save, tmp_path, name, share):
    noise = np.random.default_rng(4).integers(0, 256, (96, 160, 3), dtype=np.uint8)
    source = DATA / "orientation_1.heic" if name.endswith("heic") else save(name, noise)
    path = tmp_path / f"cut_{name}"
    data = source.read_bytes()
    path.write_bytes(data[: int(share * len(data))])
    refused(path, "cut short")


@pytest.mark.parametrize("suffix", ["jpg", "png", "tif", "heic"])
def test_no_damage_ends_in_a_traceback(save, tmp_path, suffix, phone_exif):
    source = (
        DATA / "orientation_6.heic" if suffix == "heic" else save(f"a.{suffix}", exif=phone_exif(6, f35=27))
    )
    data, random = source.read_bytes(), np.random.default_rng(11)
    path = tmp_path / f"damaged.{suffix}"
    for _ in range(60):
        damaged = np.frombuffer(data, np.uint8).copy()
        damaged[random.integers(0, len(data), 6)] = random.integers(0, 256, 6)
        path.write_bytes(damaged.tobytes())
        result = load_photo(path)
        assert isinstance(result, Photo) or path.name in result.sentence()


def test_a_gigantic_picture_is_refused_by_its_header(tmp_path):
    path = tmp_path / "bomb.png"
    Image.new("1", (30000, 20000)).save(path)
    assert path.stat().st_size < 1_000_000
    refused(path, "megapixels", "Save it in a smaller size")


def test_two_hundred_megapixels_are_within_the_limit_and_pillows_own_limit_stays(save, monkeypatch):
    assert load_module.MAX_PIXELS > 16320 * 12240
    monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", 50)
    assert isinstance(load_photo(save("a.jpg")), Photo)
    assert Image.MAX_IMAGE_PIXELS == 50


def test_a_thumbnail_or_icon_is_too_small(save, scene):
    refused(save("a.png", scene(12, 8)), "12 x 8 pixels")
