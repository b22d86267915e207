"""Job folders as a user would make them: a job file from what he knows, and his photos beside it."""

from __future__ import annotations

import shutil
from pathlib import Path

from bench.corpus import SIDES, Side

MODES = ("all", "single", "single-exif")
"""All photos of a side, EXIF only, no height; photo 1 with a calibrated camera and the stated heights; photo
1 with EXIF only and the stated heights."""

HEIGHTS = {
    "flange_height": "flange_mid_height",
    "gauge_height_at_boss": "gauge_height_at_boss",
    "gauge_height_at_end": "gauge_height_at_end",
}
"""Names of the stated heights in a job file and in a corpus."""

EXACT_U_MM = 0.001
"""Uncertainty stated of what the benchmark takes as exact: the rim."""


def photos_of(side: Side, mode: str) -> tuple[Path, ...]:
    """Return the photos that a mode uses; none if they are not there."""
    if mode == "all":
        return side.photos
    return (side.near_vertical,) if side.near_vertical else ()


def job_text(side: Side, mode: str, *, profile: str | None = None) -> str:
    """Return the job file of one side.

    Stated is what ``job.json`` says, but the rim exactly, so that the spoke length shows the figures' errors
    alone. Not stated are the readings by hand of what the photos are to give (flange diameter, boss width,
    protrusion), nor the number of spokes, which would give the boss count away, nor centre to flange.
    """
    name = SIDES[side.side]
    job, stated, design = side.job, side.stated, side.truth_file["design"]
    lines = [
        "schema_version = 1",
        "[target]",
        'paper = "a4"',
        f"bar_x = {job['checkbar_x']}",
        f"bar_y = {job['checkbar_y']}",
    ]
    if profile is not None:
        lines += ["[camera]", f'profile = "{profile}"']
    gauges = []
    for number, (length, tip) in enumerate(zip(stated["gauge_stated_length"], stated["tip"], strict=True), 1):
        gauges.append(f"g{number}")
        lines += [f"[gauges.g{number}]", f"length = {length}", f'tip = "{tip}"']
    lines += [
        f"[sides.{name}]",
        f"photos = {[photo.name for photo in photos_of(side, mode)]}",
        f"gauges = {gauges}",
        f"block_thickness = {job['block_thickness'] or 0.0}",
    ]
    if mode != "all":
        lines += [f"{field} = {stated[key]}" for field, key in HEIGHTS.items()]
    lines += [
        "[hub]",
        f"over_locknut = {job['old']}",
        "[rim]",
        f"erd = {{ value = {design['erd']}, u = {EXACT_U_MM} }}",
        f"offset = {{ value = {design.get('rim_offset', 0.0)}, u = {EXACT_U_MM} }}",
        "[wheel]",
        f"crosses = {side.crosses}",
    ]
    return "\n".join(lines) + "\n"


def build_job(side: Side, mode: str, folder: Path, *, profile: Path | None = None) -> Path:
    """Make the job folder of one side and mode under ``folder``, and return it."""
    job = folder / f"{side.hub}-{side.side}-{mode}"
    job.mkdir(parents=True, exist_ok=True)
    for photo in photos_of(side, mode):
        shutil.copyfile(photo, job / photo.name)
    if profile is not None:
        shutil.copyfile(profile, job / "camera.json")
    text = job_text(side, mode, profile=None if profile is None else "camera.json")
    (job / "job.toml").write_text(text, encoding="utf-8")
    return job
