"""No kill and no second process spoils a record."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from filelock import FileLock

from hubsight import read_history, write_record
from hubsight.job import JobFileError
from hubsight.record.store import LOCK_FILE

KILLS = Path(__file__).with_name("kills.py")
FEW = 60
"""Kills in this test; the full number is `python tests/record/kills.py FOLDER 300`."""

posix = pytest.mark.skipif(os.name != "posix", reason="processes are forked and killed")


def found_by(job_folder, *arguments):
    """What the script of kills found, in a job without a wheel: planning one takes longest."""
    file = job_folder / "job.toml"
    file.write_text(file.read_text().partition("[hub]")[0])
    run = subprocess.run(
        [sys.executable, str(KILLS), str(job_folder), *map(str, arguments)], capture_output=True, check=True
    )
    return json.loads(run.stdout)


@posix
def test_a_kill_at_any_moment_leaves_a_whole_record_and_loses_none(job_folder):
    found = found_by(job_folder, FEW)
    assert found["killed"] == FEW
    assert found["old"] > 0
    assert (found["lost"], found["unreadable"], found["left_over"]) == (0, 0, 0)


@posix
def test_an_end_at_every_step_of_writing_leaves_a_whole_record_and_loses_none(job_folder):
    found = found_by(job_folder, "steps")
    assert found["killed"] >= 10  # two files, with four steps and more each
    assert found["amid"] >= 6
    assert found["new"] == 1  # after the new record's name is there, before its folder is forced to the disk
    assert (found["lost"], found["unreadable"], found["left_over"]) == (0, 0, 0)


def test_two_processes_on_one_job_keep_every_record(job_folder):
    script = f"""
import sys, pathlib
sys.path.insert(0, {str(KILLS.parent)!r})
import kills
for _ in range(8):
    kills.once(pathlib.Path({str(job_folder)!r}))
"""
    both = [subprocess.Popen([sys.executable, "-c", script]) for _ in range(2)]
    assert [process.wait() for process in both] == [0, 0]
    records = read_history(job_folder)
    assert len(records) == 16
    assert len({record.begun for record in records}) == 16


def test_waiting_for_another_process_ends_with_a_sentence(measured, job_folder, monkeypatch):
    record = measured()
    monkeypatch.setattr("hubsight.record.store.LOCK_WAIT_S", 0.05)
    held = FileLock(job_folder / LOCK_FILE)
    with held, pytest.raises(JobFileError, match="another hubsight is writing"):
        write_record(job_folder, record)
