"""What the viewer draws over one photo, in pixels of the upright picture, and what can be moved there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from pydantic import BaseModel, ConfigDict

from hubsight.model.corrections import Corrections, Pixel
from hubsight.model.side import EdgeKind, PhotoEvidence
from hubsight.page.looking import Looked
from hubsight.show.marks import stretches
from hubsight.show.turned import displayed, displayed_evidence

What = Literal["end", "axis", "face", "centreline"]


class Handle(BaseModel):
    """Something that can be moved.

    Attributes
    ----------
    what, gauge
        What it is, and of which gauge.
    point
        0 or 1 for the two points of an axis and the two faces of a boss, else 0.
    boss
        Of faces and centrelines, from 0.
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
    groups = tuple(g for g in (*gauges, own.pattern_group()) if g is not None)
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
