"""Shares of a side's figures that no photo can show, by hand for one gauge and for two."""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np
import pytest

from hubsight.estimate.problem import Layout, Problem
from hubsight.measure.adjust.placed import NOTHING_PLACED
from hubsight.measure.flange import (
    APPEARANCE_U_MM,
    END_SHAPE_U_MM,
    RIM_INSET_U_MM,
    SEATING_U_MM,
    SEEN_SHARE,
    GaugeGeometry,
)
from hubsight.measure.gauge_lift import PLAY_U_MM
from hubsight.measure.side_models import (
    LEAST_WIRE_MM,
    ONE_PHOTO_LOOK_U_MM,
    USUAL_MATCH,
    diameter_offset_correlation,
    flange_figures,
)
from hubsight.model.stated import Reading, StatedGauge
from hubsight.see.turned.ends import NOTHING_SEEN
from made_up import make_figure

RADIUS, REACH, LENGTHS, TURN_U = 23.5, 97.8, (100.08, 100.20), 0.002
CORNERS = np.array([[0.0, 0.0], [100.0, 0.0]])
"""Corners of a sheet too far apart to show a wave."""
LEVEL = np.array([0.0, 1.0, 0.0])
"""Direction of every gauge: along the sheet, so that none droops."""


@dataclass
class Geometry:
    """Radial gauges that reach as far as the first unknown says, on a rim of the second one's radius."""

    count: int
    angle: float = 0.0

    def gauges(self, x, angle=0.0):
        """All alike; a turn of the centreline moves their reach and radius."""
        at = np.array([RADIUS, 0.0, 80.0])
        return [GaugeGeometry(at, x[0] + 3.0 * angle, x[1] + 0.5 * angle, 0.0, 1.0, 0.0)] * self.count

    def rim(self, x):
        """Radius of the rim."""
        return float(x[1])


def seen(*, gauges=1, photos=4, quality=(), width=2.0, tips=("flat", "flat"), kind="radial"):
    layout = Layout()
    where = layout.add("pattern", 5).start
    for k in range(gauges):
        layout.add(f"gauge{k}", 5)
    paper = layout.add("paper", len(CORNERS))
    values = np.zeros(layout.size)
    values[:3] = REACH, RADIUS, 88.0
    problem = Problem(layout, values)
    problem.prior("photos", where, REACH, 0.02)
    problem.prior("photos", where + 1, RADIUS, 0.03)
    problem.prior("photos", where + 2, 88.0, 0.03)
    for index in range(3, layout.size):
        problem.prior("photos", index, 0.0, 1.0)
    assert paper.stop == layout.size
    stated = tuple(StatedGauge(Reading(length, 0.03), tip) for length, tip in zip(LENGTHS, tips, strict=True))
    return SimpleNamespace(
        solution=problem.solve(),
        side=SimpleNamespace(gauges=stated[:gauges], block_thickness=0.0),
        files=[f"{k}.jpg" for k in range(photos)],
        gauges=[SimpleNamespace(line=SimpleNamespace(width=width)) for _ in range(gauges)],
        bosses=SimpleNamespace(kind=kind, matches=SimpleNamespace(quality=np.array(quality))),
        targets=[SimpleNamespace(geometry=SimpleNamespace(saddles=CORNERS))],
        adjusted=SimpleNamespace(references=[LEVEL] * gauges),
        marked_ends=NOTHING_SEEN,
        placed=NOTHING_PLACED,
    )


def figures(**more):
    made = seen(**more)
    line = SimpleNamespace(angle=0.0, u=TURN_U, doubt=0.0)
    return flange_figures(
        made, Geometry(len(made.gauges)), line, centreline_warnings=[], end_warnings=["an end"]
    )


def share(figure, source):
    return next((item.u for item in figure.budget if item.source == source), 0.0)


