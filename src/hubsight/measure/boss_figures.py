"""Figures along the spoke through its boss: width, protrusion, and the offset by the width's route.

A boss has two faces. Both are read off the mean boss' upper edges; the one that the gauge leaves by is also
seen where the wire comes out of it. Each source of error moves the two faces in its own way, so what the
mouth says of the face ahead corrects the face behind as well: the other way where the boss leans, the same
way where both edges are rounded alike.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from hubsight.camera.observe import view_in
from hubsight.measure.adjust.placed import EDGE_U_MM
from hubsight.measure.flange import (
    ONE_PHOTO_FACE_U_MM,
    ONE_PHOTO_WIDTH_U_MM,
    WIDTH_U_MM,
    GaugeGeometry,
    Model,
    SideGeometry,
    figure,
    gauge_of,
)
from hubsight.measure.sightings import Sightings
from hubsight.model.arrays import Array
from hubsight.model.corrections import PLACED
from hubsight.model.figure import Figure
from hubsight.model.side import FigureName
from hubsight.scene.boss_shape import BossShape, width_along
from hubsight.see.bosses.mouth import SightLines

SHAPE_DOUBT_U_MM = 0.3
"""Error of a crossing point, and of the face that carries it, on a boss that is not its own mirror image."""
LEAST_LEAN_MM, LEAST_OFF_MIDDLE_MM = 0.12, 0.1
"""How far a lopsided boss' face at the bore lies from its upper edge; that of a boss that looks like its own
mirror image; and how far the latter's crossing point lies from the middle (found on rendered hubs)."""
FLANK_PULL_U_MM = 0.35
"""How far the flanks that one photo shows pull the pattern towards the point below the lens, per tangent of
the angle at which it looks at the hub: the faces turned away, by which the width is read, then seem as far
out (found on rendered hubs)."""
MOUTH_U_MM = 0.13
"""The face at the bore against where the wire was seen to come out (found on rendered hubs)."""
CONTRADICTS_SIGMAS = 2.0
"""Where mouth and upper edge lie further apart, the edge was misread."""
MOUTH, EDGES, LOPSIDED, VIEWS = (
    "mouth of the bore",
    "rounding of the faces",
    "lopsided bosses",
    "views of the faces",
)
"""Sources in the budgets of the bosses' figures."""


@dataclass(frozen=True)
class _Error:
    """One source of error of the faces as read: standard uncertainty, and how far each face moves with it."""

    source: str
    u: float
    ahead: float
    behind: float


@dataclass(frozen=True)
class _Mouth:
    """A face as mouths show it: which, ahead or behind; how far beyond its edge, and its uncertainty."""

    face: int
    beyond: Callable[[Array], float]
    source: str
    u: float


@dataclass(frozen=True)
class _Weight:
    """How far the faces ahead and behind follow each mouth, (2, K), per mm between it and the edge."""

    mouths: tuple[_Mouth, ...]
    follow: Array

    @classmethod
    def of(cls, errors: Sequence[_Error], mouths: Sequence[_Mouth]) -> _Weight:
        """Return the least-squares weights of mouths against edges with these errors."""
        moves = np.array([[e.u * e.ahead, e.u * e.behind] for e in errors if e.source != PLACED])
        edges = moves.T @ moves
        shown = np.eye(2)[[m.face for m in mouths]].reshape(-1, 2)
        total = shown @ edges @ shown.T + np.diag([m.u**2 for m in mouths])
        return cls(tuple(mouths), edges @ shown.T @ np.linalg.inv(total))

    def moved(self, face: int, x: Array) -> float:
        """Return how far beyond its edge a face lies, ahead or behind."""
        return float(sum(w * m.beyond(x) for w, m in zip(self.follow[face], self.mouths, strict=True)))

    def extra(self, errors: Sequence[_Error], ahead: float, behind: float) -> tuple[tuple[str, float], ...]:
        """Budget of ``ahead`` times the face ahead plus ``behind`` times the one behind, without unknowns."""
        parts = np.array([ahead, behind])
        by_mouth = parts @ self.follow
        for mouth, weight in zip(self.mouths, by_mouth, strict=True):
            parts = parts - weight * np.eye(2)[mouth.face]
        shares = {PLACED: np.array([ahead, behind])}
        own = [
            (e.source, float(shares.get(e.source, parts) @ np.array([e.u * e.ahead, e.u * e.behind])))
            for e in errors
        ]
        squares: dict[str, float] = {}
        for source, part in [
            *own,
            *((m.source, m.u * w) for m, w in zip(self.mouths, by_mouth, strict=True)),
        ]:
            squares[source] = squares.get(source, 0.0) + float(part) ** 2
        return tuple((source, math.sqrt(square)) for source, square in squares.items() if square > 0)


