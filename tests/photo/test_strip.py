"""Photos without private tags: gone is gone, and the picture stays as it was."""

import io
import shutil
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, PngImagePlugin, TiffImagePlugin

from hubsight.model.refusal import Refusal
from hubsight.photo import load_photo
from hubsight.photo.strip import strip_tags

SECRETS = (b"Owner Name", b"SERIAL-4711", b"MAKERNOTE", b"2026:01:02", b"a comment", b"secret trailer")
HEIC = Path(__file__).parent / "data" / "private.heic"


def picture(width=64, height=48):
    rows, columns = np.mgrid[0:height, 0:width]
    return Image.fromarray(np.stack([columns * 3, rows * 4, columns + rows], -1).astype(np.uint8))


def private_tags(orientation):
    """Tags as a talkative camera writes them."""
    tags = Image.Exif()
    tags[0x010F], tags[0x0110], tags[0x0112] = "Invented", "One", orientation
    tags[0x013B] = tags[0x8298] = "Owner Name"
    tags[0x0132] = "2026:01:02 03:04:05"
    details = tags.get_ifd(0x8769)
    details[0x920A], details[0xA405], details[0xA434] = 5.6, 26, "wide"
    details[0xA430], details[0xA431], details[0x927C] = "Owner Name", "SERIAL-4711", b"MAKERNOTE" * 9
    place = tags.get_ifd(0x8825)
    place[1], place[2] = "N", (47.0, 11.0, 12.34)
    return tags


def jpeg(orientation, **more):
    out = io.BytesIO()
    options = {"exif": private_tags(orientation), "comment": b"a comment", "quality": 90, **more}
    picture().save(out, "JPEG", **options, icc_profile=b"a colour profile")
    thumbnail = io.BytesIO()
    picture(16, 12).save(thumbnail, "JPEG", comment=b"a comment")
    xmp = b"http://ns.adobe.com/xap/1.0/\0<x>Owner Name</x>"
    data = out.getvalue()
    head = data[:2] + b"\xff\xe1" + (len(xmp) + 2).to_bytes(2) + xmp
    return head + data[2:] + thumbnail.getvalue() + b"secret trailer"


def png(orientation):
    words = PngImagePlugin.PngInfo()
    words.add_text("Author", "Owner Name")
    words.add_itxt("XML:com.adobe.xmp", "<x>Owner Name</x>")
    out = io.BytesIO()
    picture().save(out, "PNG", exif=private_tags(orientation), pnginfo=words)
    return out.getvalue()


def tiff(orientation):
    out = io.BytesIO()
    tags = private_tags(orientation)
    directory = TiffImagePlugin.ImageFileDirectory_v2()
    for tag in tags:
        directory[tag] = tags[tag]
    for part in (0x8769, 0x8825):
        directory[part] = tags.get_ifd(part)
    picture().save(out, "TIFF", tiffinfo=directory)
    return out.getvalue()


MAKERS = {
    "jpg": jpeg,
    "progressive.jpg": lambda orientation: jpeg(orientation, progressive=True),
    "restarts.jpg": lambda orientation: jpeg(orientation, restart_marker_blocks=1),
    "png": png,
    "tif": tiff,
    "heic": lambda _: HEIC.read_bytes(),
}


@pytest.fixture(params=MAKERS)
def photo(request, tmp_path):
    kind = request.param
    file = tmp_path / f"IMG.{kind}"
    file.write_bytes(MAKERS[kind](6))
    return file


def bare(file):
    stripped = strip_tags(file.read_bytes(), file.name)
    assert isinstance(stripped, bytes)
    out = file.with_name(f"bare-{file.name}")
    out.write_bytes(stripped)
    return out


def test_the_made_up_photos_are_private(photo):
    data = photo.read_bytes()
    assert b"Owner Name" in data
    with Image.open(photo) as shown:
        assert shown.getexif().get_ifd(0x8825)


def test_nothing_private_is_left(photo):
    file = bare(photo)
    data = file.read_bytes()
    assert not [secret for secret in SECRETS if secret in data]
    with Image.open(file) as shown:
        exif = shown.getexif()
        assert not exif.get_ifd(0x8825)
        assert set(exif.get_ifd(0x8769)) <= {0x920A, 0xA405, 0xA434, 0xA002, 0xA003, 0xA001}
        assert not shown.info.get("xmp", b"").strip()
        assert not any(shown.info.get(name) for name in ("comment", "photoshop", "thumbnails"))
        assert getattr(shown, "n_frames", 1) == 1
        assert not exif.get_ifd(1)  # an EXIF thumbnail


def test_picture_orientation_and_camera_stay(photo):
    before, after = load_photo(photo), load_photo(bare(photo))
    assert not isinstance(before, Refusal)
    assert after.orientation == before.orientation == 6
    assert after.camera == before.camera
    assert after.camera.focal_35mm == 26
    assert after.pixels_sha256 == before.pixels_sha256


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["jpg", "png", "tif"])
def test_every_orientation_stays(tmp_path, orientation, kind):
    file = tmp_path / f"a.{kind}"
    file.write_bytes(MAKERS[kind](orientation))
    before, after = load_photo(file), load_photo(bare(file))
    assert (after.orientation, after.pixels_sha256) == (orientation, before.pixels_sha256)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_turned_container_stays(tmp_path, orientation):
    file = tmp_path / "a.heic"
    shutil.copy(HEIC.with_name(f"orientation_{orientation}.heic"), file)
    before, after = load_photo(file), load_photo(bare(file))
    assert (after.orientation, after.pixels_sha256) == (orientation, before.pixels_sha256)


def test_a_jpeg_keeps_its_coded_data_and_colours(tmp_path):
    file = tmp_path / "a.jpg"
    file.write_bytes(jpeg(1))
    data, stripped = file.read_bytes(), bare(file).read_bytes()
    first = data.index(b"\xff\xda")
    coded = data[first : data.index(b"\xff\xd9", first)]
    assert coded in stripped
    with Image.open(io.BytesIO(stripped)) as shown:
        assert shown.info["icc_profile"] == b"a colour profile"


def test_a_photo_without_tags_stays_one(tmp_path):
    file = tmp_path / "a.jpg"
    picture().save(file, quality=90)
    assert load_photo(bare(file)).pixels_sha256 == load_photo(file).pixels_sha256


@pytest.mark.parametrize("kind", MAKERS)
def test_a_file_cut_short_is_refused_or_its_head_is_bare(kind):
    whole = MAKERS[kind](6)
    for part in range(1, 40):
        stripped = strip_tags(whole[: len(whole) * part // 40], "a")
        if isinstance(stripped, Refusal):
            assert "private tags cannot be taken out" in stripped.reason
        else:
            assert not [secret for secret in SECRETS if secret in stripped]


def test_other_kinds_are_refused(tmp_path):
    out = io.BytesIO()
    picture().convert("P").save(out, "GIF")
    assert isinstance(strip_tags(out.getvalue(), "a.gif"), Refusal)
    deep = io.BytesIO()
    Image.fromarray(np.zeros((20, 20), np.uint16)).save(deep, "TIFF")
    assert isinstance(strip_tags(deep.getvalue(), "a.tif"), Refusal)
    assert isinstance(strip_tags(b"nothing", "a.jpg"), Refusal)
