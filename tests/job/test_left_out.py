"""A side that is not photographed needs no change of the job file, and is never left out in silence."""

import pytest

from hubsight import load_job, measure_job
from hubsight.job import JobFileError
from hubsight.job.file.starter import STARTER_TEXT, write_starter


@pytest.fixture
def job(tmp_path):
    """What ``start --no-ask`` writes, with a gauge, and one photo of the drive side."""
    folder = tmp_path / "job"
    write_starter(folder, STARTER_TEXT.replace("length = []  ", "length = [100]  ", 1))
    (folder / "drive" / "IMG_1.jpg").write_bytes(b"")
    return folder


def names(job, **more):
    return [side.stated.name for side in load_job(job, **more).sides]


@pytest.mark.parametrize("need_photos", [True, False])
def test_an_empty_folder_beside_a_photographed_side_leaves_that_side_out(job, need_photos):
    (job / "non_drive" / ".DS_Store").write_bytes(b"")
    (job / "non_drive" / "Thumbs.db").write_bytes(b"")
    assert names(job, need_photos=need_photos) == ["drive"]
    (job / "drive" / "IMG_1.jpg").rename(job / "non_drive" / "IMG_1.jpg")
    for file in ("Thumbs.db", ".DS_Store"):
        (job / "non_drive" / file).unlink()
    assert names(job, need_photos=need_photos) == ["non_drive"]


def test_it_is_said_in_the_result(job, fake_measurement):
    result = measure_job(load_job(job), measure=fake_measurement)
    (said,) = [one for one in result.verdict.reasons if one.about == "sides.non_drive.photos"]
    assert said.sentence == "the non-drive side is left out: it has neither photos nor readings"
    assert said.severity == "note"


def test_nothing_of_it_is_said_where_both_sides_are_known(job_folder, fake_measurement):
    result = measure_job(load_job(job_folder), measure=fake_measurement)
    assert result.left_out is None
    assert not any("left out" in one.sentence for one in result.verdict.reasons)


def readings(job):
    text = (job / "job.toml").read_text()
    head, mark, tail = text.partition("[sides.non_drive.caliper]")
    (job / "job.toml").write_text(head + mark + tail.replace("protrusion = []", "protrusion = [94]", 1))


def other_file(job):
    (job / "non_drive" / "IMG_2.pdf").write_bytes(b"")


def misspelt(job):
    text = (job / "job.toml").read_text()
    (job / "job.toml").write_text(text.replace('"non_drive/*"', '"non_drve/*"'))


@pytest.mark.parametrize("spoil", [readings, other_file, misspelt])
def test_a_side_that_something_is_known_of_or_that_may_be_misspelt_stays(job, spoil):
    spoil(job)
    with pytest.raises(
        JobFileError, match=r"sides\.non_drive\.photos: (no photo matches|there are no photos)"
    ):
        load_job(job)
    assert names(job, need_photos=False) == ["drive", "non_drive"]


def test_a_job_without_any_photo_says_where_they_belong(job):
    (job / "drive" / "IMG_1.jpg").unlink()
    with pytest.raises(JobFileError) as raised:
        load_job(job)
    assert [one.what for one in raised.value.problems] == [
        'there are no photos in "drive" yet',
        'there are no photos in "non_drive" yet',
    ]
    assert f"hubsight add {job}" in raised.value.problems[0].remedy
