"""Heights of a standing hub as figures, from hubs whose dimensions are put together by hand."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from hubsight.camera import View
from hubsight.estimate.problem import Layout, Problem
from hubsight.measure.face_height import INNER_EDGE_MM, OUTER_EDGE_MM
from hubsight.measure.heights import (
    LONE_EDGE,
    ON_ITS_AXLE,
    SHAKY,
    SHEET_WAVES,
    Bore,
    Middle,
    Upright,
    height_figures,
    is_usual_width,
    paired_middle,
    radial_middle,
)
from hubsight.model.stated import BLOCK_U_MM, Reading
from hubsight.see.turned.end_face import EndFace, Rival
from hubsight.see.turned.ends import NOTHING_SEEN, EndsSeen
from hubsight.see.turned.likelihood import SECTORS, Evidence
from hubsight.see.turned.rings import Ring
from hubsight.see.turned.underside import Underside
from made_up import make_figure
from scenes import CAMERA, look_at

OLD, W, BLOCK, LIFT = 142.0, 19.0, 12.5, 0.8
"""Over-locknut, centre to flange, a block under the hub, the sheet's mean plane above the table; mm."""
U_FLANGE, U_FACE, U_MIDDLE, U_LIFT, U_EDGES = 0.03, 0.07, 0.11, 0.25, 0.17


class Known(Upright):
    """A hub whose flange and end face are unknowns themselves: no ring and no bore stands between."""

    def middle(self, x):
        """Height of the flange's middle above the sheet's mean plane."""
        return Middle(float(x[self.solution.layout["pattern"]][0]), U_MIDDLE)

    def face(self, x):
        """Height of the end face above the same."""
        return float(x[self.solution.layout["camera"]][0])

    def face_u(self):
        """Return what the shape of its edges leaves open."""
        return U_EDGES


def a_ring(radius, height=150.0, pixels=()):
    evidence = Evidence(np.ones((1, SECTORS)))
    return Ring(np.zeros(2), height, radius, np.zeros(2), evidence=evidence, pixels=pixels)


FACE = EndFace((a_ring(9.0), a_ring(6.0)), both_edges=True, stub=False)


def hub(*, block=BLOCK, lift=LIFT, face=FACE, middle=None):
    """The hub stands on a block on a table; photos show its heights above the sheet's mean plane."""
    layout = Layout()
    above_table = {"pattern": block + OLD / 2 + W, "camera": block + OLD}
    where = {name: layout.add(name, 1).start for name in above_table}
    layout.add("photo0", 1)
    values = np.array([*(height - lift for height in above_table.values()), 0.0])
    problem = Problem(layout, values)
    problem.prior("flange", where["pattern"], values[0] if middle is None else middle, U_FLANGE)
    problem.prior("face", where["camera"], values[1], U_FACE)
    problem.prior("photo", 2, 0.0, 1.0)
    return Known(
        solution=problem.solve(),
        names=["pattern"],
        photos=1,
        radial=False,
        bores=lambda _: [],
        bores_u=[],
        ends=EndsSeen(face),
        block=block,
        lift=Reading(lift, U_LIFT),
    )


def share(figure, source):
    return next((item.u for item in figure.budget if item.source == source), 0.0)


@pytest.mark.parametrize("block", [0.0, BLOCK])
@pytest.mark.parametrize("lift", [0.0, LIFT])
def test_the_dimensions_are_those_of_the_hub_whatever_it_stands_on(block, lift):
    figures = height_figures(hub(block=block, lift=lift))
    assert figures["over_locknut"].value == pytest.approx(OLD, abs=1e-6)
    assert figures["centre_to_flange"].value == pytest.approx(W, abs=1e-6)
    assert figures["flange_height"].value == pytest.approx(block + OLD / 2 + W, abs=1e-6)


def test_every_input_has_its_share():
    """By hand: w = m - (f + B - l) / 2 of middle m, face f, block B and lift l; OLD = f + l - B."""
    figures = height_figures(hub())
    old, w, height = (figures[n] for n in ("over_locknut", "centre_to_flange", "flange_height"))
    for source, u in (
        ("face", U_FACE),
        ("rounding of the end face", U_EDGES),
        ("block thickness", BLOCK_U_MM),
        (SHEET_WAVES, U_LIFT),
    ):
        assert share(old, source) == pytest.approx(u, rel=1e-6), source
        assert share(w, source) == pytest.approx(u / 2, rel=1e-6), source
    for figure in (w, height):
        assert share(figure, "flange's middle") == pytest.approx(U_MIDDLE)
        assert share(figure, "flange") == pytest.approx(U_FLANGE, rel=1e-6)
    assert share(height, SHEET_WAVES) == pytest.approx(U_LIFT)
    assert share(height, "face") == share(height, "block thickness") == 0.0
    assert share(old, "flange") == share(old, "flange's middle") == 0.0
    for figure in figures.values():
        assert figure.u == pytest.approx(np.sqrt(sum(item.u**2 for item in figure.budget)))


