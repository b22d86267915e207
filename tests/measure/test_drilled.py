"""Simulated gauges in bosses that were drilled for known rims: which row, first hole and crosses are read."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from hubsight.measure.adjust.centreline import ASYMMETRIC_SIGMA_MM, SYMMETRIC_SIGMA_MM, weigh
from hubsight.measure.drilled import (
    direction_opinions,
    drilled_for,
    possible_directions,
    wrong_spokes,
)
from hubsight.measure.flange import gauge_on_boss
from hubsight.model.stated import HolePattern, Reading, StatedWheel
from hubsight.scene.boss_shape import BossShape, Face
from hubsight.wheel.geometry import pattern_from_letters
from hubsight.wheel.rows import first_hole_patterns

ERD, RADIUS, REACH = 545.0, 22.6, 98.0
PER_BOSS = {"DN": 4, "DND": 3, "DDNN": 4}
PLAY_DEG = 0.4
"""Of the simulated bores and wires, all in all."""
FACE = Face(1, 4.0, 0.0, 0.0)
UPRIGHT = np.array([0.0, 0.0, 90.0, 0.0, 0.0, RADIUS, 0.0])
BOTH_BORES = (1, -1)


def hole_of(letters, bosses, first, crosses):
    """Angle from a boss to the rim hole of its forward bore, degrees: counted off along the rim."""
    step = 360.0 / (PER_BOSS[letters] * bosses)
    own = [k * step for k in range(PER_BOSS[letters] * bosses) if letters[k % len(letters)] == "D"]
    middle = (own[first] + own[first + 1]) / 2
    return own[first + 1 + crosses] - middle


def bore(alpha, way):
    """A gauge that lies in the bore to the rim hole at ``alpha``: its end and direction; boss along +x."""
    crossing = np.array([RADIUS, 0.0, 90.0])
    a = np.radians(way * alpha)
    along = np.array([ERD / 2 * np.cos(a), ERD / 2 * np.sin(a), 90.0]) - crossing
    along /= np.linalg.norm(along)
    return crossing, along


def turned(along, degrees):
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return np.array([c * along[0] - s * along[1], s * along[0] + c * along[1], along[2]])


def read(letters, first, crosses, wheel, *, bosses=8, outline=0.0, whole=True, ways=(1,), play=0.0, seed=0):
    """Read simulated gauges; ``outline`` is its error in degrees, ``whole`` whether it looks symmetric."""
    random = np.random.default_rng(seed)
    angle = np.radians(outline)
    unrest = 0.0 if whole else 0.05
    shape = BossShape(FACE, FACE, (angle, -unrest / 2, unrest / 2))
    gauges = []
    for way in ways:
        crossing, along = bore(hole_of(letters, bosses, first, crosses), way)
        along = turned(along, play * random.standard_normal())
        gauges.append(gauge_on_boss(crossing + REACH * along, along, UPRIGHT, angle))
    directions = possible_directions(wheel, bosses, RADIUS)
    opinions = direction_opinions(directions, gauges, wheel, bosses, angle)
    line = weigh(shape, RADIUS, opinions)
    return line, drilled_for("drive", directions, opinions, line, outline=angle, wheel=wheel)


def rim(letters, bosses=8, first=None):
    """A wheel whose row is stated, with or without its first hole."""
    spokes = PER_BOSS[letters] * bosses
    holes = first_hole_patterns(letters, spokes)
    if first is not None:
        holes = (pattern_from_letters(letters, spokes, "drive", first=first),)
    return StatedWheel(spokes=spokes, erd=Reading(ERD, 0.5), rim_holes=holes)


UNSTATED = StatedWheel(erd=Reading(ERD, 0.5))
PATTERNED = [("DND", 0), ("DND", 1), ("DDNN", 0), ("DDNN", 1)]


@pytest.mark.parametrize(("letters", "first"), [("DN", 0), *PATTERNED])
@pytest.mark.parametrize("crosses", [1, 2, 3, 4])
@pytest.mark.parametrize("ways", [(1,), (-1,), BOTH_BORES])
def test_a_stated_row_is_believed_and_its_crosses_read(letters, first, crosses, ways):
    line, found = read(letters, first, crosses, rim(letters, first=first), ways=ways)
    assert found.crosses == crosses
    assert found.doubts == ()
    assert abs(np.degrees(line.angle)) < 0.05


@pytest.mark.parametrize(("letters", "first"), PATTERNED)
@pytest.mark.parametrize("whole", [True, False])
def test_the_direction_tells_a_first_hole_that_is_not_stated(letters, first, whole):
    _, found = read(letters, first, 3, rim(letters), whole=whole, outline=0.3)
    assert found.first_holes == (first,)
    assert found.crosses == 3
    assert found.doubts == ()


def test_a_stated_first_hole_is_no_question():
    _, found = read("DND", 1, 3, rim("DND", first=1))
    assert found.first_holes == ()


def test_half_way_between_two_first_holes_both_stay_open():
    """Twelve bosses: rim holes lie 10 degrees apart, the two first holes' directions 5 of alpha."""
    wheel = rim("DND", bosses=12)
    stated = [d for d in possible_directions(wheel, 12, RADIUS) if d.row == "stated"]
    near = sorted(stated, key=lambda d: d.betas)[4:6]
    assert {d.first for d in near} == {0, 1}
    half = (near[1].betas[0][0] - near[0].betas[0][0]) / 2
    line, found = read("DND", near[0].first, near[0].crosses, wheel, bosses=12, outline=-half, whole=False)
    assert set(found.first_holes) == {0, 1}
    assert {d.severity for d in found.doubts} == {"check"}
    assert "which of this side's rim holes comes first" in found.doubts[-1].sentence
    assert line.u > abs(np.radians(half)) / 2


