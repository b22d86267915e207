"""What a person adds: tape on the sheet's corners, putty on the gauge's head, a prop under the wire."""

from __future__ import annotations

from typing import Any

import cv2
import mitsuba as mi
import numpy as np
import numpy.typing as npt

from render.design import Colour, Design
from render.materials import Palette, quads, upload, upload_soup
from render.mesh import Array, Mesh, box, fillet, frame_to, from_solid, lathe
from render.plan import PhotoSet
from render.rest import move
from render.sheet import HEIGHT, WIDTH, Wave, page_image, wave_height
from render.stand import Standing
from render.textures import Generator, Plugin, smooth_noise, texture

TAPES: dict[str, tuple[Colour, float, float]] = {
    "clear": ((0.92, 0.92, 0.90), 0.10, 0.16),
    "matte": ((0.88, 0.88, 0.86), 0.40, 0.42),
    "masking": ((0.80, 0.67, 0.42), 0.93, 0.6),
    "blue": ((0.07, 0.26, 0.60), 0.95, 0.5),
    "black": ((0.022, 0.022, 0.024), 1.0, 0.28),
    "yellow": ((0.80, 0.60, 0.05), 0.55, 0.3),
}
"""Colour, how much of what lies under the tape it hides, and roughness."""

TAPE_PAGE_PER_MM, TAPE_PER_MM = 14, 8
"""Pixels per mm of the print seen through a tape, and of the tape's texture."""

TAPE_ABOVE_MM = 0.05
BENCH_MM = -0.15

BLOCKS = ("beech", "cardboard", "plastic_blue", "plastic_yellow", "rubber", "beech")
STANDS = ("beech", "plastic_black", "plastic_red", "steel_satin")


# ---------- tape ----------


class _Strip:
    """A strip of tape across a corner of the sheet."""

    def __init__(self, corner: tuple[int, int], generator: Generator) -> None:
        angle = np.arctan2(corner[1], corner[0]) + np.radians(generator.normal(0, 5))
        self.out = np.array([np.cos(angle), np.sin(angle)])
        self.along = np.array([-np.sin(angle), np.cos(angle)])
        self.width, self.length = generator.uniform(12, 19), generator.uniform(42, 66)
        inner = generator.uniform(12, 19)
        tip = np.array([WIDTH / 2 * corner[0], HEIGHT / 2 * corner[1]])
        self.centre = tip - self.out * (inner - self.width / 2) + self.along * generator.normal(0, 3)

    def grid(self, columns: int, rows: int) -> Array:
        """Return points (rows, columns, 2) all over the strip."""
        lengthwise = np.linspace(-self.length / 2, self.length / 2, columns)[None, :, None] * self.along
        across = np.linspace(-self.width / 2, self.width / 2, rows)[:, None, None] * self.out
        points: Array = self.centre + lengthwise + across
        return points


def _on_sheet(points: Array) -> npt.NDArray[np.bool_]:
    inside: npt.NDArray[np.bool_] = (np.abs(points[..., 0]) < WIDTH / 2) & (
        np.abs(points[..., 1]) < HEIGHT / 2
    )
    return inside


def _strip_mesh(strip: _Strip, wave: Wave | None) -> tuple[Array, Array, Array]:
    """Return corners, normals and texture coordinates of a strip that lies on sheet and bench."""
    flat = strip.grid(int(strip.length), int(strip.width) + 1)
    height = np.where(_on_sheet(flat), wave_height(flat[..., 0], flat[..., 1], wave), BENCH_MM)
    height = cv2.dilate(height, np.ones((3, 3), np.uint8)) + TAPE_ABOVE_MM
    points = np.concatenate([flat, height[..., None]], -1)
    rows, columns = height.shape
    uv = np.stack(np.meshgrid(np.linspace(0, 1, columns), np.linspace(0, 1, rows)), -1)
    normals = np.zeros_like(points)
    normals[..., 2] = 1
    return quads(points), quads(normals), quads(uv)


def _strip_picture(
    strip: _Strip,
    kind: str,
    page: npt.NDArray[np.uint8],
    *,
    print_scale: tuple[float, float],
    bench: Colour,
    generator: Generator,
) -> Array:
    """Return the strip's colours: print and bench shine through at their places."""
    colour, hides, _ = TAPES[kind]
    at = strip.grid(int(strip.length * TAPE_PER_MM), int(strip.width * TAPE_PER_MM))
    columns = (at[..., 0] / print_scale[0] + WIDTH / 2) * TAPE_PAGE_PER_MM - 0.5
    rows = (HEIGHT / 2 - at[..., 1] / print_scale[1]) * TAPE_PAGE_PER_MM - 0.5
    print_ = cv2.remap(page, columns.astype(np.float32), rows.astype(np.float32), cv2.INTER_LINEAR)
    paper = (0.045 + 0.78 * print_ / 255.0)[..., None]
    under = np.where(_on_sheet(at)[..., None], paper, np.array(bench))
    uneven = smooth_noise(print_.shape, (4, 16), generator)
    share = (hides * (1 - (0.3 if hides < 0.9 else 0) * uneven))[..., None]
    picture: Array = (under * (1 - share) + np.array(colour) * share)[::-1]
    return picture


