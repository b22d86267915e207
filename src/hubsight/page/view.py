"""What the viewer draws over one photo, in pixels of the upright picture, and what can be moved there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from pydantic import BaseModel, ConfigDict

from hubsight.model.corrections import Corrections, Pixel
from hubsight.model.corrections import Edge as EdgeMark
from hubsight.model.side import EdgeKind, PhotoEvidence
from hubsight.page.looking import Looked
from hubsight.show.marks import stretches
from hubsight.show.turned import displayed, displayed_evidence

What = Literal["end", "axis", "face", "centreline", "end_face", "rim", "flange"]

LYING_EDGES: dict[str, EdgeMark] = {"end_face": "end_face", "flange": "flange"}
"""Edges of a lying hub, and their marks."""
SEEN_POINTS = 4
"""Handles on a turned edge that was seen; more lie over each other."""


class Handle(BaseModel):
    """Something that can be moved.

    Attributes
    ----------
    what, gauge
        What it is, and of which gauge.
    point
        0 or 1 for the two points of an axis and the two faces of a boss; of a turned edge its number there.
    boss
        Of faces and centrelines, from 0; of a lying hub's end faces and flanges 0 or 1.
    at, label
        Where it is, and its name.
    """

    model_config = ConfigDict(frozen=True)

    what: What
    gauge: int = 0
    point: int = 0
    boss: int = 0
    at: Pixel
    label: str


class Group(BaseModel):
    """Handles that are shown together, and the points round them to look at; none for the whole photo."""

    model_config = ConfigDict(frozen=True)

    label: str
    handles: tuple[Handle, ...]
    around: tuple[Pixel, ...] = ()


class Edge(BaseModel):
    """A stretch of an end face's edge; ``seen`` where this photo shows it."""

    model_config = ConfigDict(frozen=True)

    kind: EdgeKind
    points: tuple[Pixel, ...]
    seen: bool


class Drawing(BaseModel):
    """One photo's overlay; of the outlines those ``inferred`` are of bosses that were not found in it."""

    model_config = ConfigDict(frozen=True)

    width: int
    height: int
    corners: tuple[Pixel, ...] = ()
    unused: tuple[Pixel, ...] = ()
    gauges: tuple[tuple[Pixel, ...], ...] = ()
    ends: tuple[Pixel, ...] = ()
    seats: tuple[Pixel, ...] = ()
    crossings: tuple[Pixel, ...] = ()
    outlines: tuple[tuple[Pixel, ...], ...] = ()
    centrelines: tuple[tuple[Pixel, Pixel], ...] = ()
    axis: Pixel | None = None
    inferred: tuple[int, ...] = ()
    edges: tuple[Edge, ...] = ()
    groups: tuple[Group, ...] = ()


def upright_size(looked: Looked) -> tuple[int, int]:
    """Return width and height of a photo as it is looked at."""
    turned = looked.orientation >= 5
    return (looked.height, looked.width) if turned else (looked.width, looked.height)


def as_stored(point: Pixel, looked: Looked) -> Pixel:
    """Carry a pixel of the upright picture back to the array as stored."""
    width, height = upright_size(looked)
    return displayed(point, {6: 8, 8: 6}.get(looked.orientation, looked.orientation), width, height)


def first_drawing(looked: Looked, file: str, corrections: Corrections, count: int) -> Drawing:
    """Draw what a first look saw, with handles at what was placed; ``count`` gauges are stated."""
    width, height = upright_size(looked)
    own = _Own(looked, file, corrections)
    gauges = (own.gauge_group(k, None, None, count) for k in range(count))
    edges = (own.edge_group("end_face", "end face", None), own.edge_group("rim", "flange's rim", None))
    groups = tuple(g for g in (*gauges, own.pattern_group(), *edges) if g is not None)
    look = looked.look
    if look is None:
        return Drawing(width=width, height=height, groups=groups)
    return Drawing(
        width=width,
        height=height,
        corners=tuple(own.turned(p) for p in look.corners),
        gauges=(tuple(own.turned(p) for p in look.gauge),) if look.gauge else (),
        ends=() if look.gauge_end is None else (own.turned(look.gauge_end),),
        groups=groups,
    )


