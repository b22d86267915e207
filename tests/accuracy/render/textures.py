"""Textures: noise, turning marks, grain, smudges, benches and desks, print on the shell."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import cv2
import mitsuba as mi
import numpy as np
import numpy.typing as npt

from render.design import Colour

Picture = npt.NDArray[Any]
"""Linear values, (height, width) or (height, width, 3), in single precision."""
Generator = np.random.Generator
Plugin = dict[str, Any]
"""What the renderer loads: a plugin's type and parameters."""

BENCH_PIXELS = 2048

DESKS = ("oak", "walnut", "felt", "laminate")
"""Benches that are a desk's top; their texture repeats every 600 mm."""


def smooth_noise(shape: tuple[int, int], cells: tuple[int, int], generator: Generator) -> Picture:
    """Return noise 0..1 that repeats, on a lattice of ``cells`` rows and columns."""
    lattice = np.pad(generator.random(cells).astype(np.float32), 2, mode="wrap")
    rows, columns = shape[0] / cells[0], shape[1] / cells[1]
    size = round(lattice.shape[1] * columns), round(lattice.shape[0] * rows)
    big = cv2.resize(lattice, size, interpolation=cv2.INTER_CUBIC)
    top, left = round(2 * rows), round(2 * columns)
    return big[top : top + shape[0], left : left + shape[1]]


def texture(picture: npt.ArrayLike, repeat_u: float = 1.0, repeat_v: float = 1.0) -> Plugin:
    """Return a bitmap texture of linear values."""
    array = np.ascontiguousarray(picture, np.float32)
    if array.ndim == 2:
        array = array[..., None]
    return {
        "type": "bitmap",
        "bitmap": mi.Bitmap(array),
        "raw": True,
        "to_uv": mi.ScalarTransform4f().scale([repeat_u, repeat_v, 1]),
        "wrap_mode": "repeat",
    }


# ---------- metal ----------


def turning_marks(generator: Generator, slope: float) -> Plugin:
    """Return heights in mm along v with this rms slope; they repeat every 16 mm."""
    height = np.zeros(1024, np.float32)
    for cells in (64, 128, 256):
        height += smooth_noise((1024, 4), (cells, 1), generator)[:, 0] / cells
    height *= slope / (np.std(np.diff(height)) * 1024 / 16)
    return texture(np.repeat(height[:, None], 4, 1), 1, 1 / 16)


def grain(generator: Generator, slope: float) -> Plugin:
    """Return heights of a blasted surface with this rms slope."""
    size = (1024, 1024)
    height = smooth_noise(size, (256, 256), generator) + 0.5 * smooth_noise(size, (128, 128), generator)
    height *= slope / (np.std(np.diff(height, axis=0)) * 1024 / 20)
    return texture(height, 5, 1 / 20)


def smudges(generator: Generator, base: float, spread: float, scratches: int) -> Plugin:
    """Return a roughness map: blotches of grease, and fine scratches."""
    size = (1024, 1024)
    blotches = smooth_noise(size, (6, 6), generator) + 0.6 * smooth_noise(size, (24, 24), generator)
    rough = np.ascontiguousarray((base * (1 + spread * (blotches - 0.8))).astype(np.float32))
    for _ in range(scratches):
        start = generator.random(2) * 1024
        end = start + generator.normal(0, 60, 2)
        depth = float(min(base * 2.2, 0.7))
        cv2.line(rough, start.astype(int).tolist(), end.astype(int).tolist(), depth, 1, cv2.LINE_AA)
    return texture(np.clip(rough, 0.03, 0.9), 1, 1 / 60)


def felt_pen(generator: Generator) -> Plugin:
    """Return a wire blackened with a felt pen: uneven, steel showing through in streaks along it."""
    size = (512, 512)
    thin = np.clip(smooth_noise(size, (3, 40), generator) - 0.72, 0, 1) * 2.2
    thin = thin + 0.25 * np.clip(smooth_noise(size, (90, 24), generator) - 0.6, 0, 1)
    steel = np.clip(thin, 0, 1)[..., None] * np.array([0.16, 0.15, 0.15], np.float32)
    return texture(np.array([0.016, 0.015, 0.020], np.float32) + steel, 1, 1 / 60)


