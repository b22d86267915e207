"""What a person put right in the photos of one side: placed marks and photos that cannot be used.

Pixels are those of the array as stored, like all pixels here; each mark carries the standard uncertainty with
which it was placed. A mark that goes with the photos takes the place of what the detector saw there; one that
contradicts them is asked about, and counts once it was answered that it is right.
"""

from __future__ import annotations

from collections.abc import Container, Sequence
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Pixel = tuple[float, float]
"""Column, row; pixel centres are integers, in the array as stored, before EXIF rotation."""

PLACED = "placed by hand"
"""Name of the marks' share in every figure's budget."""

MARKS_DISAGREE = "marks by hand that disagree"
"""Name of the share of marks that contradict the photos."""

LEAST_PLACED_PX = 1.0
"""Standard uncertainty of a mark placed at full resolution (common practice, no source)."""
PLACED_SCREEN_PX = 1.5
"""The same on the screen: how well a finger on a mouse places a mark (common practice, no source)."""

LEAST_BOSSES, MOST_BOSSES = 4, 10
"""Bosses of a flange on which a pattern can be placed: 16 to 40 spokes (common practice, no source)."""
LEAST_BORES, MOST_BORES = 6, 20
"""Bores of a radial flange whose rim can be placed: 12 to 40 spokes (common practice, no source)."""
MOST_POINTS = 12
"""Points of one edge that can be placed in one photo; raising it lets more noise of a hand average out."""

_PlacedPx = Annotated[float, Field(ge=LEAST_PLACED_PX, le=200)]
_Name = Annotated[str, Field(min_length=1, max_length=255)]
_Boss = Annotated[int, Field(ge=0, le=99)]
_Gauge = Annotated[int, Field(ge=0, le=1)]


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class PlacedEnd(_Frozen):
    """The outline of a gauge's far end, where it crosses the axis."""

    photo: _Name
    gauge: _Gauge = 0
    pixel: Pixel
    u_px: _PlacedPx


class PlacedAxis(_Frozen):
    """Two points of a gauge's axis, far apart."""

    photo: _Name
    gauge: _Gauge = 0
    pixels: tuple[Pixel, Pixel]
    u_px: _PlacedPx


class PlacedFace(_Frozen):
    """A point of the upper edge of a boss' face; the boss and the face are the nearest ones.

    ``boss`` and ``face`` only tell marks apart: a mark takes the place of an earlier one.
    """

    photo: _Name
    boss: _Boss = 0
    face: Annotated[int, Field(ge=0, le=1)] = 0
    pixel: Pixel
    u_px: _PlacedPx


class PlacedCentreline(_Frozen):
    """A point of a boss' centreline, at the height of its upper face; the boss is the nearest one.

    ``boss`` only tells marks apart.
    """

    photo: _Name
    boss: _Boss = 0
    pixel: Pixel
    u_px: _PlacedPx


Edge = Literal["end_face", "rim", "flange"]
"""Outer edge of an end face, upper edge of a radial flange, middle of a lying hub's flange."""


class PlacedEdge(_Frozen):
    """A point of a turned edge.

    ``number`` tells the two end faces and flanges of a lying hub apart, in the order along its axis.
    ``point`` only tells marks apart: a mark takes the place of an earlier one.
    """

    photo: _Name
    edge: Edge
    number: Annotated[int, Field(ge=0, le=1)] = 0
    point: Annotated[int, Field(ge=0, lt=MOST_POINTS)] = 0
    pixel: Pixel
    u_px: _PlacedPx


MarkKind = Literal["end", "axis", "face", "centreline", "end_face", "rim", "flange"]


class Answer(_Frozen):
    """What a person answered when a mark contradicted the photos: which of the two is right.

    ``index`` is the mark's gauge, boss or edge, ``pixel`` its first point, of an edge's points in one photo
    their middle: of marks that were moved since, nothing was answered.
    """

    photo: _Name
    mark: MarkKind
    index: _Boss = 0
    pixel: Pixel
    believe: Literal["mark", "photos"]


Mark = PlacedEnd | PlacedAxis | PlacedFace | PlacedCentreline | PlacedEdge