@pytest.mark.parametrize("gauges", [1, 2])
def test_errors_that_each_gauge_has_by_itself_average_out(gauges):
    """The mean of n independent errors of u is known to u over the root of n (GUM 4.2.3)."""
    offset = figures(gauges=gauges)["spoke_offset"]
    for source, u in (
        ("seating", SEATING_U_MM),
        ("play in the bore", PLAY_U_MM),
        ("gauge length", 0.03),
        ("gauge end's shape", END_SHAPE_U_MM["flat"]),
    ):
        assert share(offset, source) == pytest.approx(u / math.sqrt(gauges)), source
    assert offset.value == pytest.approx(np.mean(LENGTHS[:gauges]) - REACH)


def test_a_nipple_s_end_counts_beside_a_flat_one():
    u = math.hypot(END_SHAPE_U_MM["flat"], END_SHAPE_U_MM["nipple"]) / 2
    assert share(figures(gauges=2, tips=("flat", "nipple"))["reach"], "gauge end's shape") == pytest.approx(u)


def test_a_diameter_has_the_look_of_the_bosses_on_both_sides():
    found = figures()
    assert share(found["reach"], "look of the bosses") == pytest.approx(APPEARANCE_U_MM)
    assert share(found["flange_diameter"], "look of the bosses") == pytest.approx(2 * APPEARANCE_U_MM)
    assert share(found["reach"], "rounding of the rim") == pytest.approx(RIM_INSET_U_MM)
    assert share(found["flange_diameter"], "rounding of the rim") == pytest.approx(2 * RIM_INSET_U_MM)
    assert found["flange_diameter"].value == pytest.approx(2 * RADIUS)


def test_the_centreline_s_error_goes_into_each_figure_by_how_it_turns_it():
    found = figures()
    assert share(found["reach"], "boss centreline") == pytest.approx(3.0 * TURN_U)
    assert share(found["flange_diameter"], "boss centreline") == pytest.approx(2 * 0.5 * TURN_U)


@pytest.mark.parametrize(("quality", "factor"), [(0.3, 8.0), (0.6, 1.0), (1.2, 0.125), (0.1, 27.0)])
def test_bosses_unlike_their_mean_are_known_less_well(quality, factor):
    """By the cube of how well they match; worse than 0.2 counts as 0.2."""
    assert pytest.approx(0.6) == USUAL_MATCH
    found = figures(quality=(quality,))
    assert share(found["reach"], "look of the bosses") == pytest.approx(factor * APPEARANCE_U_MM)


def test_one_photo_has_a_look_of_its_own():
    assert share(figures(photos=1)["reach"], "look of the bosses") == pytest.approx(ONE_PHOTO_LOOK_U_MM)
    assert figures(photos=1)["reach"].seen == "1 photo"
    assert figures()["reach"].seen == "4 photos"


@pytest.mark.parametrize(("width", "lost"), [(2.0, 0.0), (SEEN_SHARE * LEAST_WIRE_MM - 0.1, 0.05)])
def test_a_wire_that_looks_too_thin_may_lie_aside(width, lost):
    assert share(figures(width=width)["flange_diameter"], "outline of the wire") == pytest.approx(2 * lost)


def test_a_warning_of_the_end_goes_with_what_rests_on_it():
    found = figures()
    assert found["spoke_offset"].warnings == found["reach"].warnings == ("an end",)
    assert found["flange_diameter"].warnings == found["flange_height"].warnings == ()
    assert found["protrusion"] == found["reach"], "a radial gauge sticks out from where its reach begins"


def test_diameter_and_offset_of_one_adjustment_are_correlated():
    """By hand: d = 2 x1, o = -x0 with x0 and x1 independent; radial: the rim's place is in both."""
    paired = diameter_offset_correlation(
        seen(kind="paired"),
        Geometry(1),
        {"flange_diameter": make_figure(47.0, 0.06), "spoke_offset": make_figure(2.0, 0.02)},
    )
    radial = diameter_offset_correlation(
        seen(),
        Geometry(1),
        {"flange_diameter": make_figure(47.0, 0.2), "spoke_offset": make_figure(2.0, 0.1)},
    )
    assert paired == pytest.approx(0.0, abs=1e-9)
    assert radial == pytest.approx(2 * RIM_INSET_U_MM**2 / (0.2 * 0.1))


# ---- what else is asked, and with what


