"""The boss pattern of a photo set, from the first guess to the exact place and the mean boss' shape."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np

from hubsight.camera import View
from hubsight.model.arrays import Array, Picture
from hubsight.model.refusal import Refusal
from hubsight.model.stated import NOTHING_STATED, StatedWheel
from hubsight.scene.boss_shape import BossShape
from hubsight.scene.pattern_pose import Matches, PatternPose
from hubsight.scene.usual import COUNTS_PAIRED, COUNTS_RADIAL
from hubsight.see.bosses.axis_seen import AxisSeen, see_axis
from hubsight.see.bosses.faces import face_silhouettes
from hubsight.see.bosses.find import (
    WORTH_A_LOOK,
    EdgeMap,
    Rival,
    RoughPattern,
    edge_map,
    find_pattern,
    plane_edges,
    starts_from_gauge,
    without_wires,
)
from hubsight.see.bosses.pattern import place_pattern
from hubsight.see.bosses.shape import BossByPhoto, read_boss, read_by_photo
from hubsight.see.gauge.sighting import ANCHORS, GaugeSighting
from hubsight.see.peak import sub_step
from hubsight.wheel.crosses import USUAL_ERD
from hubsight.wheel.rows import bore_directions, possible_rows

Kind = Literal["paired", "radial"]

FACES_ABOVE_GAUGE_MM = (2.4, 3.2, 4.0, 4.8, 5.6, 6.4)
"""Heights of the bosses' upper faces above the gauge's axis that are tried, mm; more are slower (common
practice, no source)."""
SEARCH_HALF_MM, SEARCH_STEP_MM = 58.0, 0.4
"""Half side and step of the square in which the pattern is looked for, mm; a finer step is slower."""
FINE_HALF_MM = 42.0
"""Half side of the square in which the pattern is placed, mm; raising it is slower."""
LEAST_TANGENT_MM = 9.0
"""Distance from the hub axis below which a gauge sits in a radial hub, mm; raising it takes small tangent
flanges for radial ones."""
INSIDE_BOSS_MM = 4.0
"""Usual way from the crossing point to the boss' face, mm; raising it places the gauge's boss farther back
(common practice, no source)."""
DIRECTION_SLACK_RAD = np.radians(4.0)
"""Difference between a gauge's direction and that of a spoke, rad, up to which they are the same; raising it
lets more patterns fit. Rough patterns tell the centreline no better, and rims differ."""
START_AHEAD_MM = (2.0, 14.0)
"""Farthest that a gauge comes out of its boss beyond its seen beginning, in several photos and in one, mm;
raising it is slower."""
WIRE_CLEAR_MM, WIRE_MASK_MM = 1.0, 3.2
"""Distance from the boss from which wires are blanked out, and the width that is, mm; raising the second
hides more of the bosses."""
ASTRAY_MM = 10.0
"""Standard deviation of a hub from its place on the sheet, mm; raising it trusts the place less (common
practice, no source)."""
WEIGHT_ASTRAY = 0.5
"""Weight of a pattern far from that place; raising it trusts the place less."""
LEAST_SINE = 0.7
"""Least sine of the angle between a spoke and its boss' centreline; raising it expects smaller flanges
(common practice, no source)."""
CLOSE_RIVAL = 0.4
"""Share of the taken pattern's support from which another one is close; raising it doubts fewer patterns
(found on rendered hubs: one photo's true patterns leave others 0.31 at most, chance ones 0.46 and more)."""
ON_AXIS = 0.6
"""Weight by the turned edges from which a pattern lies round their axis; raising it trusts fewer."""
UNEVEN_SPLIT, OTHER_COUNT = 0.8, 0.5
"""Weights of a number of bosses with which a side has one or two thirds of the stated spokes, and of any
other but half; raising them trusts the stated number less."""
OTHER_CROSSES = 0.7
"""Weight of a pattern on which the gauge points as with other crosses than stated; raising it trusts the
stated crosses less."""
RADIAL_RADII_MM = (12.0, 34.0)
"""Radii between which a radial flange's rim is looked for, mm; a wider range takes in other rings."""
RIM_SHARE = 0.7
"""Strength from which the outermost ring is the flange's rim, as a share of the strongest ring; raising it
finds rims farther in."""


@dataclass(frozen=True)
class BossSighting:
    """The bosses of one flange in all photos.

    Attributes
    ----------
    kind
        Tangent pairs or radial.
    pose, matches
        Where the pattern is, and how each boss in each photo lies to it.
    shape
        Of the mean boss (paired).
    rim_radius
        Of the flange's outer rim, mm (radial).
    repeat
        How well the pattern repeats over photos, at most about 1.
    rival
        The best supported other pattern.
    on_axis
        Whether it lies round the axis that turned edges show.
    by_photo
        The mean boss as each photo shows it; None on radial hubs, and where the bosses were placed by hand.
    by_hand
        Whether a person placed the pattern, and nothing of it was seen.
    """

    kind: Kind
    pose: PatternPose
    matches: Matches
    shape: BossShape | None
    rim_radius: float | None
    repeat: float
    rival: Rival | None = None
    on_axis: bool = False
    by_photo: BossByPhoto | None = None
    by_hand: bool = False

    @property
    def stands_out(self) -> bool:
        """Whether no other pattern is nearly as well supported."""
        return self.rival is None or self.rival.share < CLOSE_RIVAL

    def only_photos(self, keep: Sequence[int]) -> BossSighting:
        """Return what some of the photos, numbered anew, show of it; the mean boss stays that of all."""
        by_photo = None if self.by_photo is None else self.by_photo.only_photos(keep)
        return replace(self, matches=self.matches.only_photos(keep), by_photo=by_photo)

    def scaled(self, by: float) -> BossSighting:
        """Return it as the same pictures show it over a print that is ``by`` times as large."""
        return replace(
            self,
            pose=self.pose.scaled(by),
            matches=replace(self.matches, shift=self.matches.shift * by),
            shape=None if self.shape is None else self.shape.scaled(by),
            rim_radius=None if self.rim_radius is None else self.rim_radius * by,
        )


@dataclass(frozen=True)
class KnownOfHub:
    """What is known of the hub before its bosses are looked for, None where it is not.

    Attributes
    ----------
    face_height
        Height of the bosses' upper faces and its standard uncertainty, mm; a single photo needs it.
    end_height
        Of the upper end face above the paper, mm.
    wheel
        As stated: its spokes, crosses and rim choose between patterns that are nearly as well supported.
    """

    face_height: tuple[float, float] | None = None
    end_height: float | None = None
    wheel: StatedWheel = NOTHING_STATED


def see_bosses(
    pictures: Sequence[Picture],
    views: Sequence[View],
    gauges: Sequence[GaugeSighting],
    known: KnownOfHub | None = None,
) -> BossSighting | Refusal:
    """Return the bosses of the flange in which a gauge sits.

    Parameters
    ----------
    pictures, views
        Per photo the grey picture, camera and pose.
    gauges
        The gauges that sit in its bosses.
    known
        Of the hub.
    """
    known = known or KnownOfHub()
    face_height, axis = known.face_height, None
    if len(pictures) == 1 and known.end_height is not None:
        axis = see_axis(pictures[0], views[0], gauges[0].start[:2], known.end_height)
    gauge = FromGauge(gauges[0].start[:2], gauges[0].end[:2], gauges[0].line.direction, known, axis)
    wires = [(g.start + WIRE_CLEAR_MM * g.line.direction, g.end) for g in gauges]

    def edges_near(at: Array, height: float, half: float) -> list[EdgeMap]:
        return [
            without_wires(edge_map(p, v, at, height, half), v, wires, WIRE_MASK_MM)
            for p, v in zip(pictures, views, strict=True)
        ]

    level = gauges[0].start[2]
    heights = [level + h for h in FACES_ABOVE_GAUGE_MM] if face_height is None else [face_height[0]]
    edges = edges_near(gauge.start, heights[len(heights) // 2], SEARCH_HALF_MM + 2)
    rough = _rough_pattern(edges, views, heights, gauge)
    if rough is None:
        return _not_found()
    centre, height = gauge.start + rough.centre, heights[rough.level]
    fine = edges_near(centre, height, FINE_HALF_MM)
    paired = gauge.miss(rough.centre) > LEAST_TANGENT_MM
    if paired:
        phase = _phase_on_boss(rough, gauge.start - centre, gauge.direction[:2])
        beta = _angle_on_boss(rough.count, phase, gauge.start - centre, gauge.direction[:2])
        radius = gauge.miss(rough.centre) / max(float(np.sin(beta)), LEAST_SINE)
    else:
        phase, radius = rough.phase, _rim(fine, views, centre, height, step=0.1)
    pose = PatternPose(centre, height, np.zeros(2), phase, rough.count, radius)
    placed = place_pattern(fine, views, pose, None if face_height is None else face_height[1])
    if placed is None:
        return _not_found()
    pose, matches, windows, template = placed
    on_axis = axis is not None and axis.likely(centre) > ON_AXIS
    if paired:
        shape = face_silhouettes(windows, views, pose, matches, read_boss(template, pose))
        by_photo = read_by_photo(windows, template, pose, matches)
        return BossSighting(
            "paired", pose, matches, shape, None, rough.repeat, rough.rival, on_axis, by_photo
        )
    rim = _rim(fine, views, pose.centre, pose.height, step=0.02, near=radius)
    return BossSighting("radial", pose, matches, None, rim, rough.repeat, rough.rival, on_axis)


@dataclass(frozen=True)
class FromGauge:
    """What a gauge says of the pattern that it sits in; centres are seen from its start.

    ``start`` and ``end`` (2,) lie on the paper, ``direction`` (3,) is the wire's.
    """

    start: Array
    end: Array
    direction: Array
    known: KnownOfHub
    axis: AxisSeen | None

    def miss(self, centre: Array) -> float:
        """Return by how much the gauge passes a hub axis, mm."""
        across = np.array([-self.direction[1], self.direction[0]]) / np.hypot(*self.direction[:2])
        return float(abs((self.start + centre - self.end) @ across))

    def radii(self, centre: Array) -> Array:
        """Return the radii at which edges of bosses may lie, mm."""
        p = self.miss(centre)
        return np.arange(p - 4, p + 6, 0.25) if p > LEAST_TANGENT_MM else np.arange(13, 30, 0.4)

    def counts(self, centre: Array) -> Mapping[int, float]:
        """Return how many bosses there may be, each number with its weight."""
        return self._paired if self.miss(centre) > LEAST_TANGENT_MM else self._radial

    @cached_property
    def _paired(self) -> Mapping[int, float]:
        return {n: self._by_spokes(2 * n) for n in COUNTS_PAIRED}

    @cached_property
    def _radial(self) -> Mapping[int, float]:
        return {n: self._by_spokes(n) for n in COUNTS_RADIAL}

    def _by_spokes(self, of_side: int) -> float:
        """Return a weight for a number of spokes on this side, by the stated row of rim holes or number."""
        wheel, stated = self.known.wheel, self.known.wheel.spokes
        if wheel.rim_holes:
            return 1.0 if len(wheel.rim_holes[0].all_angles()) == of_side else OTHER_COUNT
        if stated is None or 2 * of_side == stated:
            return 1.0
        return UNEVEN_SPLIT if 3 * of_side in (stated, 2 * stated) else OTHER_COUNT

    def fits(self, pattern: RoughPattern) -> float:
        """Return a weight by how the gauge points as a spoke of the pattern would, at the stated crosses."""
        crosses = self.known.wheel.crosses
        if self.miss(pattern.centre) < LEAST_TANGENT_MM:
            return OTHER_CROSSES if crosses else 1.0
        goes = _goes_with(pattern, self.end - self.start, self.direction[:2], self.known.wheel)
        if crosses is None or crosses in goes:
            return 1.0 if goes else WORTH_A_LOOK
        return OTHER_CROSSES if goes else WORTH_A_LOOK

    def likely(self, centre: Array) -> float:
        """Return a weight for a hub axis by the sheet's places for hubs, and where turned edges show it."""
        at = self.start + centre
        astray = min(np.linalg.norm(at - anchor) for anchor in ANCHORS)
        in_place = WEIGHT_ASTRAY + (1 - WEIGHT_ASTRAY) * np.exp(-0.5 * (astray / ASTRAY_MM) ** 2)
        return float(in_place) * (1.0 if self.axis is None else self.axis.likely(at))


def _rough_pattern(
    edges: Sequence[EdgeMap], views: Sequence[View], heights: Sequence[float], gauge: FromGauge
) -> RoughPattern | None:
    """Return the pattern that is best in planes at possible heights of the bosses' faces."""
    stack = [
        [
            plane_edges(e, v, gauge.start, z, half=SEARCH_HALF_MM, step=SEARCH_STEP_MM)
            for e, v in zip(edges, views, strict=True)
        ]
        for z in heights
    ]
    ahead = START_AHEAD_MM[0 if len(views) > 1 else 1]
    return find_pattern(
        stack,
        SEARCH_STEP_MM,
        starts_from_gauge(np.zeros(2), gauge.direction, ahead, ANCHORS - gauge.start),
        radii=gauge.radii,
        counts=gauge.counts,
        fits=gauge.fits,
        likely=gauge.likely,
    )


def _phase_on_boss(pattern: RoughPattern, start: Array, direction: Array) -> float:
    """Return the angle of the gauge's boss.

    A pattern mirrors itself on two angles, on a boss and half-way between two. ``start`` (2,) is where the
    gauge comes out, seen from the hub axis.
    """
    inside = start - INSIDE_BOSS_MM * direction / np.linalg.norm(direction)
    half = np.pi / pattern.count
    turns = (np.arctan2(inside[1], inside[0]) - pattern.phase) / half
    return float(pattern.phase + half * (np.rint(turns) % 2))


def _angle_on_boss(count: int, phase: float, start: Array, direction: Array) -> float:
    """Return the angle, rad, between a gauge and its boss' centreline, see `_phase_on_boss`."""
    along = direction / np.linalg.norm(direction)
    inside = start - INSIDE_BOSS_MM * along
    step = 2 * np.pi / count
    boss = phase + step * np.rint((np.arctan2(inside[1], inside[0]) - phase) / step)
    return float(abs((np.arctan2(along[1], along[0]) - boss + np.pi) % (2 * np.pi) - np.pi))


def _goes_with(pattern: RoughPattern, end: Array, direction: Array, wheel: StatedWheel) -> list[int]:
    """Return the crosses at which a spoke of the pattern points as the gauge does, on the likeliest rim."""
    along = direction / np.linalg.norm(direction)
    foot = end - ((end - pattern.centre) @ along) * along
    spoke = foot - pattern.centre
    phase = _phase_on_boss(pattern, -pattern.centre, along)
    beta = _angle_on_boss(pattern.count, phase, -pattern.centre, along)
    diameter = 2 * float(np.linalg.norm(spoke)) / max(float(np.sin(beta)), 0.5)
    erd = USUAL_ERD.value if wheel.erd is None else wheel.erd.value
    likeliest = possible_rows(wheel, pattern.count)[:1]
    return [
        d.crosses
        for d in bore_directions(likeliest, pattern.count, diameter, erd)
        if d.crosses is not None
        and abs(np.radians(d.nearest(float(np.degrees(beta)))[0]) - beta) < DIRECTION_SLACK_RAD
    ]


def _not_found() -> Refusal:
    return Refusal(
        reason="the bosses were not found round the hub's axis",
        remedy="Photograph the hub from above and from three sides, with the upper flange sharp and not "
        "in deep shadow",
    )


def _rim(
    edges: Sequence[EdgeMap],
    views: Sequence[View],
    centre: Array,
    height: float,
    *,
    step: float,
    near: float | None = None,
) -> float:
    """Return the radius of the outermost strong ring round the axis, mm."""
    low, high = RADIAL_RADII_MM if near is None else (near - 1.5, near + 1.5)
    radii, angles = np.arange(low, high, step), np.linspace(0, 2 * np.pi, 720, endpoint=False)
    ring = np.stack(
        [
            centre[0] + radii[:, None] * np.cos(angles),
            centre[1] + radii[:, None] * np.sin(angles),
            np.full((len(radii), len(angles)), height),
        ],
        -1,
    )
    profile = np.mean(
        [
            edge.sample(view.project(ring.reshape(-1, 3)).reshape(*ring.shape[:-1], 2)).mean(1)
            for edge, view in zip(edges, views, strict=True)
        ],
        axis=0,
    )
    inner = profile[1:-1]
    peaks = (
        np.flatnonzero((inner >= profile[:-2]) & (inner > profile[2:]) & (inner >= RIM_SHARE * profile.max()))
        + 1
    )
    k = int(peaks[-1]) if len(peaks) else int(np.clip(profile.argmax(), 1, len(profile) - 2))
    return float(radii[k] + sub_step(profile[k - 1 : k + 2]) * step)
