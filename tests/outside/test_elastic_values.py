"""Elastic values against published ones.

Sources: EN 10270-1 and EN 10270-3 as tabulated by spring makers: modulus of patented wire (SM) 206 kN/mm^2,
of stainless spring wire 1.4310 (AISI 302) 185 kN/mm^2, from which 1000 N stretch 290 mm of 2.0 mm wire by
0.45 and 0.50 mm. McMahon and Graham, "The Bicycle and the Walkman" (Merion, 1992), as quoted by
https://www.princeton.edu/~humcomp/bikes/design/desi_70.htm: a spoke of 300 mm and 2 mm, E = 210 GPa, is
stretched by about 0.29 mm by 630 N. DIN 79012: threads. ISO 5775: bead seats (specified diameters from
memory).
"""

from __future__ import annotations

import math

import pytest

from hubsight.model.stated import Reading
from hubsight.wheel.elastic import section_from_mass
from hubsight.wheel.rim import BEAD_SEAT_MM, bead_seats_for
from hubsight.wheel.wire import MODULUS_PATENTED, MODULUS_STAINLESS, THREADS_PER_INCH, plain


def test_steel_modulus_and_stretch() -> None:
    assert pytest.approx(185e3) == MODULUS_STAINLESS
    assert pytest.approx(206e3) == MODULUS_PATENTED
    assert plain(2.0).stretch(290.0, 1000.0) == pytest.approx(0.50, abs=0.005)
    assert plain(2.0, MODULUS_PATENTED).stretch(290.0, 1000.0) == pytest.approx(0.45, abs=0.005)


def test_published_stretch_of_a_spoke() -> None:
    spoke = plain(2.0, 210e3)
    assert spoke.middle_area == pytest.approx(3.14, abs=0.005)
    assert spoke.stretch(300.0, 630.0) == pytest.approx(0.29, abs=0.005)


@pytest.mark.parametrize(("wire", "thread"), [(1.8, "FG 2"), (2.0, "FG 2.3"), (2.3, "FG 2.6")])
def test_threads(wire: float, thread: str) -> None:
    assert plain(wire).thread == thread


def test_thread_pitch() -> None:
    """From memory: 56 threads per inch."""
    assert pytest.approx(0.4536, abs=5e-5) == 25.4 / THREADS_PER_INCH
    assert plain(2.2).thread.endswith(f"{THREADS_PER_INCH} per inch")


@pytest.mark.parametrize(("nominal", "specified"), [(622, 621.95), (584, 583.9), (559, 558.8)])
def test_bead_seats(nominal: int, specified: float) -> None:
    assert pytest.approx(specified) == BEAD_SEAT_MM[nominal]
    assert abs(BEAD_SEAT_MM[nominal] - nominal) < 0.5
    assert nominal in bead_seats_for(specified - 20.0)


def test_carbon_between_laminates_of_handbooks() -> None:
    """E / rho, 10^6 N mm / g: aluminium 25.9, carbon laminates 29 (even directions, 45 000 / 1.55) to 65
    (most along the rim, 100 000 / 1.55); handbook values, from memory."""
    mass, erd = Reading(420.0, 0.0), 590.0
    stiff = {
        kind: section.modulus * section.area.value * math.pi * erd / 420.0 / 1e6
        for kind in ("aluminium", "carbon", "steel")
        for section in (section_from_mass(mass, erd, kind),)
    }
    assert stiff["aluminium"] == pytest.approx(25.9, abs=0.1)
    assert stiff["steel"] == pytest.approx(26.2, abs=0.1)
    section = section_from_mass(mass, erd, "carbon")
    low, high = (stiff["carbon"] * (1.0 + k * 1.96 * section.relative_u) for k in (-1.0, 1.0))
    assert low < 29.0
    assert high > 65.0
    unknown = section_from_mass(mass, erd, None)
    value = unknown.modulus * unknown.area.value * math.pi * erd / 420.0 / 1e6
    assert stiff["aluminium"] < value < stiff["carbon"]
    assert value * (1.0 - 1.96 * unknown.relative_u) < 25.9
