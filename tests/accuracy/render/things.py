"""Tools and other things that lie round the sheet."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import cv2
import manifold3d as m3
import numpy as np
import numpy.typing as npt

from render.mesh import Array, Mesh, box, fillet, from_solid, lathe, ring
from render.textures import Generator, smooth_noise

HALF_FIELD_MM, PER_MM = 450, 0.5
"""Size and fineness of the map on which things are kept apart."""

ON_ITS_SIDE = np.array([[0, 0, 1.0], [0, 1, 0], [-1, 0, 0]])

TOOLS = (
    "driver",
    "marker",
    "jar",
    "tape",
    "socket",
    "nut",
    "box",
    "spanner",
    "nut",
    "driver",
    "box",
    "rag",
)
ODDMENTS = ("pencil", "coin", "mug", "card", "coin", "pencil", "coin", "card")


@dataclass(frozen=True)
class Thing:
    """A mesh, where it lies (4x4), and its material's name."""

    mesh: Mesh
    place: Array
    material: str


@dataclass(frozen=True)
class _Spot:
    """A place round the sheet, and a direction there (radians)."""

    x: float
    y: float
    yaw: float

    def put(
        self,
        mesh: Mesh,
        material: str,
        z: float,
        *,
        spread: tuple[float, float] = (1.0, 1.0),
        side: bool = False,
        yaw: float | None = None,
    ) -> Thing:
        """Return a thing here, upright or on its ``side``; ``spread`` moves it outwards in x and y."""
        angle = self.yaw if yaw is None else yaw
        c, s = np.cos(angle), np.sin(angle)
        place = np.eye(4)
        place[:3, :3] = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])
        if side:
            place[:3, :3] = place[:3, :3] @ ON_ITS_SIDE
        place[:3, 3] = self.x * spread[0], self.y * spread[1], z
        return Thing(mesh, place, material)


def _spot(generator: Generator, room: tuple[float, float]) -> tuple[float, float, float]:
    """Return a place just outside the sheet, and its direction from the middle."""
    angle = generator.uniform(0, 2 * np.pi)
    reach_x = abs(np.cos(angle)) / (172 + generator.uniform(0, room[0]))
    reach_y = abs(np.sin(angle)) / (128 + generator.uniform(0, room[1]))
    away = 1 / max(reach_x, reach_y)
    return away * np.cos(angle), away * np.sin(angle), angle


def _turned(points: Sequence[tuple[float, float]], radius: npt.ArrayLike, facets: int = 96) -> Mesh:
    return lathe(fillet(points, radius), facets, 30)


# ---------- tools ----------

Maker = Callable[[Generator, _Spot], list[Thing]]


def _driver(g: Generator, at: _Spot) -> list[Thing]:
    profile = [(0, 0.01), (0, 9), (8, 13), (30, 11), (62, 14.5), (88, 12), (92, 6), (92, 0.01)]
    handle = _turned(profile, 4)
    colour = str(g.choice(["plastic_red", "plastic_yellow", "plastic_blue"]))
    blade = _turned([(85, 0.01), (85, 3), (190, 3), (193, 1.5), (193, 0.01)], 0.5)
    return [at.put(handle, colour, 14.5, side=True), at.put(blade, "steel", 14.5, side=True)]


def _marker(g: Generator, at: _Spot) -> list[Thing]:
    barrel = _turned([(0, 0.01), (0, 6), (90, 6), (90, 0.01)], 0.8)
    cap = _turned([(90, 0.01), (90, 6.4), (132, 6.2), (136, 3), (136, 0.01)], 1)
    colour = str(g.choice(["plastic_red", "plastic_blue"]))
    return [at.put(barrel, "plastic_black", 6.4, side=True), at.put(cap, colour, 6.4, side=True)]


