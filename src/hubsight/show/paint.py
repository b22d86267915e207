"""Marks painted over a photo, with their legend: solid where this photo shows it, dashed where not."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from hubsight.model.side import Pixel
from hubsight.show.canvas import Canvas, Colour
from hubsight.show.marks import Mark, MarkKind

COLOURS: dict[MarkKind, Colour] = {
    "corner": (126, 178, 255),
    "unused": (255, 255, 255),
    "outline": (72, 214, 238),
    "centreline": (255, 158, 64),
    "gauge": (255, 216, 48),
    "other-gauge": (255, 216, 48),
    "end": (255, 216, 48),
    "end-seen": (255, 255, 255),
    "seat": (255, 255, 255),
    "crossing": (255, 120, 214),
    "axis": (255, 255, 255),
    "end_face": (178, 240, 140),
    "flange": (72, 214, 238),
    "hub_axis": (255, 255, 255),
}
"""Of the marks: told apart by shape and lightness as well as by hue; none rests on red against green."""
WORDS: dict[MarkKind, str] = {
    "gauge": "gauge spoke",
    "other-gauge": "another gauge, not stated",
    "end": "its far end as adjusted",
    "end-seen": "the end as this photo shows it",
    "seat": "head seat",
    "crossing": "crossing point",
    "outline": "boss outline",
    "centreline": "boss centreline",
    "axis": "hub axis at the flange",
    "end_face": "end face",
    "flange": "middle of a flange",
    "hub_axis": "axis of the hub",
}
"""What the marks are called, in the order of the legend."""
LINES: tuple[MarkKind, ...] = (
    "gauge",
    "other-gauge",
    "outline",
    "centreline",
    "end_face",
    "flange",
    "hub_axis",
)
"""Marks that are lines; the others stand for a point."""


def paint(canvas: Canvas, marks: Iterable[Mark], size: float) -> None:
    """Draw marks; ``size`` scales those that stand for a point."""
    for mark in marks:
        if mark.kind in LINES:
            _line(canvas, mark)
        else:
            _point(canvas, mark, size)


def _line(canvas: Canvas, mark: Mark) -> None:
    colour = COLOURS[mark.kind]
    points = (*mark.points, mark.points[0]) if mark.closed else mark.points
    if mark.dashed:
        canvas.dashed(points, colour)
    else:
        canvas.line(points, colour)


def _point(canvas: Canvas, mark: Mark, size: float) -> None:
    at, colour = mark.points[0], COLOURS[mark.kind]
    along = mark.along or (at[0] - 1.0, at[1])
    if mark.kind == "end":
        canvas.bar(at, along, 14 * size, colour, gap=5 * size if mark.dashed else 0.0)
    elif mark.kind == "end-seen":
        canvas.cross(at, 4 * size, colour)
    elif mark.kind == "seat":
        canvas.square(at, 7 * size, colour)
    elif mark.kind == "crossing":
        canvas.ring(at, 8 * size, colour, 3)
        canvas.ring(at, 1, colour)
    elif mark.kind == "axis":
        canvas.plus(at, 16 * size, colour)
    elif mark.kind == "corner":
        canvas.ring(at, 5, colour)
    else:
        canvas.cross(at, 6, colour)


def legend_of(marks: Iterable[Mark]) -> list[tuple[str, Callable[[Canvas, Pixel], None]]]:
    """Return a line of the legend for each kind of mark that is there, with what draws its sample."""
    there = {mark.kind for mark in marks}
    dashed = any(mark.dashed and mark.kind in ("outline", "end_face", "end") for mark in marks)
    entries = [(words, _sample(kind)) for kind, words in WORDS.items() if kind in there]
    if dashed:
        entries.append(("dashed: not seen in this photo", _dashes))
    return entries


def _sample(kind: MarkKind) -> Callable[[Canvas, Pixel], None]:
    def draw(canvas: Canvas, at: Pixel) -> None:
        if kind in LINES:
            ends = ((at[0] - 14, at[1]), (at[0] + 14, at[1]))
            _line(
                canvas, Mark(kind, ends, dashed=kind in ("other-gauge", "centreline", "flange", "hub_axis"))
            )
        else:
            _point(canvas, Mark(kind, (at,)), 0.9)

    return draw


def _dashes(canvas: Canvas, at: Pixel) -> None:
    canvas.dashed([(at[0] - 16, at[1]), (at[0] + 16, at[1])], COLOURS["unused"], dash=4.0)
