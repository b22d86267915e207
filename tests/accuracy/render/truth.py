"""What is true of a hub and of its photos, as the files of a corpus state it.

Keys are those that a corpus has always had: a boss is a ``lump`` there, the over-locknut ``OLD``.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt

from render.bores import TURNS, Bore, even_alpha, rim_hole, rim_hole_number
from render.build import BuiltHub, diameter
from render.design import Design, Light
from render.hub import SIDES, SIGNS, AnyFlange, Boss, Hub, PairedFlange
from render.mesh import Array
from render.optics import Shot, View
from render.plan import PhotoSet
from render.rest import Gauge, Laid, Seated, move
from render.sheet import BAR, Wave, saddles, wave_height

Json = dict[str, Any]
Hidden = Callable[[View, Array], npt.NDArray[np.bool_]]
"""Which of the points (n, 3) something stands in front of."""

UNITS = "mm, degrees; pixels: OpenCV convention, stored array before EXIF rotation"

DIGITS = 6


def plain(value: Any) -> Any:
    """Return a value as JSON holds it: no arrays, numbers rounded to `DIGITS` places."""
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if isinstance(value, np.ndarray):
        return plain(value.tolist())
    if isinstance(value, np.generic):
        return plain(value.item())
    return round(value, DIGITS) if isinstance(value, float) else value


# ---------- the hub ----------


def hub_truth(built: BuiltHub) -> Json:
    """Return the figures of a hub and of its bores."""
    hub = built.hub
    out: Json = {"OLD": hub.over_locknut, "sides": {side: _side_truth(built, side) for side in SIDES}}
    if hub.rim:
        out["rim"] = {
            "erd": hub.erd,
            "spokes": hub.rim.spokes,
            "holes": hub.rim.row,
            "hole_0_deg": hub.rim.zero_deg,
        }
    return out


def _side_truth(built: BuiltHub, side: str) -> Json:
    hub, flange, bores = built.hub, built.hub.flanges[side], built.sides[side].bores
    paired = isinstance(flange, PairedFlange)
    width = hub.centre_to_flange[side]
    stated = [_bore_truth(hub, bore, side) for bore in bores]
    out: Json = {
        "kind": "paired" if paired else "radial",
        "n": flange.count,
        "w": width,
        "z_mid": SIGNS[side] * width,
        "phase_deg": flange.phase_deg,
        "offset": flange.offset,
        "tilt_deg": flange.tilt_deg,
        "bore_dia": flange.bore,
        "cbore_dia": flange.counterbore,
        "a": flange.half_gap if isinstance(flange, PairedFlange) else 0.0,
        "d": diameter(hub, side),
        "spokes_in_wheel": (4 if paired else 2) * flange.count,
        "crosses": hub.crosses if paired else 0,
        "bores": stated,
        "alpha_deg": bores[0].axis.alpha_deg,
        "beta_deg": bores[0].axis.beta_deg,
        "lump_top_z": built.sides[side].boss_top_z,
    }
    out |= _by_direction(stated)
    if hub.rim:
        out |= {"spokes": len(bores), "spokes_in_wheel": hub.rim.spokes, "first_hole": hub.rim.first[side]}
        if paired and flange.crosses is not None:
            out |= {
                "crosses": flange.crosses,
                "even_alpha_deg": even_alpha(flange.count, flange.crosses),
            }
    return out


def _by_direction(bores: list[Json]) -> Json:
    """Return means over the bores that lead the same way round, by the name of the direction."""
    out: Json = {"spoke_length": {}, "W": {}, "W_spread": {}}
    for name in TURNS.values():
        own = [bore for bore in bores if bore["dir"] == name]
        if own:
            out["spoke_length"][name] = float(np.mean([bore["length"] for bore in own]))
            out["W"][name] = float(np.mean([bore["W"] for bore in own]))
            out["W_spread"][name] = float(np.ptp([bore["W"] for bore in own]))
    out["spoke_length_mean"] = float(np.mean(list(out["spoke_length"].values())))
    return out


def _bore_truth(hub: Hub, bore: Bore, side: str) -> Json:
    axis, rim = bore.axis, rim_hole(hub, bore.axis)
    out: Json = {
        "lump": axis.boss,
        "dir": axis.name,
        "C": axis.crossing,
        "axis_at_C": axis.through,
        "u": axis.along,
        "seat": axis.seat,
        "exit": bore.exit,
        "exit_from_C": bore.exit_from_crossing,
        "rear_from_C": bore.rear_from_crossing,
        "W": bore.width,
        "rim_hole": rim,
        "length": float(np.linalg.norm(rim - axis.seat)),
    }
    if hub.rim:
        out["hole"] = rim_hole_number(hub.rim, axis, side)
    return out


# ---------- the design ----------


def _boss_design(boss: Boss) -> Json:
    """Return what decides whether a boss is its own mirror image, under the keys of a corpus."""
    out: Json = {
        "h": boss.half_width,
        "slope": boss.slope_deg,
        "lean": boss.lean_deg,
        "cant": boss.cant_deg,
        "twist": boss.twist_deg,
        "beak": boss.beak,
    }
    if boss.twist_other_deg is not None:
        out["twist_l"] = boss.twist_other_deg
    return out


def _flange_design(flange: AnyFlange) -> Json:
    out = dataclasses.asdict(flange)
    return out | {"lump": _boss_design(flange.boss) if isinstance(flange, PairedFlange) else None}


def design_truth(design: Design) -> Json:
    """Return the whole design, and the figures that a benchmark looks up in it."""
    hub = design.hub
    return dataclasses.asdict(design) | {
        "cam": design.phone.name,
        "erd": hub.erd,
        "rim_offset": hub.rim_offset,
        "flange": _flange_design(hub.flanges["ds"]),
        "flange_nds": _flange_design(hub.flanges["nds"]),
    }


# ---------- the sets ----------


def light_truth(light: Light) -> Json:
    """Return a set's light; a lamp only where there is one."""
    return {key: value for key, value in dataclasses.asdict(light).items() if value is not None}


