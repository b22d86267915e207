"""Drawings of the bench card: a side laced, seen from the drive side, and the scale of a spoke's end; SVG."""

from __future__ import annotations

import math
from collections.abc import Iterable

from markupsafe import Markup

from hubsight.model.card import Card, CardSide, CardSpoke
from hubsight.model.catalogue import SIDE_WORDS
from hubsight.show.vector import Frame, Place, box_mark, line_mark, text_mark

RIM, HUB = 100.0, 19.0
"""Radii of rim and flange on the drawing, in its own units: the flange is drawn larger than it is."""
HALF = 118.0
"""Half the width of the drawing: room for the numbers of the holes."""

SCALE = Frame(width=61.5, left=20.5, right=1.0, top=1.0, base=5.6)
"""Room of the scale of a spoke's end, drawing units."""


def lacing_drawing(card: Card, side: CardSide) -> Markup:
    """Return one side of the wheel: rim with valve and numbered holes, bosses, and every spoke."""
    spokes = card.of(side.side)
    first = min(spokes, key=lambda spoke: spoke.hole)
    marks = [Markup('<circle class="rim" r="{:g}"/><circle class="flange" r="{:g}"/>').format(RIM, HUB)]
    marks += [_dot(angle) for angle in card.holes]
    if card.numbered_together:
        marks.append(_valve())
    for spoke in sorted(spokes, key=lambda spoke: spoke is first):
        kind = f"spoke {spoke.way}{' first' if spoke is first else ''}"
        marks.append(line_mark(_at(HUB, spoke.hub), _at(RIM, spoke.rim), kind))
    marks += [text_mark(_at(RIM + 9.0, spoke.rim), str(spoke.hole), kind="hole") for spoke in spokes]
    small = " small" if side.places > 12 else ""
    for place, hub in {spoke.place: spoke.hub for spoke in spokes}.items():
        x, y = _at(HUB, hub)
        disc = Markup('<circle class="boss{}" cx="{:.2f}" cy="{:.2f}" r="{}"/>')
        marks.append(disc.format(small, x, y, "3.1" if small else "5"))
        marks.append(text_mark((x, y), str(place), kind=f"place{small}"))
    title = f"{SIDE_WORDS[side.side]}, laced, seen from the drive side"
    return _svg(title, _description(side, spokes), (-HALF, -HALF, 2 * HALF, 2 * HALF), marks, "lacing")


def end_scale(card: Card, spoke: CardSpoke) -> Markup:
    """Return the scale on which one spoke's end is noted, with its window, and where it is to come to lie."""
    low, high = scale_limits(card)

    def x(mm: float) -> float:
        return SCALE.x((min(max(mm, low), high) - low) / (high - low))

    left, right = (x(mm) for mm in card.window)
    marks = [box_mark((left, SCALE.top), right - left, SCALE.base - SCALE.top, "window")]
    for half in range(2 * round(low), 2 * round(high) + 1):
        up, kind = (SCALE.top, "zero") if half == 0 else (4.0 if half % 2 else 2.6, "tick")
        marks.append(line_mark((x(half / 2), SCALE.base), (x(half / 2), up), kind))
    marks.append(line_mark((x(low), SCALE.base), (x(high), SCALE.base), "tick"))
    tip = x(spoke.end)
    marks.append(Markup('<path class="aim" d="M{:.2f} 5.6l-1.1 2.2h2.2z"/>').format(tip))
    if spoke.noted is not None:
        marks.append(line_mark((x(spoke.noted), 0.4), (x(spoke.noted), 7.4), "noted"))
    way = {"leading": "lead", "trailing": "trail", "radial": ""}[spoke.way]
    marks.append(text_mark((3.6, 5.4), str(spoke.hole), kind="number"))
    marks.append(text_mark((8.0, 5.4), f"{spoke.place} {way}".strip(), kind="whose"))
    said = "" if spoke.noted is None else f"; noted {spoke.noted:+.1f}"
    title = f"Rim hole {spoke.hole}: end to lie at {spoke.end:+.1f} mm{said}"
    box = (0.0, 0.0, SCALE.width, 8.0)
    return _svg(title, f"From boss {spoke.place}, {spoke.way}", box, marks, "scale")


def scale_limits(card: Card) -> tuple[float, float]:
    """Return the least and the most that the scale of an end shows, whole mm: at least from -2 to 3."""
    ends = [spoke.end for spoke in card.spokes]
    low = math.floor(min(card.window[0] - 1.0, *ends, -2.0))
    high = math.ceil(max(card.window[1] + 1.0, *ends, 3.0))
    return float(low), float(high)


def _at(radius: float, degrees: float) -> Place:
    """Return the place at an angle clockwise from the top."""
    angle = math.radians(degrees)
    return radius * math.sin(angle), -radius * math.cos(angle)


def _dot(degrees: float) -> Markup:
    return Markup('<circle class="dot" cx="{:.2f}" cy="{:.2f}" r="1.3"/>').format(*_at(RIM, degrees))


def _valve() -> Markup:
    stem = Markup('<path class="valve" d="M-2.2 {:g}h4.4v13l-2.2 4l-2.2 -4z"/>').format(-RIM - 1.0)
    return stem + text_mark((0.0, -RIM + 24.0), "valve", kind="valve-word")


def _description(side: CardSide, spokes: Iterable[CardSpoke]) -> str:
    each = "; ".join(f"hole {s.hole} from {s.place}, {s.way}" for s in spokes)
    return f"{side.lacing}: {each}"


def _svg(
    title: str, description: str, box: tuple[float, float, float, float], marks: Iterable[Markup], kind: str
) -> Markup:
    head = Markup(
        '<svg class="{}" role="img" xmlns="http://www.w3.org/2000/svg" viewBox="{:g} {:g} {:g} {:g}">'
        "<title>{}</title><desc>{}</desc>"
    ).format(kind, *box, title, description)
    return head + Markup("").join(marks) + Markup("</svg>")
