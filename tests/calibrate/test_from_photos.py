"""From files to a profile, as a user does it: small pictures of a drawn sheet, with tags."""

import json

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

from hubsight.calibrate.from_photos import calibrate_photos
from hubsight.calibrate.plots import write_coverage
from hubsight.camera import View, load_profile
from hubsight.cli import app
from hubsight.job.file.photos_say import camera_by_tags, read_headers
from hubsight.kit import Kit, user_kit_folder
from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading, StatedTarget
from scenes import look_at
from sheet_pictures import photograph

SIZE = (1600, 1200)
FOCAL, CX, CY = 1200.0, 803.0, 596.0
TARGET = StatedTarget("a4", Reading(120.0, 0.06), Reading(120.0, 0.06))
FOCAL_35MM = round(FOCAL / np.hypot(*SIZE) * np.hypot(36, 24))


def _exif(model="One", focal_35mm=FOCAL_35MM):
    exif = Image.Exif()
    exif[0x010F], exif[0x0110] = "Invented", model
    exif.get_ifd(0x8769).update({0x920A: 4.2, 0xA405: focal_35mm, 0xA002: SIZE[0], 0xA003: SIZE[1]})
    return exif


@pytest.fixture(scope="module")
def photos(tmp_path_factory):
    folder = tmp_path_factory.mktemp("calibration")
    files = []
    for k in range(6):
        view = View(
            np.array([FOCAL, CX, CY, 0, 0, 0, 0, 0]),
            np.concatenate([np.zeros(3), look_at(60 * k, 26.0, 320 + 25 * (k % 3), 9 * k)]),
        )
        picture = photograph(view, SIZE, blur_px=0.7, noise=2.0, seed=k)
        files.append(folder / f"IMG_{k}.png")
        Image.fromarray(picture).convert("RGB").save(files[-1], exif=_exif())
    return files


def test_the_camera_is_found(photos):
    found = calibrate_photos(photos, TARGET)
    assert found.profile.camera.f == pytest.approx(FOCAL, rel=0.0015)
    assert found.profile.camera.cx == pytest.approx(CX, abs=3.0)
    assert found.profile.camera.cy == pytest.approx(CY, abs=3.0)
    assert abs(found.profile.camera.f - FOCAL) < 2.6 * found.profile.uncertainty()[0]
    assert found.calibration.residual_px < 0.1
    assert found.profile.signature.model == "One"
    assert found.profile.made.photos == tuple(file.name for file in photos)
    assert found.left_out == ()


def test_what_does_not_belong_is_left_out_with_a_warning(photos, tmp_path):
    blank = tmp_path / "blank.png"
    Image.new("RGB", SIZE, (90, 90, 90)).save(blank, exif=_exif())
    tele = tmp_path / "tele.png"
    with Image.open(photos[0]) as picture:
        picture.save(tele, exif=_exif(focal_35mm=3 * FOCAL_35MM))
    broken = tmp_path / "broken.jpg"
    broken.write_bytes(b"\xff\xd8 no")
    found = calibrate_photos([*photos, blank, tele, broken], TARGET)
    assert {refusal.photo for refusal in found.left_out} == {"blank.png", "tele.png", "broken.jpg"}
    for name in ("blank.png", "tele.png", "broken.jpg"):
        assert any(name in warning for warning in found.warnings)
    assert len(found.photos) == 6


def test_a_photo_given_twice_is_used_once_whatever_the_names(photos, tmp_path):
    """Numbers begin anew in every folder of a phone: two photos may have one name."""
    other = tmp_path / photos[0].name
    other.write_bytes(photos[1].read_bytes())
    found = calibrate_photos([*photos, photos[0], other], TARGET)
    assert [one.photo.file for one in found.photos] == [file.name for file in photos]
    assert [refusal.reason for refusal in found.left_out] == [
        "is there twice",
        f"is the same picture as {photos[1].name}",
    ]


def test_photos_with_one_and_the_same_fault_are_told_of_it_once(photos):
    found = calibrate_photos(photos, StatedTarget("a3"))
    assert isinstance(found, Refusal)
    assert "is the A4 target, not A3" in found.reason
    assert found.remedy.startswith('State paper = "a4"')


