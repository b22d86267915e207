"""Kit: kept whole, found beside the job before the user's own, refused where it cannot be right."""

import datetime
import math

import platformdirs
import pytest
from typer.testing import CliRunner

from hubsight.cli import app
from hubsight.kit import Kit, KitCaliper, KitError, KitGauge, KitTarget, save_item, user_kit_folder
from hubsight.kit.readings import (
    DOUBTED_DAYS,
    GOOD_CALIPER_U_MM,
    age_warning,
    aged,
    paper_drift,
    with_caliper,
)
from hubsight.model.stated import Reading

DAY = datetime.date(2026, 3, 1)
GAUGE = KitGauge(date=DAY, length=(100.08, 100.06), diameter=(2.01,), tip="nipple", caliper="shop")
TARGET = KitTarget(date=DAY, paper="letter", bar_x=(119.5,), bar_y=(119.6,))
CALIPER = KitCaliper(date=DAY, u=0.02, zero=0.03, zero_u=0.005)


@pytest.fixture
def command(monkeypatch, tmp_path):
    monkeypatch.setenv("COLUMNS", "200")
    monkeypatch.chdir(tmp_path)
    return lambda *arguments: CliRunner().invoke(app, ["kit", *map(str, arguments)])


@pytest.mark.parametrize(("kind", "item"), [("gauge", GAUGE), ("target", TARGET), ("caliper", CALIPER)])
def test_a_piece_survives_its_file(tmp_path, kind, item):
    file = save_item(item, kind, "my own-1", tmp_path)
    assert Kit((tmp_path,)).load(kind, "my own-1") == (item, file)


def test_the_kit_beside_a_job_comes_first(tmp_path, no_kit_of_the_user):
    other = GAUGE.model_copy(update={"tip": "flat"})
    save_item(GAUGE, "gauge", "long", no_kit_of_the_user)
    save_item(TARGET, "target", "sheet", no_kit_of_the_user)
    save_item(other, "gauge", "long", tmp_path / "kit")
    assert Kit.beside(tmp_path).load("gauge", "long")[0] == other
    assert Kit.beside(None).load("gauge", "long")[0] == GAUGE
    assert [(kind, name) for kind, name, _ in Kit.beside(tmp_path).every()] == [
        ("gauge", "long"),
        ("target", "sheet"),
    ]


def test_the_user_s_folder_is_the_system_s(monkeypatch):
    monkeypatch.delenv("HUBSIGHT_KIT")
    assert user_kit_folder().is_relative_to(platformdirs.user_config_path("hubsight"))


def test_nothing_is_overwritten_unless_told(tmp_path):
    save_item(GAUGE, "gauge", "long", tmp_path)
    with pytest.raises(KitError, match="already"):
        save_item(TARGET, "gauge", "long", tmp_path)
    newer = GAUGE.model_copy(update={"note": "cut again"})
    save_item(newer, "gauge", "long", tmp_path, replace=True)
    assert Kit((tmp_path,)).load("gauge", "long")[0] == newer
    assert [file.name for file in (tmp_path / "gauges").iterdir()] == ["long.json"]


@pytest.mark.parametrize("name", ["", "../long", "a/b", "a\\b", ".hidden", "x" * 41, "end.", "new\nline"])
def test_names_that_no_file_can_have_are_refused(tmp_path, name):
    with pytest.raises(KitError, match="cannot be a name"):
        save_item(GAUGE, "gauge", name, tmp_path)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    "content",
    [b"", b"[]", b"\xff\xfe", b'{"schema_version": 2}', b" " * 1_100_000],
)
def test_a_broken_file_is_told_with_its_name(tmp_path, content):
    (tmp_path / "gauges").mkdir()
    (tmp_path / "gauges" / "long.json").write_bytes(content)
    with pytest.raises(KitError, match=r"long\.json"):
        Kit((tmp_path,)).load("gauge", "long")


def test_the_caliper_s_zero_comes_off_and_only_what_is_worse_than_usual_is_added():
    reading = Reading(100.0, 0.03)
    good = KitCaliper(date=DAY, u=GOOD_CALIPER_U_MM)
    assert with_caliper(reading, good) == reading
    found = with_caliper(reading, CALIPER)
    assert found.value == pytest.approx(99.97)
    assert found.u == pytest.approx(math.sqrt(0.03**2 + 0.02**2 - GOOD_CALIPER_U_MM**2 + 0.005**2))
    stated = with_caliper(reading, CALIPER, stated_u=True)
    assert stated.u == pytest.approx(math.hypot(0.03, 0.005))


def test_old_readings_of_paper_are_doubted():
    bar = Reading(119.5, 0.06)
    assert aged(bar, 0) == bar
    assert aged(bar, 400).u > aged(bar, 10).u > bar.u
    assert paper_drift(10) == pytest.approx(5e-4)
    later = DAY + datetime.timedelta(DOUBTED_DAYS)
    assert age_warning(DAY, DAY) is None
    assert age_warning(DAY, later) is None
    assert "31 days before" in age_warning(DAY, later + datetime.timedelta(1))
    assert "5 days after" in age_warning(DAY, DAY - datetime.timedelta(5))


def test_entered_by_the_command_and_listed(command):
    assert "no kit yet" in command().stdout
    assert command("add-caliper", "shop", "--u", "0.02", "--zero", "0.01").exit_code == 0
    done = command(
        "add-gauge", "long", "--length", "100.08", "--length", "100.06", "--caliper", "shop", "--day", DAY
    )
    assert done.exit_code == 0, done.output
    assert 'kit = "long"' in done.stdout
    listed = command().stdout
    assert '"long": 100.07 mm, 2 readings of 2026-03-01' in listed
    assert "+0.01 mm when closed" in listed
    assert '"caliper": "shop"' in command("show", "long").stdout


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("add-gauge", "long", "--length", "10"), "not between 30 and 310"),
        (("add-gauge", "long", "--length", "100", "--length", "101"), "one of them is a slip"),
        (("add-gauge", "long", "--length", "100", "--caliper", "none"), 'no caliper "none"'),
        (("add-gauge", "long", "--length", "100", "--day", "yesterday"), "no day"),
        (("add-target", "sheet", "--bar-x", "4.7", "--bar-y", "4.7"), "inches"),
        (("add-target", "sheet", "--bar-x", "113", "--bar-y", "119"), "no printer"),
        (("add-gauge", "long", "--length", "100", "--day", "2999-01-01"), "lies in the future"),
        (("add-caliper", "shop", "--u", "-1"), "u -1.0: this must be greater than 0"),
        (("add-caliper", "shop", "--u", "5"), "less than or equal to 0.5"),
        (("add-camera", "phone", "none.json"), "cannot be read"),
        (("add-gauge", "long", "--length", "100", "--in", "nowhere"), "no such folder"),
        (("show", "nothing"), "no such piece"),
    ],
)
def test_what_cannot_be_right_is_refused_and_not_kept(command, no_kit_of_the_user, arguments, words):
    done = command(*arguments)
    assert done.exit_code == 2
    assert words in done.stderr
    assert not no_kit_of_the_user.exists()