class Corrections(_Frozen):
    """All that a person put right in one side's photos, by the photos' file names.

    ``bosses`` is the number of bosses where their pattern was placed by hand: then the faces and centrelines
    make it, and what the detector saw of bosses is not asked for; on a radial flange it is the number of
    bores, and points of the rim make it. Else they correct what it saw.
    ``answers`` say which is right where a mark contradicts the photos.
    """

    ends: tuple[PlacedEnd, ...] = ()
    axes: tuple[PlacedAxis, ...] = ()
    faces: tuple[PlacedFace, ...] = ()
    centrelines: tuple[PlacedCentreline, ...] = ()
    unusable: tuple[_Name, ...] = ()
    edges: tuple[PlacedEdge, ...] = ()
    bosses: Annotated[int, Field(ge=LEAST_BOSSES, le=MOST_BORES)] | None = None
    answers: tuple[Answer, ...] = ()

    def marks(self) -> tuple[Mark, ...]:
        """Return everything that was placed."""
        return (*self.ends, *self.axes, *self.faces, *self.centrelines, *self.edges)

    def edge_marks(self, edge: Edge) -> tuple[PlacedEdge, ...]:
        """Return the points placed on edges of one kind."""
        return tuple(m for m in self.edges if m.edge == edge)

    def believed(self, mark: Mark) -> Literal["mark", "photos"] | None:
        """Return what was answered when a mark contradicted the photos; None where nothing was."""
        own = (mark.photo, kind_of(mark), index_of(mark), self._pixel_of(mark))
        answers = (a for a in self.answers if (a.photo, a.mark, a.index, a.pixel) == own)
        return next((a.believe for a in answers), None)

    def answered(self, mark: Mark, believe: Literal["mark", "photos"]) -> Corrections:
        """Return the corrections with an answer to which is right, a mark or the photos."""
        kept = tuple(
            a
            for a in self.answers
            if (a.photo, a.mark, a.index) != (mark.photo, kind_of(mark), index_of(mark))
        )
        answer = Answer(
            photo=mark.photo,
            mark=kind_of(mark),
            index=index_of(mark),
            pixel=self._pixel_of(mark),
            believe=believe,
        )
        return self.model_copy(update={"answers": (*kept, answer)})

    def _edges_once(self, edge: Edge) -> tuple[PlacedEdge, ...]:
        """Return the first point of each edge of a kind in each photo."""
        return tuple(m for m in self.edge_marks(edge) if self.together(m)[0] == m)

    def together(self, mark: PlacedEdge) -> tuple[PlacedEdge, ...]:
        """Return the points of one edge in one photo: they are right together, or wrong."""
        own = (mark.photo, mark.edge, mark.number)
        return tuple(m for m in self.edges if (m.photo, m.edge, m.number) == own)

    def _pixel_of(self, mark: Mark) -> Pixel:
        """Return a pixel that is another one as soon as the mark, or its edge, was moved."""
        if not isinstance(mark, PlacedEdge):
            return mark.pixels[0] if isinstance(mark, PlacedAxis) else mark.pixel
        points = [m.pixel for m in self.together(mark)] or [mark.pixel]
        return (sum(p[0] for p in points) / len(points), sum(p[1] for p in points) / len(points))

    def without_marks(self, marks: Container[Mark]) -> Corrections:
        """Return the corrections without some marks."""
        return self.model_copy(
            update={
                "ends": tuple(m for m in self.ends if m not in marks),
                "axes": tuple(m for m in self.axes if m not in marks),
                "faces": tuple(m for m in self.faces if m not in marks),
                "centrelines": tuple(m for m in self.centrelines if m not in marks),
                "edges": tuple(m for m in self.edges if m not in marks),
            }
        )

    def marked_photos(self) -> set[str]:
        """Return the photos in which something was placed."""
        return {mark.photo for mark in self.marks()}

    def without_photo(self, file: str) -> Corrections:
        """Return the corrections of all other photos; a pattern goes with its last mark."""
        faces = tuple(m for m in self.faces if m.photo != file)
        centrelines = tuple(m for m in self.centrelines if m.photo != file)
        edges = tuple(m for m in self.edges if m.photo != file)
        pattern = faces or centrelines or any(m.edge == "rim" for m in edges)
        return Corrections(
            ends=tuple(m for m in self.ends if m.photo != file),
            axes=tuple(m for m in self.axes if m.photo != file),
            faces=faces,
            centrelines=centrelines,
            unusable=tuple(name for name in self.unusable if name != file),
            edges=edges,
            bosses=self.bosses if pattern else None,
            answers=tuple(a for a in self.answers if a.photo != file),
        )

    def gauge_marks(self, gauges: Container[int] = range(2)) -> Corrections:
        """Return the marks of some gauges alone."""
        return Corrections(
            ends=tuple(m for m in self.ends if m.gauge in gauges),
            axes=tuple(m for m in self.axes if m.gauge in gauges),
        )

    def sentences(self, files: tuple[str, ...]) -> tuple[str, ...]:
        """Say what was placed by hand in the photos ``files``, and which photos were marked unusable."""
        named: tuple[tuple[str, Sequence[Mark]], ...] = (
            ("the gauge's end", self.ends),
            ("the gauge's axis", self.axes),
            ("a boss face", self.faces),
            ("a boss centreline", self.centrelines),
            *((words, self._edges_once(edge)) for edge, words in EDGE_WORDS.items()),
        )
        placed = [
            f"{mark.photo}: {what} was {PLACED}"
            for what, marks in named
            for mark in marks
            if mark.photo in files
        ]
        kind = "bores" if self.edge_marks("rim") else "bosses"
        pattern = () if self.bosses is None else (f"the pattern of {self.bosses} {kind} was {PLACED}",)
        return (*pattern, *placed, *(f"{photo} was marked as unusable" for photo in self.unusable))


NO_CORRECTIONS = Corrections()
"""Of a side in whose photos nobody placed anything."""

EDGE_WORDS: dict[Edge, str] = {
    "end_face": "the edge of an end face",
    "rim": "the flange's rim",
    "flange": "the middle of a flange",
}
"""What a point of an edge is placed on."""


def kind_of(mark: Mark) -> MarkKind:
    """Return what a mark is of."""
    if isinstance(mark, PlacedEdge):
        return mark.edge
    kinds: dict[type[Mark], MarkKind] = {
        PlacedEnd: "end",
        PlacedAxis: "axis",
        PlacedFace: "face",
        PlacedCentreline: "centreline",
    }
    return kinds[type(mark)]


def index_of(mark: Mark) -> int:
    """Return a mark's gauge, boss, or edge."""
    if isinstance(mark, PlacedEdge):
        return mark.number
    return mark.gauge if isinstance(mark, PlacedEnd | PlacedAxis) else mark.boss


def placed_u_px(scale: float) -> float:
    """Return the standard uncertainty of a mark placed where a photo's pixel is ``scale`` screen pixels."""
    return float(max(LEAST_PLACED_PX, PLACED_SCREEN_PX / max(scale, 1e-3)))