def test_too_few_usable_photos_are_refused_with_the_first_reason(photos, tmp_path):
    blank = tmp_path / "blank.png"
    Image.new("RGB", SIZE, (90, 90, 90)).save(blank, exif=_exif())
    found = calibrate_photos([blank, *photos[:3]], TARGET)
    assert isinstance(found, Refusal)
    assert "blank.png" in found.reason


def test_the_command_writes_a_profile_and_prints_a_document(photos, tmp_path):
    out = tmp_path / "camera.json"
    names = [str(file) for file in photos]
    run = CliRunner().invoke(
        app, ["calibrate", *names, "--bar-x", "120", "--bar-y", "120", "--out", str(out), "--json"]
    )
    assert run.exit_code == 0, run.output
    document = json.loads(run.stdout)
    assert document["focal_px"]["value"] == pytest.approx(FOCAL, rel=0.0015)
    assert document["focal_px"]["u"] > 0
    assert set(document["principal_px"]) == {"x", "y", "u"}
    assert document["residual_px"] < 0.1
    assert isinstance(document["warnings"], list)
    profile = load_profile(out)
    assert profile.camera.f == document["focal_px"]["value"]
    assert profile.made.bar_x == 120.0


def test_a_kept_profile_is_found_again_for_photos_of_the_same_camera(photos, tmp_path):
    trust = tmp_path / "trust.png"
    names = [str(file) for file in photos]
    run = CliRunner().invoke(app, ["calibrate", *names, "--keep", "phone", "--trust", str(trust)])
    assert run.exit_code == 0, run.output
    found = camera_by_tags(Kit.beside(None), None, read_headers(photos[:2]))
    assert found.file == user_kit_folder() / "cameras" / "phone.json"
    assert "found by the photos' tags" in found.used[0].sentence()
    with Image.open(trust) as picture:
        assert picture.size[0] == 1200


def test_too_few_photos_end_with_one_and_write_nothing(photos, tmp_path):
    blank = tmp_path / "blank.png"
    Image.new("RGB", (SIZE[0] // 2, SIZE[1]), (90, 90, 90)).save(blank, exif=_exif())
    out = tmp_path / "camera.json"
    command = ["calibrate", *map(str, photos[:5]), "--out", str(out)]
    run = CliRunner().invoke(app, command)
    assert run.exit_code == 1
    assert "5 photos cannot calibrate a camera: it takes 6 to 30" in run.stderr
    assert run.stdout == ""
    run = CliRunner().invoke(app, [*command, str(blank), "--json"])
    assert run.exit_code == 1
    said = json.loads(run.stdout)["error"]
    assert "only 5 of the photos can be used, of 6 that are needed" in said
    assert said.count("blank.png") == 1
    assert not out.exists()
    run = CliRunner().invoke(app, ["calibrate", str(photos[0]), "--out", str(out)])
    assert run.stderr.startswith("one photo cannot calibrate a camera: it takes 6 to 30.")


def test_a_photo_that_is_not_there_ends_with_two(photos):
    run = CliRunner().invoke(app, ["calibrate", *map(str, photos), "no.jpg"])
    assert run.exit_code == 2
    assert "no.jpg: there is no such file" in run.stderr


@pytest.mark.parametrize(
    ("more", "word"),
    [
        (["--keep", "a/b"], "cannot be a name"),
        (["--bar-x", "4.7"], "inches"),
        (["--out", "no/such/folder/camera.json"], "cannot be written"),
    ],
)
def test_bad_input_ends_with_a_sentence(photos, more, word):
    run = CliRunner().invoke(app, ["calibrate", *map(str, photos), "--json", *more])
    assert run.exit_code == 2
    assert word in run.output
    assert "Traceback" not in run.output


def test_the_picture_of_coverage_shows_every_corner(photos, tmp_path):
    found = calibrate_photos(photos, TARGET).calibration
    write_coverage(found, tmp_path / "coverage.png")
    with Image.open(tmp_path / "coverage.png") as picture:
        shown = np.asarray(picture.convert("RGB")).astype(int)
    scale = shown.shape[1] / SIZE[0]
    top = shown.shape[0] - round(SIZE[1] * scale)
    for sighting in found.photos.sightings:
        column, row = np.rint((sighting.pixels + 0.5) * scale).astype(int).T
        dark = shown[row + top, column].sum(1)
        assert np.all(dark < 600)
    white = np.all(shown[top:] == 255, axis=2)
    assert white.mean() > 0.8
