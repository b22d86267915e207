"""Running the tool as a user does: its command line in a process of its own, with time and memory taken."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from bench.corpus import CameraSet, Side
from bench.jobs import photos_of

SOURCE = Path(__file__).resolve().parents[3] / "src"
"""The benchmark measures the tree that it lies in, installed or not."""

LONGEST_RUN_S = 900.0
"""A run that takes longer is ended, and its side has failed."""

NEEDED = ("spoke_offset", "flange_diameter")
"""A side without these is not measured, whatever else was found."""


@dataclass(frozen=True)
class Run:
    """One run of the tool: exit code, output, wall seconds and peak resident memory in MB."""

    code: int
    output: str
    errors: str
    seconds: float
    peak_mb: float


@dataclass(frozen=True)
class FigureRow:
    """A figure as the tool gave it, mm."""

    value: float
    u: float
    low: float
    high: float
    confidence: str
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Row:
    """One hub, side and mode. ``photos`` is their number; ``failed`` the reason if it was not measured."""

    hub: str
    side: str
    mode: str
    photos: int
    failed: str | None
    boss_count: int | None = None
    crosses: int | None = None
    figures: dict[str, FigureRow] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()
    seconds: float = 0.0
    peak_mb: float = 0.0

    def as_dict(self) -> dict[str, Any]:
        """Return the row as it is written to JSON."""
        return asdict(self)


def run_tool(*arguments: str) -> Run:
    """Run ``python -m hubsight`` with ``arguments``."""
    path = os.pathsep.join(part for part in (str(SOURCE), os.environ.get("PYTHONPATH", "")) if part)
    with tempfile.TemporaryFile("w+") as out, tempfile.TemporaryFile("w+") as err:
        start = time.perf_counter()
        process = subprocess.Popen(
            [sys.executable, "-m", "hubsight", *arguments],
            stdout=out,
            stderr=err,
            env={**os.environ, "PYTHONPATH": path, "HUBSIGHT_KIT": os.devnull},  # not its user's kit
        )
        alarm = threading.Timer(LONGEST_RUN_S, process.kill)
        alarm.start()
        _, status, usage = os.wait4(process.pid, 0)
        alarm.cancel()
        seconds = time.perf_counter() - start
        process.returncode = os.waitstatus_to_exitcode(status)
        out.seek(0)
        err.seek(0)
        # Linux counts ru_maxrss in KB, macOS in bytes
        per_mb = 1024.0**2 if sys.platform == "darwin" else 1024.0
        return Run(process.returncode, out.read(), err.read(), seconds, usage.ru_maxrss / per_mb)


def can_calibrate() -> bool:
    """Tell whether the tool has the command ``calibrate``."""
    return run_tool("calibrate", "--help").code == 0


def calibrate(camera: CameraSet, folder: Path) -> Path | str:
    """Calibrate a camera from its set; return the profile, or why there is none."""
    profile = folder / f"camera-{camera.camera}.json"
    bars = ("--bar-x", str(camera.bar_x), "--bar-y", str(camera.bar_y))
    run = run_tool("calibrate", *(str(photo) for photo in camera.photos), *bars, "--out", str(profile))
    if profile.is_file():
        return profile
    return f"camera {camera.camera} could not be calibrated: {last_line(run)}"


def measure(side: Side, mode: str, job: Path) -> Row:
    """Measure a job folder, and return its row."""
    run = run_tool("measure", str(job), "--json")
    photos = len(photos_of(side, mode))
    try:
        document = json.loads(run.output)
    except json.JSONDecodeError:
        document = None
    if document is None:
        reason = f"exit code {run.code}: {last_line(run)}"
        return Row(side.hub, side.side, mode, photos, reason, seconds=run.seconds, peak_mb=run.peak_mb)
    return read_document(document, side, mode, run)


def read_document(document: dict[str, Any], side: Side, mode: str, run: Run) -> Row:
    """Turn the tool's JSON document of one side into a row."""
    measured = document["sides"][0]
    found = measured["measurement"] or {}
    figures = dict(found.get("figures", {}))
    lengths = measured["spoke_lengths"]
    if lengths is not None:
        figures["spoke_length"] = lengths["length"]
    return Row(
        hub=side.hub,
        side=side.side,
        mode=mode,
        photos=len(photos_of(side, mode)),
        failed=_failure(measured, figures),
        boss_count=found.get("boss_count"),
        crosses=found.get("crosses"),
        figures={name: _figure(figure) for name, figure in figures.items()},
        warnings=(*found.get("warnings", ()), *(lengths["warnings"] if lengths else ())),
        seconds=run.seconds,
        peak_mb=run.peak_mb,
    )


def _figure(figure: dict[str, Any]) -> FigureRow:
    return FigureRow(
        figure["value"],
        figure["u"],
        figure["low"],
        figure["high"],
        figure["confidence"],
        tuple(figure["warnings"]),
    )


def _failure(measured: dict[str, Any], figures: dict[str, Any]) -> str | None:
    if measured["refusal"] is not None:
        return sentence(measured["refusal"])
    missing = [name for name in NEEDED if name not in figures]
    if not missing:
        return None
    refusals = [sentence(refusal) for refusal in measured["measurement"]["refusals"]]
    return f"no {' and no '.join(missing)}: {' '.join(refusals) or 'no reason given'}"


def sentence(refusal: dict[str, Any]) -> str:
    """Return a refusal of the JSON document as one sentence."""
    photo = f"{refusal['photo']}: " if refusal["photo"] else ""
    return f"{photo}{refusal['reason']}. {refusal['remedy']}"


def last_line(run: Run) -> str:
    """Return what a run said last."""
    lines = [line for line in (run.errors or run.output).splitlines() if line.strip()]
    return lines[-1].strip() if lines else "no output"