def _gauge(gauge: Gauge) -> Json:
    return {
        "L": gauge.length,
        "dia": gauge.diameter,
        "head_dia": gauge.head_diameter,
        "head_len": 2.5,
        "tip": gauge.tip,
        "nipple_dia": gauge.nipple_diameter,
    }


def _seated(wire: Seated, to_target: Array) -> Json:
    axis = wire.bore.axis
    out = _gauge(wire.gauge) | {
        "lump": axis.boss,
        "dir": axis.name,
        "seat": wire.seat,
        "u": wire.along,
        "play_deg": wire.play_deg,
        "exit_from_seat": wire.exit_from_seat,
        "protrusion": wire.protrusion,
        "seat_target": move(to_target, wire.seat)[0],
        "exit_target": move(to_target, wire.point(wire.exit_from_seat))[0],
        "tip_target": move(to_target, wire.point(wire.gauge.length))[0],
        "u_target": to_target[:3, :3] @ wire.along,
    }
    if wire.slack:
        slack = wire.slack
        out |= {
            "play": slack.play,
            "drop": slack.drop,
            "bore_seat": slack.seat,
            "bore_length": slack.length,
        }
    return out


def set_truth(design: Design, photo_set: PhotoSet) -> Json:
    """Return what is true of a photo set; its photos are added as they are taken."""
    out: Json = {
        "photos": [],
        "light": light_truth(photo_set.light),
        "hub_to_target": photo_set.hub_to_target,
        "gauges": [],
    }
    standing = photo_set.standing
    if standing:
        out |= {
            "block": design.hub.block,
            "flange_mid_z": standing.flange_z,
            "top_face_z": standing.top_z,
            "bore_z_at_C": standing.bore_z,
            "gauges": [_seated(wire, standing.hub_to_target) for wire in standing.seated],
        }
        if photo_set.name != standing.side and design.life:
            out |= {"side": standing.side, "moved_to": design.life.moved}
    elif photo_set.gaps:
        out |= {"block": 0.0, "contact_gap": photo_set.gaps}
    elif photo_set.gauge:
        out["gauges"] = [_gauge(photo_set.gauge)]
    return out


