"""All photo sets of a hub before anything is rendered: how things lie, and where the camera is."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, replace

import numpy as np

from render.bores import Bore
from render.build import BuiltHub
from render.design import Design, Light, Phone, Poor, side_of
from render.hub import SIDES
from render.mesh import Array
from render.optics import Framing, Shot, Tags, frame_camera
from render.rest import Gauge, Laid, laid, lying, move
from render.seeds import rng_of, seed_of
from render.sheet import saddles
from render.stand import Standing, stand

Directions = list[tuple[float, float]]
"""Tilt and azimuth of each photo, degrees."""

CAMERA_PHOTOS = 8
TURNED, UPSIDE_DOWN = (2, 5), (3, 6)
"""Photos of the sheet alone for which the phone is turned by 90 and by 180 degrees, from 0."""

DIAGONAL_35_MM = 43.27
FIRST_DAY = datetime.datetime(2026, 3, 2, 9, 0)
"""Nothing was photographed before."""


@dataclass(frozen=True)
class PhotoSet:
    """One set of photos, ready to be taken.

    Attributes
    ----------
    name, light
        Of the set.
    shots
        The photos.
    standing
        The hub upright, or None.
    lying, gaps
        Hub to target of a lying hub, and its flanges' gaps to the paper, or None.
    gauge, lays
        A gauge on the sheet, and how it lies in each photo, or None and nothing.
    """

    name: str
    light: Light
    shots: tuple[Shot, ...]
    standing: Standing | None = None
    lying: Array | None = None
    gaps: dict[str, float] | None = None
    gauge: Gauge | None = None
    lays: tuple[Laid, ...] = ()

    @property
    def hub_to_target(self) -> Array | None:
        """4x4, or None where no hub is in the picture."""
        return self.standing.hub_to_target if self.standing else self.lying


@dataclass(frozen=True)
class _Arrangement:
    """What decides where the cameras of a set go: directions, points and the nearest distance.

    ``focus`` holds the points to focus on, by name; ``needed`` the points that must be in the picture.
    """

    directions: Directions
    needed: Array
    focus: dict[str, Array]
    aim: Array
    nearest: float
    phone: Phone
    poor: Poor | None = None


def plan(design: Design, built: BuiltHub) -> list[PhotoSet]:
    """Return a hub's photo sets in the design's order; the same design gives the same plan."""
    out: list[PhotoSet] = []
    gauged: dict[str, Bore] = {}
    for name in design.sets:
        generator = rng_of(design.corpus, design.name, name, "pose")
        light = design.setting.lights[name]
        side = side_of(name)
        if side in SIDES:
            standing = stand(design, built, name, gauged.get(side), generator)
            gauged.setdefault(side, standing.gauged)
            arrangement = _around_standing(design, built, name, standing, generator)
            out.append(PhotoSet(name, light, _shoot(design, name, arrangement, generator), standing=standing))
        elif name == "side":
            matrix, gaps = lying(built, generator)
            arrangement = _around_lying(design, built, matrix, generator)
            shots = _shoot(design, name, arrangement, generator)
            out.append(PhotoSet(name, light, shots, lying=matrix, gaps=gaps))
        elif name == "flat":
            gauge, lays, arrangement = _gauge_on_sheet(design, generator)
            shots = _shoot(design, name, arrangement, generator, lays)
            out.append(PhotoSet(name, light, shots, gauge=gauge, lays=lays))
        else:
            out.append(
                PhotoSet(name, light, _shoot(design, name, _sheet_alone(design, generator), generator))
            )
    return out


# ---------- what is in the picture ----------


def _point(x: float, y: float, z: float) -> Array:
    return np.array([x, y, z])


def _far_focus(generator: np.random.Generator) -> Array:
    return _point(0, 0, -generator.uniform(40, 140))


def _poor(design: Design, name: str) -> Poor | None:
    return design.life.poor[name] if design.life else None


def _around_standing(
    design: Design, built: BuiltHub, name: str, standing: Standing, generator: np.random.Generator
) -> _Arrangement:
    x, y = standing.hub_to_target[:2, 3]
    wire = standing.seated[0]
    reach = np.hypot(*standing.bosses[:, :2].T).max() + 4
    hull = [
        [x + reach * np.cos(angle), y + reach * np.sin(angle), standing.flange_z + 4]
        for angle in np.arange(0, 6.28, 0.5)
    ]
    ends = np.array([wire.point(distance) for distance in (0, wire.gauge.length)])
    needed = np.r_[move(standing.hub_to_target, ends), hull]
    focus = {"flange": _point(x, y, standing.flange_z), "paper": np.zeros(3)}
    directions: Directions = [(generator.uniform(0, 8), generator.uniform(0, 360))]
    first = generator.uniform(0, 360)
    photos = design.life.photos if design.life else 4
    directions += [
        (generator.uniform(13, 31), first + 360 / 3.3 * k + generator.uniform(-18, 18))
        for k in range(photos - 1)
    ]
    aim = np.array([-12 + generator.uniform(-6, 6), generator.uniform(-6, 6), 0.45 * standing.flange_z])
    nearest = 332 - aim[2]
    if design.life:
        directions, nearest = _by_hand(photos, generator), 282.0
        focus["near"] = _point(x, y, standing.top_z + generator.uniform(5, 40))
        focus["far"] = _far_focus(generator)
    return _Arrangement(directions, needed, focus, aim, nearest, design.phone, _poor(design, name))


def _by_hand(photos: int, generator: np.random.Generator) -> Directions:
    """Return directions as people hold a phone: the first only about vertical, the others anywhere around."""
    first = generator.uniform(0, 360)
    return [
        (generator.uniform(8, 14), generator.uniform(0, 360)),
        *(
            (generator.uniform(14, 35), first + 360 / photos * k + generator.uniform(-35, 35))
            for k in range(photos - 1)
        ),
    ]


def _around_lying(
    design: Design, built: BuiltHub, matrix: Array, generator: np.random.Generator
) -> _Arrangement:
    half = built.hub.half
    rims = [
        [12 * np.cos(angle), 12 * np.sin(angle), z]
        for z in (-half, half)
        for angle in np.arange(0, 6.28, 0.8)
    ]
    x, y, z = matrix[:3, 3]
    focus = {"flange": _point(x, y, z + 8), "paper": np.zeros(3)}
    directions: Directions = [
        (generator.uniform(0, 7), generator.uniform(0, 360)),
        (generator.uniform(14, 30), generator.uniform(0, 360)),
    ]
    if design.life:
        second = directions[1][1]
        directions += [
            (generator.uniform(14, 30), second + generator.uniform(90, 270))
            for _ in range(design.life.lying_photos - 2)
        ]
        focus["near"] = _point(x, y, z + generator.uniform(40, 75))
        focus["far"] = _far_focus(generator)
    aim, needed = _point(0, 0, z * 0.6), move(matrix, rims)
    return _Arrangement(directions, needed, focus, aim, 332.0, design.phone, _poor(design, "side"))


def _gauge_on_sheet(
    design: Design, generator: np.random.Generator
) -> tuple[Gauge, tuple[Laid, ...], _Arrangement]:
    """Return the gauge laid anew for every photo; aim and distance are each photo's own."""
    if design.life is None:
        raise ValueError(f"{design.name} has no gauge of its own to lay on the sheet")
    life = design.life
    gauge = Gauge(life.gauge_length, life.gauge_diameter, design.hub.head_diameter, "flat")
    yaw = generator.uniform(-20, 20) + 180 * int(generator.integers(2))
    lays = tuple(
        laid(gauge, yaw + generator.uniform(-25, 25), generator.uniform(-9, 9, 2))
        for _ in range(life.flat_photos)
    )
    focus = {
        "flange": np.zeros(3),
        "paper": np.zeros(3),
        "near": _point(0, 0, generator.uniform(40, 75)),
        "far": _far_focus(generator),
    }
    directions = [(generator.uniform(0, 9), generator.uniform(0, 360)) for _ in lays]
    poor = _poor(design, "flat")
    return (
        gauge,
        lays,
        _Arrangement(directions, np.zeros((1, 3)), focus, np.zeros(3), 0.0, design.phone, poor),
    )


