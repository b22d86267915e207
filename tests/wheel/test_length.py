"""Spoke lengths: derivatives, uncertainty, symmetry, continuity, and what is refused."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gum import monte_carlo, propagate
from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading
from hubsight.model.uncertainty import sample_normal
from hubsight.wheel import (
    HolePattern,
    LengthResult,
    RimGeometry,
    SideGeometry,
    j_bend_side,
    pattern_from_letters,
    sensitivities,
    side_length,
    straight_distance,
)

RIM = RimGeometry(Reading(600.0, 0.3), 24)
SIDE = SideGeometry(
    name="drive",
    kind="paired",
    count=6,
    crosses=2,
    flange_diameter=Reading(44.0, 0.2),
    centre_to_flange=Reading(17.0, 0.2),
    spoke_offset=Reading(2.0, 0.06),
    stagger=Reading(1.3, 0.2),
)
RADIAL = dataclasses.replace(SIDE, kind="radial", count=10, crosses=0, stagger=None)
RIM_20 = dataclasses.replace(RIM, spokes=20)

erds = st.floats(250.0, 640.0)
diameters = st.floats(30.0, 70.0)
laterals = st.floats(5.0, 45.0)
angles = st.floats(0.0, 110.0)


def lengths(side: SideGeometry, rim: RimGeometry = RIM) -> LengthResult:
    result = side_length(side, rim)
    assert isinstance(result, LengthResult)
    return result


def refused(side: SideGeometry, rim: RimGeometry = RIM) -> str:
    result = side_length(side, rim)
    assert isinstance(result, Refusal)
    assert result.remedy
    return result.reason


@given(erds, diameters, laterals, angles)
def test_derivatives_agree_with_finite_differences(erd: float, d: float, w: float, alpha: float) -> None:
    slopes = sensitivities(erd, d, w, alpha)
    jacobian = propagate(
        lambda x: straight_distance(x[0], x[1], x[2], x[3]), [erd, d, w, alpha], np.eye(4)
    ).jacobian[0]
    analytic = [slopes.erd, slopes.flange_diameter, slopes.centre_to_flange, slopes.alpha]
    np.testing.assert_allclose(analytic, jacobian, atol=1e-6)


def test_sensitivities_of_a_typical_wheel() -> None:
    """Rounded values from the design's section on spoke length: R 300, r 22, w 15, X 2, N 24."""
    slopes = sensitivities(600.0, 44.0, 15.0, 75.0)
    assert slopes.flange_diameter == pytest.approx(-0.09, abs=0.005)
    assert slopes.centre_to_flange == pytest.approx(0.05, abs=0.005)
    assert slopes.erd == pytest.approx(0.50, abs=0.005)


def test_uncertainty_agrees_with_monte_carlo() -> None:
    """JCGM 101: for a nearly linear model the sampled and the propagated uncertainty agree."""
    covariance = -0.5 * SIDE.flange_diameter.u * SIDE.spoke_offset.u
    result = lengths(dataclasses.replace(SIDE, covariance=covariance)).mean
    matrix = np.diag([0.3**2, 0.2**2, 0.2**2, 0.06**2])
    matrix[1, 3] = matrix[3, 1] = covariance
    samples = sample_normal([600.0, 44.0, 17.0, 2.0], matrix, 200_000, np.random.default_rng(1))
    drawn = monte_carlo(lambda x: straight_distance(x[:, 0], x[:, 1], x[:, 2], 75.0) + x[:, 3], samples)
    assert result.u == pytest.approx(drawn.u[0], rel=0.01)
    assert result.value == pytest.approx(drawn.values[0], abs=0.002)
    assert result.interval == pytest.approx(drawn.interval(), abs=0.01)


def test_radial_photo_errors_in_diameter_and_offset_cancel() -> None:
    """Design: o = L - P with P from the outside diameter, so half an error of D goes into o."""
    u = 0.4
    side = dataclasses.replace(
        RADIAL, flange_diameter=Reading(44.0, u), spoke_offset=Reading(3.0, u / 2.0), covariance=u * u / 2.0
    )
    certain = dataclasses.replace(
        side, flange_diameter=Reading(44.0, 0.0), spoke_offset=Reading(3.0, 0.0), covariance=0.0
    )
    assert lengths(side, RIM_20).mean.u == pytest.approx(lengths(certain, RIM_20).mean.u, rel=1e-3)


