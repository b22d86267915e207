"""Whole hubs in a corpus: all standing sets in one job, or the hub lying on its flanges."""

from __future__ import annotations

import json
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bench.corpus import SIDES, Hub, Side
from bench.jobs import first_hole_lines, gauge_tables, head_lines, holes_lines, spokes_lines
from bench.tool import FigureRow, Row, last_line, run_tool, sentence

WHOLE_MODES = ("standing", "side", "side-single")
"""All standing sets, EXIF only; all lying photos, EXIF only; the near-vertical lying photo, with a
calibrated camera."""
ROW_NAMES = {"standing": "standing", "side": "lying", "side-single": "lying"}
"""In place of a side's name, by mode."""


@dataclass(frozen=True)
class WholeHub:
    """A hub with its standing sets and its lying photos.

    Attributes
    ----------
    sides
        Standing sets that are there.
    lying
        Photos of the hub lying, the near-vertical one first.
    drive_end
        Where on the sheet its drive side lies, seen with the sheet upright.
    truth
        True figures by name, as far as the mode can show them: of sides that do not stand in a photo there
        are none.
    side
        See `ROW_NAMES`.
    """

    hub: str
    sides: tuple[Side, ...]
    lying: tuple[Path, ...]
    drive_end: str
    job: dict[str, Any]
    truth: dict[str, float]
    side: str
    asymmetric: bool = False
    boss_count: int | None = None
    crosses: int | None = None


def whole_hub(corpus: Path, hub: Hub, mode: str) -> WholeHub:
    """Return a corpus' hub as a whole, as far as the photos of a mode show it."""
    folder = corpus / hub.name
    truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    job = json.loads((folder / "job.json").read_text(encoding="utf-8"))
    lying = truth["sets"].get("side")
    photos = [folder / photo["file"] for photo in lying["photos"]] if lying else []
    shown = [side.side for side in hub.sides] if mode == "standing" else list(SIDES)
    figures = {"over_locknut": float(truth["hub"]["OLD"])}
    figures |= {f"centre_to_flange_{name}": float(truth["hub"]["sides"][name]["w"]) for name in shown}
    return WholeHub(
        hub.name,
        hub.sides,
        tuple(photo for photo in photos if photo.is_file()),
        drive_end(lying["hub_to_target"]) if lying else "",
        job,
        figures,
        ROW_NAMES[mode],
    )


def drive_end(hub_to_target: list[list[float]]) -> str:
    """Return where on the sheet the drive side lies, from a hub's 4 x 4 pose."""
    x, y = hub_to_target[0][2], hub_to_target[1][2]
    if abs(x) >= abs(y):
        return "right" if x > 0 else "left"
    return "top" if y > 0 else "bottom"


def shows(hub: WholeHub, mode: str) -> bool:
    """Tell whether the photos that a mode needs are there."""
    return bool(hub.sides if mode == "standing" else hub.lying)


def whole_text(hub: WholeHub, mode: str, *, profile: str | None = None) -> str:
    """Return the job file of a whole hub; what the photos are to show is not stated."""
    job = hub.job
    lines = head_lines(job, profile)
    if mode == "standing":
        for side in hub.sides:
            lines += _standing(side, job)
        lines += _wheel(job)
    else:
        photos = hub.lying if mode == "side" else hub.lying[:1]
        lines += ["[lying]", f"photos = {[p.name for p in photos]}", f'drive_end = "{hub.drive_end}"']
    return "\n".join(lines) + "\n"


def _standing(side: Side, job: dict[str, Any]) -> list[str]:
    lines, names = gauge_tables(side, side.side)
    return [
        *lines,
        f"[sides.{SIDES[side.side]}]",
        f'photos = "{side.side}/*"',
        f"gauges = {names}",
        f"block_thickness = {job['block_thickness'] or 0.0}",
        *first_hole_lines(side),
    ]


def _wheel(job: dict[str, Any]) -> list[str]:
    """Return the row of rim holes where it is not even, and the spokes that go with it."""
    return ["[rim]", *holes_lines(job), "[wheel]", *spokes_lines(job)] if "holes" in job else []


def build_whole_job(hub: WholeHub, mode: str, folder: Path, *, profile: Path | None = None) -> Path:
    """Make the job folder of a hub and mode under ``folder``, and return it."""
    job = folder / f"{hub.hub}-{mode}"
    job.mkdir(parents=True, exist_ok=True)
    if mode == "standing":
        for side in hub.sides:
            (job / side.side).mkdir(exist_ok=True)
            for photo in side.photos:
                shutil.copyfile(photo, job / side.side / photo.name)
    else:
        for photo in hub.lying if mode == "side" else hub.lying[:1]:
            shutil.copyfile(photo, job / photo.name)
    if profile is not None:
        shutil.copyfile(profile, job / "camera.json")
    text = whole_text(hub, mode, profile=None if profile is None else "camera.json")
    (job / "job.toml").write_text(text, encoding="utf-8")
    return job


def photo_count(hub: WholeHub, mode: str) -> int:
    """Return the number of photos that a mode uses."""
    if mode == "standing":
        return sum(len(side.photos) for side in hub.sides)
    return len(hub.lying) if mode == "side" else 1


def measure_whole(hub: WholeHub, mode: str, job: Path) -> Row:
    """Measure a job folder, and return its row."""
    run = run_tool("measure", str(job), "--json")
    common = {"seconds": run.seconds, "peak_mb": run.peak_mb}
    try:
        document = json.loads(run.output)
    except json.JSONDecodeError:
        reason = f"exit code {run.code}: {last_line(run)}"
        return Row(hub.hub, hub.side, mode, photo_count(hub, mode), reason, **common)
    return read_whole(document, hub, mode, **common)


def read_whole(document: dict[str, Any], hub: WholeHub, mode: str, **common: float) -> Row:
    """Turn the tool's JSON document of a whole hub into a row."""
    found = document.get("hub") or {"figures": {}, "warnings": []}
    lying = document.get("lying") or {}
    refusals = [side["refusal"] for side in document["sides"]] + [lying.get("refusal")]
    reasons = [sentence(refusal) for refusal in refusals if refusal]
    missing = [name for name in hub.truth if name not in found["figures"]]
    failed = f"no {' and no '.join(missing)}: {' '.join(reasons) or 'no reason given'}" if missing else None
    said = tuple(found["warnings"])
    return Row(
        hub.hub,
        hub.side,
        mode,
        photo_count(hub, mode),
        failed,
        figures={
            name: FigureRow(
                *(figure[key] for key in ("value", "u", "low", "high", "confidence")),
                (*figure["warnings"], *said),
            )
            for name, figure in found["figures"].items()
        },
        warnings=said,
        **common,
    )
