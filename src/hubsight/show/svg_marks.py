"""Marks over a photo as SVG, so that a page can light those on which a figure hangs."""

from __future__ import annotations

import math
from collections.abc import Iterable

from markupsafe import Markup

from hubsight.model.side import Pixel
from hubsight.show.marks import Mark
from hubsight.show.paint import LINES


def marks_svg(marks: Iterable[Mark], px: float) -> Markup:
    """Return marks as SVG elements in the photo's pixels.

    Parameters
    ----------
    marks
        In pixels of the picture as it is looked at; pixel centres are integers there, and half integers in
        the SVG, whose pixels have an extent.
    px
        Photo pixels per pixel of the screen: marks that stand for a point keep their size there.
    """
    return Markup("").join(_mark(mark, px) for mark in marks)


def _mark(mark: Mark, px: float) -> Markup:
    kind = f"{mark.kind} inferred" if mark.dashed else mark.kind
    if mark.kind in LINES:
        tag = Markup("polygon" if mark.closed else "polyline")
        points = " ".join(f"{x + 0.5:.1f},{y + 0.5:.1f}" for x, y in mark.points)
        return Markup('<{} class="{}" points="{}"/>').format(tag, kind, points)
    x, y = mark.points[0]
    return Markup('<path class="{}" d="{}"/>').format(kind, _shape(mark, (x + 0.5, y + 0.5), px))


def _shape(mark: Mark, at: Pixel, px: float) -> str:
    x, y = at
    if mark.kind == "end":
        return _bar(mark, at, 11 * px, 3 * px if mark.dashed else 0.0)
    if mark.kind == "end-seen":
        return _cross(x, y, 4 * px)
    if mark.kind == "seat":
        return f"M{x - 6 * px:.1f} {y - 6 * px:.1f}h{12 * px:.1f}v{12 * px:.1f}h{-12 * px:.1f}z"
    if mark.kind == "crossing":
        r = 7 * px
        return (
            f"M{x - r:.1f} {y:.1f}a{r:.1f} {r:.1f} 0 1 0 {2 * r:.1f} 0a{r:.1f} {r:.1f} 0 1 0 {-2 * r:.1f} 0"
        )
    r = 9 * px
    return f"M{x - r:.1f} {y:.1f}h{2 * r:.1f}M{x:.1f} {y - r:.1f}v{2 * r:.1f}"


def _cross(x: float, y: float, arm: float) -> str:
    return (
        f"M{x - arm:.1f} {y - arm:.1f}l{2 * arm:.1f} {2 * arm:.1f}"
        f"m0 {-2 * arm:.1f}l{-2 * arm:.1f} {2 * arm:.1f}"
    )


def _bar(mark: Mark, at: Pixel, half: float, gap: float) -> str:
    """Return a bar square to the gauge, with a gap in its middle where the end was not seen."""
    before = mark.along or (at[0] - 1.0, at[1])
    dx, dy = mark.points[0][0] - before[0], mark.points[0][1] - before[1]
    length = math.hypot(dx, dy) or 1.0
    ux, uy = -dy / length, dx / length
    ends = [(-half, -gap), (gap, half)] if gap else [(-half, half)]
    return "".join(
        f"M{at[0] + a * ux:.1f} {at[1] + a * uy:.1f}L{at[0] + b * ux:.1f} {at[1] + b * uy:.1f}"
        for a, b in ends
    )
