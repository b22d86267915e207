"""A picture of its own as SVG: lines, dots, words and bands in drawing units, y downwards.

It carries its style with it, and tells kinds apart by shape and tone, so that a grey print says the same.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from markupsafe import Markup

from hubsight.model.files import write_atomically

Place = tuple[float, float]

STYLE = """\
text { font: 13px sans-serif; fill: #262c34 } .title { font-size: 18px }
.head { font-weight: bold } .small { font-size: 11px }
.line { stroke: #262c34; fill: none; stroke-width: 1.2 } .pale { stroke: #aeb6c0; fill: none }
.dash { stroke: #262c34; fill: none; stroke-dasharray: 5 4 } .band { fill: #d9e3ef; stroke: none }
.curve { stroke: #3468a0; fill: none; stroke-width: 2 } .bar { stroke: #3468a0; stroke-width: 2 }
.dot { fill: #3468a0; stroke: #ffffff } .off { fill: #ffffff; stroke: #8c2f14; stroke-width: 2.5 }
.offbar { stroke: #8c2f14; stroke-width: 2 }"""


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
        mark = Markup('<rect class="band" x="{:.2f}" y="{:.2f}" width="{:.2f}" height="{:.2f}"/>')
        self._marks.append(mark.format(x0, y0, x1 - x0, y1 - y0))

    def words(self, place: Place, text: str, *, anchor: str = "start", kind: str = "") -> None:
        """Write words whose baseline begins, has its middle or ends at a place."""
        mark = Markup('<text class="{}" x="{:.2f}" y="{:.2f}" text-anchor="{}">{}</text>')
        self._marks.append(mark.format(kind, *place, anchor, text))

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
