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

import numpy as np
import pytest

from hubsight.model.stated import Reading
from hubsight.wheel.elastic import MATERIALS, section_from_mass
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


LAMINAE = {
    "doi 10.2478/ama-2025-0022, mean of material tests": (103.01, 7.36, 4.04, 0.37),
    "Manufacturing Review 2020, mfreview190034, table 2": (109.0, 8.82, 4.315, 0.342),
}
"""Carbon in epoxy, one layer: moduli along and across its fibres and in shear, GPa, and Poisson's ratio."""


def even_directions(along, across, shear, poisson):
    """Return the modulus of a laminate of even directions, by the invariants of its layers' stiffness.

    E = (U1^2 - U4^2) / U1 (Tsai and Pagano 1968, invariant properties of composite materials, from memory).
    """
    share = 1.0 - poisson**2 * across / along
    q11, q22, q12 = along / share, across / share, poisson * across / share
    u1 = (3 * q11 + 3 * q22 + 2 * q12 + 4 * shear) / 8
    u4 = (q11 + q22 + 6 * q12 - 4 * shear) / 8
    return (u1**2 - u4**2) / u1


def test_the_invariants_are_those_of_layers_turned_and_averaged():
    """The same by turning the stiffness of one layer through all directions, number by number."""
    along, across, shear, poisson = LAMINAE["doi 10.2478/ama-2025-0022, mean of material tests"]
    share = 1.0 - poisson**2 * across / along
    layer = np.array(
        [
            [along / share, poisson * across / share, 0.0],
            [poisson * across / share, across / share, 0.0],
            [0.0, 0.0, shear],
        ]
    )
    whole = np.zeros((3, 3))
    turns = np.linspace(0.0, np.pi, 720, endpoint=False)
    for c, s in zip(np.cos(turns), np.sin(turns), strict=True):
        strain = np.array(
            [[c * c, s * s, c * s], [s * s, c * c, -c * s], [-2 * c * s, 2 * c * s, c * c - s * s]]
        )
        whole += strain.T @ layer @ strain / len(turns)
    assert 1.0 / np.linalg.inv(whole)[0, 0] == pytest.approx(
        even_directions(along, across, shear, poisson), rel=1e-6
    )


@pytest.mark.parametrize("lamina", LAMINAE.values(), ids=LAMINAE)
def test_a_carbon_rim_s_modulus_holds_both_ends_of_what_layers_can_be(lamina):
    """All layers along the rim, and layers of even directions, both lie within 2.5 standard uncertainties."""
    stated = MATERIALS["carbon"].modulus
    for modulus in (lamina[0], even_directions(*lamina)):
        assert abs(1000.0 * modulus - stated.value) < 2.5 * stated.u
    assert even_directions(*lamina) == pytest.approx(41.5, abs=2.0)
