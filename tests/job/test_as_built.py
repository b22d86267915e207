"""``hubsight built`` and ``hubsight replace``: notes of real wheels against the prediction."""

from __future__ import annotations

import datetime
import functools
import json

import pytest
from typer.testing import CliRunner

from hubsight.cli import app
from hubsight.job import load_job
from hubsight.job.as_built import BuiltDocument, ReplacementDocument
from hubsight.job.measure import measure_job
from hubsight.kit import KitRim, save_item
from hubsight.record import measure_and_record

BY_HAND = """\
[sides.drive.caliper]
flange_diameter = 47.1
spoke_offset = 1.9
centre_to_flange = 18.9
[rim]
erd = 596.2
[wheel]
spokes = 24
crosses = 2
"""


@pytest.fixture
def run(monkeypatch, fake_measurement):
    fake = functools.partial(measure_job, measure=fake_measurement)
    monkeypatch.setattr("hubsight.record.planned.measure_job", fake)
    return lambda *arguments: CliRunner().invoke(app, [str(argument) for argument in arguments])


@pytest.fixture
def job(tmp_path):
    """Write a job by hand with notes of the built wheel."""

    def write(name, notes):
        folder = tmp_path / name
        folder.mkdir()
        (folder / "job.toml").write_text(BY_HAND + notes)
        return folder

    return write


def planned_side(folder):
    return measure_job(load_job(folder, need_photos=False)).side("drive").spoke_lengths


def predicted(folder, length):
    proposed = planned_side(folder).order.choices[0].proposed
    return proposed.end + length - proposed.length


def test_ends_where_predicted_are_as_computed(run, job):
    end = predicted(job("plain", ""), 296)
    folder = job("wheel", f"[built.drive]\nlength = 296\nends = [{end - 0.1:.2f}, {end + 0.2:.2f}]\n")
    result = run("built", folder)
    assert result.exit_code == 0, result.output
    assert "wheel, drive side, spokes of 296 mm" in result.stdout
    assert "as computed" in result.stdout


def test_the_length_that_was_built_in_counts(run, job):
    end = predicted(job("plain", ""), 296)
    folder = job("wheel", f"[built.drive]\nlength = 294\nends = [{end:.2f}, {end:.2f}]\n")
    document = BuiltDocument.model_validate_json(run("built", folder, "--json").stdout)
    assert document.sides[0].result.difference == pytest.approx(2.0, abs=0.01)
    assert "2.0 mm shorter" in document.sides[0].sentence()
    assert document.overall is None


def test_over_all_jobs_a_bias_shows(run, job):
    end = predicted(job("plain", ""), 296)
    offsets = (0.9, 1.1, 1.0, 0.95, 1.05)
    jobs = [
        job(f"wheel{k}", f"[built.drive]\nlength = 296\nends = [{end + more:.2f}, {end + more:.2f}]\n")
        for k, more in enumerate(offsets)
    ]
    said = run("built", *jobs).stdout
    assert "5 sides built: ends +1.00 mm from where predicted" in said
    assert "shorter than computed, more than by chance" in said


@pytest.mark.parametrize("notes", ["", "[built.drive]\nlength = 296\n"])
def test_nothing_noted_is_told(run, job, notes):
    result = run("built", job("wheel", notes))
    assert result.exit_code == 2
    assert "nothing is noted of the built wheel" in result.stderr


def test_a_side_that_is_not_known_is_refused_alone(run, job):
    folder = job("wheel", "[built.non_drive]\nends = 0.5\n[built.drive]\nends = 0.5\n")
    result = run("built", folder)
    assert result.exit_code == 1
    assert "nothing is stated of this side" in result.stdout


def test_a_record_is_used_instead_of_measuring(run, job_folder, fake_measurement):
    file = job_folder / "job.toml"
    file.write_text(file.read_text() + "[built.drive]\nends = 0.5\n")
    measure_and_record(load_job(job_folder), measure=functools.partial(measure_job, measure=fake_measurement))
    fake_measurement.asked.clear()
    assert run("built", job_folder).exit_code == 0
    assert not fake_measurement.asked
    (job_folder / "drive" / "IMG_1.jpg").rename(job_folder / "drive" / "IMG_9.jpg")
    assert run("built", job_folder).exit_code == 0
    assert [side.name for side, *_ in fake_measurement.asked] == ["drive"], "its photo has another name"
    for photo in job_folder.glob("*/*.jpg"):
        photo.unlink()
    assert "other photos" in run("built", job_folder).stderr


def test_a_broken_spoke_that_fits_is_ordered_again(run, job):
    folder = job("wheel", "[built.drive]\nspokes = 295.8\n")
    result = run("replace", folder)
    assert result.exit_code == 0
    assert "they fit; order 296 mm" in result.stdout