@dataclass(frozen=True)
class _Faces:
    """The faces along the gauges, as functions of the unknowns; ``mouths`` per gauge, None where not seen."""

    seen: Sightings
    geometry: SideGeometry
    mouths: tuple[SightLines | None, ...]
    known: dict[tuple[str, bytes], float] = field(default_factory=dict, compare=False)
    """What was worked out for which unknowns: all figures take the same steps."""

    @classmethod
    def of(cls, seen: Sightings, geometry: SideGeometry) -> _Faces:
        """Return the faces of a side as seen."""
        views = [view_in(seen.solution, k) for k in range(len(seen.files))]
        return cls(seen, geometry, tuple(None if m is None else m.sight_lines(views) for m in seen.mouths))

    def _once(self, what: str, x: Array, work_out: Callable[[Array], float]) -> float:
        key = what, self.geometry.key(x)
        found = self.known.get(key)
        if found is None:
            self.known[key] = found = work_out(x)
        return found

    def ahead(self, x: Array) -> float:
        """Mean distance along the gauges from the crossing point to the edge ahead."""
        return self._once("ahead", x, lambda x: self._along(x, 0))

    def behind(self, x: Array) -> float:
        """Mean distance along the gauges from the crossing point back to the edge behind."""
        return self._once("behind", x, lambda x: self._along(x, 1))

    def _along(self, x: Array, face: int) -> float:
        return float(np.mean([self._edges(g, g.outward, g.sideways)[face] for g in self.geometry.gauges(x)]))

    def across(self, x: Array) -> float:
        """Mean distance from edge to edge square to the centreline."""
        return float(np.mean([sum(self._edges(g, 0.0, 1.0)) for g in self.geometry.gauges(x)]))

    def mouth_beyond(self, x: Array) -> float:
        """Mean distance of the mouths beyond the edges ahead; 0 where none was seen."""
        return self._once("mouth", x, self._mouth_beyond)

    def _mouth_beyond(self, x: Array) -> float:
        solution, references = self.seen.solution, self.seen.adjusted.references
        beyond = []
        for k, (mouth, g) in enumerate(zip(self.mouths, self.geometry.gauges(x), strict=True)):
            if mouth is not None:
                end, direction = gauge_of(solution, x, f"gauge{k}", references[k])
                seen_ahead = g.reach - mouth.before_end(end, direction)
                beyond.append(seen_ahead - self._edges(g, g.outward, g.sideways)[0])
        return float(np.mean(beyond)) if beyond else 0.0

    def bores_beyond(self, face: int) -> Callable[[Array], float]:
        """Return a function of the unknowns: how far the bores' mouths lie beyond the edges of a face."""
        return lambda x: self._once(f"bores {face}", x, lambda x: self._bores_beyond(x, face))

    def _bores_beyond(self, x: Array, face: int) -> float:
        bores = self.seen.ends.bores
        if bores is None:
            return 0.0
        radius = bores.boss.left.radius
        grown = float(x[self.seen.solution.layout["pattern"]][5]) / radius
        beyond = []
        for g in self.geometry.gauges(x):
            shape = bores.faces(g.sideways).scaled(grown)
            at_bore = self._cut(shape, radius * grown, g, g.outward, g.sideways)
            beyond.append(at_bore[face] - self._edges(g, g.outward, g.sideways, self.seen.bosses.shape)[face])
        return float(np.mean(beyond))

    def _edges(
        self, g: GaugeGeometry, outward: float, sideways: float, seen: BossShape | None = None
    ) -> tuple[float, float]:
        """Distances to the edges as placed, or as ``seen`` before anything was placed."""
        shape = seen or self.seen.shape
        if shape is None:
            raise ValueError("a radial hub has no bosses")
        return self._cut(shape, self.seen.bosses.pose.radius, g, outward, sideways)

    def _cut(
        self, shape: BossShape, radius: float, g: GaugeGeometry, outward: float, sideways: float
    ) -> tuple[float, float]:
        """Distances from the crossing point to the faces ahead and behind, in that direction."""
        # The faces are read in the pattern's frame, the direction is in the centreline's.
        c, s = np.cos(self.geometry.angle), np.sin(self.geometry.angle)
        out, side = outward * c - sideways * s, outward * s + sideways * c
        x0, y0 = g.radius * c - radius, g.radius * s
        t = y0 / side
        ahead, behind = width_along(shape, x0 - t * out, out, side)
        return ahead - t, behind + t


