"""Which photos of a set are used, and what is said of the others."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from hubsight.camera import View
from hubsight.model.refusal import Refusal
from hubsight.target.geometry import target_geometry
from hubsight.target.shots import take_shots
from scenes import look_at
from sheet_pictures import photograph

SIZE = (1200, 900)
CAMERA = np.array([1150.0, 599.5, 449.5, 0, 0, 0, 0, 0])
A4 = target_geometry("a4")


@pytest.fixture(scope="module")
def good(tmp_path_factory):
    """Three good photos."""
    folder = tmp_path_factory.mktemp("good")
    files = []
    for k in range(3):
        view = View(CAMERA, np.concatenate([np.zeros(3), look_at(120 * k, 15.0, 340.0)]))
        files.append(folder / f"good{k}.png")
        Image.fromarray(photograph(view, SIZE)).convert("RGB").save(files[-1])
    return files


def text(tmp_path):
    path = tmp_path / "note.jpg"
    path.write_text("no photo")
    return path


def empty(tmp_path):
    path = tmp_path / "empty.jpg"
    path.write_bytes(b"")
    return path


def no_target(tmp_path):
    path = tmp_path / "bench.png"
    noise = np.random.default_rng(4).integers(0, 255, (SIZE[1], SIZE[0], 3), dtype=np.uint8)
    Image.fromarray(noise).save(path)
    return path


BAD = {
    text: "is no photo that can be read",
    empty: "is empty",
    no_target: "target was not found",
    lambda folder: folder / "missing.jpg": "does not exist",
}


@pytest.mark.parametrize(("make", "words"), BAD.items())
def test_a_bad_photo_among_good_ones_is_left_out(make, words, good, tmp_path):
    bad = make(tmp_path)
    shots, notes = take_shots([good[0], bad, good[1]], A4)
    assert [s.photo.path for s in shots] == [good[0], good[1]]
    assert len(notes) == 1
    assert notes[0].startswith(f"{bad.name} was left out")
    assert words in notes[0]


@pytest.mark.parametrize(("make", "words"), BAD.items())
def test_with_one_good_photo_left_the_bad_one_refuses_the_set(make, words, good, tmp_path):
    bad = make(tmp_path)
    refusal = take_shots([good[0], bad], A4)
    assert isinstance(refusal, Refusal)
    assert refusal.photo == bad.name
    assert words in refusal.reason


def test_a_photo_given_twice_is_used_once(good, tmp_path):
    copy = tmp_path / "copy.png"
    copy.write_bytes(good[1].read_bytes())
    shots, notes = take_shots([*good, copy, good[0]], A4)
    assert len(shots) == len(good)
    assert notes == [
        "copy.png is the same picture as good1.png: it was used once",
        "good0.png is there twice: it was used once",
    ]


def resized(photo, folder):
    small = folder / f"small-{photo.name}"
    with Image.open(photo) as picture:
        picture.resize((800, 600)).save(small)
    return small


def test_a_photo_of_another_size_is_left_out_by_name(good, tmp_path):
    small = resized(good[2], tmp_path)
    shots, notes = take_shots([*good, small], A4)
    assert [shot.photo.path for shot in shots] == good
    assert len(notes) == 1
    assert notes[0].startswith(f"{small.name} was left out: it has another size")


@pytest.mark.parametrize(("whole", "small"), [(2, 1), (3, 3)])
def test_where_nobody_knows_which_photos_are_meant_the_set_is_refused(whole, small, good, tmp_path):
    refusal = take_shots([*good[:whole], *(resized(one, tmp_path) for one in good[:small])], A4)
    assert isinstance(refusal, Refusal)
    assert refusal.sentence().startswith("small-good0.png has another size")


def test_a_photo_of_something_else_is_left_out_once_and_accuses_no_other(good, tmp_path):
    other = tmp_path / "a-cat.png"
    Image.effect_noise((640, 500), 90).convert("RGB").save(other)
    for whole in (good, good[:2]):
        shots, notes = take_shots([other, *whole], A4)
        assert [shot.photo.path for shot in shots] == list(whole)
        (said,) = [note for note in notes if "left out" in note]
        assert said.startswith("a-cat.png was left out: ")
        assert "another size" not in said


def test_a_photo_saved_anew_is_used_once(good, tmp_path):
    again = tmp_path / "again.jpg"
    with Image.open(good[1]) as picture:
        picture.save(again, quality=80)
    shots, notes = take_shots([*good, again], A4)
    assert [shot.photo.path for shot in shots] == good
    assert notes == ["again.jpg shows the same view as good1.png, pixel by pixel: it was left out"]


def test_a_mirrored_photo_is_left_out_by_name(good, tmp_path):
    selfie = tmp_path / "selfie.png"
    with Image.open(good[2]) as picture:
        picture.transpose(Image.Transpose.FLIP_LEFT_RIGHT).save(selfie)
    _, notes = take_shots([good[0], good[1], selfie], A4)
    assert "selfie.png was left out: the picture is mirrored" in notes[0]


def test_no_photos_at_all():
    assert "no photos" in take_shots([], A4).reason
