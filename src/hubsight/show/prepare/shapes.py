"""Shapes of a drawing, millimetres with y upwards: as SVG for pages, and painted on a page to print."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from markupsafe import Markup
from reportlab.pdfgen.canvas import Canvas

Point = tuple[float, float]
Kind = Literal[
    "paper",
    "dark",
    "mid",
    "metal",
    "metal-light",
    "wire",
    "phone",
    "screen",
    "line",
    "thin",
    "dashed",
    "mark",
    "ink",
    "ink-mark",
]
"""What a shape stands for; ink is drawn on white paper, and stays dark where a page is dark."""
GREYS: dict[Kind, tuple[float | None, float, float]] = {
    "paper": (1.0, 0.45, 0.3),
    "dark": (0.15, 0.15, 0.0),
    "mid": (0.55, 0.55, 0.0),
    "metal": (0.72, 0.1, 0.35),
    "metal-light": (0.86, 0.1, 0.35),
    "wire": (0.3, 0.05, 0.2),
    "phone": (0.25, 0.1, 0.3),
    "screen": (0.9, 0.1, 0.2),
    "line": (None, 0.1, 0.45),
    "thin": (None, 0.35, 0.25),
    "dashed": (None, 0.35, 0.3),
    "mark": (0.0, 0.0, 0.3),
    "ink": (None, 0.1, 0.45),
    "ink-mark": (0.0, 0.0, 0.3),
}
"""Fill, stroke (0 black to 1 white) and width of the stroke, mm, on paper; no two that touch are alike."""
LETTER_MM = 0.57
"""Width of a letter over its size."""


@dataclass(frozen=True)
class Shape:
    """A polygon, or a line where it is not closed."""

    kind: Kind
    points: tuple[Point, ...]
    closed: bool = True


@dataclass(frozen=True)
class Words:
    """Words at a point of the drawing; ``on_paper`` if they stand on the white sheet."""

    at: Point
    text: str
    anchor: Literal["start", "middle", "end"] = "middle"
    size: float = 4.6
    on_paper: bool = False

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, bottom, right and top of what they cover."""
        wide = LETTER_MM * self.size * len(self.text)
        left = self.at[0] - {"start": 0.0, "middle": wide / 2, "end": wide}[self.anchor]
        return left, self.at[1] - 0.3 * self.size, left + wide, self.at[1] + 0.85 * self.size


@dataclass(frozen=True)
class Drawing:
    """A drawing with its title, and what it shows for those who cannot see it; ``size`` is wide and high."""

    title: str
    description: str
    size: tuple[float, float]
    shapes: tuple[Shape, ...]
    words: tuple[Words, ...]

    def svg(self) -> Markup:
        """Return it as an SVG element; its style sheet has a class for each kind."""
        wide, high = self.size
        head = Markup(
            '<svg class="guide" role="img" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {:g} {:g}">'
            "<title>{}</title><desc>{}</desc>"
        ).format(wide, high, self.title, self.description)
        parts = [*(_svg_shape(s, high) for s in self.shapes), *(_svg_words(w, high) for w in self.words)]
        return head + Markup("").join(parts) + Markup("</svg>")

    def paint(self, canvas: Canvas, x: float, y: float, scale: float) -> None:
        """Paint it on a page whose unit is the millimetre."""
        canvas.saveState()
        canvas.translate(x, y)
        canvas.scale(scale, scale)
        for shape in self.shapes:
            _paint_shape(canvas, shape)
        for words in self.words:
            left, bottom, right, top = words.box
            canvas.setFillGray(1.0)
            canvas.rect(left, bottom, right - left, top - bottom, stroke=0, fill=1)
            canvas.setFillGray(0.0)
            canvas.setFont("Helvetica", words.size)
            draw = {
                "start": canvas.drawString,
                "middle": canvas.drawCentredString,
                "end": canvas.drawRightString,
            }
            draw[words.anchor](*words.at, words.text)
        canvas.restoreState()


def line(kind: Kind, points: Iterable[Point]) -> Shape:
    """Return a line that is not closed."""
    return Shape(kind, tuple(points), closed=False)


def arrow(tip: Point, start: Point, kind: Kind = "line", size: float = 3.0) -> tuple[Shape, ...]:
    """Return a line from ``start`` to ``tip`` with a head at the tip."""
    dx, dy = start[0] - tip[0], start[1] - tip[1]
    length = max((dx * dx + dy * dy) ** 0.5, 1e-6)
    ux, uy = dx / length * size, dy / length * size
    wings = [(tip[0] + ux - w * uy, tip[1] + uy + w * ux) for w in (0.3, -0.3)]
    head: Kind = "ink-mark" if kind == "ink" else "mark"
    return line(kind, (start, (tip[0] + ux, tip[1] + uy))), Shape(head, (tip, *wings))


def _svg_shape(shape: Shape, high: float) -> Markup:
    points = " ".join(f"{x:.2f},{high - y:.2f}" for x, y in shape.points)
    tag = Markup("polygon" if shape.closed else "polyline")
    return Markup('<{} class="{}" points="{}"/>').format(tag, shape.kind, points)


def _svg_words(words: Words, high: float) -> Markup:
    left, bottom, right, top = words.box
    kind = " on-paper" if words.on_paper else ""
    tag = Markup('<rect class="tag{}" x="{:.2f}" y="{:.2f}" width="{:.2f}" height="{:.2f}"/>').format(
        kind, left, high - top, right - left, top - bottom
    )
    text = Markup('<text class="words{}" x="{:.2f}" y="{:.2f}" text-anchor="{}" font-size="{:g}">{}</text>')
    at = words.at[0], high - words.at[1]
    return tag + text.format(kind, *at, words.anchor, words.size, words.text)


def _paint_shape(canvas: Canvas, shape: Shape) -> None:
    fill, stroke, width = GREYS[shape.kind]
    path = canvas.beginPath()
    path.moveTo(*shape.points[0])
    for point in shape.points[1:]:
        path.lineTo(*point)
    if shape.closed:
        path.close()
    canvas.setStrokeGray(stroke)
    canvas.setLineWidth(width)
    canvas.setDash([2, 1.5] if shape.kind == "dashed" else [])
    if shape.closed and fill is not None:
        canvas.setFillGray(fill)
    canvas.drawPath(path, stroke=int(width > 0), fill=int(shape.closed and fill is not None))
    canvas.setDash([])
