"""Rims of the kit: entered, shown, drawn, and taken over by jobs."""

import datetime
import json
from xml.etree import ElementTree

import pytest
from typer.testing import CliRunner

from hubsight.cli import app
from hubsight.job import JobFileError, load_job
from hubsight.job.file.rim_of_kit import rim_erd
from hubsight.job.measure import measure_job
from hubsight.kit import KitRim, save_item
from hubsight.show.rim_picture import rim_picture
from hubsight.wheel.rim import SLOT_U_MM, UNKNOWN_SEAT_U_MM

DAY = datetime.date(2026, 3, 1)
RIM = KitRim(
    date=DAY,
    holes=24,
    erd=(596.1, 595.8, 596.2, 595.9),
    nipple="slotted",
    seat_to_slot=(2.0,),
    washer=(0.6,),
    offset=(-2.5,),
    mass=430,
)
JOB = """\
[sides.drive.caliper]
flange_diameter = 47.1
spoke_offset = 1.9
centre_to_flange = 18.9
[rim]
kit = "light"
[wheel]
crosses = 2
"""


@pytest.fixture
def command(monkeypatch, tmp_path):
    monkeypatch.setenv("COLUMNS", "200")
    monkeypatch.chdir(tmp_path)
    return lambda *arguments: CliRunner().invoke(app, ["kit", *map(str, arguments)])


@pytest.fixture
def load(tmp_path, no_kit_of_the_user):
    save_item(RIM, "rim", "light", no_kit_of_the_user)

    def write(text=JOB):
        (tmp_path / "job.toml").write_text(text)
        return load_job(tmp_path, need_photos=False)

    return write


def test_a_job_takes_the_rim_over(load):
    job = load()
    wheel = job.sides[0].wheel
    assert (wheel.erd.value, wheel.erd.readings) == (pytest.approx(596.0), RIM.erd)
    assert wheel.erd == rim_erd(RIM), "as it was taken: nothing is corrected, nothing widened"
    assert (wheel.spokes, wheel.rim_offset.value, job.table.rim.mass) == (24, -2.5, 430)
    assert job.kit[0].sentence().startswith('rim "light": ERD 596.00 ± 0.21 mm, 4 readings of 2026-03-01')
    assert measure_job(job).side("drive").spoke_lengths is not None


def test_the_short_form_names_it_too(load):
    text = 'rim = "light"\n' + JOB.replace('[rim]\nkit = "light"\n', "")
    assert load(text).sides[0].wheel == load().sides[0].wheel


@pytest.mark.parametrize(
    ("rim", "nipple", "erd"),
    [
        ("washer = 0", "", 596.0 - 1.2),
        ("washer = 1.0", "", 596.0 + 0.8),
        ("washer = 0.6", "", 596.0),
        ("", "seat_to_slot = 3.5", 596.0 + 3.0),
        ("washer = 0", 'kind = "tall_head"\nseat_to_slot = 3.5', 596.0 + 3.0 - 1.2),
    ],
)
def test_other_washers_and_nipples_correct_it(load, rim, nipple, erd):
    job = load(JOB.replace('kit = "light"', f'kit = "light"\n{rim}') + f"[nipple]\n{nipple}\n")
    assert job.sides[0].wheel.erd.value == pytest.approx(erd)
    corrected = job.kit[0].how
    assert bool(corrected) == (erd != 596.0)
    if corrected:
        assert f"{erd - 596.0:+.2f} mm" in corrected


def test_another_kind_of_nipple_that_nobody_measured_is_told(load):
    job = load(JOB + '[nipple]\nkind = "tall_head"\n')
    erd = job.sides[0].wheel.erd
    assert erd.value == pytest.approx(596.0)
    assert erd.u > 2.0 * UNKNOWN_SEAT_U_MM
    result = measure_job(job)
    assert any("seat_to_slot" in reason.sentence for reason in result.verdict.reasons)
    assert result.verdict.word != "order"