def measured_drawing(evidence: PhotoEvidence, looked: Looked, corrections: Corrections) -> Drawing:
    """Draw what was measured, with handles at what can be moved."""
    seen = displayed_evidence(evidence, looked.orientation)
    own, count = _Own(looked, seen.file, corrections), len(seen.gauges)
    lines = zip(seen.gauges, seen.gauge_end_outlines, strict=True)
    groups = [own.gauge_group(k, line, end, count) for k, (line, end) in enumerate(lines)]
    if corrections.bosses is None:
        in_boss = _gauge_boss(seen)
        outlines = zip(seen.boss_outlines, seen.centrelines, strict=True) if seen.centrelines else ()
        groups += [own.boss_group(k, o, c, gauge=k == in_boss) for k, (o, c) in enumerate(outlines)]
    else:
        groups.append(own.pattern_group())
    groups += own.lying_groups(seen) if is_lying(seen) else own.standing_groups(seen)
    return Drawing(
        width=seen.width,
        height=seen.height,
        corners=tuple(s.pixel for s in seen.saddles if s.used),
        unused=tuple(s.pixel for s in seen.saddles if not s.used),
        gauges=seen.gauges,
        ends=seen.gauge_end_outlines,
        seats=seen.seats,
        crossings=seen.crossing_points,
        outlines=seen.boss_outlines,
        centrelines=seen.centrelines,
        axis=seen.axis,
        inferred=tuple(k for k in range(len(seen.boss_outlines)) if not seen.shows_boss(k)),
        edges=tuple(
            Edge(kind=edge.kind, points=points, seen=there)
            for edge in seen.edges
            for points, there in stretches(edge)
        ),
        groups=tuple(g for g in groups if g is not None),
    )


def is_lying(seen: PhotoEvidence) -> bool:
    """Tell whether a photo shows a hub that lies on its flanges."""
    return any(edge.kind == "hub_axis" for edge in seen.edges)


def lying_words(seen: PhotoEvidence) -> dict[tuple[str, int], str]:
    """Return names of a lying hub's edges, by where they lie in the upright photo."""
    out: dict[tuple[str, int], str] = {}
    for kind, name in (("end_face", "end face"), ("flange", "flange")):
        edges = {e.number: np.mean(e.points, axis=0) for e in seen.edges if e.kind == kind}
        if len(edges) != 2:
            continue
        across, down = edges[1] - edges[0]
        where = ("left", "right") if abs(across) > abs(down) else ("upper", "lower")
        later = 1 if (across if abs(across) > abs(down) else down) > 0 else 0
        out[kind, 1 - later], out[kind, later] = (f"{side} {name}" for side in where)
    return out


def _gauge_boss(seen: PhotoEvidence) -> int:
    """Return the boss in which the first gauge is."""
    if not seen.centrelines or not seen.crossing_points:
        return 0
    middles = np.array(seen.centrelines).mean(axis=1)
    return int(np.linalg.norm(middles - np.array(seen.crossing_points[0]), axis=1).argmin())