# ---------- the shell ----------

SHELL_PIXELS = (512, 2048)
FONTS = (cv2.FONT_HERSHEY_DUPLEX, cv2.FONT_HERSHEY_TRIPLEX, cv2.FONT_HERSHEY_COMPLEX)


def decal(text: str, base: Colour, ink: Colour, generator: Generator) -> Plugin:
    """Return a shell with words printed twice round it; u once round, v along the shell."""
    mask = np.zeros(SHELL_PIXELS, np.uint8)
    for x in (120, 1144):
        font = int(generator.choice(FONTS))
        cv2.putText(mask, text, (x, 300), font, 3.6, 255, 10, cv2.LINE_AA)
    if generator.random() < 0.5:
        mask = cv2.rotate(mask, cv2.ROTATE_180)
    share = (mask / 255.0)[..., None]
    return texture(np.full((*SHELL_PIXELS, 3), base, np.float32) * (1 - share) + np.array(ink) * share)


def stripes(base: Colour, ink: Colour, generator: Generator) -> Plugin:
    """Return a shell with printed bands, slants, dashes or dots."""
    mask = np.zeros(SHELL_PIXELS, np.uint8)
    x, y = np.meshgrid(np.arange(2048), np.arange(512))
    form = generator.integers(4)
    if form == 0:
        for row, height in ((150, 26), (200, 8), (360, 26)):
            mask[row : row + height] = 255
    elif form == 1:
        mask[((x + y * 1.2) % 256 < 60) & (y > 150) & (y < 350)] = 255
    elif form == 2:
        mask[(x % 512 < 300) & (((y > 180) & (y < 215)) | ((y > 300) & (y < 320)))] = 255
    else:
        mask[np.hypot(x % 128 - 64, (y - 250) * 1.6) < 34] = 255
    share = (cv2.GaussianBlur(mask, (0, 0), 0.8) / 255.0)[..., None]
    return texture(np.asarray(base, np.float32) * (1 - share) + np.asarray(ink) * share)


# ---------- benches ----------


def bench(kind: str, generator: Generator) -> Picture:
    """Return a workbench (wood, cutting mat, steel, rubber) with stains and scratches."""
    makers: dict[str, Callable[[Generator], Any]] = {"wood": _planks, "mat": _mat, "steel": _steel}
    picture = makers.get(kind, _rubber)(generator)
    n = BENCH_PIXELS
    for _ in range(25):
        centre, radius = generator.integers(0, n, 2), int(generator.integers(4, 40))
        stained = picture.copy()
        cv2.circle(stained, tuple(map(int, centre)), radius, (0.05, 0.045, 0.04), -1, cv2.LINE_AA)
        picture = picture + (stained - picture) * generator.uniform(0.1, 0.35)
        start = generator.integers(0, n, 2)
        end = start + generator.normal(0, 120, 2)
        colour = tuple(map(float, picture.mean((0, 1)) * generator.uniform(0.5, 1.7)))
        cv2.line(picture, start.tolist(), end.astype(int).tolist(), colour, 1, cv2.LINE_AA)
    return np.clip(picture, 0.01, 0.9).astype(np.float32)


def _noise(generator: Generator, rows: int, columns: int) -> Picture:
    return smooth_noise((BENCH_PIXELS, BENCH_PIXELS), (rows, columns), generator)