def test_without_a_block_there_is_none_to_be_unsure_of():
    assert share(height_figures(hub(block=0.0))["over_locknut"], "block thickness") == 0.0


def test_without_an_end_face_only_the_flange_has_a_height():
    standing = replace(hub(), ends=NOTHING_SEEN)
    assert set(height_figures(standing)) == {"flange_height"}
    assert standing.face_u() == U_EDGES
    bare = Upright(**{**vars(standing), "known": {}})
    assert bare.face_u() == 0.0
    with pytest.raises(ValueError, match="no end face"):
        bare.face(bare.solution.x)


def test_a_lone_small_edge_is_said_where_it_counts():
    figures = height_figures(hub(face=EndFace((a_ring(6.0),), both_edges=False, stub=False)))
    assert figures["over_locknut"].warnings == figures["centre_to_flange"].warnings == (LONE_EDGE,)
    assert figures["flange_height"].warnings == ()
    assert not any(figure.warnings for figure in height_figures(hub()).values())


def test_an_axle_that_stands_out_is_said_unless_the_hub_stands_on_a_block():
    stub = EndFace(FACE.rings, both_edges=True, stub=True)
    assert height_figures(hub(block=0.0, face=stub))["over_locknut"].warnings == (ON_ITS_AXLE,)
    assert height_figures(hub(block=BLOCK, face=stub))["over_locknut"].warnings == ()


@pytest.mark.parametrize(("u", "shaky"), [(0.39, False), (0.41, True)])
def test_two_possible_middles_are_said(monkeypatch, u, shaky):
    monkeypatch.setattr(Known, "middle", lambda _, x: Middle(float(x[0]), u))
    figures = height_figures(hub())
    assert (SHAKY in figures["flange_height"].warnings) is shaky
    assert (SHAKY in figures["centre_to_flange"].warnings) is shaky
    assert figures["over_locknut"].warnings == ()


@pytest.mark.parametrize(
    ("value", "u", "usual"),
    [(142.0, 0.0, True), (138.0, 0.1, False), (135.29, 0.0, True), (135.31, 0.0, False), (136.1, 0.3, True)],
)
def test_usual_widths(value, u, usual):
    """Within three standard uncertainties and 0.3 mm of one of the trade's (common practice, no source)."""
    assert is_usual_width(make_figure(value, u)) is usual


# ---- the end face's height from its edges


OUTER, INNER = 9.0, 6.0


def seen_from(views, radius, height):
    """The pixels of a circle about the target's origin."""
    around = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    circle = np.column_stack([radius * np.cos(around), radius * np.sin(around), np.full(60, height)])
    return tuple(view.project(circle) for view in views)


FEWER = 2.0
"""Two photos instead of four: a rounding is known less well by as much."""


@pytest.fixture
def edges():
    """A function: a hub of which photos show these edges, each at its own height."""
    poses = [look_at(0.0, 0.0, 430.0, 3.0), look_at(120.0, 24.0, 430.0, 10.0)]
    views = [View(CAMERA, np.concatenate([np.zeros(3), pose])) for pose in poses]
    layout = Layout()
    values = [CAMERA, *(np.concatenate([np.zeros(3), pose]) for pose in poses)]
    for name, value in zip(("camera", "photo0", "photo1"), values, strict=True):
        layout.add(name, len(value))
    solution = SimpleNamespace(layout=layout, x=np.concatenate(values))

    def made(*rings, both=True):
        # What the search took for their height is near the truth, not on it.
        seen = tuple(a_ring(r, height + 0.4, seen_from(views, r, height)) for r, height in rings)
        ends = EndsSeen(EndFace(seen, both_edges=both, stub=False))
        return Upright(solution, (), 2, False, lambda _: [], (), ends, 0.0)

    return made


def height(standing):
    return standing.face(standing.solution.x)


def test_a_face_lies_above_its_edges_which_are_rounded_off(edges):
    one = edges((OUTER, 140.0), both=False)
    assert height(one) == pytest.approx(140.0 + OUTER_EDGE_MM.mean, abs=0.01)
    assert one.face_u() == pytest.approx(np.hypot(FEWER * OUTER_EDGE_MM.sigma, 0.05))


