"""A picture of its own as SVG: lines, dots, words and bands in drawing units, y downwards.

It carries its style with it, and tells kinds apart by shape and tone, so that a grey print says the same.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from markupsafe import Markup

from hubsight.model.files import write_atomically

Place = tuple[float, float]


@dataclass(frozen=True)
class Frame:
    """Room of a picture about its scale, drawing units.

    Attributes
    ----------
    width
        Of the whole picture.
    left, right, top
        Margins beside and above the scale.
    base
        Where the scale ends below; 0 where its rows say that.
    row
        Height of a row.
    """

    width: float
    left: float
    right: float
    top: float
    base: float = 0.0
    row: float = 0.0

    @property
    def end(self) -> float:
        """Where the scale ends on the right."""
        return self.width - self.right

    def x(self, share: float) -> float:
        """Return a place along the scale: 0 at its left end, 1 at its right end."""
        return self.left + share * (self.end - self.left)


def round_step(least: float) -> float:
    """Return the smallest step of a scale that is 1, 2 or 5 times a power of ten and at least ``least``."""
    power = 10.0 ** math.floor(math.log10(least) + 1e-9)
    return next(step * power for step in (1.0, 2.0, 5.0, 10.0) if step * power >= least * (1.0 - 1e-9))


def line_mark(start: Place, end: Place, kind: str) -> Markup:
    """Return a line as SVG."""
    mark = Markup('<line class="{}" x1="{:.2f}" y1="{:.2f}" x2="{:.2f}" y2="{:.2f}"/>')
    return mark.format(kind, *start, *end)


def box_mark(corner: Place, width: float, height: float, kind: str) -> Markup:
    """Return a rectangle as SVG, given its upper left corner."""
    mark = Markup('<rect class="{}" x="{:.2f}" y="{:.2f}" width="{:.2f}" height="{:.2f}"/>')
    return mark.format(kind, *corner, width, height)


def text_mark(place: Place, text: str, anchor: str = "start", kind: str = "") -> Markup:
    """Return words as SVG whose baseline begins, has its middle or ends at a place."""
    mark = Markup('<text class="{}" x="{:.2f}" y="{:.2f}" text-anchor="{}">{}</text>')
    return mark.format(kind, *place, anchor, text)


STYLE = """\
text { font: 13px sans-serif; fill: #262c34 } .title { font-size: 18px }
.head { font-weight: bold } .small { font-size: 11px }
.line { stroke: #262c34; fill: none; stroke-width: 1.2 } .pale { stroke: #aeb6c0; fill: none }
.dash { stroke: #262c34; fill: none; stroke-dasharray: 5 4 } .band { fill: #d9e3ef; stroke: none }
.curve { stroke: #3468a0; fill: none; stroke-width: 2 } .bar { stroke: #3468a0; stroke-width: 2 }
.dot { fill: #3468a0; stroke: #ffffff } .off { fill: #ffffff; stroke: #8c2f14; stroke-width: 2.5 }
.offbar { stroke: #8c2f14; stroke-width: 2 }"""
"""Classes of a picture's marks."""


class Vector:
    """Collects marks; `svg` makes the picture. ``kind`` is a class of `STYLE`."""

    def __init__(self, width: float, height: float) -> None:
        self.width, self.height = width, height
        self._marks: list[Markup] = []

    def line(self, places: Iterable[Place], kind: str = "line") -> None:
        """Draw a polyline."""
        points = " ".join(f"{x:.2f},{y:.2f}" for x, y in places)
        self._marks.append(Markup('<polyline class="{}" points="{}"/>').format(kind, points))

    def circle(self, centre: Place, radius: float, kind: str) -> None:
        """Draw a circle."""
        mark = Markup('<circle class="{}" cx="{:.2f}" cy="{:.2f}" r="{:.2f}"/>')
        self._marks.append(mark.format(kind, *centre, radius))

    def diamond(self, centre: Place, radius: float, kind: str) -> None:
        """Draw a diamond, for what stands out."""
        x, y = centre
        corners = ((x, y - radius), (x + radius, y), (x, y + radius), (x - radius, y))
        points = " ".join(f"{a:.2f},{b:.2f}" for a, b in corners)
        self._marks.append(Markup('<polygon class="{}" points="{}"/>').format(kind, points))

    def band(self, corner: Place, other: Place) -> None:
        """Fill a rectangle with a pale tone."""
        (x0, x1), (y0, y1) = sorted((corner[0], other[0])), sorted((corner[1], other[1]))
        self._marks.append(box_mark((x0, y0), x1 - x0, y1 - y0, "band"))

    def words(self, place: Place, text: str, *, anchor: str = "start", kind: str = "") -> None:
        """Write words whose baseline begins, has its middle or ends at a place."""
        self._marks.append(text_mark(place, text, anchor, kind))

    def svg(self, title: str, description: str) -> Markup:
        """Return the picture, with title and description for those who cannot see it."""
        head = Markup(
            '<svg role="img" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {0:.0f} {1:.0f}" width="{0:.0f}"'
            ' height="{1:.0f}"><title>{2}</title><desc>{3}</desc><style>{4}</style>'
            '<rect width="100%" height="100%" fill="#ffffff"/>'
        ).format(self.width, self.height, title, description, Markup(STYLE))
        return head + Markup("\n").join(self._marks) + Markup("</svg>\n")


def write_svg(picture: Markup, file: Path) -> None:
    """Write a picture.

    Raises
    ------
    OSError, ValueError
        If it cannot be written, or the name does not end in .svg.
    """
    if file.suffix.lower() != ".svg":
        raise ValueError("its name does not end in .svg")
    write_atomically(file, str(picture).encode())