def test_what_the_job_states_comes_first(load):
    job = load(JOB.replace('kit = "light"', 'kit = "light"\nerd = 600.0\noffset = 0.0'))
    assert job.sides[0].wheel.erd.value == 600.0
    assert job.sides[0].wheel.rim_offset.value == 0.0
    assert job.table.rim.mass == 430


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"light"', '"deep"', 'rim.kit: there is no rim "deep" in the kit. There are: light'),
        ("crosses = 2", "crosses = 2\nspokes = 28", "the rim has 24 spoke holes, the wheel 28 spokes"),
    ],
)
def test_a_rim_that_does_not_go_is_told(load, old, new, words):
    with pytest.raises(JobFileError) as caught:
        load(JOB.replace(old, new))
    assert words in str(caught.value)


def test_rods_with_gaps_or_an_overlap(command):
    gaps = command("add-rim", "a", "--rod", "300", "--rod", "200", "--gap", "96.1", "--gap", "96.3")
    assert "ERD 596.20 ± 0.27 mm, 2 readings" in gaps.stdout, (
        gaps.output
    )  # sqrt(2 0.05^2 + 0.15^2 + 0.3^2 / 2)
    lapped = command("add-rim", "b", "--rod", "300.1", "--rod", "300", "--overlap", "4.1", "--overlap", "3.9")
    assert "ERD 596.10" in lapped.stdout
    negative = command("add-rim", "c", "--rod", "300.1", "--rod", "300", "--gap", "-4.1", "--gap", "-3.9")
    assert "ERD 596.10" in negative.stdout
    assert "Three diameters or more" in lapped.stdout


def test_a_rim_is_shown_corrected_and_drawn(command, tmp_path):
    entered = ("--erd", "560.2", "--erd", "561.9", "--erd", "561.4", "--erd", "559.8")
    assert command("add-rim", "deep", *entered, "--nipple", "slotted", "--seat-to-slot", "2").exit_code == 0
    said = command("rim", "deep", "--washer", "0.6", "--picture", "deep.svg").stdout
    assert "out of round" in said
    assert "oval by 2.4 ± 0.4 mm" in said  # 2 sqrt(0.6^2 + 1.05^2)
    assert "(+1.20 mm)" in said
    text = "".join(ElementTree.parse(tmp_path / "deep.svg").getroot().itertext())
    assert "deep: ERD 560.8" in text
    assert "561.9" in text
    document = json.loads(command("rim", "deep", "--json").stdout)
    assert document["u"] > SLOT_U_MM
    assert document["roundness"]["seen"]
    assert document["directions"] == [0, 45, 90, 135]


def test_the_picture_enlarges_what_was_read():
    drawn = ElementTree.fromstring(str(rim_picture("light", RIM)))
    dots = [node for node in drawn.iter() if node.get("class") == "dot"]
    assert len(dots) == 2 * len(RIM.erd)
    outer, inner = (float(dots[2 * k].get("cx")) for k in (2, 0))
    assert outer > 320.0 == pytest.approx(inner)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "nothing says what its ERD is"),
        (("--erd", "59.6"), "not between 150 and 750"),
        (("--erd", "596", "--rod", "300", "--rod", "200", "--gap", "96"), "in two ways"),
        (("--rod", "300", "--gap", "96"), "Give two rods"),
        (("--rod", "300", "--rod", "200", "--gap", "96", "--overlap", "2"), "gaps and overlaps"),
        (("--erd", "596", "--at", "1"), "how many --holes"),
        (("--erd", "596", "--at", "30", "--holes", "24"), "hole 30 is not on a rim of 24"),
        (("--erd", "596", "--seat-to-slot", "40"), "not between -5 and 20"),
        (("--erd", "596", "--offset", "40"), "not between -15 and 15"),
        (("--erd", "596", "--bead-seat", "700"), "bead_seat"),
    ],
)
def test_what_cannot_be_right_is_refused_and_not_kept(command, no_kit_of_the_user, arguments, words):
    done = command("add-rim", "light", *arguments)
    assert done.exit_code == 2, done.output
    assert words in done.stderr
    assert not no_kit_of_the_user.exists()


def test_a_picture_that_cannot_be_drawn_is_told(command):
    assert command("add-rim", "light", "--erd", "596").exit_code == 0
    for name in ("light.png", "no/where/light.svg"):
        done = command("rim", "light", "--picture", name)
        assert done.exit_code == 2
        assert "the picture cannot be written" in done.stderr