def test_budget_adds_up_to_the_uncertainty() -> None:
    for side in (SIDE, dataclasses.replace(SIDE, covariance=0.006)):
        result = lengths(side)
        for spoke in (result.mean, *result.spokes):
            assert math.hypot(*(item.u for item in spoke.budget)) == pytest.approx(spoke.u)


@given(st.floats(-2.0, 6.0))
def test_length_grows_with_offset_one_to_one(offset: float) -> None:
    base = lengths(dataclasses.replace(SIDE, spoke_offset=Reading(0.0, 0.06)))
    moved = lengths(dataclasses.replace(SIDE, spoke_offset=Reading(offset, 0.06)))
    for one, other in zip(base.spokes, moved.spokes, strict=True):
        assert other.value - one.value == pytest.approx(offset, abs=1e-9)


@given(st.floats(-4.0, 4.0), laterals)
def test_mirrored_sides_are_equal(rim_offset: float, w: float) -> None:
    drive = dataclasses.replace(SIDE, centre_to_flange=Reading(w, 0.2))
    other = dataclasses.replace(drive, name="non_drive")
    here = dataclasses.replace(RIM, offset=Reading(rim_offset, 0.1))
    there = dataclasses.replace(RIM, offset=Reading(-rim_offset, 0.1))
    assert lengths(drive, here).spokes == lengths(other, there).spokes


@given(erds, diameters, laterals, st.floats(0.0, 0.05))
def test_crossed_goes_over_into_radial(erd: float, d: float, w: float, alpha: float) -> None:
    radial = math.hypot((erd - d) / 2.0, w)
    crossed = float(straight_distance(erd, d, w, alpha))
    assert crossed >= radial - 1e-9
    assert crossed - radial <= erd * d / 4.0 * math.radians(alpha) ** 2 / radial + 1e-9


@given(laterals, st.floats(0.0, 2.0))
def test_stagger_makes_the_directions_differ(w: float, a: float) -> None:
    """Design: the two directions of a side differ by 2 a w / L."""
    side = dataclasses.replace(SIDE, centre_to_flange=Reading(w, 0.2), stagger=Reading(a, 0.1))
    result = lengths(side)
    outer, inner = result.spokes
    assert (outer.bore, inner.bore) == ("outer", "inner")
    assert outer.count == inner.count == 6
    assert outer.value - inner.value == pytest.approx(2.0 * a * w / (result.mean.value - 2.0), abs=1e-3)
    assert result.difference == pytest.approx(outer.value - inner.value)


def test_directions_that_differ_much_are_warned_about() -> None:
    side = dataclasses.replace(SIDE, centre_to_flange=Reading(38.0, 0.2), stagger=Reading(2.5, 0.2))
    assert any("order 2 lengths" in note for note in lengths(side).notes)
    assert not lengths(SIDE).notes


def test_rim_offset_towards_a_side_shortens_its_spokes() -> None:
    rim = dataclasses.replace(RIM, offset=Reading(2.5, 0.1))
    other = dataclasses.replace(SIDE, name="non_drive")
    assert lengths(SIDE, rim).mean.value < lengths(SIDE).mean.value
    assert lengths(other, rim).mean.value > lengths(other).mean.value


@pytest.mark.parametrize(
    ("side", "rim", "why"),
    [
        (SIDE, dataclasses.replace(RIM, spokes=28), "four times the boss count, 24"),
        (RADIAL, RIM, "twice the number of bores, 20"),
        (dataclasses.replace(RADIAL, crosses=1), RIM_20, "radial hub cannot be laced with 1 crosses"),
        (dataclasses.replace(SIDE, crosses=4), RIM, "neighbouring boss"),
        (dataclasses.replace(SIDE, crosses=6), RIM, "more than half way round"),
        (dataclasses.replace(SIDE, crosses=-1), RIM, "make no wheel"),
        (SIDE, dataclasses.replace(RIM, even=False), "not evenly drilled"),
        (SIDE, dataclasses.replace(RIM, erd=Reading(40.0, 0.3)), "does not go inside"),
        (SIDE, dataclasses.replace(RIM, erd=Reading(math.nan, 0.3)), "no dimension"),
        (dataclasses.replace(SIDE, spoke_offset=Reading(2.0, -0.1)), RIM, "no dimension"),
        (dataclasses.replace(SIDE, covariance=0.1), RIM, "covariance"),
        (SIDE, dataclasses.replace(RIM, drive_pattern=HolePattern((0.0, 10.0), 70.0)), "does not go round"),
        (SIDE, dataclasses.replace(RIM, drive_pattern=HolePattern((0.0, 10.0), 90.0)), "has 8 holes"),
    ],
)
def test_refusals_name_the_reason(side: SideGeometry, rim: RimGeometry, why: str) -> None:
    assert why in refused(side, rim)


