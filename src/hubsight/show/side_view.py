"""Dimensioned drawing of a whole hub seen from the side, from its figures; mm.

The drive side is to the right. What is not measured, shell and axle, is drawn thin, as a hint.
"""

from __future__ import annotations

from markupsafe import Markup

from hubsight.model.catalogue import CENTRE, OF_HUB, OF_SIDE
from hubsight.model.figure import Figure
from hubsight.model.result import JobResult
from hubsight.model.stated import SideName
from hubsight.show.sketch import Sketch

END_RADIUS_MM, SHELL_RADIUS_MM = 9.5, 12.0
"""Drawn radii of end faces and shell; hints, not measured."""
FLANGE_THICKNESS_MM, BEYOND_MM = 7.5, 3.4
"""Drawn thickness of a flange, and how far it reaches beyond the crossing points; hints, not measured."""
USUAL_RADIUS_MM = 23.0
"""Drawn where a side's flange diameter was not measured."""
LEVEL_MM = 10.0
"""Distance between dimension lines."""


def side_view(measured: JobResult, letters: float = 1.0) -> Markup | None:
    """Draw the hub from the side with over-locknut, centre to flange and flange diameters.

    Parameters
    ----------
    measured
        A job; without the over-locknut there is nothing to draw.
    letters
        Size of the words against that of the report.

    Returns
    -------
    Markup or None
        An SVG element.
    """
    figures = {} if measured.hub is None else measured.hub.figures
    width = figures.get("over_locknut")
    if width is None:
        return None
    sketch, half = Sketch(letters=letters), width.value / 2
    diameters = {
        side.name: side.measurement.figures["flange_diameter"]
        for side in measured.sides
        if side.measurement is not None and "flange_diameter" in side.measurement.figures
    }
    flanges = {name: figures[key] for name, key in CENTRE.items() if key in figures}
    _outline(sketch, half)
    for name, centre in flanges.items():
        _flange(sketch, _place(name, centre), diameters.get(name))
    low = -max([USUAL_RADIUS_MM, *(d.value / 2 for d in diameters.values())]) - BEYOND_MM
    sketch.line([(0.0, low), (0.0, -low)], "axis-line")
    level = low - LEVEL_MM
    for name, centre in flanges.items():
        ends = (0.0, low), (_place(name, centre), low)
        with sketch.about(CENTRE[name]):
            sketch.dimension(*ends, level, _text(OF_HUB[CENTRE[name]].on_drawing, centre))
        level -= LEVEL_MM
    with sketch.about("over_locknut"):
        words = _text(OF_HUB["over_locknut"].on_drawing, width)
        sketch.dimension((-half, -END_RADIUS_MM), (half, -END_RADIUS_MM), level, words)
    return sketch.svg("The hub, seen from the side, drive side to the right", _description(width, flanges))


def _place(name: SideName, centre: Figure) -> float:
    return centre.value if name == "drive" else -centre.value


def _text(words: str, figure: Figure) -> str:
    return f"{words} {figure.value:.2f} ± {figure.u:.2f}"


def _outline(sketch: Sketch, half: float) -> None:
    for radius, reach in ((END_RADIUS_MM, half), (SHELL_RADIUS_MM, half * 0.7)):
        sketch.line(
            [(-reach, -radius), (reach, -radius), (reach, radius), (-reach, radius)], "thin", closed=True
        )
    sketch.line([(-half - 5.0, 0.0), (half + 5.0, 0.0)], "axis-line")
    for x in (-half, half):
        sketch.line([(x, -END_RADIUS_MM), (x, END_RADIUS_MM)], "part")


def _flange(sketch: Sketch, place: float, diameter: Figure | None) -> None:
    radius = USUAL_RADIUS_MM if diameter is None else diameter.value / 2
    left, right = place - FLANGE_THICKNESS_MM / 2, place + FLANGE_THICKNESS_MM / 2
    top = radius + BEYOND_MM
    kind = "thin" if diameter is None else "part"
    sketch.line([(left, -top), (right, -top), (right, top), (left, top)], kind, closed=True)
    if diameter is not None:
        for y in (-radius, radius):
            sketch.line([(left - 2.0, y), (right + 2.0, y)], "axis-line")
        words = _text(OF_SIDE["flange_diameter"].on_drawing, diameter)
        anchor = "start" if place > 0.0 else "end"
        with sketch.about("flange_diameter"):
            sketch.words((place, top), words, anchor=anchor, lift=2.0)


def _description(width: Figure, flanges: dict[SideName, Figure]) -> str:
    parts = [f"{width.value:.2f} mm over the locknuts"]
    parts += [
        f"{centre.value:.2f} mm from the centre to the {name.replace('_', '-')} side's flange"
        for name, centre in flanges.items()
    ]
    return "; ".join(parts)