def _jar(g: Generator, at: _Spot) -> list[Thing]:
    glass = _turned([(0, 0.01), (0, 26), (40, 26), (46, 23), (46, 0.01)], 2.5)
    lid = _turned([(45, 0.01), (45, 24), (58, 24), (58, 0.01)], 1.5)
    colour = str(g.choice(["plastic_yellow", "steel_satin", "plastic_red"]))
    return [
        at.put(mesh, name, 0, spread=(1.12, 1.15)) for mesh, name in ((glass, "plastic_black"), (lid, colour))
    ]


def _tape(g: Generator, at: _Spot) -> list[Thing]:
    colour = str(g.choice(["plastic_blue", "cardboard", "plastic_yellow"]))
    roll, core = ring(0, 19, 42, 27, 1), ring(-0.1, 19.2, 27.1, 25, 0.3)
    return [
        at.put(mesh, name, 0, spread=(1.1, 1.15), yaw=0)
        for mesh, name in ((roll, colour), (core, "cardboard"))
    ]


def _socket(g: Generator, at: _Spot) -> list[Thing]:
    return [
        at.put(_turned([(0, 5.5), (0, 9), (12, 9), (14, 12), (32, 12), (32, 8)], 0.7), "steel", 12, side=True)
    ]


def _nut(g: Generator, at: _Spot) -> list[Thing]:
    hole = m3.Manifold.cylinder(9, 4.2, 4.2, 48).translate((0, 0, -1))
    nut = from_solid(m3.Manifold.cylinder(7, 8.1, 8.1, 6) - hole)
    return [at.put(nut, str(g.choice(["brass", "steel_satin"])), 0, spread=(0.97, 0.97))]


def _box(g: Generator, at: _Spot) -> list[Thing]:
    wide, deep, high = g.uniform(30, 90), g.uniform(20, 50), g.uniform(12, 40)
    solid = box((wide, deep, high)).translate((-wide / 2, -deep / 2, 0))
    colour = str(g.choice(["cardboard", "plastic_blue", "plastic_black"]))
    return [at.put(from_solid(solid), colour, 0, spread=(1.18, 1.2))]


def _spanner(g: Generator, at: _Spot) -> list[Thing]:
    flat, rounded = m3.CrossSection, m3.JoinType.Round
    ends = flat.circle(12, 64).translate((68, 0)) + flat.circle(14, 64).translate((-68, 0))
    outline = flat.square((130, 11), True) + ends
    outline = outline - flat.circle(7, 6).translate((68, 0)) - flat.square((20, 13), True).translate((-78, 3))
    outline = outline.offset(-1.5, rounded).offset(3, rounded).offset(-1.5, rounded)
    return [at.put(from_solid(m3.Manifold.extrude(outline, 5)), "steel_satin", 0, spread=(1.05, 1.05))]


def _rag(g: Generator, at: _Spot) -> list[Thing]:
    """Return a crumpled rag: an uneven dome."""
    rows, columns = 40, 96
    angle, out = np.meshgrid(np.linspace(0, 2 * np.pi, columns + 1)[:-1], np.linspace(0, 1, rows))
    height = smooth_noise((rows, columns), (8, 12), g) * 16 * (1 - out**3) + 1
    radius = (38 + 10 * smooth_noise((rows, columns), (1, 7), g)) * out
    points = np.stack([radius * np.cos(angle), radius * np.sin(angle), height], -1).reshape(-1, 3)
    i, j = np.meshgrid(np.arange(rows - 1), np.arange(columns), indexing="ij")
    a, b = i * columns + j, (i + 1) * columns + j
    c, d = i * columns + (j + 1) % columns, (i + 1) * columns + (j + 1) % columns
    faces = [np.stack(corners, -1).reshape(-1, 3) for corners in ([a, b, c], [b, d, c])]
    colour = str(g.choice(["plastic_red", "plastic_blue", "cardboard"]))
    return [at.put(Mesh(points, np.concatenate(faces), 60), colour, 0, spread=(1.15, 1.2))]


MAKERS: dict[str, Maker] = {
    "driver": _driver,
    "marker": _marker,
    "jar": _jar,
    "tape": _tape,
    "socket": _socket,
    "nut": _nut,
    "box": _box,
    "spanner": _spanner,
    "rag": _rag,
}


