"""What is recorded and unchanged is not measured again; what changed is."""

import functools
import json
import os
from dataclasses import replace

import pytest
from PIL import Image
from typer.testing import CliRunner

from hubsight import load_job, measure_job, read_history, read_record
from hubsight.cli import app
from hubsight.job.file.load import JobFlat, JobLying
from hubsight.job.measure import MeasureOthers
from hubsight.job.recall import Recall
from hubsight.model.refusal import Refusal
from hubsight.model.result import FlatReport, JobResult, LyingReport
from hubsight.model.stated import Reading, Ruler, ScaleAlong, StatedTarget
from made_up import make_figure, make_side


@pytest.fixture
def lengths(monkeypatch, fake_measurement, job_folder):
    """Run ``lengths`` on the job and return the sides that were measured for it."""
    fake = functools.partial(measure_job, measure=fake_measurement)
    monkeypatch.setattr("hubsight.record.planned.measure_job", fake)

    def run():
        fake_measurement.asked.clear()
        result = CliRunner().invoke(app, ["lengths", str(job_folder), "--json"])
        assert result.exit_code == 0, result.output
        return [side.name for side, *_ in fake_measurement.asked]

    return run


def change(folder, old, new):
    file = folder / "job.toml"
    text = file.read_text()
    assert old in text
    file.write_text(text.replace(old, new))


def test_an_unchanged_job_is_not_measured_again(lengths, job_folder):
    assert lengths() == ["drive", "non_drive"]
    first = read_record(job_folder)
    assert lengths() == []
    assert read_record(job_folder) == first, "nothing new is recorded"
    assert len(read_history(job_folder)) == 1


def test_what_does_not_touch_seeing_is_not_measured_again(lengths, job_folder):
    lengths()
    for line in ("[spokes]\nstock_step = 1", "[nipple]\nlength = 14", "[label]\nhub = 'mine'"):
        change(job_folder, "[hub]", f"{line}\n[hub]")
        assert lengths() == []
    change(job_folder, "[hub]", "[sides.drive.caliper]\nflange_diameter = 47.1\n[hub]")
    assert lengths() == []
    (check,) = read_record(job_folder).measurement.checks
    assert check.stated == 47.1, "it is compared all the same"


@pytest.mark.parametrize(
    ("old", "new", "measured"),
    [
        ("length = 100.02", "length = 100.03", ["drive", "non_drive"]),
        ("bar_x = 119.5", "bar_x = 119.6", ["drive", "non_drive"]),
        ("over_locknut = 142", "over_locknut = 142.1", ["drive", "non_drive"]),
        ("value = 596", "value = 590", ["drive", "non_drive"]),
        ("crosses = 2", "crosses = 1", ["drive", "non_drive"]),
        ('photos = "drive/*"', 'photos = "drive/*"\nblock_thickness = 10', ["drive"]),
        ('photos = "drive/*"', 'photos = "drive/IMG_1.jpg"', ["drive"]),
        ('photos = "non_drive/*"', 'photos = "non_drive/*"\nflange_height = 80', ["non_drive"]),
    ],
)
def test_a_changed_statement_that_touches_seeing_is_measured_again(lengths, job_folder, old, new, measured):
    lengths()
    change(job_folder, old, new)
    assert lengths() == measured
    assert lengths() == []


def test_a_changed_photo_is_measured_again(lengths, job_folder):
    lengths()
    photo = job_folder / "drive" / "IMG_1.jpg"
    stat = photo.stat()
    data = bytearray(photo.read_bytes())
    data[-3] ^= 1
    photo.write_bytes(data)
    os.utime(photo, ns=(stat.st_atime_ns, stat.st_mtime_ns))
    assert photo.stat().st_size == stat.st_size
    assert lengths() == ["drive"], "its contents count, not its date and size"
    Image.new("RGB", (400, 300)).save(job_folder / "non_drive" / "IMG_3.jpg")
    assert lengths() == ["non_drive"]
    (job_folder / "non_drive" / "IMG_3.jpg").unlink()
    assert lengths() == ["non_drive"]


