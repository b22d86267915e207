"""A drawing in the making: lines, circles, words and dimensions in millimetres, y upwards, as SVG."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from contextlib import contextmanager

from markupsafe import Markup

from hubsight.show.marks import HANGS_ON

Point = tuple[float, float]


class Sketch:
    """Collects marks; `svg` makes the picture.

    Parameters
    ----------
    magnification
        Drawing units per millimetre of the thing: strokes, arrows and words keep their size.
    letters
        Size of the words against that of the report.

    Notes
    -----
    On the drawing, before magnification, an arrow head is `arrow_mm` long, a letter takes up to `letter_mm`
    and is `letter_high_mm` high in the report, and `margin_mm` stay free round everything.
    """

    arrow_mm, letter_mm, letter_high_mm, margin_mm = 1.6, 2.1, 3.8, 3.0

    def __init__(self, magnification: float = 1.0, letters: float = 1.0) -> None:
        self._magnification = magnification
        self._letters = letters
        self._marks: list[Markup] = []
        self._low = (math.inf, math.inf)
        self._high = (-math.inf, -math.inf)

    @contextmanager
    def about(self, figure: str) -> Iterator[None]:
        """Hold what is drawn meanwhile together as a figure's dimension; pages light what it hangs on."""
        hangs = " ".join(HANGS_ON.get(figure, ()))
        self._marks.append(
            Markup('<g class="dimension" data-figure="{}" data-hangs="{}">').format(figure, hangs)
        )
        yield
        self._marks.append(Markup("</g>"))

    def _at(self, point: Point) -> Point:
        x, y = point[0] * self._magnification, -point[1] * self._magnification
        self._hold((x, y))
        return x, y

    def _hold(self, place: Point) -> None:
        self._low = (min(self._low[0], place[0]), min(self._low[1], place[1]))
        self._high = (max(self._high[0], place[0]), max(self._high[1], place[1]))

    def line(self, points: Iterable[Point], kind: str, *, closed: bool = False) -> None:
        """Draw a polyline; ``kind`` is its class in the style sheet."""
        placed = " ".join(f"{x:.3f},{y:.3f}" for x, y in map(self._at, points))
        tag = "polygon" if closed else "polyline"
        self._marks.append(Markup('<{} class="{}" points="{}"/>').format(Markup(tag), kind, placed))

    def circle(self, centre: Point, radius: float, kind: str) -> None:
        """Draw a circle; its radius is in millimetres of the thing."""
        r = radius * self._magnification
        x, y = self._at(centre)
        self._hold((x - r, y - r))
        self._hold((x + r, y + r))
        mark = Markup('<circle class="{}" cx="{:.3f}" cy="{:.3f}" r="{:.3f}"/>')
        self._marks.append(mark.format(kind, x, y, r))

    def words(self, point: Point, text: str, *, anchor: str = "middle", lift: float = 0.0) -> None:
        """Write words at a point; ``lift`` moves them up, in drawing units."""
        x, y = self._at(point)
        y -= lift if lift >= 0 else lift * self._letters
        width = self._width(text)
        left = {"start": 0.0, "middle": width / 2, "end": width}[anchor]
        self._hold((x - left, y - 3.4 * self._letters))
        self._hold((x - left + width, y + 1.0))
        mark = Markup('<text x="{:.3f}" y="{:.3f}" text-anchor="{}">{}</text>')
        self._marks.append(mark.format(x, y, anchor, text))

    def _width(self, text: str) -> float:
        """Return how wide words may come out, drawing units."""
        return self.letter_mm * self._letters * len(text)

    def arrow(self, tip: Point, towards: Point) -> None:
        """Draw an arrow head at ``tip`` that points away from ``towards``."""
        size = self.arrow_mm / self._magnification
        length = math.dist(tip, towards)
        ux, uy = (towards[0] - tip[0]) / length * size, (towards[1] - tip[1]) / length * size
        wings = [(tip[0] + ux - w * uy, tip[1] + uy + w * ux) for w in (0.22, -0.22)]
        self.line([tip, *wings], "arrow", closed=True)

    def dimension(self, start: Point, end: Point, at: float, text: str) -> None:
        """Dimension a horizontal distance.

        Parameters
        ----------
        start, end
            What is dimensioned; extension lines run from there.
        at
            y of the dimension line, mm of the thing.
        text
            Written above the line, or beside it where it does not fit between the arrows.
        """
        (a, ya), (b, yb) = sorted((start, end))
        unit = 1.0 / self._magnification
        beyond = math.copysign(1.5 * unit, at - ya)
        for x, y in ((a, ya), (b, yb)):
            self.line([(x, y + beyond / 2), (x, at + beyond)], "thin")
        if (b - a) * self._magnification > 4 * self.arrow_mm:
            self.line([(a, at), (b, at)], "thin")
            self.arrow((a, at), (b, at))
            self.arrow((b, at), (a, at))
            fits = (b - a) * self._magnification > self._width(text)
        else:  # arrows from outside
            tail = 3 * self.arrow_mm * unit
            self.line([(a - tail, at), (b + tail, at)], "thin")
            self.arrow((a, at), (a - tail, at))
            self.arrow((b, at), (b + tail, at))
            fits = False
        if fits:
            self.words(((a + b) / 2, at), text, lift=1.0)
        else:
            self.words((b + 5.5 * unit, at), text, anchor="start", lift=-1.1)

    def svg(self, title: str, description: str) -> Markup:
        """Return the picture with its title and description for those who cannot see it."""
        left, top = self._low[0] - self.margin_mm, self._low[1] - self.margin_mm
        width, height = self._high[0] + self.margin_mm - left, self._high[1] + self.margin_mm - top
        head = Markup(
            '<svg class="drawing" role="img" xmlns="http://www.w3.org/2000/svg" '
            'viewBox="{:.2f} {:.2f} {:.2f} {:.2f}"><title>{}</title><desc>{}</desc>'
        ).format(left, top, width, height, title, description)
        words = Markup('<g font-size="{:.2f}">').format(self.letter_high_mm * self._letters)
        return head + words + Markup("").join(self._marks) + Markup("</g></svg>")
