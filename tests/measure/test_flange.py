"""Gauge against flange, and the figures' budgets, against independent constructions."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.optimize import brentq

from hubsight.estimate.problem import Layout, Problem
from hubsight.measure.flange import (
    RIM_INSET_MM,
    Model,
    SideGeometry,
    figure,
    gauge_on_boss,
    gauge_on_rim,
    gradient,
)
from hubsight.model.uncertainty import COVERAGE_FACTOR

PATTERN = np.array([-48.0, 3.0, 92.0, 0.004, -0.003, 24.0, 0.2])
ANGLE = 0.85
END = np.array([42.0, 30.0, 84.0])
EXACT = 1e-9


def unit(v):
    return np.asarray(v) / np.linalg.norm(v)


def axis():
    """Point and direction of the hub axis: square to the faces' plane z = h + tx x + ty y."""
    return PATTERN[:3], unit([-PATTERN[3], -PATTERN[4], 1.0])


@pytest.mark.parametrize("direction", [(1.0, -0.1, -0.04), (0.9, 0.6, 0.02), (-0.2, 1.0, -0.05)])
def test_the_crossing_point_lies_on_the_plane_of_axis_and_centreline(direction):
    direction = unit(direction)
    point, along = axis()
    # Plane of axis and centreline: point + a axis + b centreline, as drawn in the sheet's plane.
    out = np.array([np.cos(ANGLE), np.sin(ANGLE), 0.0])
    # end - t d = point + a along + b out
    t, a, b = np.linalg.solve(np.column_stack([direction, along, out]), END - point)
    crossing = END - t * direction
    found = gauge_on_boss(END, direction, PATTERN, ANGLE)
    assert found.crossing == pytest.approx(crossing, abs=EXACT)
    assert found.reach == pytest.approx(t, abs=EXACT)
    radius = np.linalg.norm(np.cross(crossing - point, along))
    assert abs(found.radius) == pytest.approx(radius, abs=EXACT)
    assert np.sign(found.radius) == np.sign(b + a * (along @ out))
    assert found.outward**2 + found.sideways**2 + (direction @ along) ** 2 == pytest.approx(1.0)


def test_a_gauge_through_its_crossing_point_by_construction():
    point, along = axis()
    out = np.array([np.cos(ANGLE), np.sin(ANGLE), 0.0])
    out = unit(out - (out @ along) * along)
    crossing = point + 22.5 * out - 3.0 * along
    left = np.cross(along, out)
    direction = unit(np.cos(1.1) * out + np.sin(1.1) * left - 0.03 * along)
    found = gauge_on_boss(crossing + 97.0 * direction, direction, PATTERN, ANGLE)
    assert found.reach == pytest.approx(97.0, abs=EXACT)
    assert found.radius == pytest.approx(22.5, abs=EXACT)
    assert np.arctan2(found.sideways, found.outward) == pytest.approx(1.1, abs=EXACT)
    assert abs(found.miss) == pytest.approx(22.5 * np.sin(1.1), abs=EXACT)


@pytest.mark.parametrize("rim", [20.0, 26.5])
def test_a_radial_gauge_leaves_the_rim_where_its_distance_from_the_axis_is_the_radius(rim):
    point, along = axis()
    direction = unit([0.99, 0.02, -0.05])
    end = np.array([45.0, 4.0, 88.0])

    def beyond(t):
        return np.linalg.norm(np.cross(end - t * direction - point, along)) - rim

    reach = brentq(beyond, 0.0, 92.0, xtol=1e-12)
    found = gauge_on_rim(end, direction, PATTERN, rim)
    assert found.reach == pytest.approx(reach, abs=1e-8)
    assert found.crossing == pytest.approx(end - reach * direction, abs=1e-8)
    assert found.radius == rim


@pytest.fixture
def solution():
    """Two unknowns known by three kinds of prior, one of which ties them."""
    layout = Layout()
    where = layout.add("pair", 2)
    problem = Problem(layout, np.zeros(2))
    problem.prior("caliper", where.start, 2.0, 0.3)
    problem.prior("caliper", where.start + 1, 1.0, 0.4)
    problem.add_prior("photo", np.array([0, 1]), np.array([1.0, 1.0]), 3.2, 0.2)
    problem.prior("hearsay", where.start, 2.1, 2.0)
    return problem.solve()


def test_a_budget_sums_to_the_variance(solution):
    model = Model(lambda x: x[0] * x[1], (("seating", 0.03), ("play", 0.04)))
    found = figure(model, solution, ["pair"])
    assert sum(item.u**2 for item in found.budget) == pytest.approx(found.u**2, rel=1e-9)
    g = np.array([solution.x[1], solution.x[0]])
    assert found.u**2 == pytest.approx(g @ solution.covariance @ g + 0.03**2 + 0.04**2, rel=1e-6)
    assert {item.source for item in found.budget} == {"caliper", "photo", "hearsay", "seating", "play"}
    assert found.high - found.low == pytest.approx(2 * COVERAGE_FACTOR * found.u)
    assert [item.u for item in found.budget] == sorted((item.u for item in found.budget), reverse=True)


def test_a_named_input_is_added_to_what_the_adjustment_says_of_it(solution):
    plain = figure(Model(lambda x: x[0]), solution, ["pair"])
    more = figure(Model(lambda x: x[0], (("photo", 0.5),)), solution, ["pair"])
    before, after = (next(i.u for i in f.budget if i.source == "photo") for f in (plain, more))
    assert after**2 == pytest.approx(before**2 + 0.25)


def test_a_figure_of_nothing_relevant_has_only_its_own_inputs(solution):
    found = figure(Model(lambda _: 5.0, (("caliper", 0.1),)), solution, [])
    assert found.value == 5.0
    assert found.u == pytest.approx(0.1)


def test_the_gradient_is_that_of_the_function():
    x, sigma = np.array([1.2, -0.7, 3.0]), np.array([0.01, 0.02, 0.0])
    g = gradient(lambda v: float(np.sin(v[0]) * v[1] + v[2]), x, sigma)
    assert g[:2] == pytest.approx([np.cos(1.2) * -0.7, np.sin(1.2)], rel=1e-5)
    assert g[2] == 0.0


@pytest.mark.parametrize("grown", [0.98, 1.0, 1.03])
def test_a_radial_rim_grows_with_the_pattern_that_it_was_seen_with(grown):
    layout = Layout()
    where = layout.add("pattern", 7)
    seen = SimpleNamespace(
        bosses=SimpleNamespace(pose=SimpleNamespace(radius=26.8)),
        marked_bosses=SimpleNamespace(rim_radius=27.0),
        solution=SimpleNamespace(layout=layout),
    )
    x = np.zeros(7)
    x[where.start + 5] = 26.8 * grown
    assert SideGeometry(seen, (0,), 0.0).rim(x) == pytest.approx(27.0 * grown + RIM_INSET_MM)
