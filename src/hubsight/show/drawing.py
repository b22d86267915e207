"""Dimensioned drawings of a measured side, from its figures and its adjusted geometry; mm.

The flange is seen from outside along the hub axis, turned so that the gauge points to the right.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from markupsafe import Markup

from hubsight.model.catalogue import OF_SIDE, FigureName
from hubsight.model.figure import Figure
from hubsight.model.side import FaceGauge, FaceGeometry, SideMeasurement
from hubsight.show.sketch import Point, Sketch
from hubsight.wheel.wire import USUAL_WIRE_MM


@dataclass(frozen=True)
class Drawn:
    """What is drawn of a side and not measured, mm.

    Attributes
    ----------
    head, head_length
        A head across and along the wire (common practice, no source).
    axle
        Radius of the bore: a hint at where the axis is.
    diameter_deg
        About where the diameter's dimension line ends, anticlockwise from the right.
    magnified
        Size of the boss on the detail over that on the face view.
    detail
        How far the detail reaches beyond the boss and the seat.
    """

    head: float = 3.6
    head_length: float = 1.4
    axle: float = 6.0
    diameter_deg: float = 205.0
    magnified: float = 5.0
    detail: float = 3.0


DRAWN = Drawn()
"""As the drawings show it."""


@dataclass(frozen=True)
class _Frame:
    """Turns the boss' frame so that the first gauge points to the right."""

    turn: float

    def point(self, x: float, y: float, extra: float = 0.0) -> Point:
        """Return a point of the boss' frame on the drawing, ``extra`` rad farther round the axis."""
        angle = self.turn + extra
        return (
            x * math.cos(angle) - y * math.sin(angle),
            x * math.sin(angle) + y * math.cos(angle),
        )


def _direction(gauge: FaceGauge) -> float:
    """Return the gauge's direction against its boss' centreline, rad."""
    return math.atan2(gauge.sideways, gauge.outward)


def _value(name: FigureName, figure: Figure) -> str:
    return f"{OF_SIDE[name].on_drawing} {figure.value:.2f} ± {figure.u:.2f}"


def _tilt(gauge: FaceGauge) -> float:
    """Return how much shorter the gauge looks along the axis: it leans towards the rim."""
    return math.hypot(gauge.outward, gauge.sideways)


def face_view(side: SideMeasurement, letters: float = 1.0) -> Markup | None:
    """Draw the flange with its bosses, the gauge and the dimensions flange diameter, reach and protrusion.

    Parameters
    ----------
    side
        Measured; without its face geometry there is nothing to draw.
    letters
        Size of the words against that of the report.

    Returns
    -------
    Markup or None
        An SVG element.
    """
    face, diameter = side.face, side.figures.get("flange_diameter")
    if face is None or not face.gauges or diameter is None:
        return None
    gauge = face.gauges[0]
    frame, sketch = _Frame(-_direction(gauge)), Sketch(letters=letters)
    _flange(sketch, side, face, diameter, frame)
    for other in face.gauges:
        step = 2 * math.pi * other.boss / side.boss_count
        _gauge(sketch, other, _Frame(frame.turn + step))
    _face_dimensions(sketch, side, gauge, frame)
    between_bosses = frame.turn + math.pi / side.boss_count
    _diameter(sketch, diameter, frame.point(gauge.radius, 0.0), between_bosses, 2 * math.pi / side.boss_count)
    name = side.name.replace("_", "-")
    return sketch.svg(f"Flange of the {name} side, seen from outside", _description(side))


def _flange(
    sketch: Sketch, side: SideMeasurement, face: FaceGeometry, diameter: Figure, frame: _Frame
) -> None:
    radius = diameter.value / 2
    if side.kind == "radial":
        sketch.circle((0.0, 0.0), radius, "part")
    else:
        sketch.circle((0.0, 0.0), radius, "axis-line")
    for boss in range(side.boss_count):
        extra = 2 * math.pi * boss / side.boss_count
        if face.boss_outline:
            outline = [frame.point(x, y, extra) for x, y in face.boss_outline]
            sketch.line(outline, "part", closed=True)
        inner, outer = radius - 5.0, radius + 5.5
        sketch.line([frame.point(inner, 0, extra), frame.point(outer, 0, extra)], "axis-line")
    sketch.circle((0.0, 0.0), DRAWN.axle, "part")
    arm = DRAWN.axle + 3.0
    for a, b in (((-arm, 0.0), (arm, 0.0)), ((0.0, -arm), (0.0, arm))):
        sketch.line([a, b], "axis-line")


def _gauge(sketch: Sketch, gauge: FaceGauge, boss: _Frame) -> None:
    """Draw a gauge: wire, head, crossing point."""
    along = _Frame(boss.turn + _direction(gauge))
    cx, cy = boss.point(gauge.radius, 0.0)
    shorter = _tilt(gauge)

    def place(distance: float, across: float) -> Point:
        x, y = along.point(distance * shorter, across)
        return cx + x, cy + y

    seat, half = gauge.reach - gauge.length, USUAL_WIRE_MM / 2
    sketch.line(
        [place(seat, half), place(gauge.reach, half), place(gauge.reach, -half), place(seat, -half)],
        "wire",
        closed=True,
    )
    head = DRAWN.head / 2
    corners = (
        (seat, head),
        (seat, -head),
        (seat - DRAWN.head_length, -half),
        (seat - DRAWN.head_length, half),
    )
    sketch.line([place(*corner) for corner in corners], "wire", closed=True)
    sketch.circle((cx, cy), 0.55, "crossing")


