"""The four drawings: print the target, make the gauge, set up, hold the phone."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from hubsight.model.arrays import Array
from hubsight.model.stated import PaperName
from hubsight.show.prepare.scene import Eye, crossing, gauge_end, hub, phone, shape, sheet
from hubsight.show.prepare.shapes import Drawing, Point, Shape, Words, arrow, line
from hubsight.target.geometry import TargetGeometry, target_geometry

SIZE = (150.0, 100.0)
"""Width and height of each drawing, mm."""
TILTS_DEG, FAR_MM = 24.0, 400.0
"""Lean of the phone from the vertical, degrees, and its distance, mm; see the instructions."""
FROM_ABOVE = 330.0
"""Height of the phone above the hub for the photo from above, mm."""
A4_MM = 297.0
"""Long side of the paper for which the drawings are laid out (ISO 216)."""


@lru_cache
def guide(paper: PaperName = "a4") -> tuple[Drawing, ...]:
    """Return the drawings in their order, for a paper."""
    geometry = target_geometry(paper)
    return (_print(geometry), _gauge(), _set_up(geometry), _phone(geometry))


def _print(geometry: TargetGeometry) -> Drawing:
    scale = 96.0 / geometry.page[0]
    middle = (66.0, 44.0)

    def at(x: float, y: float) -> Point:
        return middle[0] + scale * x, middle[1] + scale * y

    shapes = [_scaled(s, middle, scale) for s in sheet(_TOP, geometry)]
    shapes += _bar(at, geometry.check_bars[0].ticks.mean(axis=1).tolist(), upright=False)
    shapes += _bar(at, geometry.check_bars[1].ticks.mean(axis=1).tolist(), upright=True)
    length = f"{geometry.check_bars[0].nominal:g} mm?"
    words = (
        Words((66.0, 91.0), "print at 100 %, never “fit to page”", size=5.4),
        Words(at(0.0, -56.0), length, on_paper=True),
        Words(at(68.0, 0.0), length, on_paper=True),
        Words((137.0, 60.0), "both bars", size=4.6),
        Words((137.0, 54.0), "with the", size=4.6),
        Words((137.0, 48.0), "caliper,", size=4.6),
        Words((137.0, 42.0), "3 times", size=4.6),
    )
    said = (
        "The target from above. Two check bars, one along each side, are measured between their tick marks."
    )
    return Drawing("Print the target and measure both check bars", said, SIZE, tuple(shapes), words)


_TOP = Eye(np.array([0.0, -1e-6, 1e6]), np.zeros(3), 1e6, (0.0, 0.0))
"""Straight from above, in true size."""


def _scaled(one: Shape, middle: Point, scale: float) -> Shape:
    points = tuple((middle[0] + scale * x, middle[1] + scale * y) for x, y in one.points)
    return Shape(one.kind, points, one.closed)


def _bar(at, ticks, *, upright: bool) -> list[Shape]:  # type: ignore[no-untyped-def]
    """Return the dimension of a check bar, with the jaws of a caliper outside of it."""
    a, b = (at(*tick) for tick in ticks)
    out: list[Shape] = []
    for tip, other in ((a, b), (b, a)):
        dx, dy = (math.copysign(3.0, tip[0] - other[0]), 9.0) if not upright else (9.0, 0.0)
        if upright:
            dy = math.copysign(3.0, tip[1] - other[1])
            jaw = (tip, (tip[0] + dx, tip[1]), (tip[0] + dx, tip[1] + dy), (tip[0] + 2.0, tip[1] + dy))
        else:
            jaw = (tip, (tip[0], tip[1] - dy), (tip[0] + dx, tip[1] - dy), (tip[0] + dx, tip[1] - 2.0))
        out += [Shape("metal", jaw), *arrow(tip, other, "ink", size=2.6)]
    return out


def _gauge() -> Drawing:
    """Draw the spoke, cut; below, its end enlarged as it should be, and as it should not."""
    y, left, right, half = 76.0, 18.0, 128.0, 1.3
    wire = Shape("wire", ((left, y + half), (right, y + half), (right, y - half), (left, y - half)))
    head = Shape("wire", ((left, y + 3.4), (left, y - 3.4), (left - 3.0, y - 1.6), (left - 3.0, y + 1.6)))
    shapes = [wire, head]
    shapes += [line("thin", ((x, y - 4), (x, y - 13))) for x in (left, right)]
    shapes += [*arrow((left, y - 11), (right, y - 11)), *arrow((right, y - 11), (left, y - 11))]
    for x, burr in ((20.0, 0.0), (88.0, 1.0)):
        end = ((x, 40.0), (x + 34, 40.0), (x + 34 - 6 * burr, 24.0), (x, 24.0))
        shapes.append(Shape("metal", end))
        if burr:
            shapes.append(Shape("metal", ((x + 32, 40.0), (x + 37, 42.5), (x + 36, 39.0), (x + 33, 37.0))))
    shapes += [line("line", ((40.0, 15.0), (43.0, 11.5), (49.0, 19.0)))]
    shapes += [line("line", ((108.0, 19.0), (115.0, 11.5))), line("line", ((115.0, 19.0), (108.0, 11.5)))]
    words = (
        Words((75.0, 91.0), "cut a straight-pull spoke to about 100 mm", size=5.4),
        Words((73.0, 56.5), "from under its head to its far end, to 0.02 mm if you can"),
        Words((37.0, 45.0), "square, no burr"),
        Words((105.0, 45.0), "slanted, a burr"),
        Words((9.0, y + 7.0), "head", anchor="start"),
        Words((134.0, y + 7.0), "cut end", anchor="end"),
    )
    said = "A spoke cut to about 100 mm, measured from under its head. Its end is square, without a burr."
    return Drawing("Make the gauge spoke", said, SIZE, tuple(shapes), words)


def _zoom(zoom: float, geometry: TargetGeometry) -> float:
    """Return the zoom at which a sheet of any size is drawn as large as A4."""
    return zoom * min(1.0, A4_MM / geometry.page[0])


def _set_up(geometry: TargetGeometry) -> Drawing:
    eye = Eye(
        np.array([150.0, -620.0, 400.0]), np.array([4.0, 8.0, 46.0]), _zoom(262.0, geometry), (75.0, 46.0)
    )
    shapes = [*sheet(eye, geometry), *hub(eye)]
    end, head = (tuple(eye.see(p[None])[0].tolist()) for p in (gauge_end(), crossing()))
    shapes += arrow((end[0] + 15.0, end[1] - 1.5), (end[0] + 3.0, end[1] - 0.3), size=3.4)
    shapes += [
        line("thin", ((head[0] - 2.0, head[1] + 0.5), (22.0, 69.5))),
    ]
    words = (
        Words((75.0, 93.5), "hub between the four ticks, gauge to the right", size=5.4),
        Words((2.0, 78.0), "putty holds", anchor="start", size=4.6),
        Words((2.0, 71.5), "the head", anchor="start", size=4.6),
        Words((148.0, 78.0), "pull it outward", anchor="end", size=4.6),
        Words((148.0, 71.0), "prop its end if it droops", anchor="end", size=4.6),
        Words((2.0, 3.0), "tape all edges flat", anchor="start", size=4.6),
    )
    said = (
        "The hub stands upright between the four ticks of the target; the gauge points to the right, pulled "
        "outward until its head seats."
    )
    return Drawing("Set up hub and gauge", said, SIZE, tuple(shapes), words)


def places() -> tuple[tuple[Array, Array], ...]:
    """Return lens and aim of each photo: one from above the gauge's far end, four from around."""
    aim = np.array([0.0, 0.0, 45.0])
    above = gauge_end() * np.array([0.8, 1.0, 0.0])
    shots = [(above + np.array([0.0, 0.0, FROM_ABOVE]), above)]
    lean = math.radians(TILTS_DEG)
    for turn in np.radians([-90.0, 0.0, 90.0, 180.0]):
        away = np.array([math.cos(turn) * math.sin(lean), math.sin(turn) * math.sin(lean), math.cos(lean)])
        shots.append((aim + FAR_MM * away, aim))
    return tuple(shots)


