"""Accuracy of the tool over a corpus of rendered photographs with exact truth; run by hand.

    python tests/accuracy/run.py CORPUS [--modes MODES] [--hubs a,b] [--json FILE]
                                 [--keep-jobs DIR] [--workers N] [--list N]

Builds a job folder per hub, side and mode from what a user would know, measures it by the command line, and
compares with the truth. Modes: ``all`` (all photos of a side, EXIF only, no height), ``single`` (the
near-vertical photo, camera calibrated from its camera set, the stated heights), ``single-exif`` (the
near-vertical photo, EXIF only, the stated heights); and of the whole hub, one row each: ``standing`` (all its
standing sets), ``side`` (lying on its flanges), ``side-single`` (the near-vertical lying photo, calibrated
camera). Truth comes from the model that was rendered.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from bench.corpus import CameraSet, Hub, Side, load_corpus
from bench.jobs import MODES, build_job, photos_of
from bench.report import report
from bench.tool import Row, calibrate, can_calibrate, measure
from bench.whole import WHOLE_MODES, WholeHub, build_whole_job, measure_whole, shows, whole_hub

CALIBRATED = ("single", "side-single")
"""Modes with a calibrated camera."""


@dataclass(frozen=True)
class Task:
    """One job to build and measure."""

    side: Side | WholeHub
    mode: str
    profile: Path | None


def _arguments(argv: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("corpus", type=Path)
    parser.add_argument(
        "--modes", default=",".join(MODES), help="comma-separated, of: " + ", ".join((*MODES, *WHOLE_MODES))
    )
    parser.add_argument("--hubs", help="comma-separated names; all if not given")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write one row per hub, side and mode")
    parser.add_argument("--keep-jobs", type=Path, metavar="DIR", help="leave the job folders there")
    parser.add_argument("--workers", type=int, default=1, help="jobs measured at a time; times suffer")
    parser.add_argument("--list", type=int, default=30, metavar="N", help="how many single errors to list")
    arguments = parser.parse_args(argv)
    unknown = set(arguments.modes.split(",")) - {*MODES, *WHOLE_MODES}
    if unknown:
        parser.error(f"unknown modes: {', '.join(sorted(unknown))}")
    if not (arguments.corpus / "index.json").is_file():
        parser.error(f"{arguments.corpus} holds no index.json")
    return arguments


def _profiles(hubs: list[Hub], folder: Path) -> dict[str, Path | str]:
    """Calibrate every camera that has a set; a string says why there is no profile."""
    cameras: dict[str, CameraSet] = {
        hub.camera_set.camera: hub.camera_set for hub in hubs if hub.camera_set is not None
    }
    if cameras and not can_calibrate():
        return dict.fromkeys(cameras, "the tool has no command calibrate")
    return {name: calibrate(camera, folder) for name, camera in cameras.items()}


def _tasks(corpus: Path, hubs: list[Hub], modes: list[str], folder: Path) -> list[Task]:
    profiles = _profiles(hubs, folder) if set(CALIBRATED) & set(modes) else {}
    tasks = []
    for hub in hubs:
        profile = profiles.get(hub.camera_set.camera) if hub.camera_set else "no camera set"
        for mode in modes:
            if mode in CALIBRATED and not isinstance(profile, Path):
                print(f"skipped: {hub.name}, mode {mode}: {profile}", file=sys.stderr)
                continue
            known = profile if mode in CALIBRATED and isinstance(profile, Path) else None
            if mode in WHOLE_MODES:
                whole = whole_hub(corpus, hub, mode)
                tasks += [Task(whole, mode, known)] if shows(whole, mode) else []
                continue
            tasks += [Task(side, mode, known) for side in hub.sides if photos_of(side, mode)]
    return tasks


def _measure(task: Task, keep: Path | None) -> Row:
    with tempfile.TemporaryDirectory(prefix="hubsight-accuracy-") as folder:
        kept = keep or Path(folder)
        if isinstance(task.side, WholeHub):
            job = build_whole_job(task.side, task.mode, kept, profile=task.profile)
            row = measure_whole(task.side, task.mode, job)
        else:
            job = build_job(task.side, task.mode, kept, profile=task.profile)
            row = measure(task.side, task.mode, job)
    outcome = f"failed: {row.failed}" if row.failed else "measured"
    print(f"{row.hub} {row.side} {row.mode}: {outcome}, {row.seconds:.1f} s", file=sys.stderr, flush=True)
    return row


def main(argv: Sequence[str] | None = None) -> int:
    """Run the benchmark and print its report."""
    arguments = _arguments(argv)
    wanted = set(arguments.hubs.split(",")) if arguments.hubs else None
    hubs = load_corpus(arguments.corpus, wanted)
    with (
        tempfile.TemporaryDirectory(prefix="hubsight-cameras-") as folder,
        ThreadPoolExecutor(arguments.workers) as pool,
    ):
        tasks = _tasks(arguments.corpus, hubs, arguments.modes.split(","), Path(folder))
        rows = list(pool.map(lambda task: _measure(task, arguments.keep_jobs), tasks))
    sides = {(side.hub, side.side): side for hub in hubs for side in hub.sides}
    sides |= {(task.side.hub, task.side.side): task.side for task in tasks}
    if arguments.json:
        arguments.json.write_text(json.dumps([row.as_dict() for row in rows], indent=1) + "\n")
    print(report(rows, sides, most=arguments.list))
    return 0


if __name__ == "__main__":
    sys.exit(main())