# ---------- the photos ----------


def camera_truth(shot: Shot) -> Json:
    """Return a photo's camera."""
    view, tags = shot.view, shot.tags
    out: Json = {
        "width": view.width,
        "height": view.height,
        "fx": view.fx,
        "fy": view.fy,
        "cx": view.cx,
        "cy": view.cy,
        "dist": view.distortion,
        "R": view.rotation,
        "t": view.translation,
        "aperture": view.aperture,
        "focus_z": view.focus_z,
        "focus_on": shot.focus_on,
        "distance": shot.distance,
        "tilt_deg": shot.tilt_deg,
        "azimuth_deg": shot.azimuth_deg,
        "roll_deg": shot.roll_deg,
        "make": tags.make,
        "model": tags.model,
        "orientation": tags.orientation,
        "exif_f_mm": tags.f_mm,
        "exif_f35": tags.f35,
        "iso": tags.iso,
        "jpeg_quality": tags.quality,
    }
    return out | ({"motion": shot.motion} if shot.motion else {})


@dataclasses.dataclass(frozen=True)
class _Pointer:
    """Points of a photo with their pixels; ``hidden`` says what stands in front of them."""

    view: View
    hidden: Hidden

    def points(self, where: npt.ArrayLike, seen_at: npt.ArrayLike | None = None) -> list[Json]:
        """Return points (n, 3); each is visible if ``seen_at`` (by default itself) is."""
        xyz = np.atleast_2d(np.asarray(where, float))
        pixels = self.view.project(xyz)
        seen = np.atleast_2d(np.asarray(seen_at, float)) if seen_at is not None else xyz
        visible = self._in_picture(pixels) & ~self.hidden(self.view, seen)
        return [
            _stated_point(pixel, place, bool(sees))
            for pixel, place, sees in zip(pixels, xyz, visible, strict=True)
        ]

    def on_wire(self, where: Array, gauge: Gauge, nipple: bool = False) -> list[Json]:
        """Return a point on a wire's axis; it is seen if the wire's near side is."""
        towards = (self.view.eye - where) / np.linalg.norm(self.view.eye - where)
        out = gauge.diameter / 2 + 0.6 + (gauge.nipple_diameter / 2 if nipple else 0)
        return self.points(where, where + towards * out)

    def _in_picture(self, pixels: Array) -> npt.NDArray[np.bool_]:
        across, down = pixels.T
        inside_x = (across > -0.5) & (across < self.view.width - 0.5)
        return inside_x & (down > -0.5) & (down < self.view.height - 0.5)


def _stated_point(pixel: Array, place: Array, visible: bool | None) -> Json:
    return {
        "px": [round(float(value), 4) for value in pixel],
        "xyz": [round(float(value), 5) for value in place],
        "visible": visible,
    }


def photo_truth(
    design: Design, built: BuiltHub, photo_set: PhotoSet, photo: int, *, wave: Wave | None, hidden: Hidden
) -> Json:
    """Return a photo's camera and the pixels of everything that a program may look for."""
    shot = photo_set.shots[photo]
    pointer = _Pointer(shot.view, hidden)
    flat, _ = saddles()
    flat = flat * design.setting.print_scale
    points = {"saddles": pointer.points(np.c_[flat, wave_height(flat[:, 0], flat[:, 1], wave)])}
    out: Json = {"file": None, "camera": camera_truth(shot), "points": points}
    if photo_set.lays and photo_set.gauge:
        lay = photo_set.lays[photo]
        out["gauge"] = _lay(lay)
        points["gauge_seat"] = pointer.on_wire(lay.seat, photo_set.gauge)
        points["gauge_tip"] = pointer.on_wire(lay.tip, photo_set.gauge, nipple=True)
    if photo_set.standing:
        points |= _standing_points(design, built, photo_set, pointer)
    if photo_set.lying is not None:
        points |= _lying_points(built, photo_set.lying, shot.view)
    return out