def tapes(design: Design, wave: Wave | None, bench: Colour, generator: Generator) -> Plugin:
    """Return strips over the sheet's four corners."""
    if design.life is None:
        return {}
    kind, page, out = design.life.tape, page_image(TAPE_PAGE_PER_MM), {}
    for i, corner in enumerate(((-1, -1), (1, -1), (1, 1), (-1, 1))):
        strip = _Strip(corner, generator)
        mesh = _strip_mesh(strip, wave)
        picture = _strip_picture(
            strip, kind, page, print_scale=design.setting.print_scale, bench=bench, generator=generator
        )
        bsdf = {
            "type": "principled",
            "base_color": texture(np.ascontiguousarray(picture)),
            "roughness": TAPES[kind][2],
            "specular": 0.5,
        }
        out[f"tape{i}"] = upload_soup(*mesh, mi.load_dict({"type": "twosided", "b": bsdf}), "tape")
    return out


# ---------- putty and props ----------


def putty(generator: Generator, size: float, depth: float) -> Mesh:
    """Return a blob of putty: an uneven ellipsoid, ``size`` across and ``depth`` along z."""
    around, along = 96, 48
    uneven = smooth_noise((along, around), (3, 6), generator)
    uneven = uneven + 0.45 * smooth_noise((along, around), (6, 12), generator)
    uneven = uneven + 0.15 * smooth_noise((along, around), (16, 32), generator)
    turn, slope = np.meshgrid(np.arange(around) * 2 * np.pi / around, np.linspace(0, np.pi, along))
    wide = np.sin(slope)
    r = 1 + 0.42 * wide * (uneven - 0.8)
    squeezed = generator.uniform(0.75, 1)
    x, y = r * size / 2 * wide * np.cos(turn), r * size / 2 * squeezed * wide * np.sin(turn)
    points = np.stack([x, y, -r * depth / 2 * np.cos(slope)], -1).reshape(-1, 3)
    i, j = np.meshgrid(np.arange(along - 1), np.arange(around), indexing="ij")
    a, b = i * around + j, i * around + (j + 1) % around
    c, d = (i + 1) * around + j, (i + 1) * around + (j + 1) % around
    faces = [np.stack(corners, -1).reshape(-1, 3) for corners in ([a, b, c], [b, d, c])]
    return Mesh(points, np.concatenate(faces), 70)


def aids(design: Design, photo_set: PhotoSet, palette: Palette, generator: Generator) -> Plugin:
    """Return the putty over the head, and a prop under the wire where the set has one."""
    standing, life = photo_set.standing, design.life
    if standing is None or life is None:
        return {}
    out = {"putty": _on_head(standing, palette[life.putty], generator)}
    prop = life.prop.get(photo_set.name)
    if prop:
        out |= _prop(prop, standing, life.putty, palette, generator)
    return out


def _on_head(standing: Standing, bsdf: Any, generator: Generator) -> Any:
    matrix, bore = standing.hub_to_target, standing.gauged
    size, along = generator.uniform(8, 14), bore.axis.along
    rear = bore.axis.through - bore.rear_from_crossing * along
    down = matrix[:3, :3].T @ [0, 0, -1.0]
    blob = putty(generator, size, float(np.clip(bore.width * 0.9, 4.0, 8.0)))
    place = rear - along * generator.uniform(0.2, 1.2) + down * generator.uniform(0, 2.5)
    return upload(blob, matrix @ frame_to(place, along), bsdf, "putty")


def _prop(kind: str, standing: Standing, soft: str, palette: Palette, generator: Generator) -> Plugin:
    wire, matrix = standing.seated[0], standing.hub_to_target
    under = move(matrix, wire.point(generator.uniform(58, 76)))[0]
    top = under[2] - wire.gauge.diameter / 2
    direction = matrix[:3, :3] @ wire.along
    yaw = np.arctan2(direction[1], direction[0]) + generator.normal(0, 0.3)
    place = np.eye(4)
    place[:3, :3] = [[np.cos(yaw), -np.sin(yaw), 0], [np.sin(yaw), np.cos(yaw), 0], [0, 0, 1]]
    place[:2, 3] = under[:2]
    if kind == "blocks":
        return _blocks(top, place, palette, generator)
    return _stand(top, place, soft, palette, generator)


def _blocks(top: float, place: Array, palette: Palette, generator: Generator) -> Plugin:
    """Return offcuts on top of each other."""
    cuts, out = np.cumsum(generator.dirichlet((8, 7, 6))) * top, {}
    for i, (low, high, size) in enumerate(zip([0, *cuts], cuts, (26, 19, 11), strict=False)):
        wide, deep = size * generator.uniform(0.8, 1.2, 2)
        aside = generator.normal(0, 0.8, 2)
        block = box((wide, deep, high - low), True).translate((*aside, (low + high) / 2))
        block = block.rotate((0, 0, float(generator.normal(0, 9))))
        out[f"prop{i}"] = upload(from_solid(block), place, palette[str(generator.choice(BLOCKS))], "prop")
    return out


def _stand(top: float, place: Array, soft: str, palette: Palette, generator: Generator) -> Plugin:
    """Return a foot, a post and a soft top."""
    post, foot = generator.uniform(3.5, 6), generator.uniform(9, 14)
    profile = [(0, 0.01), (0, foot), (5, foot), (9, post), (top - 5, post), (top - 5, 0.01)]
    body = lathe(fillet(profile, 1.2), 96, 30)
    lower = upload(body, place, palette[str(generator.choice(STANDS))], "prop")
    higher = place.copy()
    higher[2, 3] = top - 4.6
    return {
        "prop0": lower,
        "prop1": upload(putty(generator, 2.3 * post, 10.4), higher, palette[soft], "prop"),
    }
