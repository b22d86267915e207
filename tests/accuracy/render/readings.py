"""What a user would know of a hub, with reading errors: the file ``job.json`` of a corpus."""

from __future__ import annotations

from typing import Any

import numpy as np

from render.build import BuiltHub, diameter
from render.design import Design
from render.hub import SIDES
from render.plan import PhotoSet
from render.rest import Seated, move
from render.seeds import rng_of
from render.sheet import BAR
from render.stand import Standing
from render.truth import hub_truth

Json = dict[str, Any]

BAR_SD_MM = 0.03
"""Of a check bar read by a careful user."""

OVER_LOCKNUT_MM = 0.05
"""Largest error of an over-locknut read by a careful user."""

HEIGHT_MM, WIRE_HEIGHT_MM, DIAMETER_MM, WIDTH_MM, PROTRUSION_MM = 0.2, 0.3, 0.3, 0.1, 0.15
"""Largest errors of the caliper's readings."""

STATED_LENGTH_SD_MM = 0.03
"""Of the gauge's stated length."""

MOVED_TO = {"bore": "the other bore of the same boss", "boss": "another boss"}


class _Reader:
    """Reads figures with an error that is evenly spread."""

    def __init__(self, *key: object) -> None:
        self.generator = rng_of(*key)

    def near(self, value: float, most: float, digits: int = 2) -> float:
        """Return a figure read with an error of at most ``most``."""
        return round(float(value + self.generator.uniform(-most, most)), digits)

    def about(self, value: float, sd: float) -> float:
        """Return a figure read to 0.01 with a normal error."""
        return round(float(value + self.generator.normal(0, sd)), 2)


def readings(design: Design, built: BuiltHub, sets: list[PhotoSet]) -> Json:
    """Return what the user states, with the design's slip in it."""
    reader = _Reader(design.corpus, design.name, "readings")
    hub, life, scale = design.hub, design.life, design.setting.print_scale
    bar_sd = life.bar_sd if life else BAR_SD_MM
    out: Json = {
        "hub": design.name,
        "units": "mm",
        "gauge_stated_length": None,
        "checkbar_x": reader.about(BAR * scale[0], bar_sd),
        "checkbar_y": reader.about(BAR * scale[1], bar_sd),
        "old": reader.about(hub.over_locknut, life.over_locknut_sd)
        if life
        else reader.near(hub.over_locknut, OVER_LOCKNUT_MM),
        "rim_erd": hub.erd,
        "rim_lateral_offset": hub.rim_offset,
        "crosses": hub.crosses,
        "block_thickness": hub.block or None,
        "sides": {},
    }
    true = hub_truth(built)["sides"]
    standing = {photo_set.name: photo_set.standing for photo_set in sets if photo_set.standing}
    for side in SIDES:
        if side in standing:
            out["sides"][side] = _side(design, true[side], standing[side], reader)
    out["gauge_stated_length"] = out["sides"]["ds"]["gauge_stated_length"][0]
    if hub.rim:
        out |= {"spokes": hub.rim.spokes, "holes": hub.rim.row}
        for side, stated in out["sides"].items():
            stated |= {key: true[side][key] for key in ("spokes", "crosses", "first_hole")}
    repeats = {name: _repeat(design, name, again) for name, again in standing.items() if name not in SIDES}
    if repeats:
        out["repeats"] = repeats
    if life and "flat" in design.sets:
        out["flat"] = {
            "gauge_stated_length": life.gauge_stated,
            "tip": "flat",
            "gauge_diameter": life.gauge_diameter,
        }
    _slip(design, out, reader)
    return out


def _side(design: Design, true: Json, standing: Standing, reader: _Reader) -> Json:
    gauges = standing.seated
    lengths = [reader.about(wire.gauge.length, STATED_LENGTH_SD_MM) for wire in gauges]
    if design.life:
        lengths = [design.life.gauge_stated] * len(gauges)
    out: Json = {
        "gauge_stated_length": lengths,
        "flange_mid_height": reader.near(standing.flange_z, HEIGHT_MM, 1),
        "d": reader.near(diameter(design.hub, standing.side), DIAMETER_MM, 1),
        "W": reader.near(float(np.mean(list(true["W"].values()))), WIDTH_MM),
        "protrusion": [reader.near(wire.protrusion, PROTRUSION_MM) for wire in gauges],
        "tip": [wire.gauge.tip for wire in gauges],
    }
    return out | _wire_heights(standing, _Reader(design.name, standing.side, "gauge_height"))


def _height(standing: Standing, wire: Seated, distance: float) -> float:
    return float(move(standing.hub_to_target, wire.point(distance))[0, 2])


def _wire_heights(standing: Standing, reader: _Reader) -> Json:
    """Return the wire's heights over the sheet at the boss and at its end."""
    wire = standing.seated[0]
    return {
        "gauge_height_at_boss": reader.near(_height(standing, wire, wire.exit_from_seat), WIRE_HEIGHT_MM, 1),
        "gauge_height_at_end": reader.near(_height(standing, wire, wire.gauge.length), WIRE_HEIGHT_MM, 1),
    }


def _repeat(design: Design, name: str, standing: Standing) -> Json:
    """Return the readings of a side stood up once more."""
    if design.life is None or design.life.moved is None:
        raise ValueError(f"{design.name}: the set {name} repeats a side, but no gauge is moved")
    reader = _Reader(design.corpus, design.name, name, "readings")
    wire = standing.seated[0]
    out: Json = {
        "side": standing.side,
        "moved_to": MOVED_TO[design.life.moved],
        "gauge_stated_length": [design.life.gauge_stated],
        "flange_mid_height": reader.near(standing.flange_z, HEIGHT_MM, 1),
        "protrusion": [reader.near(wire.protrusion, PROTRUSION_MM)],
        "tip": [wire.gauge.tip],
    }
    return out | _wire_heights(standing, reader)


def _slip(design: Design, stated: Json, reader: _Reader) -> None:
    """Put the design's slip into a stated boss width."""
    slip = design.slip
    if slip is None:
        return
    side = stated["sides"][slip.side]
    if slip.kind == "off_by_1":
        side["W"] = round(side["W"] + float(reader.generator.choice([-1, 1])), 2)
    else:
        side["W"] = round(side["W"] / 2, 2)
