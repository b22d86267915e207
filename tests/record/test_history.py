"""What changed from one measurement to the next, and whether a record holds."""

import shutil

import pytest
from PIL import Image
from typer.testing import CliRunner

from hubsight import load_job, measure_and_record, read_history, record_changes, verify_job, write_record
from hubsight.cli import app
from hubsight.record.model import Library
from made_up import make_figure, make_side


@pytest.fixture
def changes(job_folder):
    return lambda: record_changes(read_history(job_folder))


def edit(job_folder, old, new):
    file = job_folder / "job.toml"
    assert old in file.read_text()
    file.write_text(file.read_text().replace(old, new))


def test_the_first_measurement_has_nothing_before_it(measured, changes):
    measured()
    (first,) = changes()
    assert first.before is None
    assert first.reasons == ()


def test_a_photo_added_is_told(measured, changes, job_folder):
    measured()
    Image.new("RGB", (400, 300)).save(job_folder / "drive" / "IMG_3.jpg")
    measured()
    assert changes()[1].reasons == ("photo added: drive/IMG_3.jpg",)


def test_a_photo_taken_out_or_exchanged_is_told(measured, changes, job_folder):
    measured()
    Image.new("RGB", (400, 300)).save(job_folder / "drive" / "IMG_1.jpg")
    (job_folder / "non_drive" / "IMG_2.jpg").unlink()
    measured()
    assert changes()[1].reasons == (
        "photo drive/IMG_1.jpg is another file under the same name",
        "photo taken out: non_drive/IMG_2.jpg",
    )


def test_a_corrected_reading_and_what_it_did_are_told(measured, changes, job_folder, fake_measurement):
    measured()
    edit(job_folder, "100.02", "100.12")
    edit(job_folder, "bar_y = 119.4\n", "")
    edit(job_folder, "crosses = 2", "crosses = 2\nspokes = 24")
    figures = {"flange_diameter": make_figure(47.0), "spoke_offset": make_figure(2.3, 0.05)}
    fake_measurement.answers["drive"] = make_side(figures=figures, warnings=("something new",))
    measured()
    change = changes()[1]
    assert change.reasons == (
        "target.bar_y no longer stated (was 119.40 ± 0.10)",
        "gauges.a.length corrected: 100.02 ± 0.03 to 100.12 ± 0.03",
        "wheel.spokes stated: 24",
    )
    said = [figure.sentence() for figure in change.figures]
    assert "drive side, spoke offset: 2.20 to 2.30 mm (+0.10)" in said
    assert "drive side, protrusion: no longer measured (93.80 mm)" in said
    assert not any("flange diameter" in line for line in said)
    assert "drive side: something new" in change.warnings


def test_newer_software_is_told(measured, changes, job_folder):
    record = measured()
    software = record.measurement.software.model_copy(update={"hubsight": "9.9"})
    newer = record.model_copy(
        update={
            "measurement": record.measurement.model_copy(update={"software": software}),
            "libraries": (*record.libraries, Library(name="another", version="1.0")),
        }
    )
    write_record(job_folder, newer)
    old = record.measurement.software.hubsight
    assert changes()[1].reasons == (f"hubsight {old} to 9.9", "another none to 1.0")


def test_a_copied_folder_verifies_elsewhere(measured, job_folder, tmp_path, fake_job):
    measured()
    elsewhere = tmp_path / "another machine" / "Jobs"
    shutil.copytree(job_folder, elsewhere)
    shutil.rmtree(job_folder)
    found = verify_job(elsewhere, measure=fake_job)
    assert found.good
    assert found.largest_difference == 0
    assert [file.state for file in found.files] == ["unchanged"] * 5
    assert found.software == ()


def test_files_that_are_not_as_they_were_are_named(measured, job_folder, fake_job):
    measured()
    photo = job_folder / "drive" / "IMG_1.jpg"
    photo.write_bytes(photo.read_bytes() + b"more")
    Image.new("RGB", (400, 300)).save(job_folder / "drive" / "IMG_2.jpg")
    Image.new("RGB", (400, 300)).save(job_folder / "drive" / "IMG_9.jpg")
    (job_folder / "non_drive" / "IMG_1.jpg").unlink()
    found = verify_job(job_folder, measure=fake_job)
    assert {file.path: file.state for file in found.files} == {
        "job.toml": "unchanged",
        "drive/IMG_1.jpg": "other tags",
        "drive/IMG_2.jpg": "changed",
        "drive/IMG_9.jpg": "added",
        "non_drive/IMG_1.jpg": "missing",
        "non_drive/IMG_2.jpg": "unchanged",
    }
    assert not found.files_good
    assert not found.good
    assert found.figures_repeat