def _sheet_alone(design: Design, generator: np.random.Generator) -> _Arrangement:
    phone = replace(design.phone, f=design.phone.f * (1 + design.phone.breathing))
    directions = [(generator.uniform(0, 5), 0.0)]
    directions += [
        (generator.uniform(15, 36), 360 / 7 * k + generator.uniform(-15, 15))
        for k in range(CAMERA_PHOTOS - 1)
    ]
    focus = {"flange": np.zeros(3), "paper": np.zeros(3)}
    return _Arrangement(directions, np.zeros((1, 3)), focus, np.zeros(3), 300.0, phone)


# ---------- the photos ----------


def _ring(design: Design) -> Array:
    """Return the sheet's saddles as printed, taken as flat."""
    points, _ = saddles()
    return np.c_[points * design.setting.print_scale, np.zeros(len(points))]


def _shoot(
    design: Design,
    name: str,
    how: _Arrangement,
    generator: np.random.Generator,
    lays: tuple[Laid, ...] = (),
) -> tuple[Shot, ...]:
    """Return a set's photos."""
    ring = _ring(design)
    shots = []
    for i in range(len(how.directions)):
        upright = name in how.phone.portrait and (i % 2 == 0 or name != "camera")
        framing, focus_on = _framing(
            design, name, how, i, upright=upright, ring=ring, lays=lays, generator=generator
        )
        view, distance = frame_camera(how.phone, framing, generator)
        shots.append(
            Shot(
                view=view,
                focus_on=focus_on,
                distance=distance,
                tilt_deg=float(framing.tilt_deg),
                azimuth_deg=float(framing.azimuth_deg),
                roll_deg=float(framing.roll_deg),
                tags=_tags(design, how.phone, name, i, upright),
                motion=how.poor.motion if how.poor and i == how.poor.photo else None,
            )
        )
    return tuple(shots)


