"""Paper, bench, room, lights, and the photographer. World = target frame, mm."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import cv2
import mitsuba as mi
import numpy as np

from render.design import Colour, Finish, Light
from render.materials import material, quads, rgb, upload, upload_soup
from render.mesh import Array, frame_to, lathe
from render.optics import View
from render.sheet import HEIGHT, WIDTH, Wave, page_image, wave_height
from render.textures import DESKS, Generator, Plugin, bench, desk, smooth_noise, texture

FINE_PER_MM, COARSE_PER_MM = 28, 14
"""Pixels per mm of the sheet's texture: fine enough for full-size photos, and for quarter-size ones."""

BENCH_DROP_MM = 0.15
"""How far the bench lies under the sheet's mean plane."""


def _transform() -> Any:
    return mi.ScalarTransform4f()


# ---------- paper and bench ----------


def paper_material(per_mm: int, generator: Generator) -> Any:
    """Return the printed paper: toner slightly uneven and never quite black where it is drawn finely."""
    page = page_image(per_mm).astype(np.float32) / 255
    if per_mm >= FINE_PER_MM:
        uneven = cv2.resize(smooth_noise((512, 512), (60, 60), generator), page.shape[::-1])
        page = 0.035 + 0.02 * uneven + page * (0.80 - 0.02 * uneven)
    else:
        page = 0.045 + page * 0.78
    print_ = {
        "type": "bitmap",
        "bitmap": mi.Bitmap(np.ascontiguousarray(page[..., None].astype(np.float16))),
        "raw": True,
        "wrap_mode": "clamp",
        "filter_type": "bilinear",
    }
    return mi.load_dict({"type": "twosided", "b": {"type": "diffuse", "reflectance": print_}})


def paper(print_scale: tuple[float, float], wave: Wave | None, bsdf: Any) -> Any:
    """Return the sheet; the print is stretched about the centre, the sheet itself is not."""
    columns, rows = (299, 211) if wave else (3, 3)
    x, y = np.meshgrid(
        np.linspace(-WIDTH / 2, WIDTH / 2, columns), np.linspace(-HEIGHT / 2, HEIGHT / 2, rows)
    )
    z = wave_height(x, y, wave)
    uv = [(x / print_scale[0] + WIDTH / 2) / WIDTH, (HEIGHT / 2 - y / print_scale[1]) / HEIGHT]
    slope_x = np.gradient(z, axis=1) / (WIDTH / (columns - 1))
    slope_y = np.gradient(z, axis=0) / (HEIGHT / (rows - 1))
    normals = np.stack([-slope_x, -slope_y, np.ones_like(z)], -1)
    normals /= np.linalg.norm(normals, axis=-1, keepdims=True)
    points = np.stack([x, y, z], -1)
    return upload_soup(quads(points), quads(normals), quads(np.stack(uv, -1)), bsdf, "paper")


def bench_top(kind: str, generator: Generator) -> tuple[Plugin, Colour]:
    """Return the bench under the sheet, and its mean colour."""
    own = kind in DESKS
    picture = desk(kind, generator) if own else bench(kind, generator)
    red, green, blue = (float(value) for value in picture.mean((0, 1)))
    turned = _transform().translate([0, 0, -BENCH_DROP_MM]).rotate([0, 0, 1], float(generator.uniform(-8, 8)))
    repeat = 3.0 if own else 1.3
    bsdf = {
        "type": "principled",
        "base_color": texture(picture, repeat, repeat),
        "roughness": float(generator.uniform(0.35, 0.6)),
    }
    plane = {
        "type": "rectangle",
        "to_world": turned.scale([900, 900, 1]),
        "bsdf": {"type": "twosided", "b": bsdf},
    }
    return plane, (red, green, blue)


# ---------- light ----------


