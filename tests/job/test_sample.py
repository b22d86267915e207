"""The sample job that comes with the project."""

from pathlib import Path

import pytest

from hubsight.job import load_job
from hubsight.job.sample import find_sample_job, load_truth

LARGEST_MB = 15.0


@pytest.fixture
def sample():
    folder = find_sample_job()
    assert folder == Path(__file__).parents[2] / "sample_images"
    return folder


def test_the_sample_is_a_complete_job(sample):
    job = load_job(sample)
    assert [side.stated.name for side in job.sides] == ["drive", "non_drive"]
    assert all(len(side.stated.photos) == 4 for side in job.sides)
    assert job.sides[0].wheel.erd is not None


def test_the_sample_says_that_it_is_rendered(sample):
    truth = load_truth(sample)
    assert truth.rendered
    assert set(truth.sides) == {side.stated.name for side in load_job(sample).sides}
    assert "ray traced" in (sample / "README.md").read_text()


def test_the_true_offset_is_gauge_less_reach(sample):
    # the gauge's true length differs from the stated one by a reading error of 0.03 mm or so
    truth = load_truth(sample)
    for side in load_job(sample).sides:
        figures = truth.sides[side.stated.name].figures
        by_reach = side.stated.gauges[0].length.value - figures["reach"]
        assert by_reach == pytest.approx(figures["spoke_offset"], abs=0.1)


def test_the_sample_is_small_enough_to_clone(sample):
    size = sum(file.stat().st_size for file in sample.rglob("*") if file.is_file())
    assert size / 1e6 <= LARGEST_MB