@pytest.mark.parametrize("shift", [0.004, 0.006])
def test_a_measurement_that_comes_out_differently_is_told(
    measured, job_folder, fake_measurement, fake_job, shift
):
    (job_folder / "job.toml").write_text((job_folder / "job.toml").read_text().partition("[hub]")[0])
    measured()
    figures = dict(make_side().figures)
    figures["spoke_offset"] = figures["spoke_offset"].model_copy(update={"value": 2.2 + shift})
    fake_measurement.answers["drive"] = make_side(figures=figures)
    found = verify_job(job_folder, measure=fake_job)
    repeats = shift < 0.005  # the same to the two decimals that are shown
    assert found.figures_repeat is repeats
    assert found.good is repeats
    assert found.largest_difference == pytest.approx(shift)


def test_a_figure_no_longer_measured_does_not_repeat(
    measured, job_folder, fake_measurement, fake_job, refusal
):
    measured()
    fake_measurement.answers["drive"] = refusal
    assert not verify_job(job_folder, measure=fake_job).figures_repeat


def test_verifying_writes_nothing(measured, job_folder, fake_job):
    measured()
    before = {file: file.stat().st_mtime_ns for file in job_folder.rglob("*")}
    verify_job(job_folder, measure=fake_job)
    assert {file: file.stat().st_mtime_ns for file in job_folder.rglob("*")} == before


def test_a_job_file_that_is_gone_cannot_be_repeated_and_says_why(measured, job_folder, fake_job):
    measured()
    (job_folder / "job.toml").unlink()
    found = verify_job(job_folder, measure=fake_job)
    assert not found.good
    assert "there is no such file" in found.not_repeated


def test_a_record_that_names_files_outside_is_not_followed(measured, job_folder, tmp_path):
    record = measured()
    secret = tmp_path / "secret.jpg"
    Image.new("RGB", (400, 300)).save(secret)
    hostile = record.inputs[1].model_copy(update={"path": "../secret.jpg"})
    write_record(job_folder, record.model_copy(update={"inputs": (record.inputs[0], hostile)}))
    found = verify_job(job_folder, repeat=False)
    assert [file.state for file in found.files][:2] == ["unchanged", "outside"]
    assert not found.good


def test_two_job_files_have_histories_of_their_own(measured, job_folder, fake_job):
    measured()
    other = job_folder / "other.toml"
    other.write_bytes((job_folder / "job.toml").read_bytes())
    for _ in range(2):
        measure_and_record(load_job(other), measure=fake_job)
    assert len(read_history(job_folder)) == 1
    assert len(read_history(other)) == 2


def test_another_length_to_order_is_told(measured, changes, job_folder):
    measured()
    edit(job_folder, "596", "606")
    measured()
    (drive, non_drive) = changes()[1].orders
    assert drive.startswith("drive side: 12 of ")
    assert non_drive.startswith("non-drive side: 12 of ")


def test_the_commands_show_and_verify(measured, job_folder, fake_measurement, monkeypatch):
    measured()
    edit(job_folder, "100.02", "100.12")
    measured()
    run = CliRunner()
    shown = run.invoke(app, ["history", str(job_folder)])
    assert shown.exit_code == 0
    assert "gauges.a.length corrected: 100.02 ± 0.03 to 100.12 ± 0.03" in shown.output
    whole = run.invoke(app, ["verify", str(job_folder), "--no-repeat"])
    assert (whole.exit_code, "All 5 files" in whole.output) == (0, True)
    (job_folder / "drive" / "IMG_1.jpg").unlink()
    broken = run.invoke(app, ["verify", str(job_folder), "--no-repeat"])
    assert (broken.exit_code, "drive/IMG_1.jpg: MISSING" in broken.output) == (1, True)
    nothing = run.invoke(app, ["verify", str(job_folder / "drive")])
    assert nothing.exit_code == 2
