"""From a corpus to what a builder would order: jobs with rim and caliper readings, and the truth's order."""

from __future__ import annotations

import json
import zlib
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np
from typer.testing import CliRunner

from bench.corpus import SIDES, Hub, Side
from bench.jobs import EXACT_U_MM, build_job, first_hole_lines, holes_lines, spokes_lines
from bench.tool import run_tool
from hubsight.cli import app
from hubsight.model.stated import Reading
from hubsight.wheel.choice import CUT_U_MM, Task, choose
from hubsight.wheel.nipple import STOCK_STEP_MM, Stock, Window
from hubsight.wheel.rim import ERD_READING_U_MM, SLOT_U_MM

READINGS = {"d": "flange_diameter", "W": "boss_width", "protrusion": "protrusion"}
"""Names of the caliper readings in a corpus and in a job file."""

SLIP_WORDS = {
    "half_width": "half of the boss width",
    "off_by_1": "off by exactly 1 mm",
    "swap_sides": "swapped",
}
"""What has to be said of a planted slip."""

RIMS = 20
"""For how many rims each side's choice is made, so that luck with where its length lies averages out."""

ERD_READINGS = 4
"""That a careful builder takes round the rim."""


def measured_side(side: Side, cache: Path, folder: Path) -> dict[str, Any] | None:
    """Return the tool's measurement of one side (all photos, EXIF only), from the cache if it is there."""
    file = cache / f"{side.hub}-{side.side}.json"
    if not file.is_file():
        output = run_tool("measure", str(build_job(side, "all", folder)), "--json", "--no-record").output
        if not output.strip():
            return None
        cache.mkdir(parents=True, exist_ok=True)
        file.write_text(output, encoding="utf-8")
    document: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
    return document


def erd_text(hub: Hub, how: str) -> str:
    """Return what the builder states of the ERD: exactly it, or readings that scatter as believed."""
    erd = hub.sides[0].truth_file["design"]["erd"]
    if how == "exact":
        return f"{{ value = {erd}, u = {EXACT_U_MM} }}"
    rng = np.random.default_rng(zlib.crc32(hub.name.encode()))
    if how == "one":
        return f"{erd + rng.normal(0.0, 0.5):.2f}"
    common = rng.normal(0.0, SLOT_U_MM)
    return str([round(erd + common + rng.normal(0.0, ERD_READING_U_MM), 2) for _ in range(ERD_READINGS)])


def _wheel_lines(hub: Hub, erd: str) -> list[str]:
    side = hub.sides[0]
    return [
        "[hub]",
        f"over_locknut = {side.job['old']}",
        "[rim]",
        f"erd = {erd}",
        f"offset = {{ value = {side.truth_file['design'].get('rim_offset', 0.0)}, u = {EXACT_U_MM} }}",
        *holes_lines(side.job),
        "[wheel]",
        f"crosses = {side.crosses}",
        *spokes_lines(side.job),
    ]


def stated_readings(side: Side) -> dict[str, float]:
    """Return a side's caliper readings by the names of a job file; of several gauges their mean."""
    return {
        reading: float(np.mean(side.stated[key]))
        for key, reading in READINGS.items()
        if key in side.stated and not (side.kind == "radial" and key == "W")
    }


def photo_job(
    hub: Hub, folder: Path, erd: str, readings: Mapping[str, dict[str, float]] | None = None
) -> Path:
    """Write the job of a hub whose photos were measured: caliper readings, rim; return its folder.

    ``readings`` are by the corpus' names of the sides; those of the corpus if not given.
    """
    lines = []
    for side in hub.sides:
        for number, length in enumerate(side.stated["gauge_stated_length"]):
            lines += [f"[gauges.{side.side}{number}]", f"length = {length}"]
        name = SIDES[side.side]
        gauges = [f"{side.side}{number}" for number in range(len(side.stated["gauge_stated_length"]))]
        lines += [
            f"[sides.{name}]",
            f"photos = {[f'{side.side}/{photo.name}' for photo in side.photos]}",
            f"gauges = {gauges}",
            f"crosses = {side.crosses}",
            f"block_thickness = {side.job['block_thickness'] or 0.0}",
            *first_hole_lines(side),
            f"[sides.{name}.caliper]",
        ]
        own = stated_readings(side) if readings is None else readings[side.side]
        lines += [f"{reading} = {value}" for reading, value in own.items()]
        (folder / side.side).mkdir(parents=True, exist_ok=True)
        for photo in side.photos:  # named, not read: the figures come from the cache
            (folder / side.side / photo.name).touch()
    (folder / "job.toml").write_text("\n".join(lines + _wheel_lines(hub, erd)) + "\n", encoding="utf-8")
    return folder


