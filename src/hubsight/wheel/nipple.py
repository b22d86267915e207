"""Where a spoke's end may lie in its nipple, and the lengths that spokes are sold in.

Positions in mm, from the bottom of the nipple's slot, positive outwards (out of the head).
"""

from __future__ import annotations

import bisect
import math
from dataclasses import dataclass
from typing import Literal

NippleKind = Literal["slotted", "tall_head", "internal"]


@dataclass(frozen=True)
class NippleSizes:
    """How spoke and nipple fit, mm (common practice, no source).

    Attributes
    ----------
    engaged
        Least thread of a spoke in an internal nipple: 2.5 diameters of a common spoke; a larger one
        moves the window outwards.
    just_short
        Depth below the slot's bottom at which a spoke may end: deeper, the head is not backed by the
        spoke and breaks off.
    thread
        Length of a nipple's thread below the slot's bottom; longer nipples are longer below it.
    """

    engaged: float = 5.0
    just_short: float = 1.0
    thread: float = 7.5


SIZES = NippleSizes()
"""As the program reckons with them."""


HEAD_ABOVE_SLOT_MM: dict[NippleKind, float] = {"slotted": 1.5, "tall_head": 3.0}
"""Height of the head's top above the slot's bottom, mm; beyond, the end stands out of the head (common
practice, no source)."""


SPOKE_THREAD_MM = 9.5
"""Length of a spoke's thread (common practice, no source)."""

STOCK_STEP_MM = 2.0
"""Step in which straight-pull spokes are kept in stock (common practice, no source)."""


@dataclass(frozen=True)
class Nipple:
    """A nipple.

    Attributes
    ----------
    length
        Over all, mm.
    kind
        ``"slotted"``: driven by the slot; ``"tall_head"``: a taller head for another driver leaves more room;
        ``"internal"``: it sits inside the rim on the bed of its holes, and the spoke enters it there: ends
        count from the other side, its outer end.
    thread
        Length of its thread below the slot's bottom, mm.
    """

    length: float = 12.0
    kind: NippleKind = "slotted"
    thread: float = SIZES.thread

    @property
    def name(self) -> str:
        """For the order, such as ``"12 mm, slotted"``."""
        return f"{self.length:g} mm, {self.kind.replace('_', ' ')}"

    @property
    def zero(self) -> str:
        """From where the ends of spokes count, outwards."""
        return "the nipple's outer end" if self.kind == "internal" else "the slot's bottom"

    @property
    def seat(self) -> float | None:
        """Where the spoke enters an internal nipple, which is its seat in the rim; None for other nipples."""
        return -self.length if self.kind == "internal" else None


@dataclass(frozen=True)
class Window:
    """Where the spoke's end may lie, and what happens below and beyond; "" if not known; positions in mm.

    ``zero`` is from where they count, ``seat`` where the spoke enters an internal nipple.
    """

    low: float
    high: float
    low_reason: str = "the end stays short of the slot's bottom"
    high_reason: str = "the end stands out of the nipple's head"
    zero: str = "the slot's bottom"
    seat: float | None = None

    @property
    def middle(self) -> float:
        """Middle of the window, mm."""
        return (self.low + self.high) / 2.0


def nipple_window(nipple: Nipple, spoke_thread: float = SPOKE_THREAD_MM) -> Window:
    """Return the window of a nipple: from just short of the slot's bottom to out of thread or head.

    A spoke is out of thread where the last of its thread enters the nipple's: at the difference of both
    lengths. An internal nipple hangs on the thread beyond its seat, at least `SIZES.engaged` of it.
    """
    if nipple.kind == "internal":
        high = min(spoke_thread - nipple.length, 0.0)
        return Window(
            min(SIZES.engaged - nipple.length, high - 0.5),
            high,
            low_reason="too little thread is in the nipple",
            high_reason="the spoke is out of thread" if high < 0.0 else "the end stands out of the nipple",
            zero=nipple.zero,
            seat=nipple.seat,
        )
    head = HEAD_ABOVE_SLOT_MM[nipple.kind]
    thread = spoke_thread - nipple.thread
    if thread < head:
        return Window(-SIZES.just_short, thread, high_reason="the spoke is out of thread")
    return Window(-SIZES.just_short, head)


@dataclass(frozen=True)
class Stock:
    """Lengths that can be had, mm: ``anchor`` plus multiples of ``step``, or just the ``lengths``, rising.

    Every length has a number; cut to order is a small step.
    """

    step: float = STOCK_STEP_MM
    anchor: float = 0.0
    lengths: tuple[float, ...] = ()

    def has(self, index: int) -> bool:
        """Tell whether there is a length with this number."""
        return not self.lengths or 0 <= index < len(self.lengths)

    def length(self, index: int) -> float:
        """Return the length with this number."""
        return self.lengths[index] if self.lengths else self.anchor + index * self.step

    def near(self, length: float, reach: float) -> list[int]:
        """Return the numbers of the lengths round about ``length``, at least ``reach`` mm to both sides."""
        if self.lengths:
            return list(range(len(self.lengths)))
        above, steps = self.index_at_least(length), 2 + math.ceil(reach / self.step)
        return list(range(above - steps, above + steps))

    def index_at_least(self, length: float) -> int:
        """Return the number of the shortest length that is not shorter than ``length``.

        It is one that the stock does not have where all its lengths are shorter.
        """
        if self.lengths:
            return bisect.bisect_left(self.lengths, length)
        index = math.ceil((length - self.anchor) / self.step)
        while self.length(index) < length:
            index += 1
        while self.length(index - 1) >= length:
            index -= 1
        return index