@pytest.mark.parametrize(
    ("letters", "first", "wheel", "words"),
    [
        ("DND", 1, rim("DND", first=0), "two-to-one"),
        ("DND", 0, rim("DND", first=1), "two-to-one"),
        ("DN", 0, rim("DND", first=1), "evenly drilled"),
        ("DN", 0, rim("DDNN", first=0), "evenly drilled"),
        ("DND", 1, rim("DN"), "no hole of the stated row"),
        ("DDNN", 1, rim("DDNN", first=0), "in pairs"),
    ],
)
def test_a_wrong_row_or_first_hole_is_doubted(letters, first, wheel, words):
    _, found = read(letters, first, 3, wheel)
    assert found.doubts[0].severity == "check"
    assert words in found.doubts[0].sentence
    assert found.doubts[0].remedy.startswith("Check the row")


@pytest.mark.parametrize(("letters", "first"), PATTERNED)
def test_an_unstated_row_that_is_not_even_is_doubted_not_refused(letters, first):
    line, found = read(letters, first, 3, UNSTATED)
    assert [d.severity for d in found.doubts] == ["check"]
    assert "State the row of rim holes" in found.doubts[0].remedy
    assert abs(line.angle) < 0.5 * line.u


@pytest.mark.parametrize("crosses", [0, 1, 2, 3])
def test_an_even_rim_that_is_not_stated_raises_no_doubt(crosses):
    line, found = read("DN", 0, crosses, UNSTATED, outline=0.1)
    assert found.doubts == ()
    assert found.crosses == crosses
    stated, _ = read("DN", 0, crosses, rim("DN"), outline=0.1)
    assert line.u == pytest.approx(stated.u, rel=0.02)
    assert line.angle == pytest.approx(stated.angle, abs=1e-4)


def test_spokes_and_bosses_that_make_two_to_one_ask_for_the_row():
    _, found = read("DND", 1, 3, replace(UNSTATED, spokes=24))
    assert "two-to-one" in found.doubts[0].sentence
    assert found.doubts[0].about == "rim.holes"
    assert found.crosses == 3


def test_a_row_for_other_bosses_says_nothing_of_these():
    wheel = rim("DND", bosses=6)
    assert not any(d.row == "stated" for d in possible_directions(wheel, 8, RADIUS))


def test_a_rim_stated_as_uneven_is_not_expected_to_be_even():
    wheel = replace(UNSTATED, even_rim=False)
    assert not any(d.row == "even" for d in possible_directions(wheel, 8, RADIUS))


