"""Job folders as a user would make them: a job file from what he knows, and his photos beside it."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

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
    alone; and the row of rim holes where it is not even, with the spokes and the first hole that go with it.
    Not stated are the readings by hand of what the photos are to give (flange diameter, boss width,
    protrusion), nor otherwise the number of spokes, which would give the boss count away, nor centre to
    flange.
    """
    name = SIDES[side.side]
    job, stated, design = side.job, side.stated, side.truth_file["design"]
    tables, gauges = gauge_tables(side, "g")
    lines = [
        *head_lines(job, profile),
        *tables,
        f"[sides.{name}]",
        f"photos = {[photo.name for photo in photos_of(side, mode)]}",
        f"gauges = {gauges}",
        f"block_thickness = {job['block_thickness'] or 0.0}",
        *first_hole_lines(side),
    ]
    if mode != "all":
        lines += [f"{field} = {stated[key]}" for field, key in HEIGHTS.items()]
    lines += [
        "[hub]",
        f"over_locknut = {job['old']}",
        "[rim]",
        f"erd = {{ value = {design['erd']}, u = {EXACT_U_MM} }}",
        f"offset = {{ value = {design.get('rim_offset', 0.0)}, u = {EXACT_U_MM} }}",
        *holes_lines(job),
        "[wheel]",
        f"crosses = {side.crosses}",
        *spokes_lines(job),
    ]
    return "\n".join(lines) + "\n"


def holes_lines(job: dict[str, Any]) -> list[str]:
    """Return what ``[rim]`` states of the row of holes, where the corpus has one."""
    return [f'holes = "{job["holes"]}"'] if "holes" in job else []


def spokes_lines(job: dict[str, Any]) -> list[str]:
    """Return what ``[wheel]`` states of the number of spokes, which a row of rim holes needs."""
    return [f"spokes = {job['spokes']}"] if "holes" in job else []


def first_hole_lines(side: Side) -> list[str]:
    """Return which of a side's holes in the row comes first, where the corpus says so."""
    return [f"first_hole = {side.stated['first_hole']}"] if "first_hole" in side.stated else []


def head_lines(job: dict[str, Any], profile: str | None) -> list[str]:
    """Return the job file's beginning: the target with its check bars as read, and the camera's profile."""
    lines = [
        "schema_version = 1",
        "[target]",
        'paper = "a4"',
        f"bar_x = {job['checkbar_x']}",
        f"bar_y = {job['checkbar_y']}",
    ]
    return lines if profile is None else [*lines, "[camera]", f'profile = "{profile}"']


def gauge_tables(side: Side, prefix: str) -> tuple[list[str], list[str]]:
    """Return the tables of a side's gauges, and their names: ``prefix`` and a number."""
    lines, names = [], []
    gauges = zip(side.stated["gauge_stated_length"], side.stated["tip"], strict=True)
    for number, (length, tip) in enumerate(gauges, 1):
        names.append(f"{prefix}{number}")
        lines += [f"[gauges.{names[-1]}]", f"length = {length}", f'tip = "{tip}"']
    return lines, names


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