def test_spoke_that_passes_a_boss_closely_is_warned_about() -> None:
    side = dataclasses.replace(SIDE, boss_half_height=12.8)
    assert any("check that they clear" in warning for warning in lengths(side).warnings)
    assert "neighbouring boss" in refused(dataclasses.replace(SIDE, boss_half_height=14.0))


def test_even_pattern_gives_what_no_pattern_gives() -> None:
    patterned = dataclasses.replace(RIM, drive_pattern=pattern_from_letters("DN", 24, "drive"))
    assert lengths(SIDE, patterned).mean.value == pytest.approx(lengths(SIDE).mean.value, abs=1e-9)
    j_bend = j_bend_side(
        "drive",
        holes=12,
        crosses=2,
        hole_circle=Reading(45.0, 0.1),
        hole_diameter=Reading(2.6, 0.1),
        centre_to_flange=Reading(17.0, 0.2),
    )
    assert lengths(j_bend, patterned).mean.value == pytest.approx(lengths(j_bend).mean.value, abs=1e-9)


def test_two_to_one_lacing_leads_by_its_pattern() -> None:
    """Rows of three holes, two of the drive side: alpha follows by counting steps."""
    side = dataclasses.replace(SIDE, count=4, crosses=1)
    step = 360.0 / 12
    for first, narrow_steps in ((0, 2), (1, 1)):
        pattern = pattern_from_letters("DND", 12, "drive", first=first)
        result = lengths(side, dataclasses.replace(RIM, spokes=12, drive_pattern=pattern))
        alpha = (narrow_steps / 2.0 + (3 - narrow_steps)) * step
        assert [spoke.alpha for spoke in result.spokes] == pytest.approx([alpha, alpha])
        assert sum(spoke.count for spoke in result.spokes) == 8
    lone = pattern_from_letters("DND", 12, "non_drive")
    few = dataclasses.replace(RADIAL, name="non_drive", count=4)
    assert lengths(few, dataclasses.replace(RIM, spokes=12, non_drive_pattern=lone)).mean.alpha == 0.0


@pytest.mark.parametrize(
    ("angles", "alpha"), [((-3.0, 3.0), 63.0), ((3.0, 57.0), 87.0)], ids=["on a pair", "between pairs"]
)
def test_paired_hole_rim_leads_by_its_pattern(angles: tuple[float, float], alpha: float) -> None:
    """Six pairs of holes 6 degrees wide: the third hole on from a boss centreline amid a pair lies at 63
    degrees.

    From a centreline between two pairs, at 30 degrees, it is the hole at 117.
    """
    rim = dataclasses.replace(RIM, even=False, drive_pattern=HolePattern(angles, 60.0))
    result = lengths(SIDE, rim)
    assert [spoke.alpha for spoke in result.spokes] == pytest.approx([alpha, alpha])
    assert not result.warnings


def test_uneven_pattern_gives_each_spoke_its_own_length() -> None:
    """Every second pair of holes shifted by 3 degrees: alpha differs by 1.5 degrees either way."""
    angles = tuple(
        angle for k in range(3) for angle in (120.0 * k, 120.0 * k + 30, 120.0 * k + 63, 120.0 * k + 93)
    )
    result = lengths(SIDE, dataclasses.replace(RIM, drive_pattern=HolePattern(angles)))
    assert [spoke.alpha for spoke in result.spokes] == pytest.approx([73.5, 73.5, 76.5, 76.5])
    assert sum(spoke.count for spoke in result.spokes) == 12
    assert result.difference > 0.5
    assert result.notes


@pytest.mark.parametrize("letters", ["", "DXN", "DNDND", "NN"])
def test_bad_letters_are_refused(letters: str) -> None:
    with pytest.raises(ValueError, match="pattern"):
        pattern_from_letters(letters, 24, "drive")
