"""Which spoke to order for a broken one in a wheel of unknown hub: as its neighbours say. Lengths in mm.

The neighbours are spokes of the same side that lean the same way: the next one is of the other bore, the next
but one is alike. Where their ends lie in their nipples says how much longer or shorter would be better.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading
from hubsight.model.uncertainty import COVERAGE_FACTOR, u_of_mean, u_rectangular
from hubsight.wheel.built import END_READING_U_MM, SPOKE_READING_U_MM
from hubsight.wheel.choice import CUT_U_MM, Candidate, Task, choose
from hubsight.wheel.nipple import Stock, Window
from hubsight.wheel.wire import SpokeWire

UNKNOWN_TENSION_N = Reading(800.0, 250.0)
"""Tension of a spoke in a wheel of which nothing is known, N (common practice, no source)."""

UNLIKE_MM = 1.0
"""Spread of the neighbours from which they are doubted to be alike: more than readings and bores differ by; a
larger one lets two kinds of spoke pass for one (common practice, no source)."""

HAND_ROUTE = (
    "Take out the next spoke but one of the same side, which leans the same way, and measure it from under"
    " its head to its end; or put the pieces of the broken one together. With the tyre off, measure how far"
    " the ends of its neighbours lie from the bottom of their nipples' slots"
)
"""Remedy where nothing is known of the hub."""


@dataclass(frozen=True)
class FromNeighbours:
    """The spoke to order by its neighbours.

    Attributes
    ----------
    length
        Of the neighbours, loose.
    end
        Where a spoke of that length ends in its nipple in the tensioned wheel; ``end_seen`` tells whether
        that was measured, or taken as anywhere in the nipple's window.
    order, others
        Length to order, and those beside it.
    close_call
        Whether another length is nearly as good.
    notes
        What to know of it.
    """

    length: Reading
    end: Reading
    end_seen: bool
    order: Candidate
    others: tuple[Candidate, ...]
    close_call: bool
    notes: tuple[str, ...] = ()

    def sentences(self) -> tuple[str, ...]:
        """Return the answer as the user reads it."""
        low, high = (self.length.value + k * COVERAGE_FACTOR * self.length.u for k in (-1.0, 1.0))
        short, long = 100.0 * self.order.p_too_short, 100.0 * self.order.p_too_long
        call = "; a close call" if self.close_call else ""
        length = f"{self.length.value:.1f} ± {self.length.u:.1f} mm (95 %: {low:.1f} to {high:.1f} mm)"
        risk = f"too short in {short:.1f} % and too long in {long:.1f} % of the cases"
        return (
            f"The neighbours say {length}",
            f"Order {self.order.length:g} mm: {risk}{call}",
            *self.notes,
        )


def from_neighbours(
    spokes: Sequence[float],
    *,
    ends: Sequence[float] = (),
    wire: SpokeWire | None = None,
    tension: Reading = UNKNOWN_TENSION_N,
    window: Window,
    stock: Stock,
) -> FromNeighbours | Refusal:
    """Return which spoke to order by the lengths of its neighbours.

    Parameters
    ----------
    spokes
        Their measured lengths.
    ends
        Where ends of such spokes lie in their nipples, from the slot's bottom, outwards.
    wire, tension
        Of the spokes where they were measured under tension; no wire where they were loose. N.
    window, stock
        Of the nipple, and what lengths can be had.
    """
    if not spokes or not all(math.isfinite(length) and length > 0.0 for length in spokes):
        return Refusal(reason="no neighbour's length is given", remedy=HAND_ROUTE)
    if not all(math.isfinite(end) for end in ends):
        return Refusal(reason="an end's place is no number", remedy="Give it in mm from the slot's bottom")
    mean = fmean(spokes)
    stretch = Reading(0.0, 0.0)
    if wire is not None:
        per_newton = wire.compliance(mean)
        stretch = Reading(per_newton * tension.value, per_newton * tension.u)
    scatter = math.hypot(SPOKE_READING_U_MM, CUT_U_MM)
    length = Reading(
        mean - stretch.value, math.hypot(u_of_mean(spokes, scatter), stretch.u), count=len(spokes)
    )
    if ends:
        end = Reading(fmean(ends), u_of_mean(ends, END_READING_U_MM), count=len(ends))
    else:
        end = Reading(window.middle, u_rectangular((window.high - window.low) / 2.0))
    level = length.value - end.value
    job = Task(
        level, level, math.hypot(length.u, end.u), Reading(0.0, 0.0), window, stock, counts=((level, 1),)
    )
    if not stock.has(stock.index_at_least(level + window.low)):
        return Refusal(
            reason=f"no stated length reaches {level + window.low:.1f} mm",
            remedy="State longer ones, or have a spoke cut to order",
        )
    choice = choose(job)
    others = tuple(one for one in choice.candidates if one is not choice.proposed)
    notes = tuple(_notes(spokes, ends, tense=wire is not None))
    return FromNeighbours(length, end, bool(ends), choice.proposed, others, choice.close_call, notes)


def _notes(spokes: Sequence[float], ends: Sequence[float], *, tense: bool) -> list[str]:
    notes = []
    if max(spokes) - min(spokes) > UNLIKE_MM:
        apart = max(spokes) - min(spokes)
        notes.append(
            f"The neighbours differ by {apart:.1f} mm: they may be of two lengths; measure only spokes of"
            " that side which lean the same way"
        )
    if len(spokes) == 1:
        notes.append("One neighbour alone: measure a second")
    if not ends:
        notes.append(
            "Where the ends lie in their nipples was not measured: it is taken as anywhere that is good"
        )
    if tense:
        notes.append("Their stretch under tension was taken off")
    notes.append("Take a piece with the head along: a head of another shape seats elsewhere")
    return notes
