"""Time the measuring of a job by stage.

    python tests/accuracy/measure_speed.py [JOB] [--times N] [--profile FUNCTIONS]

Prints for each stage the seconds by the clock, of the processor and of the kernel, and the page faults, in
thousands, by which the kernel gives out memory; the quickest of N runs; and the largest memory. With
``--profile`` also the functions that take longest. Without a job it measures the sample.
"""

from __future__ import annotations

import argparse
import cProfile
import logging
import pstats
import resource
import time
from dataclasses import dataclass, field
from pathlib import Path

from hubsight import find_sample_job, load_job, measure_job
from hubsight.model.progress import PROGRESS

_PHOTO, _LYING = "looking for the target", "looking at the lying hub"


def now() -> tuple[float, ...]:
    """Seconds by the clock, of the processor for the program, and for the kernel; page faults, thousands."""
    used = resource.getrusage(resource.RUSAGE_SELF)
    return time.perf_counter(), used.ru_utime, used.ru_stime, used.ru_minflt / 1000


@dataclass
class Stages(logging.Handler):
    """Adds up the time between the messages of those who work."""

    spent: dict[str, list[float]] = field(default_factory=dict)
    stage: str = "reading the job"
    since: tuple[float, ...] = field(default_factory=now)

    def __post_init__(self) -> None:
        super().__init__()

    __hash__ = logging.Handler.__hash__

    def emit(self, record: logging.LogRecord) -> None:
        """A stage ends where the next one begins."""
        self.ends(record.getMessage())

    def ends(self, message: str) -> None:
        """Book the time since the last message to the stage that it began."""
        at = now()
        before = self.spent.get(self.stage, [0.0] * len(at))
        self.spent[self.stage] = [b + a - s for b, a, s in zip(before, at, self.since, strict=True)]
        self.since = at
        beginning = message.endswith("beginning") or message == _LYING or _PHOTO in message
        self.stage = "decoding photos, looking for the target" if beginning else message


def run(job: Path) -> dict[str, list[float]]:
    """Measure a job once; return the seconds of each stage."""
    stages = Stages()
    PROGRESS.addHandler(stages)
    PROGRESS.setLevel(logging.INFO)
    try:
        measure_job(load_job(job))
        stages.ends("")
    finally:
        PROGRESS.removeHandler(stages)
    return stages.spent


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("job", type=Path, nargs="?", default=None)
    parser.add_argument("--times", type=int, default=1)
    parser.add_argument("--profile", type=int, default=0)
    arguments = parser.parse_args()
    job = arguments.job or find_sample_job()
    profile = cProfile.Profile() if arguments.profile else None
    if profile is not None:
        profile.enable()
    best = min(
        (run(job) for _ in range(arguments.times)), key=lambda spent: sum(s[0] for s in spent.values())
    )
    if profile is not None:
        profile.disable()
    print(f"{'stage':48s}{'clock s':>9s}{'user s':>9s}{'kernel s':>9s}{'faults':>9s}")
    for stage, spent in best.items():
        print(f"{stage:48s}" + "".join(f"{value:9.2f}" for value in spent))
    print(f"{'all':48s}" + "".join(f"{sum(column):9.2f}" for column in zip(*best.values(), strict=True)))
    print(f"largest memory: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")
    if profile is not None:
        pstats.Stats(profile).sort_stats("tottime").print_stats(arguments.profile)


if __name__ == "__main__":
    main()
