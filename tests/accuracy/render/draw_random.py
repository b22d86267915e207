"""Random hubs, photographed tidily: ``design(7)`` is always the same hub, camera, light and bench.

Kind, number of bosses, camera and scene are drawn once per seed; the sizes are drawn again until nothing
about them is impossible.
"""

from __future__ import annotations

import numpy as np

from render.design import Design, Finish, Light, Setting, Slip
from render.draw_hub import draw_hub
from render.draw_scene import SHELLS, draw_finish, draw_light, draw_phone, word
from render.faults import faults
from render.hub import Hub
from render.seeds import Draw

SEEDS = range(1, 10000)

SETS = ("ds", "nds", "side", "camera")

TRIES = 1000
"""Draws of the sizes before a seed is given up; about one in ten can be made."""


def possible_hub(seed: int, paired: bool, count: int) -> Hub:
    """Return the first drawn sizes that can be made; raises ValueError if none of `TRIES` can."""
    for attempt in range(1, TRIES):
        hub = draw_hub(Draw(seed, attempt), paired, count)
        if not faults(hub):
            return hub
    raise ValueError(f"seed {seed}: no possible hub found")


def design(seed: int) -> Design:
    """Return the design of a seed from 1 to 9999; raises ValueError for any other."""
    if seed not in SEEDS:
        raise ValueError(f"random hubs are numbered 1 to 9999, not {seed}")
    r = Draw(seed)
    paired = r.chance(0.85)
    count = r.integer(4, 9) if paired else r.integer(8, 13)
    own_flange = r.chance(0.15)
    phone = draw_phone(r, f"R{seed:06d}")
    finishes = _draw_finishes(r)
    dirt = r.uniform(0.3, 2.0)
    bench, clutter = r.one("wood", "rubber", "mat", "steel"), r.integer(0, 12)
    wave = r.uniform(0.08, 0.4) if r.chance(0.25) else 0.0
    hands = tuple(side for side in ("ds", "nds") if r.chance(0.04))
    focus = tuple(r.one("flange", "flange", "paper") for _ in range(4))
    tips: dict[str, tuple[str, ...]] = {
        side: (r.one("flat", "flat", "flat", "nipple"),) for side in ("ds", "nds")
    }
    slip = _draw_slip(r)
    lights = _draw_lights(r)
    decal = _draw_decal(r)
    print_scale = draw_print_scale(r)
    two = {side: r.chance(0.25) for side in ("ds", "nds")}
    hub = possible_hub(seed, paired, count)
    for side, wanted in two.items():  # two gauges only where their heads pass each other
        if wanted and paired and hub.flanges[side].offset > 0.3:
            tips[side] = tips[side] * 2
    return Design(
        corpus="random",
        name=f"r{seed:06d}",
        note=note_of(hub, paired, f"{count * (4 if paired else 2)} spokes"),
        sets=SETS,
        hub=hub,
        phone=phone,
        setting=Setting(
            finishes=finishes,
            own_flange=own_flange,
            dirt=dirt,
            bench=bench,
            clutter=clutter,
            print_scale=print_scale,
            wave=wave,
            lights=lights,
            focus=focus,
            hands=hands,
            decal=decal,
        ),
        tips=tips,
        slip=slip,
    )


def note_of(hub: Hub, paired: bool, spokes: str) -> str:
    """Return a line about the hub for people."""
    place = "rear" if hub.over_locknut > 120 else "front"
    return f"{place}, {'paired' if paired else 'radial'}, {spokes}"


def _draw_finishes(r: Draw) -> dict[str, Finish]:
    plain_caps = ["ano_black", "ano_silver", "ano_grey", "polished"] * 3
    plain_freehubs = ["steel_satin", "ano_silver", "ano_black", "steel"] * 2
    return {
        "shell": draw_finish(r, 0.5, *SHELLS),
        "flange": draw_finish(r, 0.5, *SHELLS),
        "cap": draw_finish(r, 0.15, *plain_caps, "ano_red", "ano_gold"),
        "freehub": draw_finish(r, 0.15, *plain_freehubs, "ano_gold"),
        "axle": Finish(r.one("steel_satin", "ano_silver", "ano_black", "steel")),
        "seal": Finish(r.one(*["rubber", "plastic_black"] * 4, "plastic_red", "plastic_blue")),
    }


def _draw_slip(r: Draw) -> Slip | None:
    return Slip(r.one("off_by_1", "half_width"), r.one("ds", "nds")) if r.chance(0.08) else None


def _draw_lights(r: Draw) -> dict[str, Light]:
    if r.chance(0.6):
        return dict.fromkeys(SETS, draw_light(r))
    return {photo_set: draw_light(r) for photo_set in SETS}


def _draw_decal(r: Draw) -> str | None:
    if not r.chance(0.45):
        return None
    text = word(r, r.one(3, 3, 4)) + (f" {r.integer(2, 99)}" if r.chance(0.5) else "")
    return (text.upper() if r.chance(0.5) else text.title())[:11].strip()


def draw_print_scale(r: Draw) -> tuple[float, float]:
    """Return how large the sheet is printed, in x and y."""
    middle = r.uniform(0.986, 1.009, 4)
    x, y = (round(float(np.clip(middle + r.normal(0.0018), 0.985, 1.01)), 4) for _ in range(2))
    return x, y
