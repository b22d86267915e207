"""Wheels whose hub was measured in another job: several wheels from one hub's record."""

import datetime
import functools
import json

import pytest
from typer.testing import CliRunner

from hubsight.cli import app
from hubsight.job import JobFileError, load_job
from hubsight.job.measure import measure_job
from hubsight.kit import KitRim, save_item
from hubsight.record import measure_and_record

WHEEL = """\
[hub]
job = "../job"
[rim]
erd = 580
[wheel]
crosses = 2
"""


@pytest.fixture
def measured(job_folder, fake_measurement, monkeypatch):
    measure_and_record(load_job(job_folder), measure=functools.partial(measure_job, measure=fake_measurement))
    monkeypatch.setattr("hubsight.record.planned.measure_job", lambda *_, **__: pytest.fail("measured"))
    return job_folder


@pytest.fixture
def wheel(job_folder):
    folder = job_folder.parent / "wheel"
    folder.mkdir()

    def write(text=WHEEL):
        (folder / "job.toml").write_text(text)
        return folder

    return write


def run(*arguments):
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


def test_a_wheel_takes_the_hub_s_figures_and_leaves_its_record_alone(measured, wheel, tmp_path):
    before = (measured / "record.json").read_bytes()
    result = run("lengths", wheel(), "--json")
    assert result.exit_code in (0, 1), result.output
    document = json.loads(result.stdout)
    assert document["job"] == "wheel"
    (tmp_path / "what.toml").write_text("[same]\nrim = { erd = 580 }\n")
    row = json.loads(run("lengths", measured, "--what-if", tmp_path / "what.toml", "--json").stdout)[
        "wheels"
    ][1]
    for side, other in zip(document["sides"], row["sides"], strict=True):
        assert side["spoke_lengths"]["length"]["value"] == other["length"]
    assert (measured / "record.json").read_bytes() == before
    assert sorted(file.name for file in wheel().iterdir()) == ["job.toml"]


def test_built_and_replace_take_it_too(measured, wheel):
    folder = wheel(WHEEL + "[built.drive]\nends = 0.3\nspokes = 288\n")
    assert "wheel, drive side" in run("built", folder).stdout
    assert "Drive side" in run("replace", folder).stdout


def test_its_own_lacing_and_kit_count(measured, wheel):
    folder = wheel(
        WHEEL.replace("erd = 580", 'kit = "light"')
        + "[sides.drive]\ncrosses = 1\n[sides.non_drive]\nwire = 1.8\n"
    )
    save_item(KitRim(date=datetime.date(2026, 3, 1), erd=(570.0,)), "rim", "light", folder / "kit")
    job = load_job(folder, need_photos=False)
    assert [side.wheel.crosses for side in job.sides] == [1, 2]
    assert job.sides[0].wheel.erd.value == 570.0
    assert job.sides[0].stated.photos[0].parent == measured / "drive" or job.folder.resolve() == measured
    assert job.table.sides.non_drive.wire == (1.8,)
    assert job.table.hub.over_locknut.value == 142


def test_it_can_be_compared_with_other_wheels(measured, wheel, tmp_path):
    (tmp_path / "what.toml").write_text("[one]\ncrosses = 1\n")
    document = json.loads(run("lengths", wheel(), "--what-if", tmp_path / "what.toml", "--json").stdout)
    assert [one["sides"][0]["crosses"] for one in document["wheels"]] == [2, 1]
    assert document["wheels"][0]["erd"]["value"] == 580


def test_another_row_of_holes_is_doubted(measured, wheel):
    said = " ".join(run("lengths", wheel(WHEEL + "spokes = 24\n[nipple]\nlength = 12\n")).stdout.split())
    assert "drilled in another way" in said


def test_measuring_is_sent_to_the_hub_s_job(measured, wheel):
    result = run("measure", wheel())
    assert result.exit_code == 2
    assert 'line 2, hub.job: the hub is measured in the job "../job"' in result.stderr
    assert "hubsight lengths" in result.stderr


def test_a_hub_that_was_not_measured_or_changed_is_told(wheel, job_folder, fake_measurement):
    assert (
        "this hub is not measured yet. Measure it first: hubsight measure" in run("lengths", wheel()).stderr
    )
    measure_and_record(load_job(job_folder), measure=functools.partial(measure_job, measure=fake_measurement))
    file = job_folder / "job.toml"
    file.write_text(file.read_text().replace("length = 100.02", "length = 101.02"))
    assert "gauges.a.length changed since the hub was measured" in run("lengths", wheel()).stderr


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (WHEEL.replace("../job", "../nothing"), 'line 2, hub.job: there is no job "../nothing"'),
        (WHEEL + "[gauges.a]\nlength = 100\n", 'line 7, gauges: the hub is that of the job "../job"'),
        (WHEEL.replace("[rim]", "over_locknut = 130\n[rim]"), "line 3, hub.over_locknut: the hub is that"),
        (WHEEL + "[sides.drive]\nblock_thickness = 3\n", "sides.drive.block_thickness: the hub is that"),
        (WHEEL.replace("../job", "../wheel"), "takes its hub from another one"),
        (WHEEL.replace("erd = 580", "erd = 58"), "line 4, rim.erd: 58 mm is not between"),
    ],
)
def test_what_cannot_be_is_told_with_its_line(job_folder, wheel, text, words):
    with pytest.raises(JobFileError) as caught:
        load_job(wheel(text), need_photos=False)
    assert words in str(caught.value)


def test_its_report_is_made_from_the_hub_s_record(measured, wheel):
    folder = wheel(WHEEL + '[label]\nhub = "rear, second wheel"\n')
    before = (measured / "record.json").read_bytes()
    for option, name in (("", "report.html"), ("--order", "order.html")):
        result = run("report", folder, *option.split())
        assert result.exit_code == 0, result.output
        page = (folder / name).read_text()
        assert "rear, second wheel" in page
    assert "580" in (folder / "report.html").read_text()
    assert (measured / "record.json").read_bytes() == before
    assert not (folder / "record.json").exists()


@pytest.mark.parametrize("command", ["measure", "history", "export", "verify"])
def test_what_belongs_to_the_hub_says_so_in_one_sentence(measured, wheel, command, tmp_path):
    result = run(command, wheel(), *([tmp_path / "out"] if command == "export" else []))
    assert result.exit_code == 2
    said = " ".join(result.stderr.split())
    assert 'measured in the job "../job"' in said
    assert said.count("hubsight") <= 1


def test_a_wheel_without_a_hub_s_record_says_what_to_measure(job_folder, wheel):
    result = run("report", wheel())
    assert result.exit_code == 2
    assert "has no record yet" in result.stderr
    assert "hubsight measure" in result.stderr
