"""The bench card: one wheel as it is laced and tensioned; lengths in mm, angles in degrees."""

from __future__ import annotations

from typing import Literal

from hubsight.model.frozen import Frozen
from hubsight.model.lengths import SideKind
from hubsight.model.stated import SideName


class CardSpoke(Frozen):
    """One spoke: its boss (bore, flange hole), which way it leaves, its rim hole; see `hubsight.wheel.laced`.

    Attributes
    ----------
    side, place, way, hole, hub, rim
        As of `hubsight.wheel.laced.LacedSpoke`.
    end
        Where its end is to come to lie in the tensioned wheel, from the nipple's zero, outwards.
    noted
        Where it was noted to lie; None where nothing is noted.
    """

    side: SideName
    place: int
    way: Literal["leading", "trailing", "radial"]
    hole: int
    hub: float
    rim: float
    end: float
    noted: float | None = None


class CardSide(Frozen):
    """One side of the card.

    Attributes
    ----------
    side, kind, places, crosses
        Of the flange: its bosses, bores or holes.
    lacing
        How it is laced, in the trade's words.
    spokes
        Which spokes it takes, a sentence for each length.
    tension
        Of each spoke, N.
    end, u_end
        Where the ends are to come to lie, and how sure that is; ``end`` is the mean.
    crossing
        What a spoke crosses on its way, sentences.
    length, proposed
        Of the spokes that were built in, where that is noted; and of those to build in, where all are alike.
    """

    side: SideName
    kind: SideKind
    places: int
    crosses: int
    lacing: str
    spokes: tuple[str, ...]
    tension: float
    end: float
    u_end: float
    crossing: tuple[str, ...] = ()
    length: float | None = None
    proposed: float | None = None


class Card(Frozen):
    """The whole card.

    Attributes
    ----------
    title, facts
        Which wheel it is: its name, and words with values.
    check
        What the verdict asks to check first.
    sides, spokes
        Of the wheel; spokes in the order of their rim holes.
    holes
        Directions of the rim holes, clockwise from the valve.
    numbered_together
        Whether holes are counted over both sides from the valve; else by side.
    window, window_reasons, zero
        Where ends may lie, what happens below and beyond, and from where that counts.
    tension_ratio, tension_stated
        The slacker side's tension over the other's; False where the job states no tension.
    nipples
        What nipples.
    hub_notes, cautions
        How the hub stands to the rim, and what to mind.
    software, inches
        Version that made it, and whether lengths are shown in inches too.
    """

    schema_version: Literal[1] = 1
    job: str
    title: str
    facts: tuple[tuple[str, str], ...]
    check: tuple[str, ...] = ()
    sides: tuple[CardSide, ...]
    spokes: tuple[CardSpoke, ...]
    holes: tuple[float, ...]
    numbered_together: bool
    window: tuple[float, float]
    window_reasons: tuple[str, str]
    zero: str
    tension_ratio: float | None
    tension_stated: bool
    nipples: str
    hub_notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    software: str
    inches: bool = False

    def of(self, side: SideName) -> tuple[CardSpoke, ...]:
        """Return the spokes of a side."""
        return tuple(spoke for spoke in self.spokes if spoke.side == side)
