"""Drawings of the bench card: a side laced, seen from the drive side, and the scale of a spoke's end; SVG."""

from __future__ import annotations

import math
from collections.abc import Iterable

from markupsafe import Markup

from hubsight.model.card import Card, CardSide, CardSpoke
from hubsight.model.catalogue import SIDE_WORDS

RIM, HUB = 100.0, 19.0
"""Radii of rim and flange on the drawing, in its own units: the flange is drawn larger than it is."""
HALF = 118.0
"""Half the width of the drawing: room for the numbers of the holes."""

SCALE_LOW, SCALE_HIGH = -3.0, 4.0
"""Least and most of a spoke's end that the scale shows about its window, mm."""
TICK_MM = 0.5
SCALE_LEFT, SCALE_WIDTH, SCALE_HEIGHT = 20.5, 40.0, 8.0
"""Of the scale, in drawing units."""

Point = tuple[float, float]


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
        marks.append(_line(_at(HUB, spoke.hub), _at(RIM, spoke.rim), kind))
    marks += [_words(_at(RIM + 9.0, spoke.rim), str(spoke.hole), "hole") for spoke in spokes]
    small = " small" if side.places > 12 else ""
    for place, hub in {spoke.place: spoke.hub for spoke in spokes}.items():
        x, y = _at(HUB, hub)
        disc = Markup('<circle class="boss{}" cx="{:.2f}" cy="{:.2f}" r="{}"/>')
        marks.append(disc.format(small, x, y, "3.1" if small else "5"))
        marks.append(_words((x, y), str(place), f"place{small}"))
    title = f"{SIDE_WORDS[side.side]}, laced, seen from the drive side"
    return _svg(title, _description(side, spokes), (-HALF, -HALF, 2 * HALF, 2 * HALF), marks, "lacing")


def end_scale(card: Card, spoke: CardSpoke) -> Markup:
    """Return the scale on which one spoke's end is noted, with its window, and where it is to come to lie."""
    low, high = scale_limits(card)
    per_mm = SCALE_WIDTH / (high - low)

    def x(mm: float) -> float:
        return SCALE_LEFT + (min(max(mm, low), high) - low) * per_mm

    window = Markup('<rect class="window" x="{:.2f}" y="1" width="{:.2f}" height="4.6"/>')
    marks = [window.format(x(card.window[0]), x(card.window[1]) - x(card.window[0]))]
    steps = round((high - low) / TICK_MM)
    for step in range(steps + 1):
        mm = low + step * TICK_MM
        whole = abs(mm - round(mm)) < 1e-9
        kind = "zero" if abs(mm) < 1e-9 else "tick"
        marks.append(_line((x(mm), 5.6), (x(mm), 1.0 if kind == "zero" else 2.6 if whole else 4.0), kind))
    marks.append(_line((x(low), 5.6), (x(high), 5.6), "tick"))
    tip = x(spoke.end)
    marks.append(Markup('<path class="aim" d="M{:.2f} 5.6l-1.1 2.2h2.2z"/>').format(tip))
    if spoke.noted is not None:
        marks.append(_line((x(spoke.noted), 0.4), (x(spoke.noted), 7.4), "noted"))
    way = {"leading": "lead", "trailing": "trail", "radial": ""}[spoke.way]
    marks.append(_words((3.6, 5.4), str(spoke.hole), "number"))
    marks.append(_words((8.0, 5.4), f"{spoke.place} {way}".strip(), "whose"))
    said = "" if spoke.noted is None else f"; noted {spoke.noted:+.1f}"
    title = f"Rim hole {spoke.hole}: end to lie at {spoke.end:+.1f} mm{said}"
    box = (0.0, 0.0, SCALE_LEFT + SCALE_WIDTH + 1.0, SCALE_HEIGHT)
    return _svg(title, f"From boss {spoke.place}, {spoke.way}", box, marks, "scale")


def scale_limits(card: Card) -> tuple[float, float]:
    """Return the least and the most that the scale of an end shows, whole mm."""
    ends = [spoke.end for spoke in card.spokes]
    low = math.floor(min(card.window[0] - 1.0, *ends, SCALE_LOW + 1.0))
    high = math.ceil(max(card.window[1] + 1.0, *ends, SCALE_HIGH - 1.0))
    return float(low), float(high)


def _at(radius: float, degrees: float) -> Point:
    """Return the place at an angle clockwise from the top."""
    angle = math.radians(degrees)
    return radius * math.sin(angle), -radius * math.cos(angle)


def _line(start: Point, end: Point, kind: str) -> Markup:
    mark = Markup('<line class="{}" x1="{:.2f}" y1="{:.2f}" x2="{:.2f}" y2="{:.2f}"/>')
    return mark.format(kind, *start, *end)


def _dot(degrees: float) -> Markup:
    return Markup('<circle class="dot" cx="{:.2f}" cy="{:.2f}" r="1.3"/>').format(*_at(RIM, degrees))


def _words(place: Point, text: str, kind: str) -> Markup:
    return Markup('<text class="{}" x="{:.2f}" y="{:.2f}">{}</text>').format(kind, *place, text)


def _valve() -> Markup:
    stem = Markup('<path class="valve" d="M-2.2 {:g}h4.4v13l-2.2 4l-2.2 -4z"/>').format(-RIM - 1.0)
    return stem + _words((0.0, -RIM + 24.0), "valve", "valve-word")


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
