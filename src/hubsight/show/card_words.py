"""What the bench card says of tension and of the spokes' ends, and the card as lines on the screen."""

from __future__ import annotations

from collections.abc import Iterable

from hubsight.model.card import Card, CardSide, CardSpoke
from hubsight.model.catalogue import SIDE_WORDS
from hubsight.show.inches import decimal_inches, fraction_inches

NEWTON_PER_KGF = 9.80665
"""Standard gravity (ISO 80000-3): what meters with kgf show."""


def tension_words(card: Card) -> str:
    """Say the target tension of each side and their ratio, and whether it was stated."""
    each = ", ".join(f"{SIDE_WORDS[side.side].lower()} {tension(side.tension)}" for side in card.sides)
    said = f"Tension: {each}"
    if card.tension_ratio is not None:
        said += f"; the slacker side has {100.0 * card.tension_ratio:.0f} % of the other's"
    return said if card.tension_stated else f"{said}. A usual tension: the makers' limits count, not this"


def tension(newton: float) -> str:
    """Return a tension in N and in kgf."""
    return f"{newton:.0f} N ({newton / NEWTON_PER_KGF:.0f} kgf)"


def aim_words(card: Card, side: CardSide) -> str:
    """Say where a side's ends are to come to lie in the tensioned wheel."""
    low, high = card.window
    where = f"{side.end:+.1f} ± {side.u_end:.1f} mm from {card.zero}"
    return f"ends to lie {where}; good from {low:+.1f} to {high:+.1f} mm"


def inch_words(card: Card, side: CardSide) -> str:
    """Return a side's length as a rule in inches shows it; nothing where that is not asked for."""
    length = side.proposed if side.length is None else side.length
    if not card.inches or length is None:
        return ""
    return f"{length:g} mm: {decimal_inches(length)}, nearest 64th {fraction_inches(length)}"


def card_lines(card: Card) -> Iterable[str]:
    """Yield the card as lines for the screen."""
    yield card.title + "".join(f"; {name.lower()} {value}" for name, value in card.facts)
    yield from (f"Check first: {sentence}" for sentence in card.check)
    yield (
        "Seen from the drive side, the valve up; holes and bosses count clockwise. The wheel rolls "
        "clockwise: leading spokes run ahead, trailing ones behind"
    )
    for side in card.sides:
        yield ""
        yield f"{SIDE_WORDS[side.side]}: {side.lacing}"
        yield from (f"  {line}" for line in side.spokes)
        yield from (f"  {words}" for words in (inch_words(card, side),) if words)
        yield f"  {aim_words(card, side).capitalize()}"
        yield from (f"  {line}" for line in side.crossing)
        yield from (f"  {line}" for line in _holes(card.of(side.side)))
    yield ""
    yield tension_words(card)
    yield card.nipples
    yield from card.hub_notes
    yield from card.cautions


def _holes(spokes: tuple[CardSpoke, ...]) -> Iterable[str]:
    for spoke in spokes:
        noted = "" if spoke.noted is None else f"; its end lies at {spoke.noted:+.1f} mm"
        yield f"hole {spoke.hole}: {spoke.way}, from {spoke.place}{noted}"