def test_corrections_are_measured_again(lengths, job_folder):
    lengths()
    unusable = {"schema_version": 1, "drive": {"unusable": ["IMG_1.jpg"]}}
    (job_folder / "corrections.json").write_text(json.dumps(unusable))
    assert lengths() == ["drive"]
    assert lengths() == []


def test_another_version_of_the_program_measures_again(lengths, monkeypatch):
    lengths()
    monkeypatch.setattr("hubsight.job.recall.program", lambda: "another")
    assert lengths() == ["drive", "non_drive"]


def test_photos_that_cannot_be_read_are_never_taken_for_unchanged(job_folder, fake_measurement):
    job = load_job(job_folder)
    (job_folder / "drive" / "IMG_1.jpg").unlink()
    before = measure_job(job, measure=fake_measurement)
    assert before.sides[0].rests_on == ""
    recall = Recall(job, before)
    assert recall.side(job.sides[0]) is None
    assert recall.side(job.sides[1]) is not None


def seen(name, centre, u):
    """A side whose own photos show both ends of the hub."""
    figures = make_side().figures
    both = {"over_locknut": make_figure(142.2, 0.2), "centre_to_flange": make_figure(centre, u)}
    return make_side(name, figures={**figures, **both})


def test_a_recalled_job_is_the_same_to_the_last_digit(job_folder, fake_measurement):
    """Also where one side is measured anew: its centre to flange is chosen from what all sets show."""
    fake_measurement.answers = {"drive": seen("drive", 19.2, 0.2), "non_drive": seen("non_drive", 33.1, 0.1)}
    job = load_job(job_folder)
    first = measure_job(job, measure=fake_measurement)
    before = JobResult.model_validate_json(first.model_dump_json())
    change(job_folder, 'photos = "drive/*"', 'photos = "drive/*"\nblock_thickness = 10')
    job = load_job(job_folder)
    fake_measurement.asked.clear()
    mixed = measure_job(job, measure=fake_measurement, before=before)
    assert [side.name for side, *_ in fake_measurement.asked] == ["drive"]
    fresh = measure_job(job, measure=fake_measurement)
    assert timeless(mixed) == timeless(fresh)


def timeless(result):
    raw = json.loads(result.model_dump_json())
    return {**raw, "sides": [{**side, "seconds": 0.0} for side in raw["sides"]]}


def test_a_ruler_and_a_lying_hub_are_recalled_too(job_folder, fake_measurement):
    along = ScaleAlong(0.9, 0.1, 0.998, 0.0003)
    asked = []

    def flat(job, _profile):
        asked.append("flat")
        bars = (replace(bar, u=2 * bar.u) for bar in (job.target.bar_x, job.target.bar_y))
        report = FlatReport(scale=0.998, warnings=("bars",), along=along, bar_factor=2.0)
        return replace(job, target=StatedTarget(job.target.paper, *bars, along)), report, ("bars",)

    def lying(job, _profile):
        asked.append("lying")
        return LyingReport(photos=("x",), refusal=refused)

    job = load_job(job_folder)
    refused = Refusal(reason="no hub lies there", remedy="Lay it down")
    photos = job.sides[0].stated.photos
    ruler = Ruler("caliper", Reading(100.0, 0.02))
    job = replace(job, flat=JobFlat(photos, ruler), lying=JobLying(photos, "left"))
    others = MeasureOthers(flat, lying)
    first = measure_job(job, measure=fake_measurement, others=others)
    target = fake_measurement.asked[0][1]
    before = JobResult.model_validate_json(first.model_dump_json())
    asked.clear()
    fake_measurement.asked.clear()
    again = measure_job(job, measure=fake_measurement, others=others, before=before)
    assert not asked
    assert not fake_measurement.asked
    assert timeless(again) == timeless(first)
    longer = replace(job, flat=JobFlat(photos, replace(ruler, length=Reading(100.1, 0.02))))
    measure_job(longer, measure=fake_measurement, others=others, before=before)
    assert asked == ["flat"], "the scale came out the same, so what lies on the sheet did too"
    asked.clear()
    turned = replace(job, lying=JobLying(photos, "right"), target=replace(job.target, paper="letter"))
    measure_job(turned, measure=fake_measurement, others=others, before=before)
    assert asked == ["flat", "lying"]
    assert target.along == along
