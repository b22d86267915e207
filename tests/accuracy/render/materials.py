"""Materials of the hub and of what lies around it, and meshes with a material for the renderer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import mitsuba as mi
import numpy as np

from render.design import Colour, Design, Finish
from render.mesh import Array, Mesh
from render.textures import Generator, Plugin, decal, felt_pen, grain, smudges, stripes, turning_marks


@dataclass(frozen=True)
class Surface:
    """Base colour, share of metal, roughness, specular; slopes of turning marks or grain; clear coat."""

    colour: Colour
    metal: float
    roughness: float
    specular: float = 0.5
    marks: float = 0.0
    grain: float = 0.0
    coat: float = 0.0


FINISHES = {
    "ano_black": Surface((0.018, 0.018, 0.020), 0.25, 0.33, 0.55, marks=0.035),
    "ano_black_gloss": Surface((0.012, 0.012, 0.013), 0.35, 0.20, 0.6, marks=0.02),
    "ano_grey": Surface((0.20, 0.205, 0.22), 0.9, 0.34, marks=0.03),
    "ano_silver": Surface((0.80, 0.80, 0.80), 1.0, 0.30, marks=0.03),
    "ano_red": Surface((0.52, 0.035, 0.03), 0.95, 0.27, marks=0.03),
    "ano_blue": Surface((0.03, 0.12, 0.50), 0.95, 0.27, marks=0.03),
    "ano_gold": Surface((0.75, 0.48, 0.12), 1.0, 0.27, marks=0.03),
    "ano_green": Surface((0.05, 0.33, 0.16), 0.95, 0.29, marks=0.03),
    "ano_purple": Surface((0.24, 0.06, 0.42), 0.95, 0.26, marks=0.03),
    "polished": Surface((0.91, 0.91, 0.90), 1.0, 0.09, marks=0.012),
    "chrome": Surface((0.93, 0.93, 0.94), 1.0, 0.035, marks=0.004),
    "blasted": Surface((0.55, 0.55, 0.56), 1.0, 0.46, grain=0.10),
    "blasted_black": Surface((0.03, 0.03, 0.032), 0.3, 0.5, grain=0.10),
    "paint_white": Surface((0.78, 0.78, 0.75), 0.0, 0.3, coat=1.0),
    "paint_orange": Surface((0.75, 0.22, 0.03), 0.0, 0.3, coat=1.0),
    "steel_satin": Surface((0.56, 0.55, 0.53), 1.0, 0.26, marks=0.04),
    "steel": Surface((0.62, 0.61, 0.59), 1.0, 0.16, marks=0.015),
    "brass": Surface((0.80, 0.58, 0.22), 1.0, 0.2, marks=0.03),
    "rubber": Surface((0.02, 0.02, 0.02), 0.0, 0.6, 0.3),
    "plastic_blue": Surface((0.03, 0.10, 0.35), 0.0, 0.35),
    "plastic_red": Surface((0.45, 0.03, 0.03), 0.0, 0.3),
    "plastic_yellow": Surface((0.70, 0.45, 0.04), 0.0, 0.35),
    "plastic_black": Surface((0.02, 0.02, 0.02), 0.0, 0.4),
    "cardboard": Surface((0.42, 0.28, 0.16), 0.0, 0.9, 0.1),
    "skin": Surface((0.62, 0.38, 0.28), 0.0, 0.5, 0.4),
    "putty_grey": Surface((0.36, 0.37, 0.38), 0.0, 0.62, 0.35),
    "putty_blue": Surface((0.10, 0.32, 0.62), 0.0, 0.55, 0.4),
    "putty_white": Surface((0.80, 0.79, 0.75), 0.0, 0.6, 0.35),
    "felt_pen": Surface((0.016, 0.015, 0.020), 0.25, 0.40, 0.45),
    "beech": Surface((0.58, 0.40, 0.23), 0.0, 0.6, 0.3),
    "copper": Surface((0.70, 0.38, 0.25), 1.0, 0.25),
}

PALE_INK, DARK_INK = (0.75, 0.75, 0.73), (0.05, 0.05, 0.06)


def rgb(colour: Any) -> Plugin:
    """Return a colour for the renderer."""
    return {"type": "rgb", "value": list(map(float, colour))}


def colour_of(finish: Finish) -> Colour:
    """Return a finish's colour."""
    return finish.colour or FINISHES[finish.name].colour