def _planks(generator: Generator) -> Any:
    n = BENCH_PIXELS
    base = np.array(generator.choice([(0.36, 0.22, 0.12), (0.50, 0.35, 0.20), (0.25, 0.15, 0.09)]))
    y = np.arange(n)[:, None] / n * np.ones((1, n))
    warp = _noise(generator, 10, 3) * 0.05
    rings = np.sin((y + warp) * 2 * np.pi * 60) * 0.5 + _noise(generator, 400, 8)
    rings = rings + 0.6 * _noise(generator, 900, 16)
    tone = generator.uniform(0.75, 1.15, 8)[(np.arange(n) * 7 // n)[:, None]]
    picture = base * (tone * (0.72 + 0.25 * rings / 1.3))[..., None]
    picture[np.arange(n) % (n // 7 + 1) < 3] *= 0.25
    return picture


def _mat(generator: Generator) -> Any:
    n = BENCH_PIXELS
    picture = np.full((n, n, 3), (0.03, 0.10, 0.075)) * (1 + 0.15 * _noise(generator, 300, 300))[..., None]
    for k in range(0, n, 32):
        picture[k : k + 2] = picture[:, k : k + 2] = (0.25, 0.30, 0.2)
    return picture


def _steel(generator: Generator) -> Any:
    n = BENCH_PIXELS
    level = 0.7 + 0.5 * _noise(generator, 500, 6) + 0.3 * _noise(generator, 20, 20)
    return np.full((n, n, 3), (0.24, 0.25, 0.26)) * level[..., None]


def _rubber(generator: Generator) -> Any:
    n = BENCH_PIXELS
    level = 0.8 + 0.6 * _noise(generator, 500, 500) + 0.5 * _noise(generator, 12, 12)
    return np.full((n, n, 3), 0.035) * level[..., None]


WOODS = {
    "oak": ((0.52, 0.35, 0.19), (0.33, 0.19, 0.09)),
    "walnut": ((0.20, 0.11, 0.06), (0.09, 0.045, 0.025)),
}
FELTS = ((0.030, 0.032, 0.036), (0.05, 0.02, 0.02), (0.02, 0.03, 0.05))
LAMINATES = ((0.42, 0.42, 0.41), (0.62, 0.60, 0.56), (0.16, 0.17, 0.18))


def desk(kind: str, generator: Generator) -> Picture:
    """Return a desk's top: one of `DESKS`."""
    if kind in WOODS:
        picture = _boards(kind, generator)
    elif kind == "felt":
        colour = np.array(generator.choice(FELTS))
        level = 0.55 + 0.5 * _noise(generator, 1024, 1024) + 0.5 * _noise(generator, 600, 600)
        picture = colour * (level + 0.3 * _noise(generator, 9, 9))[..., None]
    else:
        colour = np.array(generator.choice(LAMINATES))
        level = 0.86 + 0.16 * _noise(generator, 900, 900) + 0.10 * _noise(generator, 120, 120)
        picture = colour * (level + 0.06 * _noise(generator, 5, 5))[..., None]
    return np.clip(picture, 0.008, 0.85).astype(np.float32)


def _boards(kind: str, generator: Generator) -> Any:
    """Return four boards, each cut from another log."""
    n, (base, dark) = BENCH_PIXELS, np.array(WOODS[kind])
    y = np.arange(n)[:, None] / n
    board = np.minimum((y * 4).astype(int), 3)
    rings = np.zeros((n, n))
    for k in range(4):
        rows = slice(n // 4 * k, n // 4 * (k + 1))
        warp = (_noise(generator, 3, 2) * 0.5 + _noise(generator, 8, 4) * 0.1)[rows]
        wide, bent, start = generator.uniform(6, 11), generator.uniform(1.5, 4), generator.uniform(0, 9)
        phase = (y[rows] * wide + warp * bent + start) * 2 * np.pi
        rings[rows] = 0.5 + 0.5 * np.sin(phase + 0.8 * np.sin(phase))
    pores = np.clip(_noise(generator, 1024, 24) - 0.72, 0, 1) * 2.6
    pores = pores + np.clip(_noise(generator, 700, 50) - 0.8, 0, 1) * 2
    share = 0.55 * rings + 0.35 * _noise(generator, 300, 6)
    share = np.clip(share + 0.1 * _noise(generator, 20, 5), 0, 1)[..., None]
    tone = np.array([0.9, 1.06, 0.96, 1.1])[generator.permutation(4)][board][..., None]
    picture = (base * (1 - share) + dark * share) * (1 - 0.6 * np.clip(pores, 0, 1))[..., None] * tone
    picture[np.arange(n) % (n // 4) < 3] *= 0.35
    return picture