def _lay(lay: Laid) -> Json:
    return {
        "seat_target": lay.seat,
        "tip_target": lay.tip,
        "u_target": lay.along,
        "yaw_deg": lay.yaw_deg,
    }


def _standing_points(design: Design, built: BuiltHub, photo_set: PhotoSet, pointer: _Pointer) -> Json:
    standing = photo_set.standing
    if standing is None:
        return {}
    matrix, side = standing.hub_to_target, standing.side
    crossings = move(matrix, standing.bosses)
    above = abs(built.sides[side].boss_top_z - SIGNS[side] * design.hub.centre_to_flange[side])
    tops, top = crossings.copy(), matrix[:3, 3] * [1, 1, 0] + [0, 0, standing.top_z]
    tops[:, 2] = standing.flange_z + above
    if design.life:
        tops, top = crossings + standing.up * above, matrix[:3, 3] + standing.up * design.hub.half
    points: Json = {
        "lump_C": pointer.points(crossings, tops),
        "lump_C_on_top_face": pointer.points(tops),
    }
    for i, wire in enumerate(standing.seated):
        last = "_2" if i else ""
        for name, distance in (
            ("gauge_exit", wire.exit_from_seat),
            ("gauge_tip", wire.gauge.length),
            ("gauge_seat", 0.0),
        ):
            place = move(matrix, wire.point(distance))[0]
            points[name + last] = pointer.on_wire(place, wire.gauge, nipple=name == "gauge_tip")
    return points | {"axis_top": pointer.points(top)}


def _lying_points(built: BuiltHub, matrix: Array, view: View) -> Json:
    """Return landmarks of a lying hub; whether they are seen is not said."""
    half = built.hub.half
    places: dict[str, Any] = {"end_face_ds": [[0, 0, half]], "end_face_nds": [[0, 0, -half]]}
    for side in SIDES:
        own = {bore.axis.boss: bore.axis.crossing for bore in built.sides[side].bores}
        places[f"lump_C_{side}"] = list(own.values())
        middle = SIGNS[side] * built.hub.centre_to_flange[side]
        places[f"flange_centre_{side}"] = [[0, 0, middle]]
    out: Json = {}
    for name, where in places.items():
        moved = move(matrix, where)
        out[name] = [
            _stated_point(pixel, place, None) for pixel, place in zip(view.project(moved), moved, strict=True)
        ]
    return out


# ---------- the file ----------


def wave_truth(wave: Wave | None) -> Json | None:
    """Return how the paper lies; None where it is flat."""
    if wave is None:
        return None
    out: Json = {"max": wave.highest, "terms": wave.terms}
    return out | ({"curl": dataclasses.astuple(wave.curl)} if wave.curl else {})


def whole_truth(design: Design, built: BuiltHub, wave: Wave | None, sets: Json) -> Json:
    """Return what goes into ``truth.json``."""
    scale, slip = design.setting.print_scale, design.slip
    return {
        "rendered": True,
        "id": design.name,
        "note": design.note,
        "units": UNITS,
        "design": design_truth(design),
        "hub": hub_truth(built),
        "print_scale_x": scale[0],
        "print_scale_y": scale[1],
        "checkbar_true": [BAR * scale[0], BAR * scale[1]],
        "slip": {"kind": slip.kind, "side": slip.side, "field": "W"} if slip else None,
        "sets": sets,
        "wave": wave_truth(wave),
    }