def _phone(geometry: TargetGeometry) -> Drawing:
    eye = Eye(
        np.array([330.0, -1300.0, 640.0]), np.array([0.0, 0.0, 208.0]), _zoom(236.0, geometry), (72.0, 44.5)
    )
    shapes = [*sheet(eye, geometry), *hub(eye)]
    words: list[Words] = [Words((75.0, 93.5), "one from above the gauge's end, four from around", size=5.4)]
    for number, (place, aim) in sorted(enumerate(places(), start=1), key=lambda shot: -eye.far(shot[1][0])):
        shapes.append(shape("dashed", eye, np.array([place, aim]), closed=False))
        shapes += phone(eye, place, aim)
        words.append(_number(eye, place, number))
    words += [
        Words((2.0, 8.0), "30 to 50 cm away,", anchor="start", size=4.4),
        Words((2.0, 2.5), "leaning 15 to 30°", anchor="start", size=4.4),
        Words((148.0, 8.0), "no zoom, no flash,", anchor="end", size=4.4),
        Words((148.0, 2.5), "the whole ring in view", anchor="end", size=4.4),
    ]
    said = (
        "Five places of the phone round the target: straight above the gauge's far end, and from four sides, "
        "leaning by 15 to 30 degrees."
    )
    return Drawing("Hold the phone", said, SIZE, tuple(shapes), tuple(words))


def _number(eye: Eye, place: Array, number: int) -> Words:
    x, y = eye.see(place[None])[0].tolist()
    return Words((x, y - 1.0), str(number), size=5.0)
