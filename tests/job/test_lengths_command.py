"""``hubsight lengths``: what it prints, its document, its picture, and how it ends."""

import functools
import json

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

from hubsight.cli import app
from hubsight.job import load_job
from hubsight.job.measure import measure_job
from hubsight.model.cautions import CAUTIONS
from hubsight.model.result import JobResult

BY_HAND = """\
[gauges.a]
length = 100.02
[sides.drive.caliper]
flange_diameter = 47.1
boss_width = 8.4
protrusion = 93.9
centre_to_flange = 18.9
[sides.non_drive.caliper]
flange_diameter = 43.4
spoke_offset = 2.4
centre_to_flange = 33.5
[rim]
erd = 596.2
[wheel]
spokes = 24
crosses = 2
"""


@pytest.fixture
def run(monkeypatch, fake_measurement, tmp_path):
    fake = functools.partial(measure_job, measure=fake_measurement)
    monkeypatch.setattr("hubsight.record.planned.measure_job", fake)
    monkeypatch.setenv("COLUMNS", "120")
    monkeypatch.chdir(tmp_path)
    return lambda *arguments: CliRunner().invoke(app, [str(argument) for argument in arguments])


@pytest.fixture
def by_hand(tmp_path):
    (tmp_path / "job.toml").write_text(BY_HAND)
    return tmp_path


def words(text):
    return " ".join(text.split())


def test_a_job_without_photos_is_planned(run, by_hand, fake_measurement):
    result = run("lengths", by_hand)
    assert result.exit_code == 0, result.output
    assert not fake_measurement.asked
    said = words(result.stdout)
    for part in (
        "Drive side: 6 bosses, 2 crosses",
        "least risk, proposed",
        "rounded up",
        "12 spokes of",
        "nipples",
    ):
        assert part in said
    assert "level with the bottom of the nipple's slot" in said
    assert "Rim: ERD 596.20 ± 0.50 mm; its radius shrinks by" in said
    assert "below, the end stays short of the slot's bottom" in said
    assert "By Monte Carlo, 296 mm is too short in 0.0 %" in said
    assert said.endswith(" ".join(CAUTIONS))


def test_the_rim_s_readings_and_the_side_of_its_holes_are_told(run, by_hand):
    job = by_hand / "job.toml"
    rim = "erd = [596.2, 596.6, 595.9]\noffset = -2.5"
    job.write_text(BY_HAND.replace("erd = 596.2", rim) + "[nipple]\nwindow = [-0.5, 2]\n")
    said = words(run("lengths", by_hand).stdout)
    assert "by 3 readings, 0.7 mm from smallest to largest" in said
    assert "spoke holes 2.5 mm off its middle, towards the non-drive side" in said
    assert "from -0.5 to +2.0 mm of the slot's bottom, in the tensioned wheel. By Monte Carlo" in said


def test_the_document_has_what_other_programs_need(run, by_hand):
    result = run("lengths", by_hand, "--json")
    raw = json.loads(result.stdout)
    side = raw["sides"][0]["spoke_lengths"]
    assert side["length"]["value"] > 290
    assert {"proposed", "p_too_short", "p_too_long", "close_call"} <= set(side["order"])
    assert raw["sides"][0]["caliper_checks"] == []
    line = raw["wheel"]["order"][0]
    assert {"side", "count", "length", "head", "wire", "measured", "spares", "nipple"} <= set(line)
    assert {"word", "reasons"} <= set(raw["verdict"])
    again = JobResult.model_validate_json(result.stdout)
    assert again.side("drive").spoke_lengths.order.proposed == side["order"]["proposed"]


def test_photos_are_measured_and_checked_against_the_caliper(run, job_folder, fake_measurement):
    file = job_folder / "job.toml"
    file.write_text(file.read_text().replace("[hub]", "[sides.drive.caliper]\nflange_diameter = 23.5\n[hub]"))
    raw = json.loads(run("lengths", job_folder, "--json").stdout)
    assert len(fake_measurement.asked) == 2
    (check,) = raw["sides"][0]["caliper_checks"]
    assert check["verdict"] == "disagrees"
    assert "the radius was given" in check["slip"]
    assert "the radius was given" in words(run("lengths", job_folder).stdout)


def test_an_earlier_measurement_is_taken_instead(run, job_folder, fake_measurement, tmp_path):
    first = run("lengths", job_folder, "--json")
    measured = measure_job_of(job_folder, fake_measurement)
    file = tmp_path / "measured.json"
    file.write_text(measured.model_dump_json())
    fake_measurement.asked.clear()
    again = run("lengths", job_folder, "--json", "--measured", file)
    assert not fake_measurement.asked
    one, other = (json.loads(run.stdout)["sides"] for run in (first, again))
    assert [{**side, "seconds": 0} for side in one] == [{**side, "seconds": 0} for side in other]


def measure_job_of(folder, fake):
    return measure_job(load_job(folder), measure=fake)


@pytest.mark.parametrize("content", [None, "", "[]", "{}", '{"measurement": 3}', "\x00"])
def test_what_is_no_measurement_is_refused_in_words(run, job_folder, tmp_path, content):
    file = tmp_path / "measured.json"
    if content is not None:
        file.write_text(content)
    result = run("lengths", job_folder, "--measured", file)
    assert result.exit_code == 2
    assert "measured.json: this" in result.stderr


def test_a_measurement_of_other_photos_is_refused(run, job_folder, tmp_path, fake_measurement):
    file = tmp_path / "measured.json"
    file.write_text(measure_job_of(job_folder, fake_measurement).model_dump_json())
    (job_folder / "drive" / "IMG_1.jpg").rename(job_folder / "drive" / "IMG_9.jpg")
    result = run("lengths", job_folder, "--measured", file)
    assert result.exit_code == 2
    assert "other photos than the job's drive side" in result.stderr


def test_a_refused_side_ends_with_one(run, job_folder, fake_measurement, refusal):
    fake_measurement.answers["drive"] = refusal
    result = run("lengths", job_folder)
    assert result.exit_code == 1
    assert refusal.reason in words(result.stdout)
    assert "Non-drive side: 6 bosses" in words(result.stdout)


def test_the_picture_shows_stock_window_and_curve(run, by_hand, tmp_path):
    file = tmp_path / "choice.png"
    assert run("lengths", by_hand, "--picture", file).exit_code == 0
    picture = np.asarray(Image.open(file).convert("RGB")).astype(int)
    assert picture.shape == (680, 1200, 3)
    row = picture[120]
    green = np.flatnonzero((row[:, 1] > row[:, 0] + 15) & (row[:, 1] > row[:, 2] + 10))
    red = np.flatnonzero((row[:, 0] > 150) & (row[:, 2] < 80))
    assert green.size > 100
    assert 1 <= red.size <= 12
    assert green.min() < red.mean() < green.max()  # the proposed length lies in the window


@pytest.mark.parametrize("name", ["choice.nothing", "no/folder/choice.png"])
def test_a_picture_that_cannot_be_written_is_told(run, by_hand, name):
    result = run("lengths", by_hand, "--picture", name)
    assert result.exit_code == 2
    assert "the picture cannot be written" in result.stderr


def test_a_photo_field_that_matches_nothing_does_not_matter_here(run, by_hand):
    file = by_hand / "job.toml"
    file.write_text(
        file.read_text().replace(
            "[sides.drive.caliper]", '[sides.drive]\nphotos = "drive/*"\n[sides.drive.caliper]'
        )
    )
    assert run("lengths", by_hand).exit_code == 0
    measured = run("measure", by_hand)
    assert measured.exit_code == 2
    assert "no photo matches" in measured.stderr
