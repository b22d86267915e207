"""A copy of a job to give away."""

import pytest
from PIL import Image
from typer.testing import CliRunner

from hubsight import read_history, verify_job
from hubsight.cli import app
from hubsight.job import JobFileError
from hubsight.record.export import export_job


@pytest.fixture
def private_job(measured, job_folder):
    """A measured job, one of whose photos knows where it was taken."""
    tags = Image.Exif()
    tags[0x0112], tags[0x013B] = 6, "Owner Name"
    tags.get_ifd(0x8769)[0xA405] = 26
    tags.get_ifd(0x8825)[1] = "N"
    Image.new("RGB", (400, 300), (1, 2, 3)).save(job_folder / "drive" / "IMG_1.jpg", exif=tags)
    (job_folder / "private notes.txt").write_text("nobody's business")
    measured()
    measured()
    return job_folder


def test_the_copy_is_bare_and_verifies(private_job, tmp_path, fake_job):
    before = {file: file.read_bytes() for file in private_job.rglob("*") if file.is_file()}
    exported = export_job(private_job, tmp_path / "out")
    assert {file: file.read_bytes() for file in private_job.rglob("*") if file.is_file()} == before
    assert len(exported.photos) == 4
    assert not list((tmp_path / "out").rglob("*.txt"))
    for file in (tmp_path / "out").rglob("*"):
        assert file.is_dir() or b"Owner Name" not in file.read_bytes()
    found = verify_job(tmp_path / "out", measure=fake_job)
    assert found.good
    assert {file.state for file in found.files} <= {"unchanged", "other tags"}
    assert read_history(tmp_path / "out") == read_history(private_job)


def test_records_and_reports_hold_nothing_private(private_job):
    for file in (private_job / "record.json", *(private_job / "records").iterdir()):
        assert b"Owner Name" not in file.read_bytes()


def test_nothing_is_overwritten_and_nothing_half_written(private_job, tmp_path, monkeypatch):
    (tmp_path / "there").mkdir()
    with pytest.raises(JobFileError, match="there already"):
        export_job(private_job, tmp_path / "there")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("hubsight.record.export.write_atomically", full)
    before = sorted(tmp_path.iterdir())
    with pytest.raises(JobFileError, match="No space left"):
        export_job(private_job, tmp_path / "out")
    assert sorted(tmp_path.iterdir()) == before


def test_a_photo_that_cannot_be_freed_is_named_and_nothing_is_written(private_job, tmp_path):
    (private_job / "drive" / "IMG_2.jpg").write_bytes(b"no photo")
    with pytest.raises(JobFileError, match=r"drive/IMG_2\.jpg: private tags cannot be taken out"):
        export_job(private_job, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_the_command_says_what_it_did(private_job, tmp_path):
    result = CliRunner().invoke(app, ["export", str(private_job), str(tmp_path / "out")])
    assert result.exit_code == 0
    assert "4 photos without private tags" in result.output
    again = CliRunner().invoke(app, ["export", str(private_job), str(tmp_path / "out")])
    assert again.exit_code == 2
