"""The history of proofs: kept whole, found by camera and sheet, summed up by what it says and no more."""

import datetime

import numpy as np
import pytest
from PIL import Image

from hubsight.camera.profile import ProfileSignature
from hubsight.kit import Kit
from hubsight.kit.proofs import (
    SAME_BAR_MM,
    VAGUE_MM,
    Proof,
    ProofsTogether,
    compared,
    keep_proof,
    proofs_for,
    read_proofs,
    sum_up,
)
from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading, StatedTarget
from hubsight.model.uncertainty import fewest_inside
from hubsight.photo import CameraSignature
from hubsight.show.pen import Tone
from hubsight.show.proofs_picture import proofs_picture, write_proofs_picture

DAY = datetime.date(2026, 3, 12)
CAMERA = ProfileSignature(width=4000, height=3000, make="Invented", model="One", focal_mm=4.2)
PHOTO = CameraSignature((4000, 3000), "Invented", "One", "", 4.2)
SHEET = StatedTarget("a4", Reading(119.5, 0.06), Reading(119.6, 0.06))


def proof(off=0.0, *, u=0.08, day=0, **more):
    length, caliper = Reading(100.0 + off, u), Reading(100.0, 0.03)
    known = {
        "date": DAY + datetime.timedelta(day),
        "camera": CAMERA,
        "target": "desk",
        "paper": "a4",
        "bar_x": 119.5,
        "bar_y": 119.6,
        "length": length.value,
        "u": u,
        "caliper": caliper.value,
        "caliper_u": caliper.u,
        "e_n": compared(length, caliper),
        "height": 80.0,
        "photos": 4,
        "fingerprint": f"{day}-{off}",
    }
    return Proof(**{**known, **more})


@pytest.mark.parametrize(
    ("off", "u", "word"),
    [
        (0.0, 0.08, "agrees"),
        (-0.16, 0.08, "agrees"),
        (0.18, 0.08, "doubted"),
        (-0.36, 0.08, "wrong"),
        (0.1, 0.5, "undecided"),
        (1.5, 0.5, "doubted"),
    ],
)
def test_the_word_follows_the_normalised_error_and_a_vague_one_says_nothing(off, u, word):
    assert proof(off, u=u).word == word


def test_what_is_vague_is_vague_by_the_difference_s_interval():
    limit = np.sqrt((VAGUE_MM / 1.96) ** 2 - 0.03**2)
    assert proof(u=0.99 * limit).word == "agrees"
    assert proof(u=1.01 * limit).word == "undecided"


def test_proved_is_what_difference_and_caliper_leave_open_and_paper_adds_to_it():
    one = proof(-0.05)
    assert one.proved_to() == pytest.approx(0.05 + 1.96 * 0.03, abs=1e-4)
    assert one.proved_to(DAY) == one.proved_to()
    assert one.sentence() == "proved with this phone and this sheet to 0.11 mm on 12 March 2026"
    later = one.proved_to(DAY + datetime.timedelta(200))
    assert later == pytest.approx(0.05 + 1.96 * np.hypot(0.03, 0.0012 * 99.95), abs=1e-4)


def test_a_proof_survives_its_file_and_the_same_photos_count_once(tmp_path):
    first = proof(0.02)
    file = keep_proof(first, tmp_path)
    assert keep_proof(first.model_copy(update={"length": 100.03}), tmp_path) == file
    keep_proof(proof(0.04, day=-3), tmp_path)
    kept, troubles = read_proofs(Kit((tmp_path,)))
    assert [one.length for one in kept] == [100.04, 100.03]
    assert not troubles


def test_a_broken_file_is_told_and_the_others_are_read(tmp_path):
    keep_proof(proof(), tmp_path)
    (tmp_path / "proofs" / "2026-01-01-broken.json").write_text("{")
    kept, troubles = read_proofs(Kit((tmp_path,)))
    assert len(kept) == 1
    assert "2026-01-01-broken.json is no proof" in troubles[0]


