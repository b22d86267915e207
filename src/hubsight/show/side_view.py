"""Dimensioned drawing of a whole hub seen from the side, from its figures; mm.

The drive side is to the right. What is not measured, shell and axle, is drawn thin, as a hint.
"""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from hubsight.model.catalogue import CENTRE, OF_HUB, OF_SIDE
from hubsight.model.figure import Figure
from hubsight.model.result import JobResult
from hubsight.model.stated import SideName
from hubsight.show.sketch import Sketch


@dataclass(frozen=True)
class Hints:
    """What is drawn of a hub and not measured, mm.

    Attributes
    ----------
    end_radius, shell_radius
        Of end faces and shell.
    flange, beyond
        Thickness of a flange, and how far it reaches beyond the crossing points.
    radius
        Of a flange whose diameter was not measured.
    level
        Distance between dimension lines.
    """

    end_radius: float = 9.5
    shell_radius: float = 12.0
    flange: float = 7.5
    beyond: float = 3.4
    radius: float = 23.0
    level: float = 10.0


HINTS = Hints()
"""As the drawing shows it."""


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
    low = -max([HINTS.radius, *(d.value / 2 for d in diameters.values())]) - HINTS.beyond
    sketch.line([(0.0, low), (0.0, -low)], "axis-line")
    level = low - HINTS.level
    for name, centre in flanges.items():
        ends = (0.0, low), (_place(name, centre), low)
        with sketch.about(CENTRE[name]):
            sketch.dimension(*ends, level, _text(OF_HUB[CENTRE[name]].on_drawing, centre))
        level -= HINTS.level
    with sketch.about("over_locknut"):
        words = _text(OF_HUB["over_locknut"].on_drawing, width)
        sketch.dimension((-half, -HINTS.end_radius), (half, -HINTS.end_radius), level, words)
    return sketch.svg("The hub, seen from the side, drive side to the right", _description(width, flanges))


def _place(name: SideName, centre: Figure) -> float:
    return centre.value if name == "drive" else -centre.value


def _text(words: str, figure: Figure) -> str:
    return f"{words} {figure.value:.2f} ± {figure.u:.2f}"


def _outline(sketch: Sketch, half: float) -> None:
    for radius, reach in ((HINTS.end_radius, half), (HINTS.shell_radius, half * 0.7)):
        sketch.line(
            [(-reach, -radius), (reach, -radius), (reach, radius), (-reach, radius)], "thin", closed=True
        )
    sketch.line([(-half - 5.0, 0.0), (half + 5.0, 0.0)], "axis-line")
    for x in (-half, half):
        sketch.line([(x, -HINTS.end_radius), (x, HINTS.end_radius)], "part")


def _flange(sketch: Sketch, place: float, diameter: Figure | None) -> None:
    radius = HINTS.radius if diameter is None else diameter.value / 2
    left, right = place - HINTS.flange / 2, place + HINTS.flange / 2
    top = radius + HINTS.beyond
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
