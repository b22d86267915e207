"""The job: what the user states, and what was measured of it."""

from hubsight.job.file.load import Job, JobSide, find_job_file, load_job
from hubsight.job.file.problems import JobFileError, Problem
from hubsight.job.file.text import JOB_FILE_NAME

__all__ = ["JOB_FILE_NAME", "Job", "JobFileError", "JobSide", "Problem", "find_job_file", "load_job"]