@pytest.fixture
def bosses_asked(monkeypatch):
    """Stand in for the figures of the bosses; keep what they are asked with."""
    asked = []

    def boss_figures(*arguments, **named):
        asked.append((arguments, named))
        return {"protrusion": make_figure(93.7), "boss_width": make_figure(8.4)}

    monkeypatch.setattr("hubsight.measure.side_models.boss_figures", boss_figures)
    return asked


def test_a_paired_flange_is_measured_at_its_crossing_points(bosses_asked):
    found = figures(kind="paired", gauges=2)
    assert found["flange_diameter"].value == pytest.approx(2 * RADIUS)
    assert share(found["flange_diameter"], "photos") == pytest.approx(2 * 0.03, rel=1e-6)
    assert share(found["flange_diameter"], "rounding of the rim") == 0.0
    assert share(found["reach"], "rounding of the rim") == 0.0
    assert found["protrusion"].warnings == ("an end",)
    assert found["boss_width"].value == 8.4
    (((_, _, reach), named),) = bosses_asked
    assert reach.function(np.array([97.0, 0.0, 0.0])) == pytest.approx(97.0)
    assert named == {
        "doubt": 0.0,
        "length": pytest.approx(np.mean(LENGTHS)),
        "length_u": pytest.approx(0.03 / math.sqrt(2)),
        "names": ["gauge0", "gauge1", "pattern"],
    }


@pytest.mark.parametrize(("photos", "lifted"), [(1, 0.0), (2, 0.5), (4, 0.5)])
@pytest.mark.parametrize("kind", ["radial", "paired"])
def test_heights_know_what_the_hub_stands_on(monkeypatch, bosses_asked, kind, photos, lifted):
    """The heights on which one photo rests were measured from the table: no lift of the sheet in those."""
    asked = []
    monkeypatch.setattr("hubsight.measure.side_models.height_figures", lambda hub: asked.append(hub) or {})
    monkeypatch.setattr("hubsight.measure.side_models.sheet_lift", lambda *_: Reading(0.5, 0.1))
    made = seen(kind=kind, photos=photos)
    made.side.block_thickness = 12.5
    line = SimpleNamespace(angle=0.0, u=TURN_U, doubt=0.0)
    flange_figures(made, Geometry(1), line, centreline_warnings=[], end_warnings=[])
    (hub,) = asked
    assert (hub.block, hub.photos, hub.radial) == (12.5, photos, kind == "radial")
    assert hub.lift.value == lifted
    assert hub.bores(made.solution.x) == [80.0]


def test_a_stated_wire_is_expected_as_thick_as_it_is():
    made = seen(kind="radial", width=2.0)
    made.side.gauges = (StatedGauge(Reading(100.08, 0.03), "flat", Reading(2.6, 0.01)),)
    line = SimpleNamespace(angle=0.0, u=TURN_U, doubt=0.0)
    found = flange_figures(made, Geometry(1), line, centreline_warnings=[], end_warnings=[])
    lost = (SEEN_SHARE * 2.6 - 2.0) / 2
    assert lost > 0.1
    assert share(found["flange_diameter"], "outline of the wire") == pytest.approx(2 * lost)


def test_what_moves_diameter_and_reach_alike_moves_diameter_and_offset_apart():
    """By hand: x0 and x1 tied, cov = [[a, c], [c, b]]; d = 2 x1 and o = L - x0 have cov(d, o) = -2 c."""
    made = seen(kind="paired")
    covariance = made.solution.covariance.copy()
    covariance[:2, :2] = [[4e-4, 3e-4], [3e-4, 9e-4]]
    made.solution = SimpleNamespace(layout=made.solution.layout, x=made.solution.x, covariance=covariance)
    told = {"flange_diameter": make_figure(47.0, 0.06), "spoke_offset": make_figure(2.0, 0.02)}
    assert diameter_offset_correlation(made, Geometry(1), told) == pytest.approx(-2 * 3e-4 / (0.06 * 0.02))
    sure = {"flange_diameter": make_figure(47.0, 0.01), "spoke_offset": make_figure(2.0, 0.01)}
    assert diameter_offset_correlation(made, Geometry(1), sure) == -1.0