def _room(generator: Generator, level: float, warm: float) -> Plugin:
    """Return walls, ceiling, dark shelves and floor all round; big lights are apart."""
    height, width = 512, 1024
    picture = np.zeros((height, width, 3), np.float32)
    elevation = (90 - (np.arange(height) + 0.5) / height * 180)[:, None]
    picture[:] = np.where(elevation > 35, 0.55, np.where(elevation > -5, 0.33, 0.10))[..., None]
    picture *= (0.75 + 0.5 * smooth_noise((height, width), (8, 12), generator))[..., None]
    for _ in range(50):  # shelves, boxes, posters
        x = int(generator.integers(0, width))
        y = int(generator.integers(int(height * 0.30), int(height * 0.56)))
        wide, high = int(generator.integers(8, 60)), int(generator.integers(6, 36))
        colour = generator.uniform(0.02, 0.8) * generator.dirichlet((6, 6, 6)) * 3
        picture[y : y + high, x : x + wide] = colour
    for _ in range(int(generator.integers(1, 4))):  # far windows
        x, y = int(generator.integers(0, width - 90)), int(height * generator.uniform(0.28, 0.38))
        wide, high = int(generator.integers(30, 90)), int(generator.integers(40, 80))
        picture[y : y + high, x : x + wide] = generator.uniform(3, 7)
        picture[y : y + high, x + wide // 2 - 2 : x + wide // 2 + 2] = 0.2
    tint = np.array([1, 0.5 + 0.5 / warm, 1 / warm], np.float32)
    blurred = cv2.GaussianBlur(picture, (0, 0), 1.0) * level * tint
    turned = _transform().rotate([1, 0, 0], 90).rotate([0, 1, 0], float(generator.uniform(0, 360)))
    return {"type": "envmap", "bitmap": mi.Bitmap(blurred), "to_world": turned}


def _glowing(shape: str, to_world: Any, radiance: Array) -> Plugin:
    emitter = {"type": "area", "radiance": rgb(radiance)}
    return {"type": shape, "to_world": to_world, "emitter": emitter}


def _window(azimuth_deg: float, strength: float) -> list[Plugin]:
    """Return a window's three panes."""
    angle = np.radians(azimuth_deg)
    centre = np.array([1500 * np.cos(angle), 1500 * np.sin(angle), 1100])
    aside = np.array([-np.sin(angle), np.cos(angle), 0])
    panes = []
    for k in (-1, 0, 1):
        facing = _transform().look_at(
            origin=list(centre + aside * 330 * k), target=[0.0, 0.0, 100.0], up=[0, 0, 1]
        )
        colour = np.array((0.95, 0.98, 1.06)) * (7 * strength)
        panes.append(_glowing("rectangle", facing.scale([150, 450, 1]), colour))
    return panes


def _tube(x: float, y: float, azimuth_deg: float, strength: float) -> Plugin:
    place = _transform().translate([x, y, 1900]).rotate([0, 0, 1], azimuth_deg).rotate([1, 0, 0], 180)
    return _glowing("rectangle", place.scale([620, 30, 1]), np.array([1.03, 1, 0.93]) * 22 * strength)


def _lamp(lamp: tuple[float, float, float, float, float], generator: Generator) -> Plugin:
    """Return a desk lamp and its shade."""
    azimuth, elevation = np.radians(lamp[0]), np.radians(lamp[1])
    distance, radius, strength = lamp[2:]
    level = np.cos(elevation)
    place = distance * np.array([level * np.cos(azimuth), level * np.sin(azimuth), np.sin(elevation)])
    facing = _transform().look_at(origin=place.tolist(), target=[0, 0, 30], up=[0, 0, 1])
    radiance = strength * (distance / radius) ** 2 / np.pi
    bulb = _glowing("disk", facing.scale([radius, radius, 1]), np.array([1.12, 1, 0.78]) * radiance)
    along = -place / np.linalg.norm(place)
    profile = [(-60, radius * 0.5), (-60, radius * 0.55), (5, radius * 1.5), (5, radius * 1.45)]
    black = mi.load_dict(plain_material("plastic_black", generator))
    shade = upload(lathe(profile, 64), frame_to(place + along * 2, along), black, "shade")
    return {"lamp": bulb, "shade": shade}


def plain_material(name: str, generator: Generator) -> Plugin:
    """Return a finish without dirt."""
    return material(Finish(name), generator, 0.0)


def lights(light: Light, generator: Generator) -> Plugin:
    """Return all lights of a photo set, by name."""
    out = {"env": _room(generator, light.env, light.warm)}
    for i, (azimuth, strength) in enumerate(light.windows):
        out |= {f"win{i}{k}": pane for k, pane in enumerate(_window(azimuth, strength), -1)}
    for i, tube in enumerate(light.tubes):
        out[f"tube{i}"] = _tube(*tube)
    return out | _lamp(light.lamp, generator) if light.lamp else out


# ---------- the photographer ----------


def photographer(view: View) -> Plugin:
    """Return the phone, a head and a body behind it: they block light and show in mirrors."""
    axes, eye = view.rotation.T, view.eye
    slab = {"type": "principled", "base_color": rgb((0.03, 0.03, 0.035)), "roughness": 0.25, "specular": 0.5}
    place = np.eye(4)
    place[:3, :3], place[:3, 3] = axes, eye + axes @ np.array([55, 22, -5])
    head = eye - axes[:, 2] * 260 + axes[:, 1] * 160
    body = eye + axes[:, 1] * 420 - axes[:, 2] * 30
    return {
        "phone": {
            "type": "rectangle",
            "to_world": mi.ScalarTransform4f(place).scale([76, 37, 1]),
            "bsdf": {"type": "twosided", "b": slab},
        },
        "head": _ball(head, 95.0, (0.45, 0.28, 0.2)),
        "torso": _ball(body, 190.0, (0.08, 0.10, 0.16)),
    }


def _ball(centre: Array, radius: float, colour: Colour) -> Plugin:
    bsdf = {"type": "diffuse", "reflectance": rgb(colour)}
    return {"type": "sphere", "center": centre.tolist(), "radius": radius, "bsdf": bsdf}


def hand(generator: Generator) -> Plugin:
    """Return four fingers and a wrist beside the sheet, which shade it."""
    wrist = np.array([95, -120, 70.0])
    fingers: list[tuple[Sequence[float], Sequence[float], float]] = []
    for i in range(4):
        start = wrist + np.array([-14 * i, 4 * i, 3 * (i % 2)])
        fingers.append((start, wrist + np.array([-14 * i - 30, 62 + 6 * (i % 3), 8 - 4 * i]), 8.5))
    fingers.append((wrist + np.array([-20, -90, 15]), wrist + np.array([-20, 0, 4]), 27))
    skin = mi.load_dict(plain_material("skin", generator))
    return {
        f"finger{i}": {
            "type": "cylinder",
            "p0": list(map(float, start)),
            "p1": list(map(float, end)),
            "radius": float(radius),
            "bsdf": skin,
        }
        for i, (start, end, radius) in enumerate(fingers)
    }