def boss_figures(
    seen: Sightings,
    geometry: SideGeometry,
    reach: Model,
    *,
    doubt: float,
    length: float,
    length_u: float,
    names: list[str],
) -> dict[FigureName, Figure]:
    """Return the figures that rest on the bosses' faces; none on radial hubs.

    Parameters
    ----------
    seen, geometry
        The side, and its gauges as functions of the unknowns.
    reach
        Model of the reach; its first two further inputs are of the gauge's end and the pattern's centre.
    doubt
        How far from being its own mirror image a boss is, 0 to 1.
    length, length_u
        Mean of the gauges' stated lengths, and its standard uncertainty, mm.
    names
        Of the unknowns on which the figures depend.
    """
    if seen.shape is None:
        return {}
    x, solution = seen.solution.x, seen.solution
    faces = _Faces.of(seen, geometry)
    errors, how = _errors(seen, geometry, doubt), "faces of the mean boss"
    mouths = _mouths(seen, faces)
    errors += [_contradiction(errors, m.face, m.beyond(x), m.u) for m in mouths]
    weight = _Weight.of(errors, mouths)
    if mouths:
        how = f"{how} and {MOUTH}"
    narrower = faces.across(x) / (faces.ahead(x) + faces.behind(x))

    def ahead(x: Array) -> float:
        return faces.ahead(x) + weight.moved(0, x)

    def behind(x: Array) -> float:
        return faces.behind(x) + weight.moved(1, x)

    width = Model(lambda x: ahead(x) + behind(x), weight.extra(errors, 1.0, 1.0), how)
    across = Model(
        lambda x: faces.across(x) + narrower * (weight.moved(0, x) + weight.moved(1, x)),
        weight.extra(errors, 1.0, 1.0),
        f"{how}, square to the centreline",
    )
    protrusion = Model(
        lambda x: reach.function(x) - ahead(x),
        (*reach.extra[:2], *weight.extra(errors, 1.0, 0.0)),
        "end and face of the boss",
    )
    by_width = Model(
        lambda x: length - reach.function(x) + (ahead(x) - behind(x)) / 2,
        (
            *reach.extra[:2],
            *weight.extra(errors, 0.5, -0.5),
            ("gauge length", length_u),
            (LOPSIDED, math.hypot(SHAPE_DOUBT_U_MM * doubt, LEAST_OFF_MIDDLE_MM)),
        ),
        "gauge length minus protrusion minus half the boss width",
    )
    return {
        "boss_width": figure(width, solution, names),
        "boss_width_across": figure(across, solution, names),
        "protrusion": figure(protrusion, solution, names),
        "spoke_offset_by_width": figure(by_width, solution, names),
    }


def _errors(seen: Sightings, geometry: SideGeometry, doubt: float) -> list[_Error]:
    """Return the sources of error of the two edges as faces at the bore."""
    shape = seen.shape
    if shape is None:
        return []
    several = len(seen.files) > 1
    one, both = (EDGE_U_MM, WIDTH_U_MM) if several else (ONE_PHOTO_FACE_U_MM, ONE_PHOTO_WIDTH_U_MM)
    alike = both**2 / 2 - one**2
    own = math.sqrt(one**2 - alike)
    views = (shape.left.doubt + shape.right.doubt) / 2
    placed = seen.placed.along([g.sideways for g in geometry.gauges(seen.solution.x)])
    placed_behind = math.sqrt(max(placed.width**2 - placed.ahead**2, 0.0))
    return [
        _Error(EDGES, own, 1.0, 0.0),
        _Error(EDGES, own, 0.0, 1.0),
        _Error(EDGES, math.sqrt(alike), 1.0, 1.0),
        _Error(LOPSIDED, math.hypot(SHAPE_DOUBT_U_MM * doubt, LEAST_LEAN_MM), 1.0, -1.0),
        _Error(LOPSIDED, SHAPE_DOUBT_U_MM * doubt / 2, 0.5, 0.5),
        _Error(VIEWS, views if several else math.hypot(views, _flank_pull(seen)), 1.0, 1.0),
        _Error(PLACED, placed.ahead, 1.0, 0.0),
        _Error(PLACED, placed_behind, 0.0, 1.0),
    ]


def _flank_pull(seen: Sightings) -> float:
    """Return how far the flanks may have pulled the pattern in a single photo, standard uncertainty, mm."""
    ray = seen.solution["pattern"][:3] - view_in(seen.solution, 0).position
    return FLANK_PULL_U_MM * float(np.hypot(*ray[:2]) / -ray[2])


def _mouths(seen: Sightings, faces: _Faces) -> list[_Mouth]:
    """Return what mouths show of the faces; a mark moves a face beyond that by its own share."""
    out, bores = [], seen.ends.bores
    by_hand = seen.placed.left_mm > 0 or seen.placed.right_mm > 0
    if any(seen.mouths) and not by_hand:
        out.append(_Mouth(0, faces.mouth_beyond, MOUTH, MOUTH_U_MM))
    if bores is not None and bores.shows_centreline:
        turns = [g.sideways for g in faces.geometry.gauges(seen.solution.x)]
        for face, ahead in enumerate((1, -1)):
            sides = [ahead if turn > 0 else -ahead for turn in turns]
            if all(bores.shows(side) for side in sides):
                u = max(bores.face_u(turn, side) for turn, side in zip(turns, sides, strict=True))
                out.append(_Mouth(face, faces.bores_beyond(face), MOUTH, u))
    return out


def _contradiction(errors: Sequence[_Error], face: int, beyond: float, u: float) -> _Error:
    """Return the further error of an edge that a mouth ``beyond`` mm outside it contradicts."""
    moves = [e.u * (e.behind if face else e.ahead) for e in errors if e.source != PLACED]
    excess = beyond**2 - CONTRADICTS_SIGMAS**2 * (sum(m**2 for m in moves) + u**2)
    return _Error(EDGES, math.sqrt(max(excess, 0.0)), 1.0 - face, float(face))
