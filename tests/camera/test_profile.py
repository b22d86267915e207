"""Camera profiles: kept and read again, refused where they do not hold, widened before they are used."""

import datetime
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pydantic import ValidationError

from hubsight.camera import CameraProfile, check_profile, load_profile, prior_for, profile_prior, save_profile
from hubsight.camera.prior import CENTRE_DEPARTURE
from hubsight.camera.profile import FOCUS_BREATHING, HowMade, ProfileSignature, SharedCamera
from hubsight.model.refusal import Refusal
from hubsight.photo import CameraTag, Photo

SIZE = (4032, 3024)
VALUES = {
    "f": 3050.0,
    "cx": 2020.0,
    "cy": 1490.0,
    "k1": 0.06,
    "k2": -0.11,
    "p1": 5e-4,
    "p2": -4e-4,
    "k3": 0.04,
}
U = np.array([2.6, 1.2, 1.1, 4e-4, 2e-3, 1e-5, 2e-5, 2.4e-3])
TAG = CameraTag(make="Invented", model="One", focal_mm=5.4, focal_35mm=27.0, exif_size=SIZE)


def profile(**more):
    correlation = np.eye(8)
    correlation[0, 3] = correlation[3, 0] = 0.4
    covariance = correlation * np.outer(U, U)
    made = HowMade(
        photos=("a.jpg", "b.jpg"),
        paper="a4",
        bar_x=119.5,
        bar_y=None,
        distortion_model="full",
        residual_px=0.04,
        held_out_px=0.05,
        distance_mm=310.0,
        software="hubsight",
    )
    fields = {
        "signature": ProfileSignature(
            width=SIZE[0], height=SIZE[1], make="Invented", model="One", focal_mm=5.4, focal_35mm=27.0
        ),
        "date": datetime.date(2026, 1, 2),
        "camera": SharedCamera(**VALUES),
        "covariance": tuple(map(tuple, covariance.tolist())),
        "made": made,
        **more,
    }
    return CameraProfile(**fields)


def photo(tag=TAG, size=SIZE):
    pixels = np.broadcast_to(np.uint8(0), (size[1], size[0], 3))
    return Photo(Path("IMG_1.jpg"), pixels, 1, tag, "0", "0")


def test_a_profile_survives_its_file(tmp_path):
    save_profile(profile(), tmp_path / "camera.json")
    assert load_profile(tmp_path / "camera.json") == profile()


@pytest.mark.parametrize(
    ("content", "word"),
    [
        (b"", "no camera profile"),
        (b"not json", "no camera profile"),
        (b"[1, 2]", "no camera profile"),
        (b"\xff\xfe\x00", "cannot be read"),
        (b'{"schema_version": 7}', "schema_version"),
        (b" " * 2_000_000, "too large"),
    ],
)
def test_what_is_no_profile_is_refused(tmp_path, content, word):
    file = tmp_path / "camera.json"
    file.write_bytes(content)
    found = load_profile(file)
    assert isinstance(found, Refusal)
    assert word in found.sentence()


def test_a_missing_file_and_a_folder_are_refused(tmp_path):
    for name in ("none.json", "."):
        found = load_profile(tmp_path / name)
        assert isinstance(found, Refusal)
        assert "cannot be read" in found.reason


def test_unknown_fields_are_refused(tmp_path):
    text = profile().model_dump_json().replace('"schema_version":1', '"schema_version":1,"zoom":2')
    (tmp_path / "camera.json").write_text(text)
    assert "zoom" in load_profile(tmp_path / "camera.json").reason


@pytest.mark.parametrize("spoil", ["asymmetric", "negative", "contradictory"])
def test_what_is_no_covariance_is_refused(spoil):
    covariance = np.diag(U**2)
    if spoil == "asymmetric":
        covariance[0, 1] = 0.5
    elif spoil == "negative":
        covariance[2, 2] = -1.0
    else:
        covariance[0, 1] = covariance[1, 0] = 1.2 * U[0] * U[1]
    with pytest.raises(ValidationError):
        profile(covariance=tuple(map(tuple, covariance.tolist())))


def test_the_prior_is_widened_by_focus_and_stabilisation_but_not_in_distortion():
    prior = profile_prior(profile(), *SIZE)
    np.testing.assert_allclose(prior.value, list(VALUES.values()))
    u = np.sqrt(np.diag(prior.covariance))
    assert u[0] == pytest.approx(np.hypot(U[0], FOCUS_BREATHING * 3050))
    np.testing.assert_allclose(u[1:3], np.hypot(U[1:3], CENTRE_DEPARTURE * 4032))
    np.testing.assert_allclose(u[3:], U[3:])
    np.linalg.cholesky(prior.covariance)


def test_a_scaled_copy_gets_a_scaled_camera():
    """A thing at (x, y) of the whole picture is at ((x + 1/2) / 2 - 1/2, ...) of its half."""
    prior = profile_prior(profile(), SIZE[0] // 2, SIZE[1] // 2)
    assert prior.value[0] == pytest.approx(3050 / 2)
    assert prior.value[1] == pytest.approx((2020 + 0.5) / 2 - 0.5)
    assert prior.value[2] == pytest.approx((1490 + 0.5) / 2 - 0.5)
    np.testing.assert_allclose(prior.value[3:], list(VALUES.values())[3:])
    whole = profile_prior(profile(), *SIZE)
    np.testing.assert_allclose(
        np.sqrt(np.diag(prior.covariance)[:3]), np.sqrt(np.diag(whole.covariance)[:3]) / 2
    )


@pytest.mark.parametrize("size", [(4032, 2268), (3024, 3024), (3024, 4032)])
def test_another_shape_is_refused(size):
    found = profile_prior(profile(), *size)
    assert isinstance(found, Refusal)
    assert "another shape" in found.reason


def test_photos_of_the_same_camera_pass():
    assert check_profile(profile(), photo()) is None
    assert check_profile(profile(), photo(size=(2016, 1512))) is None
    assert check_profile(profile(), photo(CameraTag())) is None


@pytest.mark.parametrize(
    ("tag", "size", "word"),
    [
        (replace(TAG, model="Two"), SIZE, "another camera"),
        (replace(TAG, focal_mm=2.2, focal_35mm=13.0), SIZE, "another lens"),
        (replace(TAG, digital_zoom=2.0), SIZE, "zoom"),
        (TAG, (3000, 3000), "cut-out"),
        (CameraTag(), (3000, 3000), "another shape"),
    ],
)
def test_photos_of_another_camera_are_refused(tag, size, word):
    found = check_profile(profile(), photo(tag, size))
    assert isinstance(found, Refusal)
    assert found.photo == "IMG_1.jpg"
    assert word in found.reason


def test_the_prior_of_a_set_names_the_photo_that_does_not_fit():
    fits = prior_for(profile(), [photo(), photo()])
    np.testing.assert_array_equal(fits.covariance, profile_prior(profile(), *SIZE).covariance)
    tele = replace(photo(replace(TAG, focal_mm=9.0)), path=Path("tele.jpg"))
    found = prior_for(profile(), [photo(), tele])
    assert isinstance(found, Refusal)
    assert found.photo == "tele.jpg"
