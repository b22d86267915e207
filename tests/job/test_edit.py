"""Changing job files field by field: comments stay, slips are refused, the file is never half changed."""

from __future__ import annotations

import errno
import io
from pathlib import Path

import pytest

from hubsight.job import JobFileError, load_job
from hubsight.job.file.corrections import (
    CORRECTIONS_FILE_NAME,
    JobCorrections,
    read_corrections,
    write_corrections,
)
from hubsight.job.file.edit import new_job, set_fields, typed_readings, with_side, without_side
from hubsight.model.corrections import Corrections, PlacedEnd


@pytest.fixture
def folder(tmp_path):
    new_job(tmp_path / "hub", [100.08])
    return tmp_path / "hub"


def test_a_new_job_has_its_gauge_and_explanations(folder):
    text = (folder / "job.toml").read_text()
    assert "length = [100.08]" in text
    assert "check bar along the long side" in text
    assert "[sides.drive]" not in text


def test_a_new_job_never_overwrites(folder):
    before = (folder / "job.toml").read_text()
    with pytest.raises(JobFileError, match="already"):
        new_job(folder, [99.0])
    assert (folder / "job.toml").read_text() == before


def test_a_gauge_that_cannot_be_makes_no_folder(tmp_path):
    with pytest.raises(JobFileError, match="gauge"):
        new_job(tmp_path / "hub", [1000.8])
    assert not (tmp_path / "hub").exists()


@pytest.mark.parametrize("what", ["file", "side"])
@pytest.mark.parametrize("there", [False, True])
def test_a_new_job_that_cannot_be_written_leaves_nothing(tmp_path, monkeypatch, what, there):
    """A full disk, be it at the first folder or at the file; what was there before stays."""
    folder = tmp_path / "hub"
    if there:
        folder.mkdir()
        (folder / "notes.txt").write_text("mine")

    def full(*arguments, **more):
        raise OSError(errno.ENOSPC, "No space left on device")

    class Full(io.StringIO):
        write = full

    if what == "file":
        opened = Path.open

        def open_and_fail(path, *arguments, **more):
            opened(path, *arguments, **more).close()
            return Full()

        monkeypatch.setattr(Path, "open", open_and_fail)
    else:
        made = Path.mkdir
        monkeypatch.setattr(Path, "mkdir", lambda p, **more: full() if p.name == "drive" else made(p, **more))
    with pytest.raises(JobFileError, match="No space left"):
        new_job(folder, [100.08])
    monkeypatch.undo()
    assert [p.name for p in tmp_path.rglob("*")] == (["hub", "notes.txt"] if there else [])


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("119.82 mm", [119.82]),
        ("119,82", [119.82]),
        ("119,82mm 119.84 MM", [119.82, 119.84]),
        ("119,82 mm; 119,84 mm", [119.82, 119.84]),
        ("119.82 mm, 119.84", [119.82, 119.84]),
        ("7,8", [7.8]),
        ("7, 8", [7.0, 8.0]),
        ("", []),
    ],
)
def test_what_is_typed_is_read_with_its_unit_and_its_comma(text, values):
    assert typed_readings(text) == values


@pytest.mark.parametrize("text", ["mm", "119.82 m", "119.82 mmm", "119 cm", "1,2,3"])
def test_what_is_no_number_is_not_read(text):
    with pytest.raises(JobFileError, match="is not a number"):
        typed_readings(text)


def test_a_side_with_a_photo_makes_a_job_that_can_be_read(folder, job_folder):
    (folder / "drive" / "drive-01.jpg").write_bytes((job_folder / "drive" / "IMG_1.jpg").read_bytes())
    with_side(folder, "drive")
    with_side(folder, "drive")
    set_fields(folder, {"target.bar_x": [119.5], "sides.drive.caliper.boss_width": [8.4], "rim.erd": [596.0]})
    job = load_job(folder)
    assert [side.stated.name for side in job.sides] == ["drive"]
    assert job.target.bar_x.value == 119.5
    assert job.sides[0].stated.caliper["boss_width"].value == 8.4
    assert job.sides[0].wheel.erd.value == 596.0
    without_side(folder, "drive")
    with pytest.raises(JobFileError, match="no side"):
        load_job(folder)


def test_a_slip_is_refused_and_the_file_is_as_it_was(folder):
    before = (folder / "job.toml").read_text()
    with pytest.raises(JobFileError, match="check bar"):
        set_fields(folder, {"target.bar_x": [19.5]})
    with pytest.raises(JobFileError, match="not known"):
        set_fields(folder, {"target.colour": "red"})
    assert (folder / "job.toml").read_text() == before


def test_a_value_is_taken_back(folder):
    set_fields(folder, {"rim.erd": [596.0]})
    set_fields(folder, {"rim.erd": None})
    assert "erd = []" in (folder / "job.toml").read_text()


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("119.52", [119.52]),
        ("119,52", [119.52]),
        ("119.52, 119.48 119.5", [119.52, 119.48, 119.5]),
        ("119,52; 119,48", [119.52, 119.48]),
        ("  ", []),
        ("-1,5", [-1.5]),
    ],
)
def test_readings_as_people_type_them(typed, read):
    assert typed_readings(typed) == read


def test_words_are_no_readings():
    with pytest.raises(JobFileError, match='"about" is not a number'):
        typed_readings("about 119")


def test_corrections_come_back_and_reach_the_side(job_folder):
    mark = PlacedEnd(photo="IMG_1.jpg", pixel=(10.0, 20.0), u_px=1.0)
    write_corrections(job_folder, JobCorrections().having("drive", Corrections(ends=(mark,))))
    assert read_corrections(job_folder).drive.ends == (mark,)
    drive, other = load_job(job_folder).sides
    assert drive.stated.corrections.ends == (mark,)
    assert other.stated.corrections == Corrections()


@pytest.mark.parametrize(
    "content", ["{", '{"drive": {"ends": [{"photo": "a.jpg"}]}}', '{"schema_version": 9}']
)
def test_corrections_that_cannot_be_read_refuse_the_job(job_folder, content):
    (job_folder / CORRECTIONS_FILE_NAME).write_text(content)
    with pytest.raises(JobFileError, match=r"corrections\.json.*Restore"):
        load_job(job_folder)
