"""The scene of a hub's photo sets for the renderer: sheet, bench, things, lights, hub, gauges, aids."""

from __future__ import annotations

from typing import Any

import mitsuba as mi
import numpy as np

from render.aids import aids, tapes
from render.build import BuiltHub
from render.design import Design, side_of
from render.hub import SIDES
from render.materials import Palette, upload
from render.mesh import frame_to, ring
from render.optics import Shot
from render.plan import PhotoSet
from render.rest import gauge_parts, rigid
from render.scenery import bench_top, hand, lights, paper, photographer
from render.seeds import rng_of, seed_of
from render.sheet import Wave
from render.textures import Plugin
from render.things import apart, oddments, tools

BLOCK_RADIUS_MM = 27
"""Of the block under a hub with axle stubs."""


class Studio:
    """Everything that a hub's photo sets share, and what each set adds.

    Materials are made when they are first asked for, from one stream of chance: the same sets in the same
    order give the same pictures.
    """

    def __init__(
        self, design: Design, built: BuiltHub, wave: Wave | None, look: np.random.Generator, paper_bsdf: Any
    ) -> None:
        self.design, self.built = design, built
        self.palette = Palette(design, look)
        self._common = self._sheet_and_bench(wave, look, paper_bsdf) | self._things()

    def _key(self, *words: object) -> tuple[object, ...]:
        return (self.design.corpus, self.design.name, *words)

    def _sheet_and_bench(self, wave: Wave | None, look: np.random.Generator, paper_bsdf: Any) -> Plugin:
        setting = self.design.setting
        sheet = paper(setting.print_scale, wave, paper_bsdf)
        top, mean = bench_top(setting.bench, look)
        taped = tapes(self.design, wave, mean, rng_of(*self._key("tape")))
        return {"type": "scene", "paper": sheet, **taped, "bench": top}

    def _things(self) -> Plugin:
        life = self.design.life is not None
        things = tools(seed_of(*self._key("clutter")), self.design.setting.clutter, with_rag=not life)
        if life:
            things = apart(things + oddments(seed_of(*self._key("more"))))
        return {
            f"clutter{i}": upload(thing.mesh, thing.place, self.palette[thing.material], "m")
            for i, thing in enumerate(things)
        }

    def arranged(self, photo_set: PhotoSet) -> Plugin:
        """Return the scene of a photo set, without the photographer."""
        light = rng_of(*self._key(photo_set.name, "light"))
        out = self._common | lights(photo_set.light, light)
        if photo_set.hub_to_target is not None:
            out |= self._hub(photo_set)
        if side_of(photo_set.name) in SIDES:
            out |= aids(self.design, photo_set, self.palette, rng_of(*self._key(photo_set.name, "props")))
        if photo_set.name in self.design.setting.hands:
            out |= hand(light)
        return out

    def _hub(self, photo_set: PhotoSet) -> Plugin:
        matrix = photo_set.hub_to_target
        if matrix is None:
            return {}
        out: Plugin = {}
        for i, part in enumerate(self.built.parts):
            bsdf = self.palette.of_part(part.material)
            out[f"hub{i}_{part.name}"] = upload(part.mesh, matrix, bsdf, part.name)
        standing = photo_set.standing
        if standing is None:
            return out
        for k, wire in enumerate(standing.seated):
            place = matrix @ frame_to(wire.seat, wire.along)
            for part in gauge_parts(wire.gauge):
                out[f"g{k}{part.name}"] = upload(part.mesh, place, self.palette[part.material], part.name)
        hub = self.design.hub
        if hub.block and hub.stub:
            block = ring(0, hub.block, BLOCK_RADIUS_MM, hub.stub.diameter / 2 + 0.6, 0.5)
            place = rigid(np.eye(3), [matrix[0, 3], matrix[1, 3], 0])
            out["block"] = upload(block, place, self.palette["steel_satin"], "block")
        return out

    def photographed(self, arranged: Plugin, photo_set: PhotoSet, photo: int) -> Any:
        """Return the loaded scene of one photo: with the gauge as it lies in it, and the photographer."""
        shot: Shot = photo_set.shots[photo]
        life, out = self.design.life, dict(arranged)
        if photo_set.lays and photo_set.gauge and life:
            lay = photo_set.lays[photo]
            place = frame_to(lay.seat, lay.along)
            for part in gauge_parts(photo_set.gauge):
                bsdf = self.palette[life.flat_finish]
                out[f"lying_{part.name}"] = upload(part.mesh, place, bsdf, part.name)
        return mi.load_dict(out | photographer(shot.view))
