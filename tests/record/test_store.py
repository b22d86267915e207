"""Records in the job folder: written whole, kept, refused where they cannot be read."""

import errno
import json
import os
from pathlib import Path

import pytest

from hubsight import load_job, measure_and_record, measure_job, read_history, read_record, write_record
from hubsight.job import JobFileError
from hubsight.record.migrate import parse_record
from hubsight.record.model import SCHEMA_VERSION


def test_a_record_reads_back_as_it_was_written(measured, job_folder):
    record = measured()
    assert read_record(job_folder) == record
    assert [file.kind for file in record.inputs] == ["job file", *["photo"] * 4]
    assert record.inputs[1].path == "drive/IMG_1.jpg"


def test_a_record_holds_everything_that_was_stated(measured, job_folder):
    stated = {item.field: item for item in measured().statements}
    assert stated["target.bar_x"].value == 119.5
    assert stated["target.bar_x"].u > 0
    assert stated["gauges.a.length"].value == 100.02
    assert stated["wheel.crosses"].value == 2
    assert stated["sides.drive.photos"].value == "drive/*"


def test_measuring_again_keeps_the_earlier_record(measured, job_folder):
    first = measured()
    file = job_folder / "job.toml"
    file.write_text(file.read_text().replace("100.02", "100.12"))
    second = measured()
    assert read_record(job_folder) == second
    assert read_history(job_folder) == (first, second)


def test_the_same_record_twice_is_kept_once(measured, job_folder):
    record = measured()
    write_record(job_folder, record)
    assert read_history(job_folder) == (record,)


def test_another_job_file_in_the_folder_has_its_own_record(measured, job_folder, fake_measurement):
    first = measured()
    other = job_folder / "other bore.toml"
    other.write_bytes((job_folder / "job.toml").read_bytes())
    second = measure_and_record(
        load_job(other), measure=lambda job: measure_job(job, measure=fake_measurement)
    )
    assert read_record(job_folder) == first
    assert read_record(other) == second
    assert read_history(other) == (second,)


def test_a_folder_without_a_record_says_so(job_folder, tmp_path):
    with pytest.raises(JobFileError, match="no record yet"):
        read_record(job_folder)
    with pytest.raises(JobFileError, match="no such folder"):
        read_record(tmp_path / "nowhere")


def test_a_photo_changed_while_measuring_makes_no_record(job_folder, fake_measurement):
    def meddle(job):
        (job_folder / "drive" / "IMG_1.jpg").write_bytes(b"another")
        return measure_job(job, measure=fake_measurement)

    with pytest.raises(JobFileError, match="changed while the job was being measured"):
        measure_and_record(load_job(job_folder), measure=meddle)
    assert not (job_folder / "record.json").exists()


def test_a_newer_record_is_refused_and_left_alone(measured, job_folder):
    record = measured()
    file = job_folder / "record.json"
    raw = json.loads(file.read_bytes())
    file.write_text(json.dumps({**raw, "schema_version": SCHEMA_VERSION + 1, "more": 1}))
    before = file.read_bytes()
    with pytest.raises(JobFileError, match="newer version"):
        read_record(job_folder)
    with pytest.raises(JobFileError, match="newer version"):
        write_record(job_folder, record)
    assert file.read_bytes() == before


@pytest.mark.parametrize(
    "content",
    [b"", b"{", b"[]", b"\xff\xfe", b'{"schema_version": 1}', b'{"schema_version": true}', b"[" * 100_000],
)
def test_a_damaged_record_is_told_and_kept(measured, job_folder, content):
    record = measured()
    file = job_folder / "record.json"
    file.write_bytes(content)
    with pytest.raises(JobFileError, match=r"record\.json"):
        read_record(job_folder)
    write_record(job_folder, record)
    assert read_record(job_folder) == record
    kept = list((job_folder / "records").glob("damaged-*"))
    assert [item.read_bytes() for item in kept] == [content]


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EACCES])
@pytest.mark.parametrize("step", ["os.fsync", "pathlib.Path.replace", "tempfile.mkstemp"])
def test_a_record_that_cannot_be_written_leaves_the_old_one(measured, job_folder, monkeypatch, code, step):
    first = measured()

    def fail(*_, **__):
        raise OSError(code, os.strerror(code))

    with monkeypatch.context() as patched:
        patched.setattr(step, fail)
        with pytest.raises(JobFileError, match=os.strerror(code)):
            measured()
    assert read_record(job_folder) == first
    assert all(record == first for record in read_history(job_folder))