def material(finish: Finish, generator: Generator, dirt: float, printed: Plugin | None = None) -> Plugin:
    """Return a finish for the renderer, with smudges and scratches on metal.

    Parameters
    ----------
    dirt
        1 = usual.
    printed
        A texture of colours in place of the finish's own.
    """
    surface = FINISHES[finish.name]
    rough: Any = surface.roughness if finish.roughness is None else finish.roughness
    if surface.metal > 0:
        rough = smudges(generator, rough, 0.35 * dirt, int(60 * dirt))
    bsdf: Plugin = {
        "type": "principled",
        "base_color": printed or rgb(colour_of(finish)),
        "metallic": surface.metal,
        "specular": surface.specular,
        "roughness": rough,
    }
    if surface.coat:
        bsdf["clearcoat"], bsdf["clearcoat_gloss"] = surface.coat, 0.9
    if surface.marks or surface.grain:
        bumps = turning_marks(generator, surface.marks) if surface.marks else grain(generator, surface.grain)
        bsdf = {"type": "bumpmap", "tex": bumps, "scale": 1.0, "bsdf": bsdf}
    return {"type": "twosided", "b": bsdf}


class Palette:
    """The materials of one hub's pictures, each made once, in the order in which they are asked for."""

    def __init__(self, design: Design, generator: Generator) -> None:
        self.design, self.generator = design, generator
        self._made: dict[str, Any] = {}

    def of_part(self, name: str) -> Any:
        """Return the material of a hub's part: a key of the design's finishes, ``flange`` or ``barrel``."""
        setting = self.design.setting
        printed = setting.stripes or setting.decal
        if name == "barrel":
            return self["printed shell" if printed else "shell"]
        if name == "flange" and not setting.own_flange:
            return self["shell"]
        return self[name]

    def __getitem__(self, name: str) -> Any:
        """Return the material of a key of the design's finishes, or of a finish by its own name."""
        if name not in self._made:
            self._made[name] = mi.load_dict(self._make(name))
        return self._made[name]

    def _make(self, name: str) -> Plugin:
        setting, printed = self.design.setting, None
        key = "shell" if name == "printed shell" else name
        finish = setting.finishes.get(key) or Finish(key)
        if name == "printed shell":
            base = colour_of(finish)
            ink = PALE_INK if np.mean(base) < 0.4 else DARK_INK
            if setting.decal:
                printed = decal(setting.decal, base, ink, self.generator)
            else:
                printed = stripes(base, ink, self.generator)
        elif name == "felt_pen":
            printed = felt_pen(self.generator)
        return material(finish, self.generator, setting.dirt, printed)


def upload(mesh: Mesh, matrix: Array, bsdf: Any, name: str) -> Any:
    """Return a mesh moved by a 4x4, with a material, as the renderer's own."""
    v, n, uv = mesh.soup()
    return upload_soup(v @ matrix[:3, :3].T + matrix[:3, 3], n @ matrix[:3, :3].T, uv, bsdf, name)


def upload_soup(v: Array, n: Array, uv: Array, bsdf: Any, name: str) -> Any:
    """Return triangles, given corner by corner, as the renderer's own mesh."""
    properties = mi.Properties()
    properties["mesh_bsdf"] = bsdf
    mesh = mi.Mesh(
        name, len(v), len(v) // 3, has_vertex_normals=True, has_vertex_texcoords=True, props=properties
    )
    parameters = mi.traverse(mesh)
    parameters["vertex_positions"] = np.ravel(v).astype(np.float32)
    parameters["vertex_normals"] = np.ravel(n).astype(np.float32)
    parameters["vertex_texcoords"] = np.ravel(uv).astype(np.float32)
    parameters["faces"] = np.arange(len(v), dtype=np.uint32)
    parameters.update()
    return mesh


def quads(grid: Array) -> Array:
    """Return the corners (6 m, k) of the triangles of a grid (rows, columns, k)."""
    a, b, c, d = grid[:-1, :-1], grid[:-1, 1:], grid[1:, 1:], grid[1:, :-1]
    return np.stack([a, b, c, a, c, d], 2).reshape(-1, grid.shape[-1])