@pytest.mark.parametrize("stated", [True, False])
@pytest.mark.parametrize(("letters", "first"), [("DN", 0), ("DND", 0), ("DND", 1)])
def test_intervals_hold_on_bosses_as_assumed(letters, first, stated):
    """Outlines drawn as the two hypotheses have it: 95 % intervals hold 90 % and more.

    Of 200, a share of 95 % is within 3 % of it twice in three.
    """
    random = np.random.default_rng(5)
    held = []
    for seed in range(200):
        lopsided = random.random() < 0.3
        sigma = ASYMMETRIC_SIGMA_MM if lopsided else SYMMETRIC_SIGMA_MM
        outline = np.degrees(sigma / RADIUS) * random.standard_normal()
        wheel = rim(letters) if stated else UNSTATED
        line, _ = read(letters, first, 3, wheel, outline=outline, play=PLAY_DEG, seed=seed)
        held.append(abs(line.angle) < 1.96 * line.u)
    assert np.mean(held) > 0.9


@pytest.mark.parametrize(
    ("wheel", "own", "words"),
    [
        (StatedWheel(), 16, ""),
        (StatedWheel(spokes=32), 16, ""),
        (StatedWheel(spokes=28), 16, "makes 32 spokes, but 28 are stated"),
        (StatedWheel(spokes=24), 16, "two to one, state their row"),
        (StatedWheel(spokes=24), 8, "two to one, state their row"),
        (rim("DND"), 16, ""),
        (rim("DND"), 14, "which take 14 spokes, but the stated row of rim holes gives this side 16"),
        (StatedWheel(spokes=24, rim_holes=(HolePattern((15.0,), 45.0),)), 8, ""),
    ],
)
def test_spokes_are_compared_with_the_row_where_it_is_stated(wheel, own, words):
    said = wrong_spokes(wheel, own)
    assert (words in said) if words else said == ""


@pytest.mark.parametrize("spokes", [20, 28, 36, 40, 72])
@pytest.mark.parametrize("even", [True, False])
def test_a_number_of_spokes_that_goes_with_no_row_changes_nothing(spokes, even):
    stated, unstated = (replace(UNSTATED, spokes=n, even_rim=even) for n in (spokes, None))
    assert possible_directions(stated, 8, RADIUS) == possible_directions(unstated, 8, RADIUS)
    _, found = read("DN", 0, 2, stated)
    assert found.crosses == (2 if even else None)


@pytest.mark.parametrize("spokes", [24, 32])
@pytest.mark.parametrize("even", [True, False])
def test_every_kind_of_statement_leaves_an_expected_row(spokes, even):
    _, found = read("DND", 1, 3, replace(UNSTATED, spokes=spokes, even_rim=even))
    assert found.off_expected is not None


def test_the_thinner_side_of_a_two_to_one_wheel_has_even_holes():
    _, found = read("DN", 0, 1, replace(UNSTATED, spokes=24), bosses=4)
    assert found.crosses == 1
    assert found.doubts == ()


@pytest.mark.parametrize("wheel", [UNSTATED, rim("DND"), rim("DDNN", first=1), replace(UNSTATED, spokes=24)])
def test_the_rows_share_one_probability(wheel):
    directions = possible_directions(wheel, 8, RADIUS)
    assert sum(d.prior for d in directions if d.crosses in (None, 2)) == pytest.approx(1.0)


def test_the_two_bores_of_a_boss_mirror_each_other():
    one, other = (read("DN", 0, 2, UNSTATED, ways=(way,), outline=-0.8 * way)[0] for way in BOTH_BORES)
    assert abs(one.angle) > 0.001
    assert other.angle == pytest.approx(-one.angle)


def test_how_far_the_outline_lies_from_expected_and_from_any_row():
    _, right = read("DN", 0, 3, UNSTATED, outline=2.0, ways=BOTH_BORES)
    assert np.degrees(right.off_expected) == pytest.approx(2.0, abs=0.01)
    _, patterned = read("DND", 1, 3, UNSTATED)
    assert np.degrees(patterned.off_expected) == pytest.approx(3.8, abs=0.3)
    assert np.degrees(patterned.off_usual) == pytest.approx(0.0, abs=0.01)
    # Both bores contradict even drilling, one this way and one that way: the worse one counts.
    _, both = read("DND", 1, 3, UNSTATED, outline=2.0, ways=BOTH_BORES)
    assert np.degrees(both.off_expected) == pytest.approx(5.8, abs=0.3)
