"""What a person put right in the photos of one side: placed marks and photos that cannot be used.

Pixels are those of the array as stored, like all pixels here; each mark carries the standard uncertainty with
which it was placed. A mark that goes with the photos takes the place of what the detector saw there; one that
contradicts them is asked about, and counts once it was answered that it is right.
"""

from __future__ import annotations

from collections.abc import Container
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Pixel = tuple[float, float]
"""Column, row; pixel centres are integers, in the array as stored, before EXIF rotation."""

PLACED = "placed by hand"
"""Name of the marks' share in every figure's budget."""

LEAST_PLACED_PX = 1.0
"""Standard uncertainty of a mark placed at full resolution (common practice, no source)."""
PLACED_SCREEN_PX = 1.5
"""The same on the screen: how well a finger on a mouse places a mark (common practice, no source)."""

LEAST_BOSSES, MOST_BOSSES = 4, 10
"""Bosses of a flange on which a pattern can be placed: 16 to 40 spokes (common practice, no source)."""

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


MarkKind = Literal["end", "axis", "face", "centreline"]


class Answer(_Frozen):
    """What a person answered when a mark contradicted the photos: which of the two is right.

    ``index`` is the mark's gauge or boss, ``pixel`` its first point: of a mark that was moved since, nothing
    was answered.
    """

    photo: _Name
    mark: MarkKind
    index: _Boss = 0
    pixel: Pixel
    believe: Literal["mark", "photos"]


Mark = PlacedEnd | PlacedAxis | PlacedFace | PlacedCentreline


class Corrections(_Frozen):
    """All that a person put right in one side's photos, by the photos' file names.

    ``bosses`` is the number of bosses where their pattern was placed by hand: then the faces and centrelines
    make it, and what the detector saw of bosses is not asked for. Else they correct what it saw.
    ``answers`` say which is right where a mark contradicts the photos.
    """

    ends: tuple[PlacedEnd, ...] = ()
    axes: tuple[PlacedAxis, ...] = ()
    faces: tuple[PlacedFace, ...] = ()
    centrelines: tuple[PlacedCentreline, ...] = ()
    unusable: tuple[_Name, ...] = ()
    bosses: Annotated[int, Field(ge=LEAST_BOSSES, le=MOST_BOSSES)] | None = None
    answers: tuple[Answer, ...] = ()

    def marks(self) -> tuple[Mark, ...]:
        """Return everything that was placed."""
        return (*self.ends, *self.axes, *self.faces, *self.centrelines)

    def believed(self, mark: Mark) -> Literal["mark", "photos"] | None:
        """Return what was answered when a mark contradicted the photos; None where nothing was."""
        own = (mark.photo, kind_of(mark), index_of(mark), _first_pixel(mark))
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
            pixel=_first_pixel(mark),
            believe=believe,
        )
        return self.model_copy(update={"answers": (*kept, answer)})

    def without_marks(self, marks: Container[Mark]) -> Corrections:
        """Return the corrections without some marks."""
        return self.model_copy(
            update={
                "ends": tuple(m for m in self.ends if m not in marks),
                "axes": tuple(m for m in self.axes if m not in marks),
                "faces": tuple(m for m in self.faces if m not in marks),
                "centrelines": tuple(m for m in self.centrelines if m not in marks),
            }
        )

    def marked_photos(self) -> set[str]:
        """Return the photos in which something was placed."""
        photos = {m.photo for m in self.ends} | {m.photo for m in self.axes} | {m.photo for m in self.faces}
        return photos | {m.photo for m in self.centrelines}

    def without_photo(self, file: str) -> Corrections:
        """Return the corrections of all other photos; a pattern goes with its last mark."""
        faces = tuple(m for m in self.faces if m.photo != file)
        centrelines = tuple(m for m in self.centrelines if m.photo != file)
        return Corrections(
            ends=tuple(m for m in self.ends if m.photo != file),
            axes=tuple(m for m in self.axes if m.photo != file),
            faces=faces,
            centrelines=centrelines,
            unusable=tuple(name for name in self.unusable if name != file),
            bosses=self.bosses if faces or centrelines else None,
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
        named = (
            ("the gauge's end", self.ends),
            ("the gauge's axis", self.axes),
            ("a boss face", self.faces),
            ("a boss centreline", self.centrelines),
        )
        placed = [
            f"{mark.photo}: {what} was {PLACED}"
            for what, marks in named
            for mark in marks
            if mark.photo in files
        ]
        pattern = () if self.bosses is None else (f"the pattern of {self.bosses} bosses was {PLACED}",)
        return (*pattern, *placed, *(f"{photo} was marked as unusable" for photo in self.unusable))


NO_CORRECTIONS = Corrections()
"""Of a side in whose photos nobody placed anything."""


def kind_of(mark: Mark) -> MarkKind:
    """Return what a mark is of."""
    kinds: dict[type[Mark], MarkKind] = {
        PlacedEnd: "end",
        PlacedAxis: "axis",
        PlacedFace: "face",
        PlacedCentreline: "centreline",
    }
    return kinds[type(mark)]


def index_of(mark: Mark) -> int:
    """Return a mark's gauge or boss."""
    return mark.gauge if isinstance(mark, PlacedEnd | PlacedAxis) else mark.boss


def _first_pixel(mark: Mark) -> Pixel:
    return mark.pixels[0] if isinstance(mark, PlacedAxis) else mark.pixel


def placed_u_px(scale: float) -> float:
    """Return the standard uncertainty of a mark placed where a photo's pixel is ``scale`` screen pixels."""
    return float(max(LEAST_PLACED_PX, PLACED_SCREEN_PX / max(scale, 1e-3)))
