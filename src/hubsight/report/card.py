"""The bench card as one self-contained HTML page that prints on one sheet of A4 or Letter."""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from dataclasses import dataclass
from importlib import resources

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from hubsight.model.card import Card, CardSide, CardSpoke
from hubsight.model.catalogue import SIDE_WORDS
from hubsight.show.card_words import aim_words, inch_words, tension_words
from hubsight.show.lacing_drawing import end_scale, lacing_drawing, scale_limits

MANY_SPOKES = 36
"""Spokes from which the drawings give room to the scales."""


@dataclass(frozen=True)
class ShownSide:
    """A side of the card: its drawing, and its table of bosses with the rim holes of their spokes."""

    side: CardSide
    title: str
    drawing: Markup
    rows: tuple[tuple[str, tuple[int, ...]], ...]
    aim: str
    inches: str


@dataclass(frozen=True)
class ShownSpoke:
    """A spoke of the card with the scale of its end."""

    spoke: CardSpoke
    scale: Markup


@dataclass(frozen=True)
class ShownCard:
    """The card with its drawings, as the templates set it out."""

    card: Card
    sides: tuple[ShownSide, ...]
    spokes: tuple[tuple[str, tuple[ShownSpoke, ...]], ...]
    notes: tuple[str, ...]
    tension: str
    limits: tuple[float, float]
    many: bool


def shown_card(card: Card) -> ShownCard:
    """Return a card with its drawings."""
    return ShownCard(
        card=card,
        sides=tuple(_side(card, side) for side in card.sides),
        spokes=tuple(
            (SIDE_WORDS[side.side], tuple(ShownSpoke(s, end_scale(card, s)) for s in card.of(side.side)))
            for side in card.sides
        ),
        notes=tuple(dict.fromkeys(line for side in card.sides for line in _crossing(card, side))),
        tension=tension_words(card),
        limits=scale_limits(card),
        many=len(card.spokes) >= MANY_SPOKES,
    )


def _crossing(card: Card, side: CardSide) -> Iterable[str]:
    """Yield what is said of a side's crossings, with its name where it is not the same for both."""
    for line in side.crossing:
        shared = all(line in other.crossing for other in card.sides)
        yield line if shared else f"{SIDE_WORDS[side.side]}: {line[:1].lower()}{line[1:]}"


def _side(card: Card, side: CardSide) -> ShownSide:
    spokes = card.of(side.side)
    rows = []
    for way in ("leading", "trailing", "radial"):
        mine = sorted((spoke.place, spoke.hole) for spoke in spokes if spoke.way == way)
        if mine:
            rows.append((way if way != "radial" else "rim hole", tuple(hole for _, hole in mine)))
    places = sorted({spoke.place for spoke in spokes if spoke.way in ("leading", "radial")})
    what = {"paired": "boss", "radial": "bore", "j_bend": "flange hole"}[side.kind]
    table = ((what, tuple(places)), *rows) if side.kind != "j_bend" else _by_hole(spokes)
    return ShownSide(
        side,
        SIDE_WORDS[side.side],
        lacing_drawing(card, side),
        table,
        aim_words(card, side),
        inch_words(card, side),
    )


def _by_hole(spokes: tuple[CardSpoke, ...]) -> tuple[tuple[str, tuple[int, ...]], ...]:
    """Return flange holes in turn with their rim holes: leading and trailing ones alternate."""
    turn = sorted((spoke.place, spoke.hole) for spoke in spokes)
    return ("flange hole", tuple(p for p, _ in turn)), ("rim hole", tuple(hole for _, hole in turn))


def card_style() -> str:
    """Return the style sheet of the card: this project's own file."""
    folder = resources.files("hubsight.report").joinpath("templates")
    return folder.joinpath("card.css").read_text(encoding="utf-8")


def card_sheet(card: Card, day: datetime.date) -> Markup:
    """Return the card's sheet without a page round it, for pages that have their own."""
    parts = _pages().get_template("card_sheet.html.j2").make_module()
    return Markup(parts.sheet(shown_card(card), day))  # type: ignore[attr-defined]


def render_card(card: Card, day: datetime.date) -> str:
    """Return the card as one HTML page: no script, nothing that is loaded from elsewhere."""
    page = _pages().get_template("card.html.j2")
    return page.render(shown=shown_card(card), card=card, style=Markup(card_style()), day=day)


def _pages() -> Environment:
    return Environment(
        loader=PackageLoader("hubsight.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
