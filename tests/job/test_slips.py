"""Slips that only show when more than one figure is looked at: both sides' widths, both widths of a boss."""

from __future__ import annotations

import dataclasses

import numpy as np

from gum import covariance_from_correlation
from hubsight.job.double_check import check_reading
from hubsight.job.slips import LIKE_BOSSES, Surroundings, find_slip
from hubsight.model.figure import Figure
from hubsight.model.result import Check
from hubsight.model.stated import Reading
from hubsight.model.uncertainty import COVERAGE_FACTOR, sample_normal

ALONG, ACROSS = 8.5, 7.4
PHOTO_U, CALIPER_U = 0.22, 0.1


def figure(value: float, u: float = PHOTO_U) -> Figure:
    half = COVERAGE_FACTOR * u
    return Figure(value=value, u=u, low=value - half, high=value + half)


def sides(own: float, other: float, other_reading: float | None) -> Surroundings:
    """Photos' boss widths of both sides, and the other side's reading."""
    readings = {} if other_reading is None else {"boss_width": Reading(other_reading, CALIPER_U)}
    return Surroundings(
        figures={"boss_width": figure(own)},
        other_figures={"boss_width": figure(other)},
        other_readings=readings,
    )


def check(stated: float, around: Surroundings) -> Check:
    return check_reading(
        "drive", "boss_width", Reading(stated, CALIPER_U), around.figures["boss_width"], around
    )


def test_the_other_side_shows_what_the_photos_miss_on_both() -> None:
    """Photos 0.35 mm too narrow on both sides hide a slip of 1 mm, until the other reading shows it."""
    seen = ALONG - 0.35
    alone, both = sides(seen, seen, None), sides(seen, seen, ALONG)
    assert check(ALONG - 1.0, alone).verdict == "doubt"
    assert check(ALONG - 1.0, alone).slip is None
    assert "off by exactly 1 mm" in str(check(ALONG - 1.0, both).slip)
    assert check(ALONG, both).verdict == "agrees"


def test_another_boss_or_another_slip_on_the_other_side_shows_nothing() -> None:
    seen = ALONG - 0.35
    assert check(ALONG - 1.0, sides(seen, seen + 3.0, ALONG + 3.0)).slip is None
    assert check(ALONG - 1.0, sides(seen, seen, ALONG + 1.0)).slip is None


def test_right_readings_of_both_sides_hardly_ever_get_a_slip() -> None:
    rng = np.random.default_rng(11)
    errors = sample_normal(
        [0.0, 0.0],
        covariance_from_correlation([PHOTO_U, PHOTO_U], [[1.0, LIKE_BOSSES], [LIKE_BOSSES, 1.0]]),
        2000,
        rng,
    )
    read = rng.normal(ALONG, CALIPER_U, (2000, 2))
    checks = [
        check(own, sides(ALONG + e, ALONG + f, other))
        for (e, f), (own, other) in zip(errors, read, strict=True)
    ]
    assert np.mean([c.verdict == "disagrees" for c in checks]) < 0.01
    assert np.mean([c.slip is not None for c in checks]) < 0.01


def test_one_width_given_for_the_other_is_named() -> None:
    around = Surroundings(
        figures={"boss_width": figure(ALONG, 0.1), "boss_width_across": figure(ACROSS, 0.1)}
    )
    cases = (
        ("boss_width", ACROSS, "across the boss, not along the spoke"),
        ("boss_width_across", ALONG, "along the spoke, not across the boss"),
    )
    for name, stated, words in cases:
        found = find_slip(
            name, Reading(stated + 0.03, CALIPER_U), Reading(around.figures[name].value, 0.1), around
        )
        assert words in str(found)
    # 7.4 is also 8.4 less 1 mm: both are said
    assert "off by exactly 1 mm" in str(
        find_slip("boss_width", Reading(ACROSS, CALIPER_U), Reading(ALONG, 0.1), around)
    )


def test_the_photos_width_across_stands_in_for_a_reading() -> None:
    figures = {
        "boss_width": figure(ALONG, 0.1),
        "boss_width_across": figure(ACROSS, 0.1),
        "spoke_offset": figure(2.0, 0.08),
    }
    around = Surroundings(figures=figures)
    stated, photo = Reading(2.0 + (ALONG - ACROSS) / 2.0, 0.05), Reading(2.0, 0.08)
    assert "the width across the boss" in str(find_slip("spoke_offset", stated, photo, around))
    without = dataclasses.replace(around, figures={"boss_width": figures["boss_width"]})
    assert "across" not in str(find_slip("spoke_offset", stated, photo, without))


def test_the_protrusion_shows_how_the_faces_were_misread() -> None:
    """A face seen 0.17 mm too far out makes the width 0.34 mm too large, the protrusion 0.17 mm too small."""
    figures = {"boss_width": figure(ALONG + 0.34), "protrusion": figure(93.4 - 0.17, 0.16)}
    alone = Surroundings(figures=figures)
    known = Surroundings(figures=figures, readings={"protrusion": Reading(93.4, 0.08)})
    assert check(ALONG + 1.0, alone).slip is None
    assert "off by exactly 1 mm" in str(check(ALONG + 1.0, known).slip)
    slipped = Surroundings(figures=figures, readings={"protrusion": Reading(98.4, 0.08)})
    assert check(ALONG + 1.0, slipped).slip is None


def test_readings_that_say_nothing_of_the_faces_change_nothing() -> None:
    figures = {"boss_width": figure(ALONG + 0.34), "flange_diameter": figure(45.0)}
    around = Surroundings(figures=figures, readings={"flange_diameter": Reading(45.3, 0.1)})
    assert check(ALONG + 1.0, around).slip is None


def test_slips_that_do_nearly_as_well_are_named_together() -> None:
    """Where both widths lie about a millimetre apart, one given for the other looks like a millimetre's slip.

    The second one need not beat chance by itself: that there is a slip is known from the first.
    """
    stated, apart = ALONG - 1.0, 0.685
    figures = {"boss_width": figure(stated + apart), "boss_width_across": figure(stated)}
    said = str(check(stated, Surroundings(figures=figures)).slip)
    assert "across the boss" in said
    assert "off by exactly 1 mm" in said
    assert check(stated, Surroundings(figures={"boss_width": figures["boss_width"]})).slip is None
