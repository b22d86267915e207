"""A hub standing on the sheet, with the gauges in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from render.bores import Bore
from render.build import BuiltHub
from render.design import Design, side_of
from render.hub import SIGNS, PairedFlange
from render.mesh import Array, frame_to, ray_hits
from render.rest import Gauge, Line, Seated, at_rest, leaning, lowest, move, rigid, stands_on, turn
from render.sheet import STATION

LOOSE_DEG = 0.35
"""Standard deviation of a wire's direction in its bore, where its rest is not solved; cut at twice this."""


@dataclass(frozen=True)
class Standing:
    """A hub upright at the station.

    Attributes
    ----------
    side
        The one that is up.
    hub_to_target
        4x4.
    gauged
        The bore of the first gauge.
    seated
        The gauges.
    flange_z, top_z, bore_z
        Heights over the sheet: the flange's middle and the upper end face on the axis, and the gauged bore's
        line at the crossing point.
    bosses
        The crossing points, hub frame (n, 3).
    """

    side: str
    hub_to_target: Array
    gauged: Bore
    seated: tuple[Seated, ...]
    flange_z: float
    top_z: float
    bore_z: float
    bosses: Array

    @property
    def up(self) -> Array:
        """The hub's axis towards the upper end, target frame."""
        axis: Array = self.hub_to_target[:3, :3] @ [0, 0, float(SIGNS[self.side])]
        return axis


def stand(
    design: Design, built: BuiltHub, photo_set: str, before: Bore | None, generator: np.random.Generator
) -> Standing:
    """Return the hub standing for a photo set; ``before`` is the bore that the side's first set gauged."""
    side = side_of(photo_set)
    gauged, other = _choose_bore(design, built, photo_set, before, generator)
    matrix = _place(design, built, photo_set, gauged, generator)
    tips = design.tips.get(photo_set, ("flat",))
    bores = [gauged, other] if len(tips) > 1 and other else [gauged]
    seated: list[Seated] = []
    for bore, tip in zip(bores, tips, strict=False):
        wire = seated[0].gauge.diameter if seated else None
        seated.append(
            _seat(design, built, photo_set, bore, tip=tip, wire=wire, matrix=matrix, generator=generator)
        )
    hub = built.hub
    middle, face = SIGNS[side] * hub.centre_to_flange[side], SIGNS[side] * hub.half
    flange_z, top_z = matrix[2, 3] + hub.centre_to_flange[side], matrix[2, 3] + hub.half
    if design.life:
        flange_z, top_z = move(matrix, [[0, 0, middle], [0, 0, face]])[:, 2]
    step = 2 if isinstance(hub.flanges[side], PairedFlange) else 1
    return Standing(
        side=side,
        hub_to_target=matrix,
        gauged=gauged,
        seated=tuple(seated),
        flange_z=float(flange_z),
        top_z=float(top_z),
        bore_z=float(move(matrix, gauged.axis.through)[0, 2]),
        bosses=np.array([bore.axis.crossing for bore in built.sides[side].bores[::step]]),
    )


def _choose_bore(
    design: Design, built: BuiltHub, photo_set: str, before: Bore | None, generator: np.random.Generator
) -> tuple[Bore, Bore | None]:
    """Return the bore that is gauged, and the other one of its boss."""
    bores = list(built.sides[side_of(photo_set)].bores)
    if before and design.life:
        other_bore = design.life.moved == "bore"
        bores = [
            bore
            for bore in bores
            if (bore.axis.boss == before.axis.boss) == other_bore
            and (bore.axis.turn != before.axis.turn) == other_bore
        ]
    gauged = bores[int(generator.integers(len(bores)))]
    same_boss = (bore for bore in bores if bore.axis.boss == gauged.axis.boss and bore is not gauged)
    return gauged, next(same_boss, None)


def _place(
    design: Design, built: BuiltHub, photo_set: str, gauged: Bore, generator: np.random.Generator
) -> Array:
    """Return hub to target: the side up, the gauge about to the right, on the lowest point if it leans."""
    hub = built.hub
    upright = np.eye(3) if side_of(photo_set) == "ds" else turn("x", 180)
    along = upright @ gauged.axis.along
    wanted = generator.uniform(-18, 18)
    rotation = turn("z", wanted - np.degrees(np.arctan2(along[1], along[0]))) @ upright
    x, y = STATION[0] + generator.uniform(-3.5, 3.5), generator.uniform(-3.5, 3.5)
    if not design.life:
        return rigid(rotation, [x, y, hub.half + hub.block])
    rotation = leaning(rotation, *design.life.lean[photo_set])
    return rigid(rotation, [x, y, hub.block - lowest(stands_on(built), rotation)])


def _seat(
    design: Design,
    built: BuiltHub,
    photo_set: str,
    bore: Bore,
    *,
    tip: str,
    wire: float | None,
    matrix: Array,
    generator: np.random.Generator,
) -> Seated:
    """Return a gauge in a bore; ``wire`` is the diameter of the first gauge, if this is the second."""
    loose = generator.normal(0, LOOSE_DEG, 2).clip(-2 * LOOSE_DEG, 2 * LOOSE_DEG)
    diameter = float(generator.choice([1.8, 1.9, 2.0])) if wire is None else wire
    length = float(round(100 + generator.uniform(-0.3, 0.3), 3))
    head, life = built.hub.head_diameter, design.life
    if life:
        gauge = Gauge(life.gauge_length, life.gauge_diameter, head, tip)
        aside = generator.uniform(-0.6, 0.6, 2)
        line = at_rest(bore, matrix, gauge, play=life.play, drop=life.drop[photo_set], aside=aside)
    else:
        gauge = Gauge(length, diameter, head, tip)
        line = _loose(bore, loose[0], loose[1])
    side = built.sides[side_of(photo_set)]
    hits = ray_hits(side.v, side.f, line.seat, line.along)
    nominal = float(np.linalg.norm(bore.exit - bore.axis.seat))
    leaves = float(hits[np.argmin(np.abs(hits - nominal))])
    return Seated(gauge, bore, line.seat, line.along, line.play_deg, leaves, line.slack)


def _loose(bore: Bore, aside_deg: float, up_deg: float) -> Line:
    """Return a wire whose head sits squarely on its seat and that points a little elsewhere than the bore."""
    axis = bore.axis
    frame = frame_to(axis.seat, axis.along)
    along = frame[:3, 2] + frame[:3, 0] * np.radians(aside_deg) + frame[:3, 1] * np.radians(up_deg)
    along /= np.linalg.norm(along)
    play = float(np.degrees(np.arccos(np.clip(along @ axis.along, -1, 1))))
    return Line(axis.seat, along, play)
