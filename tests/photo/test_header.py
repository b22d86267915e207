"""A photo's header says the same as the whole photo."""

import datetime
import warnings
from pathlib import Path

import pytest
from PIL import Image

from hubsight.photo import camera_signature, load_photo, read_header

DATA = Path(__file__).parent / "data"


@pytest.mark.parametrize("file", sorted(DATA.glob("*.heic")), ids=lambda file: file.stem)
def test_heic_of_all_orientations(file):
    assert read_header(file).signature == camera_signature(load_photo(file))


@pytest.mark.parametrize("suffix", ["jpg", "tif", "png"])
@pytest.mark.parametrize("orientation", [1, 6])
def test_other_formats(tmp_path, suffix, orientation):
    exif = Image.Exif()
    exif[0x0112], exif[0x010F] = orientation, "Invented"
    exif.get_ifd(0x8769)[0x9003] = "2026:05:31 12:00:00"
    file = tmp_path / f"a.{suffix}"
    Image.new("RGB", (64, 48), (200, 10, 10)).save(file, exif=exif)
    header = read_header(file)
    assert header.signature == camera_signature(load_photo(file))
    if suffix != "tif":  # Pillow writes no such tag into a TIFF
        assert header.day == datetime.date(2026, 5, 31)


def test_the_header_of_a_large_photo_is_read_without_a_warning(tmp_path):
    """Phones make 108 megapixels; a warning of the picture library would reach the user's screen."""
    file = tmp_path / "large.jpg"
    Image.new("L", (64, 48)).save(file)
    data = bytearray(file.read_bytes())
    at = data.index(b"\xff\xc0") + 5
    data[at : at + 4] = (9000).to_bytes(2) + (12000).to_bytes(2)
    file.write_bytes(data)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert read_header(file).size == (12000, 9000)


def test_no_photo_has_no_header(tmp_path):
    (tmp_path / "a.jpg").write_bytes(b"\xff\xd8\xff")
    assert read_header(tmp_path / "a.jpg") is None
    assert read_header(tmp_path) is None
