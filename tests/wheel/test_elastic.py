"""Stretch, rim compression, bracing angles and tension balance."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from hubsight.model.stated import Reading
from hubsight.wheel import LengthResult, RimGeometry, SideGeometry, side_length
from hubsight.wheel.elastic import (
    RimSection,
    WheelUnderTension,
    bracing_angle,
    rim_shrink,
    section_from_mass,
    tension_ratio,
    wheel_under_tension,
)
from hubsight.wheel.wire import SpokeWire, blade_area, bladed, butted, plain, round_area

RIM = RimGeometry(Reading(600.0, 0.3), 24)
DRIVE = SideGeometry("drive", "paired", 6, 2, Reading(47.0, 0.2), Reading(19.0, 0.2), Reading(2.0, 0.1))
OTHER = dataclasses.replace(DRIVE, name="non_drive", centre_to_flange=Reading(33.5, 0.2))


def tensioned(wire: SpokeWire, tension: float = 1000.0, *, mirrored: bool = False) -> WheelUnderTension:
    sides = []
    for side in (DRIVE, dataclasses.replace(DRIVE, name="non_drive") if mirrored else OTHER):
        lengths = side_length(side, RIM)
        assert isinstance(lengths, LengthResult)
        sides.append((side, lengths, wire))
    return wheel_under_tension(tuple(sides), RIM, Reading(tension, 100.0))


def test_butted_wire_stretches_as_its_segments_in_series() -> None:
    wire = butted(2.3, 1.8, 2.0, head_butt=20.0, thread_butt=30.0)
    diameters = [(20.0, 2.3), (240.0, 1.8), (30.0, 2.0)]
    series = sum(1000.0 * length / (wire.modulus * math.pi * d**2 / 4.0) for length, d in diameters)
    assert wire.stretch(290.0, 1000.0) == pytest.approx(series)
    assert butted(2.0, 2.0, 2.0).stretch(290.0, 1000.0) == pytest.approx(plain(2.0).stretch(290.0, 1000.0))


@given(st.floats(1.0, 5.0), st.floats(0.2, 1.0))
def test_blade_area_by_integration(width: float, part: float) -> None:
    thickness = part * width

    def height(x: float) -> float:
        beyond = max(0.0, abs(x) - (width - thickness) / 2.0)
        return 2.0 * math.sqrt(max(0.0, (thickness / 2.0) ** 2 - beyond**2))

    edge = (width - thickness) / 2.0
    area, _ = quad(height, -width / 2.0, width / 2.0, points=[-edge, edge], limit=200)
    assert blade_area(width, thickness) == pytest.approx(area, rel=1e-6)


def test_blade_of_round_wire_is_round() -> None:
    assert blade_area(2.0, 2.0) == pytest.approx(round_area(2.0))
    assert bladed(2.0, 2.3, 0.9).stretch(290.0, 1000.0) > plain(2.0).stretch(290.0, 1000.0)


def test_names_and_threads() -> None:
    assert butted(2.0, 1.8, 2.0).name == "2.0/1.8/2.0"
    assert bladed(2.0, 2.3, 1.2).name == "2.0/2.3x1.2/2.0"
    assert plain(2.0).thread == "FG 2.3"
    assert "56 per inch" in plain(2.1).thread


def test_rim_shrinks_as_a_ring_of_straight_bars() -> None:
    """A polygon of many pin-jointed bars, each node pulled inwards: equilibrium by hand, bars by Hooke's
    law."""
    nodes, erd, force = 360, 600.0, 24_000.0
    section = RimSection(Reading(90.0, 0.0))
    pull = force / nodes
    bar_force = pull / (2.0 * math.sin(math.pi / nodes))
    strain = bar_force / (section.modulus * section.area.value)
    assert rim_shrink(erd, force, section) == pytest.approx(erd / 2.0 * strain, rel=1e-4)


def test_section_from_mass_gives_the_mass_back() -> None:
    section = section_from_mass(Reading(450.0, 9.0), 600.0)
    assert section.area.value * math.pi * 600.0 * 2.7e-3 == pytest.approx(450.0)
    assert section.area.u / section.area.value == pytest.approx(0.02)


@given(st.floats(5.0, 45.0), st.floats(5.0, 45.0), st.floats(0.0, 120.0), st.floats(0.0, 120.0))
def test_tension_ratio_balances_forces_in_space(w1: float, w2: float, alpha1: float, alpha2: float) -> None:
    """Sum of all spokes' pulls on the rim along the axis, from coordinates."""
    spokes = []
    for w, alpha, n, sign in ((w1, alpha1, 16, 1.0), (w2, alpha2, 8, -1.0)):
        angle = math.radians(alpha)
        along = np.array([22.0 * math.cos(angle), 22.0 * math.sin(angle), sign * w]) - np.array(
            [300.0, 0.0, 0.0]
        )
        distance = float(np.linalg.norm(along))
        spokes.append((n, along / distance, bracing_angle(w, distance)))
    (n1, e1, gamma1), (n2, e2, gamma2) = spokes
    ratio = tension_ratio((n1, gamma1), (n2, gamma2))
    assert n1 * e1[2] + n2 * ratio * e2[2] == pytest.approx(0.0, abs=1e-9)


def test_tighter_side_is_the_one_nearer_to_its_flange() -> None:
    wheel = tensioned(plain(2.0))
    drive, other = wheel.sides
    assert drive.tension.value == pytest.approx(1000.0)
    balance = tension_ratio((12, drive.bracing), (12, other.bracing))
    assert other.tension.value == pytest.approx(1000.0 * balance)
    assert other.stretch < drive.stretch
    assert drive.sits.value > drive.stretch
    assert drive.sits.value - drive.stretch == pytest.approx(wheel.shrink, rel=0.02)


def test_mirrored_sides_pull_alike() -> None:
    wheel = tensioned(plain(2.0), mirrored=True)
    assert wheel.sides[0] == wheel.sides[1]
    assert not wheel.warnings


def test_one_side_alone_stands_for_both() -> None:
    lengths = side_length(DRIVE, RIM)
    assert isinstance(lengths, LengthResult)
    alone = wheel_under_tension(((DRIVE, lengths, plain(2.0)),), RIM, Reading(1000.0, 100.0))
    both = tensioned(plain(2.0), mirrored=True)
    assert alone.sides[0].sits.value == pytest.approx(both.sides[0].sits.value)


def test_twice_the_tension_sits_twice_as_far() -> None:
    one, two = tensioned(plain(2.0), 500.0), tensioned(plain(2.0), 1000.0)
    assert two.sides[0].sits.value == pytest.approx(2.0 * one.sides[0].sits.value)
    shrunk = two.sides[0].sits.value - two.sides[0].stretch
    # one tension, known to a tenth, stretches the spoke and shrinks the rim; the section is another input
    expected = math.hypot((two.sides[0].stretch + shrunk) * 0.1, shrunk * 25 / 90)
    assert two.sides[0].sits.u == pytest.approx(expected)


def test_slack_side_is_warned_about() -> None:
    lengths = [side_length(dataclasses.replace(side), RIM) for side in (DRIVE, OTHER)]
    far = dataclasses.replace(OTHER, centre_to_flange=Reading(45.0, 0.2))
    near = dataclasses.replace(DRIVE, centre_to_flange=Reading(16.0, 0.2))
    assert all(isinstance(item, LengthResult) for item in lengths)
    sides = tuple(
        (side, item, plain(2.0))
        for side, item in zip((near, far), lengths, strict=True)
        if isinstance(item, LengthResult)
    )
    assert "36 %" in wheel_under_tension(sides, RIM, Reading(1000.0, 100.0)).warnings[0]
