"""Kill measuring-and-recording at random moments, and look at what is left in the job folder.

Run by itself: ``python tests/record/kills.py FOLDER KILLS`` for kills at random moments, or with ``steps`` in
place of the number for an end at every step that touches the disk. FOLDER holds a job; it prints one line of
JSON with what was found. The measuring is a fake that takes a few milliseconds; reading, recording and the
file system are real.
"""

import itertools
import json
import os
import random
import signal
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from hubsight import load_job, measure_and_record, measure_job, read_history, read_record
from hubsight.job import JobFileError
from hubsight.record import Record
from made_up import make_side

STEPS = ((tempfile, "mkstemp"), (os, "fsync"), (Path, "chmod"), (Path, "replace"), (Path, "mkdir"))
"""Functions that touch the disk while a record is written."""

MEASURING_S = 0.004
SEED = 7


def fake_measurement(side, target, wheel, *, camera_profile=None):
    time.sleep(MEASURING_S)
    return make_side(side.name, side.photos)


def once(folder: Path) -> None:
    measure_and_record(load_job(folder), measure=lambda job: measure_job(job, measure=fake_measurement))


def usual_seconds(folder: Path) -> float:
    begin = time.perf_counter()
    for _ in range(5):
        once(folder)
    return (time.perf_counter() - begin) / 5


def killed_after(folder: Path, delay: float) -> bool:
    """Measure and record in a process of its own, kill it after a delay; tell whether it had not finished."""
    child = os.fork()
    if child == 0:
        once(folder)
        os._exit(0)
    time.sleep(delay)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    return os.WIFSIGNALED(status)


def ended_at(folder: Path, owner: object, name: str, number: int) -> bool:
    """Measure and record in a process that ends at one call of a function; tell whether it got there."""
    child = os.fork()
    if child == 0:
        real, calls = getattr(owner, name), []

        def ends(*arguments, **more):
            calls.append(name)
            if len(calls) == number:
                os._exit(9)
            return real(*arguments, **more)

        setattr(owner, name, ends)
        once(folder)
        os._exit(0)
    _, status = os.waitpid(child, 0)
    return os.WEXITSTATUS(status) == 9


class Watch:
    """What is in the job folder after each kill.

    ``amid`` counts the kills in the middle of writing: they left an unfinished file.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.records = {record.begun for record in read_history(folder)}
        self.found = {"killed": 0, "amid": 0, "new": 0, "old": 0, "lost": 0, "unreadable": 0, "left_over": 0}

    def unfinished(self) -> int:
        return len([*self.folder.glob(".record.json.*"), *self.folder.glob("records/.*")])

    def look(self, was: Record) -> None:
        self.found["amid"] += self.unfinished() > 0
        try:
            self.found["new" if read_record(self.folder) != was else "old"] += 1
            now = {record.begun for record in read_history(self.folder)}
        except JobFileError:
            self.found["unreadable"] += 1
            return
        self.found["lost"] += not self.records <= now
        self.records = now

    def finish(self) -> None:
        """The next measurement clears what the killed ones left."""
        once(self.folder)
        self.found["left_over"] = self.unfinished()
        self.found["unreadable"] += len(list(self.folder.glob("records/damaged-*")))
        sys.stdout.write(json.dumps({**self.found, "records": len(self.records)}) + "\n")


def random_kills(folder: Path, kills: int) -> None:
    draw, usual, watch = random.Random(SEED), usual_seconds(folder), Watch(folder)
    while watch.found["killed"] < kills:
        was = read_record(folder)
        watch.found["killed"] += killed_after(folder, draw.uniform(0.0, 1.1 * usual))
        watch.look(was)
    watch.finish()


def every_step(folder: Path) -> None:
    once(folder)
    watch = Watch(folder)
    for owner, name in STEPS:
        for number in itertools.count(1):
            once(folder)  # so that there is one to be put among the earlier ones
            was = read_record(folder)
            if not ended_at(folder, owner, name, number):
                break
            watch.found["killed"] += 1
            watch.look(was)
    watch.finish()


if __name__ == "__main__":
    if sys.argv[2] == "steps":
        every_step(Path(sys.argv[1]))
    else:
        random_kills(Path(sys.argv[1]), int(sys.argv[2]))
