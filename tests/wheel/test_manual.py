"""Arithmetic of measurements by hand."""

from __future__ import annotations

import math

import pytest

from hubsight.model.stated import Reading
from hubsight.wheel.manual import (
    Redone,
    centre_to_flange_from_end,
    diameter_from_reference,
    offset_by_width,
    offset_radial,
)

GAUGE, PROTRUSION, WIDTH = Reading(100.3, 0.03), Reading(92.0, 0.1), Reading(8.5, 0.08)
OLD, REACH = Reading(142.0, 0.05), Reading(36.0, 0.2)
REFERENCE, DEPTH = Reading(36.0, 0.1), Reading(4.2, 0.15)


def offset(stated: float | None) -> Redone:
    return offset_by_width(GAUGE, PROTRUSION, WIDTH, stated, width_across=6.9)


def test_values_and_uncertainties() -> None:
    assert offset(None).value.value == pytest.approx(4.05)
    assert offset(None).value.u == pytest.approx(math.sqrt(0.03**2 + 0.1**2 + 0.04**2))
    assert diameter_from_reference(REFERENCE, DEPTH).value.value == pytest.approx(44.4)
    assert diameter_from_reference(REFERENCE, DEPTH).value.u == pytest.approx(math.hypot(0.1, 0.3))
    assert centre_to_flange_from_end(OLD, REACH).value.value == pytest.approx(35.0)
    assert centre_to_flange_from_end(OLD, REACH).value.u == pytest.approx(math.hypot(0.025, 0.2))


@pytest.mark.parametrize(
    ("redone", "slip"),
    [
        (offset(8.3), "the half width was not subtracted"),
        (offset(-0.2), "the whole boss width"),
        (offset(12.55), "the half width was added"),
        (offset(3.75), "a gauge length of 100 mm was assumed"),
        (offset(-4.45), "the boss's other face"),
        (offset(-12.55), "the wrong way round"),
        (offset(-4.05), "the sign"),
        (offset(4.85), "the width across the boss"),
        (offset_radial(GAUGE, PROTRUSION, 8.0), "a gauge length of 100 mm was assumed"),
        (offset_radial(GAUGE, PROTRUSION, -8.3), "the wrong way round"),
        (diameter_from_reference(REFERENCE, DEPTH, 40.2), "added once"),
        (diameter_from_reference(REFERENCE, DEPTH, 27.6), "subtracted, not added"),
        (diameter_from_reference(REFERENCE, DEPTH, 36.0), "left out"),
        (diameter_from_reference(REFERENCE, DEPTH, 22.2), "the radius was given"),
        (centre_to_flange_from_end(OLD, REACH, 106.0), "whole over-locknut"),
        (centre_to_flange_from_end(OLD, REACH, 36.0), "distance from the locknut was given"),
        (centre_to_flange_from_end(OLD, REACH, 53.0), "halved with the over-locknut"),
        (centre_to_flange_from_end(OLD, REACH, 107.0), "added, not subtracted"),
        (centre_to_flange_from_end(OLD, REACH, -35.0), "the sign"),
        (offset(3.05), "the gauge's length is off by exactly 1 mm or the protrusion is off by exactly 1 mm"),
        (offset(1.55), "the boss width is off by exactly 5 mm"),
        (
            offset_by_width(GAUGE, Reading(29.0, 0.1), WIDTH, 4.05),
            "two digits of the protrusion are transposed",
        ),
        (diameter_from_reference(REFERENCE, DEPTH, 54.4), "the boss depth is off by exactly 5 mm"),
        (centre_to_flange_from_end(OLD, Reading(41.0, 0.2), 57.0), "two digits of the distance"),
    ],
)
def test_slips_of_arithmetic_are_named(redone: Redone, slip: str) -> None:
    assert not redone.agrees
    assert redone.slip is not None
    assert slip in redone.slip
    assert redone.slip in redone.sentence()


def test_right_arithmetic_is_left_alone() -> None:
    for stated in (4.05, 4.1, 4.0):
        assert offset(stated).agrees
        assert offset(stated).slip is None
        assert "follows from the readings" in offset(stated).sentence()
    assert "from the readings" in offset(None).sentence()


def test_radial_offset_is_what_stays_inside() -> None:
    redone = offset_radial(GAUGE, PROTRUSION, 8.33)
    assert redone.value.value == pytest.approx(8.3)
    assert redone.value.u == pytest.approx(math.hypot(0.03, 0.1))
    assert redone.agrees


def test_unknown_slip_is_not_made_up() -> None:
    assert not offset(5.5).agrees
    assert offset(5.5).slip is None
    assert "not 5.50 mm" in offset(5.5).sentence()
