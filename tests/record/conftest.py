"""What the tests of records share."""

import pytest

from hubsight import load_job, measure_and_record, measure_job


@pytest.fixture
def fake_job(fake_measurement):
    """Measuring of a job that takes no time."""
    return lambda job: measure_job(job, measure=fake_measurement)


@pytest.fixture
def measured(job_folder, fake_job):
    """Measure and record the job with a fake measurement."""
    return lambda: measure_and_record(load_job(job_folder), measure=fake_job)
