"""Time the server's way from a mark to new figures: ``python tests/page/time_corrections.py [--drags 20]``.

Prints wall and processor time of corrections of one side in a job of both sides, without browser and page,
and the time that taking up kept sightings needs; with ``--profile N`` the N functions that take longest.
"""

from __future__ import annotations

import argparse
import cProfile
import pstats
import shutil
import statistics
import tempfile
import time
from pathlib import Path

from hubsight.job.file.corrections import JobCorrections, write_corrections
from hubsight.model.corrections import Corrections, PlacedEnd
from hubsight.page import measuring
from hubsight.page.measuring import Measurer, measure

SAMPLE = Path(__file__).parents[2] / "sample_images"


def say(words: str, seconds: list[float]) -> None:
    late = sorted(seconds)[max(0, round(0.95 * len(seconds)) - 1)]
    print(
        f"{words:52s} median {statistics.median(seconds):6.3f}  p95 {late:6.3f}  worst {max(seconds):6.3f} s"
    )


def corrections(job: Path, exact: measuring.Outcome, far: float, count: int) -> None:
    """Time marks on the gauge's end, moved by some pixels from where the photos have it."""
    photo = exact.measured.side("drive").measurement.photos[0]
    x, y = photo.gauge_end_outlines[0]
    wall, cpu = [], []
    for k in range(count):
        mark = PlacedEnd(photo=photo.file, pixel=(x - far + 0.1 * k, y), u_px=1.0)
        write_corrections(job, JobCorrections().having("drive", Corrections(ends=(mark,))))
        begun, own = time.perf_counter(), time.process_time()
        measure(job, False, exact)
        wall.append(time.perf_counter() - begun)
        cpu.append(time.process_time() - own)
    words = "asked about" if far > 5 else "agreeing"
    say(f"mark to figures, {words}: wall", wall)
    say(f"mark to figures, {words}: processor", cpu)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.partition(":")[0])
    parser.add_argument("--drags", type=int, default=20)
    parser.add_argument("--profile", type=int, default=0)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="hubsight-corrections-") as folder:
        job = Path(folder) / "job"
        shutil.copytree(SAMPLE, job)
        exact = measure(job, True)
        profile = cProfile.Profile()
        if asked.profile:
            profile.enable()
        for far in (1.0, 20.0):
            corrections(job, exact, far, asked.drags)
        if asked.profile:
            profile.disable()
            pstats.Stats(profile).sort_stats("cumtime").print_stats(asked.profile)
        measuring._measurer = Measurer()  # as after a restart
        begun = time.perf_counter()
        ready = measuring.ready(job, exact.measured)
        say(f"kept sightings taken up ({ready})", [time.perf_counter() - begun])


if __name__ == "__main__":
    main()
