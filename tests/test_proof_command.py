"""``hubsight proof``: what it prints, keeps, refuses and sums up, on drawn photos of a rod."""

import json

import pytest
from PIL import Image
from typer.testing import CliRunner

from hubsight.cli import app
from hubsight.kit import Kit, KitCaliper, KitTarget, save_item
from hubsight.kit.proofs import proofs_for, read_proofs
from hubsight.photo import camera_signature, load_photo
from rod_pictures import RodScene

SCENE = RodScene(length=95.0, height=72.0)
WRONG_PRINT = 1.005
"""Both check bars read half a per cent too large."""


@pytest.fixture(scope="module")
def photos(tmp_path_factory):
    return SCENE.save(tmp_path_factory.mktemp("rod"))


@pytest.fixture
def kit(no_kit_of_the_user):
    bars = (120.02, 119.97, 120.0)
    save_item(KitTarget(date="2026-03-01", bar_x=bars, bar_y=bars), "target", "desk", no_kit_of_the_user)
    save_item(KitCaliper(date="2026-03-01", u=0.012, zero=0.3), "caliper", "shop", no_kit_of_the_user)
    return Kit((no_kit_of_the_user,))


@pytest.fixture
def command(monkeypatch, tmp_path):
    monkeypatch.setenv("COLUMNS", "200")
    monkeypatch.chdir(tmp_path)
    return lambda *arguments: CliRunner().invoke(app, ["proof", *map(str, arguments)])


READ = ("--length", "95.03", "--length", "95.0", "--length", "94.98")


def test_a_right_print_is_proved_kept_and_found_again(command, photos, kit):
    done = command(*photos, *READ, "--target", "desk")
    assert done.exit_code == 0, done.output
    assert "they agree" in done.stdout
    assert "Proved: with this phone and this sheet, a length of 95 mm at a height of 72 mm" in done.stdout
    assert "does not prove how bosses" in done.stdout
    found = proofs_for(camera_signature(load_photo(photos[0])), "desk", kit)
    assert [one.word for one in found] == ["agrees"]
    assert found[0].caliper == pytest.approx(95.0033, abs=1e-3)
    assert found[0].height == pytest.approx(72.0, abs=0.3)
    assert found[0].proved_to() < 0.12
    assert str(kit.folders[0] / "proofs") in done.stdout
    assert command(*photos, *READ, "--target", "desk").exit_code == 0
    assert len(read_proofs(kit)[0]) == 1, "the same photos prove nothing twice"


def test_a_print_read_half_a_per_cent_wrong_is_found(command, photos):
    bars = (f"{120 * WRONG_PRINT:.2f}",) * 3
    readings = [word for axis in "xy" for bar in bars for word in (f"--bar-{axis}", bar)]
    done = command(*photos, *READ, *readings, "--json")
    assert done.exit_code == 1
    document = json.loads(done.stdout)
    assert document["proof"]["e_n"] > 1.0
    assert document["proof"]["length"] == pytest.approx(95.0 * WRONG_PRINT, abs=0.1)
    assert "Wrong" in document["sentences"][0]
    assert "too large" in document["sentences"][0]
    assert document["kept"] is None
    total = sum(item["u"] ** 2 for item in document["budget"])
    assert total == pytest.approx(document["proof"]["u"] ** 2)


def test_without_the_bars_nothing_is_proved(command, photos, kit):
    done = command(*photos, *READ)
    assert done.exit_code == 1
    assert "Undecided" in done.stdout
    assert "check bars are not both stated" in done.stdout
    assert "Not kept: name the sheet" in done.stdout
    assert read_proofs(kit)[0] == []


def test_the_caliper_s_zero_comes_off_the_rod(command, photos, kit):
    done = command(*photos, "--length", "95.3", "--target", "desk", "--caliper", "shop", "--json")
    assert json.loads(done.stdout)["proof"]["caliper"] == pytest.approx(95.0)


def test_no_keep_keeps_nothing(command, photos, kit):
    assert command(*photos, *READ, "--target", "desk", "--no-keep").exit_code == 0
    assert read_proofs(kit)[0] == []


def test_a_refusal_is_said_and_exits_with_one(command, photos, kit):
    done = command(*photos[:2], *READ, "--target", "desk")
    assert done.exit_code == 1
    assert "a proof needs 3" in done.stdout
    document = json.loads(command(*photos[:2], *READ, "--target", "desk", "--json").stdout)
    assert document["proof"] is None
    assert "Take four" in document["refusal"]["remedy"]


def test_history_lists_sums_up_and_draws(command, photos, kit, tmp_path):
    assert "no proof is kept" in command("--history").stdout
    assert command("--history", "--picture", "p.png").exit_code == 2
    command(*photos, *READ, "--target", "desk")
    command(*photos[:3], *READ, "--target", "desk")
    done = command("--history", "--picture", "p.png")
    assert done.exit_code == 0, done.output
    assert "Invented One" in done.stdout
    assert "2 proofs: the photos read" in done.stdout
    with Image.open(tmp_path / "p.png") as picture:
        assert picture.format == "PNG"
    assert len(json.loads(command("--history", "--json").stdout)["proofs"]) == 2
    assert json.loads(command("--history", "--target", "other", "--json").stdout)["proofs"] == []


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "no photos are named"),
        (("none.jpg", "--length", "95"), "no such file"),
        (("--history", "--length", "95"), "Leave them out"),
        (("--picture", "p.png"), "Add --history"),
    ],
)
def test_what_cannot_be_read_is_told(command, arguments, words):
    done = command(*arguments)
    assert done.exit_code == 2
    assert words in done.stderr


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "--length: this is missing"),
        (("--length", "9.5"), "--length: 9.5 mm is not between 60 and 200"),
        (("--length", "95", "--length", "96"), "one of them is a slip"),
        (("--length", "95", "--bar-x", "4.7"), "inches"),
        (("--length", "95", "--target", "dusk"), '--target: there is no target "dusk"'),
        (("--length", "95", "--camera", "none"), '--camera: there is no camera "none"'),
        (("--length", "95", "--caliper", "none"), '--caliper: there is no caliper "none"'),
    ],
)
def test_a_bad_statement_names_its_option(command, photos, kit, arguments, words):
    done = command(*photos, *arguments)
    assert done.exit_code == 2
    assert words in done.stderr
