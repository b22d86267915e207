"""Jobs as a careful builder states them: everything read more than once, and every side's caliper readings.

Readings are drawn about the truth with the scatter that the program believes of them; the same hub always
gets the same readings. `minimal` is the same hub stated by somebody in a hurry: every value once.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import tomlkit

from bench.corpus import SIDES, Hub, Side

BAR_U_MM, GAUGE_U_MM, OLD_U_MM, ERD_U_MM = 0.1, 0.03, 0.05, 0.3
"""Standard deviations of one reading: check bar, gauge length, over-locknut, ERD."""
CALIPER_U_MM = {"flange_diameter": 0.3, "boss_width": 0.1, "protrusion": 0.15}
"""The same of caliper readings on the hub."""
READINGS = 3
"""Readings of each value in a careful job; of the ERD one more."""
NOMINAL_BAR_MM = 120.0

Table = dict[str, Any]


@dataclass(frozen=True)
class Case:
    """A job before it is written: its statements, photos and marks.

    Attributes
    ----------
    hub
        With its truth.
    table
        Of the job file.
    photos
        Per side of the job (``drive``, ``non_drive``) its photos: the name, and where the picture is or its
        bytes.
    corrections
        Marks by hand, as they stand in the corrections' file.
    """

    hub: Hub
    table: Table
    photos: dict[str, dict[str, Path | bytes]]
    corrections: Table = field(default_factory=dict)

    def with_table(self, *path_and_value: Any) -> Case:
        """Return the case with one value of its job file changed: keys, then the value; None takes it out."""
        *path, last, value = path_and_value
        table = json.loads(json.dumps(self.table))
        inner = table
        for key in path:
            inner = inner.setdefault(key, {})
        if value is None:
            inner.pop(last, None)
        else:
            inner[last] = value
        return replace(self, table=table)

    def at(self, *path: str) -> Any:
        """Return a value of the job file; None if it is not stated."""
        inner: Any = self.table
        for key in path:
            inner = None if inner is None else inner.get(key)
        return inner


def careful(hub: Hub, *, minimal: bool = False) -> Case:
    """Return a hub's job with every statement confirmed (or, ``minimal``, each value stated once)."""
    rng = np.random.default_rng(zlib.crc32(hub.name.encode()))

    def read(true: float, u: float, times: int = READINGS) -> Any:
        values = [round(float(v), 2) for v in true + rng.normal(0.0, u, times)]
        return values[0] if minimal else values

    first = hub.sides[0]
    truth, design = first.truth_file, first.truth_file["design"]
    scales = truth["print_scale_x"], truth["print_scale_y"]
    table: Table = {
        "schema_version": 1,
        "target": {
            "paper": "a4",
            "bar_x": read(NOMINAL_BAR_MM * scales[0], BAR_U_MM),
            "bar_y": read(NOMINAL_BAR_MM * scales[1], BAR_U_MM),
        },
        "gauges": {},
        "sides": {},
        "hub": {"over_locknut": read(truth["hub"]["OLD"], OLD_U_MM)},
        "rim": {
            "erd": read(design["erd"], ERD_U_MM, READINGS + 1),
            "offset": {"value": design.get("rim_offset") or 0.0, "u": 0.05},
        },
        "wheel": {},
    }
    rim = truth["hub"].get("rim")
    if rim:
        table["wheel"]["spokes"] = rim["spokes"]
        table["rim"]["holes"] = rim["holes"]
    elif len(hub.sides) == 2:
        table["wheel"]["spokes"] = sum(_spokes(side) for side in hub.sides)
    photos: dict[str, dict[str, Path | bytes]] = {}
    for side in hub.sides:
        name = SIDES[side.side]
        gauges = truth["sets"][side.side]["gauges"]
        for number, gauge in enumerate(gauges):
            table["gauges"][f"{side.side}{number}"] = {
                "length": read(gauge["L"], GAUGE_U_MM),
                "tip": gauge["tip"],
                "diameter": round(gauge["dia"], 2),
            }
        table["sides"][name] = {
            "photos": [f"{name}/{photo.name}" for photo in side.photos],
            "gauges": [f"{side.side}{number}" for number in range(len(gauges))],
            "block_thickness": truth["sets"][side.side].get("block") or 0.0,
            "crosses": side.crosses,
        }
        if rim:
            table["sides"][name]["first_hole"] = side.stated["first_hole"]
        if not minimal:
            table["sides"][name]["caliper"] = _caliper(side, rng)
        photos[name] = {photo.name: photo for photo in side.photos}
    return Case(hub, table, photos)


def _spokes(side: Side) -> int:
    return side.boss_count * (2 if side.kind == "paired" else 1)


def _caliper(side: Side, rng: np.random.Generator) -> dict[str, float]:
    return {
        name: round(float(side.truth[name] + rng.normal(0.0, u)), 2)
        for name, u in CALIPER_U_MM.items()
        if name in side.truth
    }


def write_case(case: Case, folder: Path) -> Path:
    """Write a case as a job folder, and return it."""
    folder.mkdir(parents=True, exist_ok=True)
    for side, photos in case.photos.items():
        (folder / side).mkdir(exist_ok=True)
        for name, picture in photos.items():
            content = picture if isinstance(picture, bytes) else picture.read_bytes()
            (folder / side / name).write_bytes(content)
    (folder / "job.toml").write_text(tomlkit.dumps(_plain(case.table)), encoding="utf-8")
    if case.corrections:
        (folder / "corrections.json").write_text(json.dumps(case.corrections), encoding="utf-8")
    return folder


def _plain(table: Mapping[str, Any]) -> Table:
    """Return the table with what is not nested first, as the format wants it."""
    own = {key: value for key, value in table.items() if not isinstance(value, dict)}
    nested = {key: _plain(value) for key, value in table.items() if isinstance(value, dict)}
    return {**own, **nested}
