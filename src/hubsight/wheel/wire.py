"""Spoke wire: cross-sections, segments, threads and what they stretch.

Lengths in mm, areas in mm^2, forces in N, moduli in N/mm^2.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

MODULUS_STAINLESS = 185_000.0
"""Young's modulus of stainless spring wire 1.4310 / AISI 302 (EN 10270-3, spring makers' tables)."""

MODULUS_PATENTED = 206_000.0
"""Young's modulus of patented drawn unalloyed wire (EN 10270-1 SM, spring makers' tables)."""

THREADS_PER_INCH = 56
"""Threads in an inch of every spoke's thread: a pitch of 0.4536 mm (from memory)."""

THREADS = {1.8: "FG 2", 2.0: "FG 2.3", 2.3: "FG 2.6"}
"""Wire diameter to thread designation."""

USUAL_WIRE_MM = 2.0
"""Diameter of a spoke at its ends where none is stated (common practice, no source)."""

HEAD_BUTT_MM = 15.0
"""Length of the thick end at a butted spoke's head, half of the taper included (common practice, no
source)."""

THREAD_BUTT_MM = 20.0
"""Length of the thick end at a butted spoke's thread, half of the taper included (common practice, no
source)."""


def round_area(diameter: float) -> float:
    """Return the cross-section of round wire, mm^2."""
    return math.pi * diameter**2 / 4.0


def blade_area(width: float, thickness: float) -> float:
    """Return the cross-section of a blade with half-round edges, mm^2: t (b - t) + pi t^2 / 4."""
    return thickness * (width - thickness) + math.pi * thickness**2 / 4.0


@dataclass(frozen=True)
class SpokeWire:
    """What a spoke is drawn from.

    Attributes
    ----------
    name
        Standard designation for the order, such as ``"2.0/1.8/2.0"``.
    end_diameter
        At the thread.
    end_area, end_length
        Cross-section and length of the thick ends together; length 0 for plain spokes.
    middle_area
        Cross-section of the rest.
    modulus
        Young's modulus.
    """

    name: str
    end_diameter: float
    end_area: float
    end_length: float
    middle_area: float
    modulus: float = MODULUS_STAINLESS

    @property
    def thread(self) -> str:
        """Designation of the thread, DIN 79012; the diameter where the standard has none."""
        unnamed = f"{self.end_diameter:g} mm x {THREADS_PER_INCH} per inch"
        return THREADS.get(round(self.end_diameter, 2), unnamed)

    @property
    def thread_in_full(self) -> str:
        """The thread for an order: designation, standard and pitch."""
        if round(self.end_diameter, 2) not in THREADS:
            return self.thread
        return f"{self.thread} (DIN 79012), {THREADS_PER_INCH} per inch"

    @property
    def steel(self) -> str:
        """What it is drawn from, by its standard."""
        return (
            "patented EN 10270-1 SM" if self.modulus == MODULUS_PATENTED else "stainless 1.4310 (EN 10270-3)"
        )

    @property
    def make(self) -> str:
        """What the trade calls its shape."""
        head, *middle = self.name.split("/")
        if not middle:
            return "plain gauge"
        if "x" in middle[0]:
            return "bladed"
        if head == middle[1]:
            return "double butted"
        return "single butted" if middle[0] == middle[1] else "triple butted"

    def compliance(self, length: float) -> float:
        """Return the stretch per tension, mm/N, of a spoke: the sum of l / (E A) over its segments."""
        ends = min(self.end_length, length)
        return (ends / self.end_area + (length - ends) / self.middle_area) / self.modulus

    def stretch(self, length: float, tension: float) -> float:
        """Return by how much a spoke of ``length`` mm gets longer under ``tension`` N, mm: T L / (E A)."""
        return tension * self.compliance(length)


def plain(diameter: float = 2.0, modulus: float = MODULUS_STAINLESS) -> SpokeWire:
    """Return wire of one diameter, mm."""
    area = round_area(diameter)
    return SpokeWire(f"{diameter:.1f}", diameter, area, 0.0, area, modulus)


def butted(
    head: float,
    middle: float,
    thread: float,
    *,
    head_butt: float = HEAD_BUTT_MM,
    thread_butt: float = THREAD_BUTT_MM,
    modulus: float = MODULUS_STAINLESS,
) -> SpokeWire:
    """Return butted wire: diameters at head, middle and thread, lengths of the thick ends; mm."""
    ends = head_butt + thread_butt
    area = ends / (head_butt / round_area(head) + thread_butt / round_area(thread))
    name = f"{head:.1f}/{middle:.1f}/{thread:.1f}"
    return SpokeWire(name, thread, area, ends, round_area(middle), modulus)


def bladed(
    end: float,
    width: float,
    thickness: float,
    *,
    ends: float = HEAD_BUTT_MM + THREAD_BUTT_MM,
    modulus: float = MODULUS_STAINLESS,
) -> SpokeWire:
    """Return bladed wire: diameter of the ends, width and thickness of the blade, length of the ends; mm."""
    name = f"{end:.1f}/{width:.1f}x{thickness:.1f}/{end:.1f}"
    return SpokeWire(name, end, round_area(end), ends, blade_area(width, thickness), modulus)
