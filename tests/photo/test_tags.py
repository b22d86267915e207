"""The focal length from EXIF against cameras whose focal length is known otherwise."""

import math

import numpy as np
import pytest
from PIL import Image

from hubsight.photo import CameraTag, load_photo
from hubsight.photo.tags import FOCAL_PRIOR_RELATIVE_U, focal_prior, read_camera_tag, read_orientation


@pytest.mark.parametrize(
    ("f35", "size", "known_px"),
    [
        # A real phone, published at 2700.1 +-2.8 px, EXIF 27 mm: phone calibration in the repository
        # bimalka98/Computer-Vision-and-Image-Processing (MIT). EXIF is 6 % off.
        (27, (2448, 3264), 2700.1),
        # Rendered cameras with exact focal length and EXIF values that are off by a few per cent on purpose.
        (24, (4000, 3000), 2790.0),
        (29, (4608, 2592), 3608.0),
    ],
)
def test_known_cameras_lie_within_the_priors_interval(f35, size, known_px):
    value, u = focal_prior(CameraTag(focal_35mm=f35), *size)
    assert u == pytest.approx(FOCAL_PRIOR_RELATIVE_U * value)
    assert abs(known_px - value) < 2.5 * u


def test_equivalent_goes_by_the_diagonal():
    """50 mm see 46.8 degrees across the diagonal of a 36 x 24 frame (common practice, no source)."""
    prior = focal_prior(CameraTag(focal_35mm=50.0), 4000, 3000)
    assert 2 * math.degrees(math.atan(2500 / prior.value)) == pytest.approx(46.8, abs=0.05)


def test_equivalent_holds_for_a_scaled_copy():
    tag = CameraTag(focal_35mm=26.0, exif_size=(4032, 3024))
    assert focal_prior(tag, 2016, 1512).value == pytest.approx(focal_prior(tag, 4032, 3024).value / 2)


@pytest.mark.parametrize(("unit", "per_unit"), [(2, 25.4), (3, 10.0), (4, 1.0)])
def test_focal_length_with_focal_plane_resolution(unit, per_unit, phone_exif):
    exif = phone_exif(focal=35.0, plane=250.0 * per_unit, unit=unit, width=6000, height=4000)
    tag = read_camera_tag(exif)
    assert focal_prior(tag, 6000, 4000).value == pytest.approx(35 * 250)
    assert focal_prior(tag, 3000, 2000).value == pytest.approx(35 * 250 / 2)


@pytest.mark.parametrize(
    "tag",
    [
        CameraTag(),
        CameraTag(focal_mm=5.4),
        CameraTag(focal_35mm=26.0, digital_zoom=2.0),
        CameraTag(focal_35mm=26.0, exif_size=(4032, 3024)),  # of a square cut-out
        CameraTag(focal_35mm=0.5),
        CameraTag(focal_35mm=60000.0),
    ],
)
def test_no_prior_where_the_tags_do_not_tell(tag):
    assert focal_prior(tag, 3000, 3000) is None


def test_tags_of_a_phone_are_read_from_the_file(save, phone_exif):
    exif = phone_exif(6, focal=5.43, f35=27, lens="Main 27", zoom=1.0, width=160, height=96)
    photo = load_photo(save("a.jpg", exif=exif))
    tag = photo.camera
    assert (tag.make, tag.model, tag.lens) == ("Acme", "One", "Main 27")
    assert (tag.focal_35mm, tag.exif_size, tag.digital_zoom) == (27, (160, 96), 1)
    assert tag.focal_mm == pytest.approx(5.43)
    assert photo.focal_prior_px.value == pytest.approx(27 * math.hypot(160, 96) / math.hypot(36, 24))


def test_without_exif_nothing_is_stated(save, scene):
    photo = load_photo(save("a.png", scene()))
    assert photo.camera == CameraTag()
    assert photo.focal_prior_px is None
    assert photo.orientation == 1


@pytest.mark.parametrize("nonsense", ["", b"\xff", (1, 2), float("nan"), float("inf"), -3.0, 0, None])
def test_nonsense_in_a_tag_counts_as_absent(nonsense):
    exif = Image.Exif()
    exif[0x0110] = exif[0x0112] = nonsense
    details = (0x920A, 0xA405, 0xA404, 0xA002, 0xA003, 0xA20E, 0xA210)
    exif.get_ifd(0x8769).update(dict.fromkeys(details, nonsense))
    tag = read_camera_tag(exif)
    assert tag.focal_mm is tag.focal_35mm is tag.exif_size is tag.plane_px_per_mm is None
    assert tag.digital_zoom == 1.0
    assert read_orientation(exif) == 1


def test_cut_out_is_told_from_scaled_and_turned():
    tag = CameraTag(exif_size=(2448, 3264))
    assert tag.cropped(2443, 2443)
    assert not tag.cropped(3264, 2448)
    assert not tag.cropped(1224, 1632)
    assert not CameraTag().cropped(2443, 2443)
    assert np.all([not tag.cropped(2448 - trim, 3264) for trim in range(0, 9)])