def tools(seed: int, count: int, with_rag: bool) -> list[Thing]:
    """Return up to ``count`` tools round the sheet."""
    generator, out = np.random.default_rng(seed), []
    kinds = [kind for kind in generator.permutation(TOOLS) if with_rag or kind != "rag"]
    for kind in kinds[:count]:
        x, y, angle = _spot(generator, (50, 45))
        spot = _Spot(x, y, angle + np.pi / 2 + generator.normal(0, 0.25))
        out += MAKERS[str(kind)](generator, spot)
    return out


# ---------- other things ----------


def _pencil(g: Generator, at: _Spot) -> Thing:
    body = from_solid(m3.Manifold.extrude(m3.CrossSection.circle(3.9, 6), 120))
    colour = str(g.choice(["plastic_yellow", "plastic_red", "plastic_black"]))
    return at.put(body, colour, 3.4, spread=(1.03, 1.03), side=True, yaw=at.yaw + np.pi / 2)


def _coin(g: Generator, at: _Spot) -> Thing:
    r = g.uniform(8, 13)
    profile = [(0, 0.01), (0, r), (1.9, r), (1.9, r - 1), (1.6, r - 1.2), (1.6, 0.01)]
    return at.put(
        _turned(profile, [0, 0.2, 0.2, 0.1, 0.1, 0]), str(g.choice(["brass", "steel_satin", "copper"])), -0.1
    )


def _mug(g: Generator, at: _Spot) -> Thing:
    profile = [(0, 0.01), (0, 38), (92, 41), (92, 37.5), (70, 36.5), (70, 0.01)]
    colour = str(g.choice(["paint_white", "plastic_blue", "putty_grey"]))
    return at.put(_turned(profile, [0, 4, 1, 1, 2, 0], 160), colour, 0, spread=(1.3, 1.35))


def _card(g: Generator, at: _Spot) -> Thing:
    colour = str(g.choice(["putty_white", "plastic_red", "cardboard"]))
    return at.put(from_solid(box((86, 54, 0.5), True)), colour, 0.2, spread=(1.12, 1.15))


ODDMENT_MAKERS: dict[str, Callable[[Generator, _Spot], Thing]] = {
    "pencil": _pencil,
    "coin": _coin,
    "mug": _mug,
    "card": _card,
}


def oddments(seed: int) -> list[Thing]:
    """Return pencils, coins, a mug and cards near the sheet."""
    generator = np.random.default_rng(seed)
    return [
        ODDMENT_MAKERS[str(kind)](generator, _Spot(*_spot(generator, (40, 35))))
        for kind in generator.permutation(ODDMENTS)
    ]


# ---------- keeping them apart ----------


def _footprint(points: Array) -> npt.NDArray[np.uint8]:
    size = 2 * int(HALF_FIELD_MM * PER_MM)
    hull = cv2.convexHull(((points + HALF_FIELD_MM) * PER_MM).astype(np.int32))
    return np.asarray(cv2.fillConvexPoly(np.zeros((size, size), np.uint8), hull, 1), np.uint8)


def apart(things: list[Thing]) -> list[Thing]:
    """Return those that lie neither on the sheet nor on an earlier thing."""
    groups: list[list[Thing]] = []
    for thing in things:  # parts of one thing share its place
        if groups and np.allclose(groups[-1][0].place[:2, 3], thing.place[:2, 3]):
            groups[-1].append(thing)
        else:
            groups.append([thing])
    taken, out = _footprint(np.array([[-153.0, -110], [153, -110], [153, 110], [-153, 110]])), []
    for group in groups:
        corners = [thing.mesh.v @ thing.place[:2, :3].T + thing.place[:2, 3] for thing in group]
        spot = _footprint(np.concatenate(corners))
        if not np.any(spot & taken):
            taken |= cv2.dilate(spot, np.ones((3, 3), np.uint8))
            out += group
    return out