def test_both_edges_are_weighed_by_how_well_each_shows_the_face(edges):
    both = edges((OUTER, 140.0), (INNER, 139.5))
    weights = np.array([OUTER_EDGE_MM.sigma, INNER_EDGE_MM.sigma]) ** -2.0
    faces = np.array([140.0 + OUTER_EDGE_MM.mean, 139.5 + INNER_EDGE_MM.mean])
    assert height(both) == pytest.approx(weights @ faces / weights.sum(), abs=0.01)
    # They lie further apart than their own uncertainties: what both say is widened by as much.
    chi2 = (faces[0] - faces[1]) ** 2 / (OUTER_EDGE_MM.sigma**2 + INNER_EDGE_MM.sigma**2)
    assert chi2 > 2
    assert both.face_u() == pytest.approx(np.sqrt(FEWER**2 * chi2 / weights.sum() + 0.05**2))


def test_edges_that_agree_are_as_sure_as_each_of_them_makes_both(edges):
    apart = OUTER_EDGE_MM.mean - INNER_EDGE_MM.mean
    both = edges((OUTER, 140.0), (INNER, 140.0 + apart))
    weights = np.array([OUTER_EDGE_MM.sigma, INNER_EDGE_MM.sigma]) ** -2.0
    assert both.face_u() == pytest.approx(np.sqrt(FEWER**2 / weights.sum() + 0.05**2))


def test_another_face_that_may_be_the_end_is_said_and_held(edges):
    """By hand: of two places with probabilities p and 1 - p the standard deviation is their distance times
    the root of p (1 - p)."""
    sure = edges((OUTER, 140.0), both=False)
    face = replace(sure.ends.end_face, rival=Rival(3.0, 0.2))
    unsure = replace(sure, ends=EndsSeen(face))
    assert unsure.face_u() == pytest.approx(np.hypot(sure.face_u(), 3.0 * 0.4))
    warned = height_figures(hub(face=replace(FACE, rival=Rival(-3.0, 0.2))))["over_locknut"].warnings
    assert any("3.0 mm below it" in warning for warning in warned)
    assert not height_figures(hub())["over_locknut"].warnings


def test_an_edge_that_may_be_a_tube_s_is_hardly_trusted(edges):
    lone = edges((INNER, 140.0), both=False)
    assert height(lone) == pytest.approx(140.0 + INNER_EDGE_MM.mean, abs=0.01)
    assert lone.face_u() == pytest.approx(np.sqrt((FEWER * INNER_EDGE_MM.sigma) ** 2 + 0.05**2 + 0.5**2))


def test_other_cameras_see_the_face_at_another_height(edges):
    standing = edges((OUTER, 140.0), both=False)
    moved = standing.solution.x.copy()
    moved[standing.solution.layout["photo1"].start + 6 : standing.solution.layout["photo1"].start + 8] += 2.0
    assert standing.face(standing.solution.x) != pytest.approx(standing.face(moved), abs=0.1)
    assert standing.face(standing.solution.x) == height(standing), "what was worked out is kept"


# ---- the flange's middle from its witnesses


EDGES, GAUGE = 95.0, 91.0
UNDERSIDE = Underside(np.linspace(-10.0, -5.0, 26), np.exp(-0.5 * (np.linspace(-10.0, -5.0, 26) + 7.4) ** 2))


def middle_of(radial, underside):
    bores = [Bore(GAUGE, 0.02)]
    return radial_middle(bores, EDGES, underside) if radial else paired_middle(bores, EDGES, underside, None)


@pytest.mark.parametrize("radial", [True, False])
@pytest.mark.parametrize("underside", [None, UNDERSIDE])
def test_the_middle_is_weighed_from_all_that_was_seen(radial, underside):
    layout = Layout()
    where = layout.add("pattern", 7)
    x = np.zeros(7)
    x[where.start + 2] = EDGES
    ends = EndsSeen(underside=underside)
    standing = Upright(
        SimpleNamespace(layout=layout, x=x), ["pattern"], 2, radial, lambda _: [GAUGE], [0.02], ends, 0.0
    )
    expected = middle_of(radial, underside)
    assert standing.middle(x) == expected
    assert expected != middle_of(radial, UNDERSIDE if underside is None else None), "lower edges count"
    x[where.start + 2] += 1.0
    assert standing.middle(x) != expected, "other unknowns have another middle"