def _framing(
    design: Design,
    name: str,
    how: _Arrangement,
    photo: int,
    *,
    upright: bool,
    ring: Array,
    lays: tuple[Laid, ...],
    generator: np.random.Generator,
) -> tuple[Framing, str]:
    """Return how one camera is placed, and what it is focused on."""
    alone = name == "camera"
    quarter = upright or (alone and photo in TURNED)
    roll = generator.normal(0, 4) + (90 if quarter else 0) + (180 if alone and photo in UPSIDE_DOWN else 0)
    aside = np.r_[generator.uniform(-25, 25, 2) if alone else generator.uniform(-4, 4, 2), 0]
    focus_on = "paper" if alone else design.setting.focus[photo % 4]
    share = 1.0 if alone else (0.8 if upright else 0.93)
    farthest, stretch = 600.0, 1.05
    needed, aim, nearest = how.needed, how.aim, how.nearest
    if design.life:
        if how.poor and photo == how.poor.photo and how.poor.focus:
            focus_on = how.poor.focus
        roll, aside = roll + generator.normal(0, 5), aside * 3
        farthest, stretch = 550.0, 1.4
        share = float(generator.choice([0.80, 0.88, 0.95, 1.0, 1.0]))
    if lays:
        needed = np.array([lays[photo].seat, lays[photo].tip])
        aim, nearest = needed.mean(axis=0), generator.uniform(385, 440)
        farthest, stretch, share = 470.0, 1.05, 0.97
    focus = how.focus[focus_on] + np.array([0, 0, generator.uniform(-6, 6)])
    tilt, azimuth = how.directions[photo]
    framing = Framing(
        tilt_deg=tilt,
        azimuth_deg=azimuth,
        roll_deg=roll,
        aim=aim + aside,
        focus=focus,
        saddles=ring,
        needed=needed,
        nearest=nearest,
        farthest=farthest,
        share=share,
        stretch=stretch,
    )
    return framing, focus_on


def _tags(design: Design, phone: Phone, name: str, photo: int, upright: bool) -> Tags:
    key = (design.corpus, design.name)
    generator = rng_of(*key, name, photo, "meta")
    taken = FIRST_DAY + datetime.timedelta(
        days=seed_of(*key) % 150,
        minutes=seed_of(*key, name) % 480,
        seconds=int(25 * photo + generator.integers(0, 15)),
    )
    f35 = phone.f / np.hypot(phone.width, phone.height) * DIAGONAL_35_MM
    return Tags(
        make=phone.make,
        model=phone.model,
        orientation=phone.portrait_tag if upright else 1,
        taken=taken.strftime("%Y:%m:%d %H:%M:%S"),
        f_mm=phone.f_mm,
        f35=round(float(f35 * phone.exif_error)),
        f_number=phone.f_number,
        iso=phone.iso,
        quality=phone.quality,
    )