def test_records_do_not_follow_links_out_of_the_folder(measured, job_folder, tmp_path):
    record = measured()
    secret = tmp_path / "secret.json"
    secret.write_bytes((job_folder / "record.json").read_bytes())
    (job_folder / "record.json").unlink()
    (job_folder / "record.json").symlink_to(secret)
    with pytest.raises(JobFileError, match="leads out of the job folder"):
        read_record(job_folder)
    (job_folder / "record.json").unlink()
    measured()
    (job_folder / "records").symlink_to(tmp_path)
    with pytest.raises(JobFileError, match="this is a link"):
        write_record(job_folder, record)
    assert len(read_history(job_folder)) == 1


def test_every_version_of_a_record_can_be_read():
    folder = Path(__file__).parent / "data"
    versions = {int(file.stem.removeprefix("record-v")): file for file in folder.glob("record-v*.json")}
    assert sorted(versions) == list(range(1, SCHEMA_VERSION + 1))
    for version, file in versions.items():
        raw = json.loads(file.read_bytes())
        assert raw["schema_version"] == version
        record = parse_record(file.read_bytes(), file.name)
        assert record.schema_version == SCHEMA_VERSION
        assert record.job == "job"
        assert len(record.inputs) == 5
        assert record.measurement.sides[0].measurement.figures["spoke_offset"].value == 2.2


def test_lengths_and_order_of_an_older_record_are_kept():
    data = (Path(__file__).parent / "data" / "lengths-v1.json").read_bytes()
    old, result = json.loads(data), parse_record(data, "record.json").measurement
    for name, was in old["lengths"]["sides"].items():
        side = result.side(name)
        assert side.spoke_lengths.length.model_dump(mode="json") == was["length"]
        assert side.spoke_lengths.order.proposed == was["proposed"]
        assert len(side.spoke_lengths.sorts) == len(was["sorts"])
        used = side.spoke_lengths.origin.figure("centre_to_flange")
        assert side.measurement.figures["centre_to_flange"].value == used.value
    assert [line.model_dump(exclude_unset=True) for line in result.order] == old["lengths"]["order"]
    assert result.wheel.erd.value == old["lengths"]["erd"]["value"]
    assert [check.reading for check in result.checks] == ["flange_diameter", *["over_locknut"] * 0]
    assert result.verdict.word == "check"  # the fake's offset has a warning
    assert any("may not be seated" in reason.sentence for reason in result.verdict.reasons)


def test_lengths_that_only_the_measurement_of_an_older_record_has_are_kept():
    data = (Path(__file__).parent / "data" / "record-v1.json").read_bytes()
    was = {side["name"]: side["spoke_lengths"] for side in json.loads(data)["measurement"]["sides"]}
    for side in parse_record(data, "record.json").measurement.sides:
        assert side.spoke_lengths.length.value == was[side.name]["length"]["value"]
        assert side.spoke_lengths.origin.crosses == was[side.name]["crosses"]
        assert side.spoke_lengths.order is None


def test_older_records_are_brought_up_to_date_step_by_step(measured, job_folder, monkeypatch):
    record = measured()
    raw = json.loads((job_folder / "record.json").read_bytes())
    old = {("name" if key == "job" else key): value for key, value in raw.items()}

    def renamed(raw):
        raw = dict(raw)
        raw["title"] = raw.pop("name")
        return raw

    def back(raw):
        raw = dict(raw)
        raw["job"] = raw.pop("title")
        return {**raw, "schema_version": 2}

    monkeypatch.setattr("hubsight.record.migrate.SCHEMA_VERSION", 4)
    monkeypatch.setattr("hubsight.record.migrate.STEPS", {2: renamed, 3: back})
    assert parse_record(json.dumps(old).encode(), "record.json") == record
    with pytest.raises(JobFileError, match="not as it was written"):
        parse_record(json.dumps(raw).encode(), "record.json")