def test_proofs_are_found_by_camera_and_sheet_the_newest_first(tmp_path):
    for one in (
        proof(0.01, day=1),
        proof(0.02, day=5),
        proof(0.03, day=2, target="other"),
        proof(0.04, day=3, camera=CAMERA.model_copy(update={"model": "Two"})),
        proof(0.05, day=4, camera=CAMERA.model_copy(update={"focal_mm": 6.0})),
    ):
        keep_proof(one, tmp_path)
    kit = Kit((tmp_path,))
    assert [one.length for one in proofs_for(PHOTO, "desk", kit)] == [100.02, 100.01]
    assert proofs_for(CameraSignature((4000, 3000)), "desk", kit) == ()
    assert proofs_for(CameraSignature((2000, 1500), "Invented", "One", "", 4.2), "desk", kit) == ()


def test_photos_without_tags_confirm_no_camera():
    assert not proof(camera=CAMERA.model_copy(update={"make": "", "model": ""})).same_camera(PHOTO)


@pytest.mark.parametrize(
    ("target", "same"),
    [
        (SHEET, True),
        (StatedTarget("a4", Reading(119.5 + 0.9 * SAME_BAR_MM, 0.06), Reading(119.6, 0.06)), True),
        (StatedTarget("a4", Reading(119.5 + 1.1 * SAME_BAR_MM, 0.06), Reading(119.6, 0.06)), False),
        (StatedTarget("a4", Reading(119.5, 0.06), Reading(119.6 - 1.1 * SAME_BAR_MM, 0.06)), False),
        (StatedTarget("a4", Reading(119.5, 0.06), None), False),
        (StatedTarget("letter", SHEET.bar_x, SHEET.bar_y), False),
    ],
)
def test_a_proof_confirms_the_bars_it_was_made_with(target, same):
    assert proof().same_print(target) is same


def test_bias_and_scatter_are_those_of_the_differences():
    offsets = [0.06, 0.10, 0.02, 0.06]
    together = sum_up([proof(off, day=k) for k, off in enumerate(offsets)])
    assert isinstance(together, ProofsTogether)
    assert together.bias.value == pytest.approx(0.06)
    assert together.scatter == pytest.approx(np.std(offsets, ddof=1))
    assert together.bias.u == pytest.approx(np.std(offsets, ddof=1) / 2)
    assert together.stated == pytest.approx(np.hypot(0.08, 0.03))
    assert (together.inside, together.fewest) == (4, fewest_inside(4))


def test_a_bias_beyond_chance_is_said_and_one_within_is_not():
    assert "more than chance" in sum_up([proof(off) for off in (0.10, 0.11, 0.09, 0.10)]).sentences()[1]
    assert len(sum_up([proof(off) for off in (0.10, -0.08, 0.05, -0.04)]).sentences()) == 1


def test_too_few_within_their_intervals_is_said():
    assert (
        "stated uncertainties are too small" in sum_up([proof(s) for s in (0.3, -0.3, 0.02)]).sentences()[1]
    )


def test_one_proof_has_no_scatter():
    assert isinstance(sum_up([proof()]), Refusal)
    assert "no proof is kept" in sum_up([]).reason


def colours(picture):
    return {colour for _, colour in picture.convert("RGB").getcolors(1_000_000)}


def test_the_picture_shows_every_proof_and_marks_what_contradicts(tmp_path):
    alone = proofs_picture([proof(0.05)])
    assert Tone.BLUE.value in colours(alone)
    assert Tone.RED.value not in colours(alone)
    several = [proof(0.05), proof(0.02, day=30), proof(0.6, day=60)]
    assert Tone.RED.value in colours(proofs_picture(several))
    write_proofs_picture(several, tmp_path / "proofs.png")
    with Image.open(tmp_path / "proofs.png") as written:
        assert written.size == alone.size