@dataclass(frozen=True)
class _Own:
    """The handles of one photo: where something was placed by hand, else where the adjustment has it."""

    looked: Looked
    file: str
    corrections: Corrections

    def turned(self, point: Pixel) -> Pixel:
        """Carry a pixel as stored over to the upright picture."""
        return displayed(point, self.looked.orientation, self.looked.width, self.looked.height)

    def gauge_group(
        self, gauge: int, line: Sequence[Pixel] | None, end: Pixel | None, count: int
    ) -> Group | None:
        """Return a gauge's handles; None if nothing of it was placed and none was seen."""
        name = "gauge" if count == 1 else f"gauge {gauge + 1}"
        for mark in self.corrections.ends:
            if (mark.photo, mark.gauge) == (self.file, gauge):
                end = self.turned(mark.pixel)
        points = None if line is None else (line[len(line) // 3], line[(3 * len(line)) // 4])
        for axis in self.corrections.axes:
            if (axis.photo, axis.gauge) == (self.file, gauge):
                points = (self.turned(axis.pixels[0]), self.turned(axis.pixels[1]))
        handles = []
        if end is not None:
            handles.append(Handle(what="end", gauge=gauge, at=end, label=f"Far end of the {name}"))
        if points is not None:
            where = ("at the hub", "near its end")
            handles += [
                Handle(what="axis", gauge=gauge, point=p, at=at, label=f"Axis of the {name}, {where[p]}")
                for p, at in enumerate(points)
            ]
        return Group(label=name, handles=tuple(handles)) if handles else None

    def boss_group(
        self, boss: int, outline: Sequence[Pixel], centreline: tuple[Pixel, Pixel], *, gauge: bool
    ) -> Group:
        """Return the handles of a boss that was seen."""
        quarter = (len(outline) - 1) // 4
        faces = {0: outline[quarter], 1: outline[-2 - quarter]}
        for face in self.corrections.faces:
            if (face.photo, face.boss) == (self.file, boss):
                faces[face.face] = self.turned(face.pixel)
        at = centreline[1]
        for line in self.corrections.centrelines:
            if (line.photo, line.boss) == (self.file, boss):
                at = self.turned(line.pixel)
        handles = [_face(boss, p, faces[p]) for p in (0, 1)]
        handles.append(_centreline(boss, at))
        label = f"boss {boss + 1} (the gauge's)" if gauge else f"boss {boss + 1}"
        return Group(label=label, handles=tuple(handles), around=tuple(outline))

    def edge_group(
        self, edge: EdgeMark, words: str, seen: Sequence[Pixel] | None, number: int = 0
    ) -> Group | None:
        """Return the handles of a turned edge: on what was seen of it, and where it was placed."""
        at: dict[int, Pixel] = {}
        if seen is not None:
            count = min(SEEN_POINTS, len(seen))
            at = {k: seen[(k * (len(seen) - 1)) // SEEN_POINTS] for k in range(count)}
        for mark in self.corrections.edge_marks(edge):
            if (mark.photo, mark.number) == (self.file, number):
                at[mark.point] = self.turned(mark.pixel)
        handles = tuple(
            Handle(what=edge, boss=number, point=k, at=pixel, label=f"{words.capitalize()}, point {k + 1}")
            for k, pixel in sorted(at.items())
        )
        around = tuple(h.at for h in handles) if seen is None else tuple(seen)
        return Group(label=words, handles=handles, around=around) if handles else None

    def standing_groups(self, seen: PhotoEvidence) -> list[Group | None]:
        """Return the handles of a standing hub's turned edges."""
        face = next((e.points for e in seen.edges if e.kind == "end_face"), None)
        rim = seen.boss_outlines[0] if seen.boss_outlines and not seen.centrelines else None
        return [
            self.edge_group("end_face", "end face", face),
            self.edge_group("rim", "flange's rim", rim),
        ]

    def lying_groups(self, seen: PhotoEvidence) -> list[Group | None]:
        """Return the handles of a lying hub's edges, one each, where it is highest above the paper."""
        edges = [e for e in seen.edges if e.kind in LYING_EDGES]
        words = lying_words(seen)
        return [
            self.edge_group(LYING_EDGES[e.kind], words[e.kind, e.number], e.points[:1], e.number)
            for e in edges
        ]

    def pattern_group(self) -> Group | None:
        """Return the handles of what was placed on the bosses in this photo; None if nothing was."""
        handles = [
            _face(m.boss, m.face, self.turned(m.pixel))
            for m in self.corrections.faces
            if m.photo == self.file
        ]
        handles += [
            _centreline(m.boss, self.turned(m.pixel))
            for m in self.corrections.centrelines
            if m.photo == self.file
        ]
        if not handles:
            return None
        return Group(
            label="bosses placed by hand", handles=tuple(handles), around=tuple(h.at for h in handles)
        )


def _centreline(boss: int, at: Pixel) -> Handle:
    return Handle(what="centreline", boss=boss, at=at, label=f"Boss {boss + 1}, centreline")


def _face(boss: int, face: int, at: Pixel) -> Handle:
    return Handle(what="face", boss=boss, point=face, at=at, label=f"Boss {boss + 1}, face {face + 1}")
