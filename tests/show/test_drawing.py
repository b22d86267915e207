"""The dimensioned drawings: what is drawn is what was measured."""

import cmath
import itertools
import math
import re
from xml.etree import ElementTree as ET

import pytest

from hubsight.model.side import FaceGauge
from hubsight.show.drawing import DRAWN, boss_detail, face_view
from hubsight.show.sketch import Sketch
from made_up import make_face, make_figure, make_side

REACH, LENGTH = 97.8, 100.0


def side(face=None, **more):
    figures = {
        "flange_diameter": make_figure(47.0, 0.08),
        "spoke_offset": make_figure(LENGTH - REACH, 0.12),
        "reach": make_figure(REACH, 0.1),
        "protrusion": make_figure(93.7, 0.1),
        "boss_width": make_figure(8.4, 0.2),
    }
    return make_side(face=face or make_face(reach=REACH, length=LENGTH), figures=figures, **more)


class Drawing:
    """A drawing read back: its shapes by class, in drawing units with y downwards."""

    def __init__(self, svg):
        self.root = ET.fromstring(str(svg))
        name = "{http://www.w3.org/2000/svg}"
        self.lines = [
            (item.get("class"), [tuple(map(float, p.split(","))) for p in item.get("points").split()])
            for kind in ("polyline", "polygon")
            for item in self.root.iter(f"{name}{kind}")
        ]
        self.circles = [
            (item.get("class"), *(float(item.get(key)) for key in ("cx", "cy", "r")))
            for item in self.root.iter(f"{name}circle")
        ]
        self.words = [item.text for item in self.root.iter(f"{name}text")]
        self.box = [float(part) for part in self.root.get("viewBox").split()]

    def of(self, kind):
        return [points for name, points in self.lines if name == kind]

    def extension_lines(self):
        """x of every upright thin line."""
        thin = self.of("thin")
        return sorted(
            {round(a[0], 2) for a, b in (p for p in thin if len(p) == 2) if abs(a[0] - b[0]) < 1e-6}
        )


def test_every_dimension_is_as_long_as_its_figure():
    drawing = Drawing(face_view(side()))
    crossing = next(item for item in drawing.circles if item[0] == "crossing")
    end = max(x for points in drawing.of("wire") for x, _ in points)
    xs = drawing.extension_lines()
    assert xs[0] == pytest.approx(crossing[1], abs=0.01)
    assert end - xs[0] == pytest.approx(REACH, abs=0.02)
    assert end - xs[1] == pytest.approx(93.7, abs=0.02)
    assert math.hypot(*crossing[1:3]) == pytest.approx(23.5, abs=0.01)
    assert drawing.words == [
        "protrusion 93.70 ± 0.10",
        "reach 97.80 ± 0.10",
        "flange diameter ⌀ 47.00 ± 0.08",
    ]


@pytest.mark.parametrize("degrees", [-79.0, 79.0, -60.0])
def test_the_gauge_points_to_the_right_and_its_head_is_where_it_seats(degrees):
    drawing = Drawing(face_view(side(make_face(degrees=degrees, reach=REACH, length=LENGTH))))
    wire, head = drawing.of("wire")
    assert wire[0][1] == pytest.approx(wire[1][1], abs=1e-3)
    assert abs(wire[1][0] - wire[0][0]) == pytest.approx(LENGTH, abs=0.01)
    crossing = next(item for item in drawing.circles if item[0] == "crossing")
    assert crossing[1] - wire[0][0] == pytest.approx(LENGTH - REACH, abs=0.01)
    assert min(x for x, _ in head) < wire[0][0]
    # y points down: a gauge to the right of its centreline has its boss above the axis
    assert (crossing[2] < 0) == (degrees < 0)


@pytest.mark.parametrize("count", [5, 6, 8])
def test_every_boss_is_drawn_turned_by_equal_steps(count):
    drawing = Drawing(face_view(side(boss_count=count)))
    middles = [
        complex(sum(x for x, _ in points) / len(points), sum(y for _, y in points) / len(points))
        for points in drawing.of("part")
    ]
    assert len(middles) == count
    assert [abs(middle) for middle in middles] == pytest.approx([abs(middles[0])] * count, rel=1e-4)
    steps = [-cmath.phase(b / a) for a, b in itertools.pairwise(middles)]  # y points down
    assert steps == pytest.approx([math.tau / count] * (count - 1), abs=1e-3)


def test_the_detail_is_enlarged_and_shows_offset_and_width():
    drawing = Drawing(boss_detail(side()))
    front = REACH - 93.7
    lines = [front - 8.4, REACH - LENGTH, 0.0, front]  # back face, head seat, crossing point, front face
    wanted = [DRAWN.magnified * x for x in lines]
    assert drawing.extension_lines() == pytest.approx(wanted, abs=0.05)
    assert drawing.words == ["spoke offset 2.20 ± 0.12", "boss width 8.40 ± 0.20"]


def test_two_gauges_are_both_drawn():
    face = make_face(reach=REACH, length=LENGTH)
    other = FaceGauge(boss=0, radius=23.5, outward=0.19, sideways=0.98, reach=97.0, length=99.0)
    drawing = Drawing(face_view(side(face.model_copy(update={"gauges": (*face.gauges, other)}))))
    assert len(drawing.of("wire")) == 4


def test_a_radial_hub_is_drawn_by_its_rim():
    face = make_face(degrees=0.0, reach=REACH, length=LENGTH).model_copy(
        update={"boss_outline": (), "rim_radius": 23.5}
    )
    drawing = Drawing(face_view(side(face, kind="radial", crosses=0)))
    assert ("part", 0.0, 0.0, 23.5) in drawing.circles
    assert "protrusion 97.80 ± 0.10" in drawing.words
    assert boss_detail(side(face, kind="radial", crosses=0)) is not None


def test_without_geometry_nothing_is_drawn():
    assert face_view(make_side()) is None
    assert boss_detail(make_side()) is None


def test_everything_lies_in_the_picture():
    for svg in (face_view(side()), boss_detail(side())):
        drawing = Drawing(svg)
        left, top, width, height = drawing.box
        for _, points in drawing.lines:
            for x, y in points:
                assert left <= x <= left + width
                assert top <= y <= top + height


def test_words_are_escaped():
    sketch = Sketch()
    sketch.words((0.0, 0.0), "<b>&")
    svg = sketch.svg('a "title" <i>', "description & more")
    assert ET.fromstring(str(svg)) is not None
    assert not re.search(r"<[bi]>", str(svg))