def _outside(crossing: Point) -> float:
    """Return on which side of the gauge there is room for dimensions: away from the axis."""
    return 1.0 if crossing[1] >= 0 else -1.0


def _face_dimensions(sketch: Sketch, side: SideMeasurement, gauge: FaceGauge, frame: _Frame) -> None:
    crossing = frame.point(gauge.radius, 0.0)
    outside, shorter = _outside(crossing), _tilt(gauge)
    end = crossing[0] + gauge.reach * shorter
    base = crossing[1] + outside * (USUAL_WIRE_MM / 2)
    reach, protrusion = side.figures.get("reach"), side.figures.get("protrusion")
    level = base + outside * 10.0
    if protrusion is not None and side.kind == "paired":
        face = end - protrusion.value * shorter
        with sketch.about("protrusion"):
            sketch.dimension((face, base), (end, base), level, _value("protrusion", protrusion))
        level += outside * 9.0
    if reach is not None:
        name: FigureName = "reach" if side.kind == "paired" else "protrusion"
        with sketch.about(name):
            sketch.dimension((crossing[0], base), (end, base), level, _value(name, reach))


def _diameter(sketch: Sketch, diameter: Figure, crossing: Point, between: float, step: float) -> None:
    """Dimension the circle through the crossing points: a line across it, between bosses."""
    radius, outside = diameter.value / 2, _outside(crossing)
    wanted = math.radians(DRAWN.diameter_deg if outside > 0 else 360.0 - DRAWN.diameter_deg)
    angle = between + step * round((wanted - between) / step)
    far = (radius * math.cos(angle), radius * math.sin(angle))
    near = (-far[0], -far[1])
    elbow = (far[0] - 6.0, far[1] - outside * 10.0)
    with sketch.about("flange_diameter"):
        sketch.line([near, far], "thin")
        sketch.arrow(far, near)
        sketch.arrow(near, far)
        sketch.line([far, elbow, (elbow[0] - 2.0, elbow[1])], "thin")
        words = _value("flange_diameter", diameter)
        sketch.words((elbow[0] - 2.0, elbow[1]), words, anchor="middle", lift=-4.8)


def _description(side: SideMeasurement) -> str:
    said = ", ".join(
        f"{name.replace('_', ' ')} {figure.value:.2f} mm" for name, figure in side.figures.items()
    )
    return f"{side.boss_count} bosses; {said}"


def boss_detail(side: SideMeasurement) -> Markup | None:
    """Draw the gauge's boss, enlarged, with the dimensions spoke offset and boss width.

    Returns
    -------
    Markup or None
        An SVG element; None where there is nothing to draw.
    """
    face, offset = side.face, side.figures.get("spoke_offset")
    if face is None or not face.gauges or offset is None:
        return None
    gauge, sketch = face.gauges[0], Sketch(DRAWN.magnified)
    frame, shorter = _Frame(-_direction(gauge)), _tilt(gauge)
    cx, cy = frame.point(gauge.radius, 0.0)
    if face.boss_outline:
        points = [frame.point(x, y) for x, y in face.boss_outline]
        sketch.line([(x - cx, y - cy) for x, y in points], "part", closed=True)
    inner, outer = (frame.point(gauge.radius + reach, 0.0) for reach in (-3.5, 4.5))
    sketch.line([(x - cx, y - cy) for x, y in (inner, outer)], "axis-line")
    outside = _outside((cx, cy))
    seat, half, head = -offset.value * shorter, USUAL_WIRE_MM / 2, DRAWN.head / 2
    width, protrusion, reach = (side.figures.get(n) for n in ("boss_width", "protrusion", "reach"))
    exit_face = (
        (reach.value - protrusion.value) * shorter
        if reach is not None and protrusion is not None and side.kind == "paired"
        else None
    )
    right = max(seat, exit_face or 0.0, 0.0) + DRAWN.detail
    wire = [(seat, half), (right, half), (right, -half), (seat, -half)]
    sketch.line(wire, "wire", closed=True)
    left = seat - DRAWN.head_length
    sketch.line([(seat, head), (seat, -head), (left, -half), (left, half)], "wire", closed=True)
    sketch.line([(left - 1.0, 0.0), (right + 1.0, 0.0)], "axis-line")
    sketch.circle((0.0, 0.0), 0.22, "crossing")
    top = outside * (half + 3.6)
    with sketch.about("spoke_offset"):
        sketch.dimension((seat, outside * half), (0.0, outside * half), top, _value("spoke_offset", offset))
    if width is not None and exit_face is not None:
        entry = exit_face - width.value * shorter
        with sketch.about("boss_width"):
            below = -outside * (half + 4.4)
            sketch.dimension((entry, 0.0), (exit_face, 0.0), below, _value("boss_width", width))
    name = side.name.replace("_", "-")
    return sketch.svg(
        f"Boss of the {name} side with the gauge's head, enlarged",
        f"spoke offset {offset.value:.2f} mm from the crossing point back to the head seat",
    )