def test_spokes_in_the_wheel_are_measured_stretched(run, job):
    folder = job("wheel", "")
    stretch = planned_side(folder).order.stretch
    assert stretch > 0.3
    loose = run("replace", folder, "--side", "drive", "--spoke", "295.8", "--json")
    tense = run("replace", folder, "--side", "drive", "--spoke", f"{295.8 + stretch}", "--in-wheel", "--json")
    one, other = (json.loads(result.stdout)["sides"][0]["result"] for result in (loose, tense))
    assert one["measured"]["value"] == pytest.approx(other["measured"]["value"])


def test_spokes_that_cannot_be_are_told(run, job):
    document = ReplacementDocument.model_validate_json(
        run("replace", job("wheel", ""), "--side", "drive", "--spoke", "270", "--json").stdout
    )
    assert document.sides[0].result.fit == "does not fit"
    assert "check side, crosses, ERD" in document.sides[0].sentence()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [((), "no spoke's measured length"), (("--spoke", "295"), "the side is not said")],
)
def test_a_spoke_without_length_or_side_is_told(run, job, arguments, words):
    result = run("replace", job("wheel", ""), *arguments)
    assert result.exit_code == 2
    assert words in result.stderr


def wheels_on_rims(job, offsets, extra=""):
    end = predicted(job("plain", ""), 296)
    for k, more in enumerate(offsets):
        job(f"wheel{k}", f"[built.drive]\nlength = 296\nends = [{end + more:.2f}, {end + more:.2f}]\n{extra}")


def test_a_folder_of_jobs_shows_the_builder_s_own_practice_and_offers_it(run, job, tmp_path):
    wheels_on_rims(job, (0.45, 0.5, 0.55, 0.5, 0.4, 0.6))
    result = run("built", tmp_path)
    assert "wheel5, drive side" in result.stdout
    assert "plain" not in result.stdout
    assert "ERD practice over 6 rims and 6 sides: your ERDs read" in result.stdout
    assert "too large" in result.stdout
    assert "correction = { value = -" in result.stdout
    bias = BuiltDocument.model_validate_json(run("built", tmp_path, "--json").stdout).practice.bias
    assert 0.7 < bias.value < 1.05  # 0.5 mm of spoke is 1 mm of ERD; few wheels are not believed wholly


def test_a_stated_correction_moves_the_lengths_and_is_not_estimated_again(run, job, tmp_path):
    wheels_on_rims(job, (0.45, 0.5, 0.55, 0.5, 0.4, 0.6))
    before = BuiltDocument.model_validate_json(run("built", tmp_path, "--json").stdout)
    for file in tmp_path.glob("wheel*/job.toml"):
        text = file.read_text().replace("erd = 596.2", "erd = 596.2\ncorrection = { value = -1.0, u = 0.1 }")
        file.write_text(text)
    after = BuiltDocument.model_validate_json(run("built", tmp_path, "--json").stdout)
    assert before.overall.bias.value > 0.4
    assert abs(after.overall.bias.value) < 0.05
    assert after.practice.bias.value == pytest.approx(before.practice.bias.value, abs=0.02)
    result = measure_job(load_job(tmp_path / "wheel0", need_photos=False))
    assert result.wheel.erd.value == pytest.approx(595.2)
    assert "the ERD includes your correction of -1.00 mm" in result.wheel.notes


def test_wheels_on_one_rim_of_the_kit_are_one_reading(run, job, tmp_path, no_kit_of_the_user):
    save_item(KitRim(date=datetime.date(2026, 3, 1), erd=(596.2,)), "rim", "light", no_kit_of_the_user)
    wheels_on_rims(job, (0.5, 0.5, 0.5))
    for file in tmp_path.glob("wheel*/job.toml"):
        file.write_text(file.read_text().replace("erd = 596.2", 'kit = "light"'))
    document = BuiltDocument.model_validate_json(run("built", tmp_path, "--json").stdout)
    assert {side.rim for side in document.sides} == {"light"}
    assert document.practice is None


def test_a_contradicting_wheel_is_told_its_likeliest_cause(run, job):
    end = predicted(job("plain", ""), 296) + 2.0
    folder = job("wheel", f"[built.drive]\nlength = 296\nends = [{end:.2f}, {end:.2f}]\n")
    result = run("built", folder)
    assert "wheel: Likeliest cause" in result.stdout
    assert "298 mm, not 296 mm" in result.stdout
    document = BuiltDocument.model_validate_json(run("built", folder, "--json").stdout)
    assert 2 <= len(document.contradicted[0].causes) <= 4


def test_prediction_against_outcome_is_drawn(run, job, tmp_path):
    wheels_on_rims(job, (0.1, -0.1, 2.5), '[label]\nhub = "rear"\n')
    assert run("built", tmp_path, "--picture", tmp_path / "all.svg", "--by", "hub").exit_code == 0
    text = (tmp_path / "all.svg").read_text()
    assert text.count('class="dot"') == 2
    assert "rear: +0.83 mm" in text
    refused = run("built", tmp_path, "--picture", tmp_path / "all.png")
    assert refused.exit_code == 2
    assert "the picture cannot be written" in refused.stderr


def test_a_folder_without_built_wheels_is_told(run, job, tmp_path):
    job("plain", "")
    assert "no job in this folder notes a built wheel" in run("built", tmp_path).stderr
