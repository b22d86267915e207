"""The choice of a length as a picture: where each length's end comes to lie in the nipple, with its risks."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from hubsight.model.lengths import LengthChoice, SideOrder, StockRisk
from hubsight.model.uncertainty import COVERAGE_FACTOR
from hubsight.show.chance import percent
from hubsight.show.vector import Frame, box_mark, line_mark, text_mark
from hubsight.show.view import SideView

FRAME = Frame(width=510.0, left=102.0, right=166.0, top=30.0, row=56.0)
"""Room of the picture, drawing units: the length stands on the left, its risks on the right."""


@dataclass(frozen=True)
class _Drawn:
    """The drawn nipple: half widths of its body, its head and the spoke, drawing units, schematic; and mm.

    ``head_mm`` is the length of its head, ``slot_mm`` the depth of its slot (common practice, no source);
    ``before_mm`` and ``beyond_mm`` are drawn before the lowest end and beyond the highest.
    """

    body: float = 13.0
    head: float = 21.0
    wire: float = 6.5
    head_mm: float = 3.0
    slot_mm: float = 1.2
    before_mm: float = 3.2
    beyond_mm: float = 1.4


DRAWN = _Drawn()
"""As the pictures show it."""


@dataclass(frozen=True)
class LengthPicture:
    """A choice of lengths: for which spokes, the picture, and how sure it is."""

    title: str
    picture: Markup
    sentence: str


@dataclass(frozen=True)
class _Scale:
    low: float
    high: float

    def x(self, place: float) -> float:
        return FRAME.x((place - self.low) / (self.high - self.low))


def length_pictures(side: SideView) -> tuple[LengthPicture, ...]:
    """Return a side's choices of a length as pictures; none where the verdict is to stop."""
    order = None if side.lengths is None else side.lengths.order
    if order is None:
        return ()
    return tuple(
        LengthPicture(
            f"{side.title}, {choice.count} spokes", nipple_view(order, choice.choice), choice.sentence
        )
        for choice in side.choices
    )


def nipple_view(order: SideOrder, choice: LengthChoice) -> Markup:
    """Return a picture with one nipple for each length that can be had.

    Parameters
    ----------
    order
        Of the side: the nipple's window.
    choice
        The lengths, each with where its end will lie and its risks.

    Returns
    -------
    Markup
        An SVG element.
    """
    low, high = order.window
    ends = [risk.end for risk in choice.candidates]
    first = low if order.seat is None else min(low, order.seat)
    scale = _Scale(min(first, *ends) - DRAWN.before_mm, max(high, DRAWN.slot_mm, *ends) + DRAWN.beyond_mm)
    bottom = FRAME.top + FRAME.row * len(choice.candidates)
    parts = [_window(scale, order, bottom)]
    for number, risk in enumerate(choice.candidates):
        y = FRAME.top + FRAME.row * (number + 0.5)
        parts.append(_nipple(scale, y) if order.seat is None else _internal(scale, order.seat, y))
        parts.append(_row(scale, risk, choice, y))
    said = "; ".join(f"{risk.length:g} mm: {risk_words(risk)}" for risk in choice.candidates)
    head = Markup(
        '<svg class="nipples" role="img" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {:g} {:g}">'
        "<title>Where the spoke's end comes to lie in the nipple, by length</title><desc>{}</desc>"
    ).format(FRAME.width, bottom + 24, said)
    return head + Markup("").join(parts) + Markup("</svg>")


def risk_words(risk: StockRisk) -> str:
    """Say a length's risks."""
    return f"too short {percent(risk.p_too_short)}, too long {percent(risk.p_too_long)}"


def _window(scale: _Scale, order: SideOrder, bottom: float) -> Markup:
    """Draw the band in which an end is good, with its name, and from where ends count."""
    a, b = (scale.x(place) for place in order.window)
    zero = "bottom of the slot" if order.seat is None else "outer end"
    return Markup("").join(
        [
            box_mark((a, FRAME.top - 4), b - a, bottom - FRAME.top + 4, "window"),
            text_mark(((a + b) / 2, FRAME.top - 10), "where the end is good", "middle"),
            line_mark((scale.x(0.0), FRAME.top - 4), (scale.x(0.0), bottom + 4), "slot"),
            text_mark((scale.x(0.0), bottom + 18), zero, "middle"),
        ]
    )


def _row(scale: _Scale, risk: StockRisk, choice: LengthChoice, y: float) -> Markup:
    own = risk.length == choice.proposed.length
    start, end = FRAME.left, scale.x(risk.end)
    reach = COVERAGE_FACTOR * choice.u_end
    low, high = scale.x(risk.end - reach), scale.x(risk.end + reach)
    marks = [
        box_mark(
            (start, y - DRAWN.wire), max(end - start, 1.0), 2 * DRAWN.wire, "spoke own" if own else "spoke"
        ),
        line_mark((low, y), (high, y), "spread"),
        line_mark((low, y - 4), (low, y + 4), "spread"),
        line_mark((high, y - 4), (high, y + 4), "spread"),
        line_mark((end, y - DRAWN.wire - 3), (end, y + DRAWN.wire + 3), "end"),
        text_mark((0.0, y - 1), f"{'▶ ' if own else ''}{risk.length:g} mm", "start", kind="length"),
        text_mark((0.0, y + 14), _said_of(risk, choice), "start", kind="small"),
        text_mark((FRAME.end + 14, y - 3), f"too short {percent(risk.p_too_short)}", "start"),
        text_mark((FRAME.end + 14, y + 13), f"too long {percent(risk.p_too_long)}", "start"),
    ]
    return Markup('<g class="{}">').format("proposed" if own else "other") + Markup("").join(
        [*marks, Markup("</g>")]
    )


def _said_of(risk: StockRisk, choice: LengthChoice) -> str:
    if risk.length == choice.proposed.length:
        return "proposed"
    return "rounded up" if risk.length == choice.rounded_up.length else ""


def _nipple(scale: _Scale, y: float) -> Markup:
    """Draw a nipple cut open: its bore, its head and the slot."""
    left, neck, slot, top = (
        scale.x(p) for p in (scale.low, DRAWN.slot_mm - DRAWN.head_mm, 0.0, DRAWN.slot_mm)
    )
    upper = [
        (left, y - DRAWN.body),
        (neck, y - DRAWN.body),
        (neck + 6, y - DRAWN.head),
        (top, y - DRAWN.head),
        (top, y - 5),
        (slot, y - 5),
        (slot, y - DRAWN.wire),
        (left, y - DRAWN.wire),
    ]
    return _both(upper, y)


def _internal(scale: _Scale, seat: float, y: float) -> Markup:
    """Draw an internal nipple cut open: its head rests on the rim's bed, where the spoke enters."""
    left, neck, right = scale.x(seat), scale.x(seat + DRAWN.head_mm), scale.x(0.0)
    upper = [
        (left, y - DRAWN.head),
        (neck, y - DRAWN.head),
        (neck, y - DRAWN.body),
        (right, y - DRAWN.body),
        (right, y - DRAWN.wire),
        (left, y - DRAWN.wire),
    ]
    return _both(upper, y)


def _both(upper: list[tuple[float, float]], y: float) -> Markup:
    """Draw a shape and its mirror image below the spoke."""
    lower = [(x, 2 * y - at) for x, at in upper]
    return Markup("").join(
        Markup('<polygon class="nipple" points="{}"/>').format(
            " ".join(f"{a:.1f},{b:.1f}" for a, b in points)
        )
        for points in (upper, lower)
    )
