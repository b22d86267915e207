"""What-if rows against a construction in three dimensions, statics and ring theory.

Lacing and lengths: bosses and rim holes are set up as points and the spokes are drawn (as in
`test_length_construction`). Tension: the axial parts of all spokes' pulls, as vectors, add up to nothing.
Stretch: Hooke's law with E = 185 kN/mm^2 for stainless spring wire 1.4310 (EN 10270-3, spring tables).
Rim: a thin ring of radius R under the radial load q per length shrinks by q R^2 / (E A) (Timoshenko, Strength
of Materials, thin rings under uniform pressure; from memory), E = 70 kN/mm^2 and 2.7 g/cm^3 for aluminium
(handbook values, from memory).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from test_length_construction import Wheel

from hubsight.job import load_job
from hubsight.job.file.alternatives import Alternatives
from hubsight.job.measure import measure_job
from hubsight.job.what_if import what_if

HUB = {"drive": (47.1, 18.9, 1.9), "non_drive": (43.4, 33.5, 2.4)}
SIGN = {"drive": 1.0, "non_drive": -1.0}
ALTERNATIVES = {
    "deep": {"erd": 560.2},
    "offset": {"erd": 596.2, "offset": -2.5},
    "one cross": {"crosses": 1},
    "no cross": {"crosses": 0},
    "tight": {"tension": 1200.0},
    "washers": {"washer": 0.8},
}
TEXT = "".join(
    f"[{name}]\n" + "".join(f"{key} = {value}\n" for key, value in keys.items())
    for name, keys in ALTERNATIVES.items()
)


@pytest.fixture(scope="module")
def wheels(tmp_path_factory):
    folder = tmp_path_factory.mktemp("hub")
    sides = "".join(
        f"[sides.{name}.caliper]\nflange_diameter = {d}\ncentre_to_flange = {w}\nspoke_offset = {o}\n"
        f"[sides.{name}]\nkind = 'paired'\nbosses = 6\n"
        for name, (d, w, o) in HUB.items()
    )
    (folder / "job.toml").write_text(
        f'{sides}[rim]\nerd = 596.2\nmass = 430\nmaterial = "aluminium"\n[wheel]\nspokes = 24\ncrosses = 2\n'
    )
    (folder / "wheels.toml").write_text(TEXT)
    job = load_job(folder, need_photos=False)
    found = what_if(folder, job, measure_job(job), Alternatives.of_file(folder / "wheels.toml"))
    return {wheel.name: wheel for wheel in found.wheels}


def drawn(name: str, side: str) -> Wheel:
    keys = ALTERNATIVES[name]
    radius = (keys.get("erd", 596.2) + 2.0 * keys.get("washer", 0.0)) / 2.0
    d, w, o = HUB[side]
    from_holes = w - SIGN[side] * keys.get("offset", 0.0)
    return Wheel(6, keys.get("crosses", 2) + 1, R=radius, r=d / 2.0, w=from_holes, offset=o)


@pytest.mark.parametrize("name", ALTERNATIVES)
def test_lengths_bracing_tension_and_stretch(wheels, name: str) -> None:
    pulls = {}
    for side in wheels[name].sides:
        wheel = drawn(name, side.side)
        assert wheel.crossings() == side.crosses
        assert side.length == pytest.approx(wheel.seat_to_rim(0), abs=1e-9)
        crossing, hole = wheel.spokes[0]
        along = (hole - crossing) / np.linalg.norm(hole - crossing)
        assert math.sin(math.radians(side.bracing_angle)) == pytest.approx(-along[2], abs=1e-9)
        pulls[side.side] = 12 * side.tension * -along[2]
        area = math.pi * 1.0**2
        assert side.stretch == pytest.approx(side.tension * side.length / (185e3 * area), rel=1e-9)
    assert pulls["drive"] == pytest.approx(pulls["non_drive"]), "the rim stays in the middle"
    tensions = [side.tension for side in wheels[name].sides]
    assert max(tensions) == pytest.approx(ALTERNATIVES[name].get("tension", 1000.0))
    assert wheels[name].tension_ratio == pytest.approx(min(tensions) / max(tensions))


@pytest.mark.parametrize("name", ALTERNATIVES)
def test_where_the_end_lies_by_ring_theory(wheels, name: str) -> None:
    """On the bench the end lies at ordered less computed length; stretch and shrinking add to it."""
    radial = 0.0
    for side in wheels[name].sides:
        crossing, hole = drawn(name, side.side).spokes[0]
        along = (crossing - hole) / np.linalg.norm(hole - crossing)
        inward = -hole / np.linalg.norm(hole)
        radial += side.spokes * side.tension * float(along @ inward)
    erd = wheels[name].erd.value
    radius = erd / 2.0
    area = 430.0 / (2.7e-3 * math.pi * erd)
    shrink = radial / (2.0 * math.pi * radius) * radius**2 / (70e3 * area)
    for side in wheels[name].sides:
        crossing, hole = drawn(name, side.side).spokes[0]
        along = (crossing - hole) / np.linalg.norm(hole - crossing)
        meets = float(along @ (-hole / np.linalg.norm(hole)))
        for order in side.orders:
            end = order.length - side.length + side.stretch + meets * shrink
            assert order.end == pytest.approx(end, abs=1e-6)