def true_job(hub: Hub, folder: Path) -> Path:
    """Write a job by hand whose readings are the truth; return its folder."""
    lines = []
    for side in hub.sides:
        true, name = side.truth_file["hub"]["sides"][side.side], SIDES[side.side]
        lines += [
            f"[sides.{name}]",
            f'kind = "{side.kind}"',
            f"bosses = {side.boss_count}",
            f"crosses = {side.crosses}",
            *first_hole_lines(side),
            f"[sides.{name}.caliper]",
        ]
        for key, reading in {
            "d": "flange_diameter",
            "offset": "spoke_offset",
            "w": "centre_to_flange",
        }.items():
            lines.append(f"{reading} = {{ value = {true[key]}, u = {EXACT_U_MM} }}")
    folder.mkdir(parents=True, exist_ok=True)
    text = "\n".join(lines + _wheel_lines(hub, erd_text(hub, "exact"))) + "\n"
    (folder / "job.toml").write_text(text, encoding="utf-8")
    return folder


def lengths(job: Path, measured: Path | None = None) -> dict[str, Any]:
    """Return what ``hubsight lengths JOB --json`` says: each side's lengths and order, refusals, checks."""
    arguments = ["lengths", str(job), "--json"]
    result = CliRunner().invoke(app, arguments + (["--measured", str(measured)] if measured else []))
    if result.exit_code not in {0, 1}:
        raise RuntimeError(f"{job}: {result.stderr}{result.exception or ''}")
    sides = json.loads(result.stdout)["sides"]
    known = {side["name"]: side["spoke_lengths"] for side in sides if side["spoke_lengths"]}
    return {
        "sides": {name: {**side, **side["order"]} for name, side in known.items()},
        "refusals": {s["name"]: s["spoke_lengths_refusal"] for s in sides if s["spoke_lengths_refusal"]},
        "checks": [check for side in sides for check in side["caliper_checks"]],
    }


def over_rims(side: Mapping[str, Any], true: Mapping[str, Any]) -> Counter[str]:
    """Count how a side's choice comes out on rims that move its lengths through a whole step of the stock.

    Parameters
    ----------
    side, true
        The side in the documents of the measured and of the true job.

    Returns
    -------
    Counter
        ``rims``, ``close calls``, and ``other, not flagged``: another length than by the truth, unsaid.
    """
    count: Counter[str] = Counter(rims=RIMS)
    for number in range(RIMS):
        shift = number * STOCK_STEP_MM / RIMS
        ours, theirs = (choose(_task(document, shift)) for document in (side, true))
        count["close calls"] += ours.close_call
        other = ours.proposed.length != theirs.proposed.length
        count["other, not flagged"] += other and not ours.close_call
    return count


def _task(side: Mapping[str, Any], shift: float) -> Task:
    """Return a side's choice as its document states it, its lengths larger by ``shift``."""
    values = [sort["length"]["value"] + shift for sort in side["sorts"]]
    u = max(sort["length"]["u"] for sort in side["sorts"])
    u_sits = max(side["choices"][0]["u_end"] ** 2 - u**2 - CUT_U_MM**2, 0.0) ** 0.5
    sits, window = Reading(side["sits"], u_sits), Window(*side["window"])
    return Task(max(values), min(values), u, sits, window, Stock())


def one_document(sides: list[dict[str, Any]], file: Path) -> Path:
    """Write the measurements of a hub's sides as one; return the file."""
    whole = {**sides[0], "sides": [side["sides"][0] for side in sides]}
    file.write_text(json.dumps(whole), encoding="utf-8")
    return file


Plant = tuple[str, str, Callable[[float, dict[str, float]], float]]
"""Which reading, what has to be said of the slip, and what becomes of the right reading (and the others)."""

PLANTS: tuple[Plant, ...] = (
    ("boss_width", "half of the boss width", lambda right, _: right / 2.0),
    ("boss_width", "off by exactly 1 mm", lambda right, _: right + 1.0),
    ("boss_width", "off by exactly 1 mm", lambda right, _: right - 1.0),
    ("flange_diameter", "the radius was given", lambda right, _: right / 2.0),
    ("flange_diameter", "off by exactly 5 mm", lambda right, _: right - 5.0),
    ("flange_diameter", "off by exactly 10 mm", lambda right, _: right + 10.0),
    ("protrusion", "off by exactly 1 mm", lambda right, _: right + 1.0),
    ("protrusion", "off by exactly 1 mm", lambda right, _: right - 1.0),
    ("protrusion", "off by exactly 10 mm", lambda right, _: right - 10.0),
    ("protrusion", "boss's other face", lambda right, others: right + others["boss_width"]),
    ("protrusion", "transposed", lambda right, _: float(f"{right:.2f}"[1::-1] + f"{right:.2f}"[2:])),
)
"""Slips that are planted in right readings of every side, beside those of the corpus."""


def planted(readings: dict[str, float]) -> Iterator[tuple[str, str, dict[str, float]]]:
    """Yield a side's right readings with one slip each: its place, what has to be said of it, all of them."""
    for name, words, slip in PLANTS:
        needs = {name, "boss_width"} if "face" in words else {name}
        if needs <= readings.keys():
            changed = round(slip(readings[name], readings), 2)
            if abs(changed - readings[name]) > 0.5:
                yield name, words, {**readings, name: changed}
