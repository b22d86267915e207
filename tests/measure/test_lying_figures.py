"""Figures of a lying hub by hand, from where it is said to lie: values, shares, and each limit on both sides.

The numbers are those that the constants' docstrings state, written out: a constant that changes is noticed.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from hubsight.measure.lying import DOUBTFUL_END, UNCLEAR_FLANGE, _last_is_drive, _measurement, _Seen
from hubsight.model.refusal import Refusal
from hubsight.see.lying.flanges import FlangeSeen
from hubsight.see.lying.frame import LyingFrame
from hubsight.see.lying.place import Placed

EYE, HEIGHT, FOCAL, SCALE_U = 430.0, 25.0, (1525.0, 8.0), 0.0005
OLD, CENTRES, RADIUS, FLANGE_U = 142.0, (-34.0, 19.0), 25.0, 0.06
EDGES = (10.0 - OLD / 2 + 0.14, 10.0 + OLD / 2 - 0.14)
"""Places of the end faces' edges, each 0.14 mm inside the face, about a middle at 10."""
FLANGES = tuple(FlangeSeen(10.0 + c, RADIUS, FLANGE_U, doubtful=False) for c in CENTRES)


def frame(degrees=0.0):
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return LyingFrame(
        np.array([0.0, 0.0, HEIGHT]), np.array([c, s, 0.0]), np.array([-s, c, 0.0]), np.array([0.0, 0.0, 1.0])
    )


PLACED = Placed(
    frame(),
    EDGES,
    radii=(9.3, 9.3),
    fit=0.95,
    worst=0.9,
    outside=(0.0, 0.0),
    length_u=0.1,
    height_u=0.4,
    slope_u=0.003,
)


def measured(*, photos=2, flanges=FLANGES, **changes):
    seen = _Seen(replace(PLACED, **changes), flanges, photos, EYE, FOCAL, SCALE_U)
    return _measurement(seen, "right", (), ())


def shares(figure):
    return {item.source: item.u for item in figure.budget}


def what_the_place_adds(value):
    """By hand: what is seen from above looks larger by 1 / (eye - height) for every mm it lies higher."""
    return {
        "height of the axis": value * 0.4 / (EYE - HEIGHT),
        "print scale": value * SCALE_U,
        "camera": value * 8.0 / 1525.0 * HEIGHT / (EYE - HEIGHT),
    }


def test_the_end_faces_lie_outside_their_rounded_edges():
    figure = measured().figures["over_locknut"]
    assert figure.value == pytest.approx(OLD)
    assert shares(figure) == pytest.approx(
        {
            "rounding of the end faces": math.sqrt(2) * 0.11,
            "end faces' edges": 0.1,
            **what_the_place_adds(OLD),
        }
    )
    assert figure.u == pytest.approx(math.hypot(*shares(figure).values()))
    assert figure.high - figure.value == figure.value - figure.low == pytest.approx(1.96 * figure.u, rel=1e-4)


@pytest.mark.parametrize(("photos", "one"), [(1, 0.5), (2, 0.0)])
@pytest.mark.parametrize(("name", "value"), [("centre_to_flange_ds", 19.0), ("centre_to_flange_nds", 34.0)])
def test_a_flange_s_middle_and_the_middle_of_the_ends(photos, one, name, value):
    figure = measured(photos=photos).figures[name]
    assert figure.value == pytest.approx(value)
    assert shares(figure) == pytest.approx(
        {
            "flange's edges": math.hypot(0.1, FLANGE_U, one),
            "slope of the axis": (RADIUS - 9.3) * 0.003,
            "rounding of the end faces": math.sqrt(2) * 0.11 / 2,
            "end faces' edges": 0.05,
            **what_the_place_adds(value),
        }
    )


@pytest.mark.parametrize(
    ("changes", "doubtful"),
    [
        ({"fit": 0.66}, False),
        ({"fit": 0.64}, True),
        ({"worst": 0.56}, False),
        ({"worst": 0.54}, True),
        ({"length_u": 0.29}, False),
        ({"length_u": 0.31}, True),
        ({"fit": 0.79, "outside": (-5.9, 7.4)}, False),
        ({"fit": 0.79, "outside": (-6.1, 0.0)}, True),
        ({"fit": 0.79, "outside": (0.0, 7.6)}, True),
        ({"fit": 0.81, "outside": (-9.0, 9.0)}, False),
    ],
)
def test_end_faces_are_doubted_beyond_each_limit(changes, doubtful):
    said = {DOUBTFUL_END in figure.warnings for figure in measured(**changes).figures.values()}
    assert said == {doubtful}


@pytest.mark.parametrize(("fit", "both"), [(0.77, True), (0.79, False)])
def test_an_unsure_axis_makes_both_flanges_unclear_where_one_is(fit, both):
    unclear = (FLANGES[0], replace(FLANGES[1], doubtful=True))
    figures = measured(fit=fit, flanges=unclear).figures
    assert UNCLEAR_FLANGE in figures["centre_to_flange_ds"].warnings
    assert (UNCLEAR_FLANGE in figures["centre_to_flange_nds"].warnings) is both


@pytest.mark.parametrize(("length", "known"), [(69.0, False), (71.0, True), (204.0, True), (206.0, False)])
def test_lengths_that_no_hub_has_are_refused(length, known):
    edges = (10.0 - length / 2, 10.0 + length / 2)
    near = tuple(replace(f, middle=10.0 + s * 20.0) for f, s in zip(FLANGES, (-1, 1), strict=True))
    assert isinstance(measured(ends=edges, flanges=near), Refusal) is not known


@pytest.mark.parametrize(
    ("first", "last", "known"), [(-5.1, 5.1, True), (-4.9, 20.0, False), (-20.0, 4.9, False)]
)
def test_flanges_on_either_side_of_the_middle_are_needed(first, last, known):
    near = (replace(FLANGES[0], middle=10.0 + first), replace(FLANGES[1], middle=10.0 + last))
    assert isinstance(measured(flanges=near), Refusal) is not known


@pytest.mark.parametrize(
    ("degrees", "end", "answer"),
    [
        (0.0, "right", True),
        (0.0, "left", False),
        (67.0, "left", None),
        (66.0, "left", False),
        (90.0, "top", True),
    ],
)
def test_the_drive_side_lies_where_it_is_stated_unless_the_hub_lies_across(degrees, end, answer):
    """The hub lies across where its axis is turned away by more than arccos 0.4, 66.4 degrees."""
    found = _last_is_drive(replace(PLACED, frame=frame(degrees)), end)
    assert isinstance(found, Refusal) if answer is None else found is answer
