"""Plots show the numbers that they are given, checked on what was drawn and not on pixels."""

import math

import numpy as np
import pytest

pytest.importorskip("matplotlib")

import matplotlib.pyplot as plt
from matplotlib.colors import to_rgb

from hubsight import plot
from hubsight.model.agreement import Agreement, Opinion, PhotosAgree
from hubsight.model.figure import BudgetItem
from hubsight.model.lengths import Origin
from hubsight.model.side import SaddleEvidence
from hubsight.model.stated import Reading
from hubsight.wheel.geometry import RimGeometry, SideGeometry
from hubsight.wheel.lay_out import length_figure, side_lengths
from hubsight.wheel.order import Build, plan_wheel
from made_up import make_evidence, make_figure, make_side


@pytest.fixture(autouse=True)
def closed():
    yield
    plt.close("all")


def lines(ax):
    return {line.get_label(): line for line in ax.get_lines()}


def is_grey(colour):
    return len(set(to_rgb(colour))) == 1


SHARES = (BudgetItem(source="seating", u=0.03), BudgetItem(source="print scale", u=0.04))


@pytest.fixture
def order():
    side = SideGeometry("drive", "paired", 6, 2, Reading(47, 0.1), Reading(19, 0.1), Reading(2.2, 0.1))
    rim = RimGeometry(Reading(596, 0.2), 24)
    plan = plan_wheel([side], rim, Build())
    origin = Origin(kind="paired", bosses=6, crosses=2, crosses_stated=True, figures=())
    return side_lengths(plan.sides[0], plan, origin, length_figure).order


def test_a_budget_shows_the_whole_and_every_share_the_largest_first():
    figure = make_figure(2.2, math.hypot(0.03, 0.04), budget=SHARES)
    ax = plot.plot_budget(figure, title="spoke offset")
    assert [bar.get_width() for bar in ax.patches] == pytest.approx([0.05, 0.04, 0.03])
    assert [t.get_text() for t in ax.get_yticklabels()] == ["all together", "print scale", "seating"]
    assert ax.get_title() == "spoke offset: 2.20 mm"
    assert ax.yaxis_inverted(), "the whole is on top"


def test_what_was_seen_lies_where_it_was_seen():
    photo = make_evidence("a.jpg")
    ax = plot.plot_photo(photo)
    drawn = lines(ax)
    assert drawn["gauge"].get_xydata().tolist() == [list(p) for p in photo.gauges[0]]
    assert drawn["gauge's end"].get_xydata().tolist() == [[330.0, 130.0]]
    assert drawn["head seat"].get_xydata().tolist() == [[180.0, 120.0]]
    assert drawn["crossing point"].get_xydata().tolist() == [[190.0, 121.0]]
    assert drawn["hub axis"].get_xydata().tolist() == [[185.0, 180.0]]
    assert drawn["corners of the target"].get_xydata().tolist() == [[40.0, 50.0]]
    assert drawn["corners left out"].get_xydata().tolist() == [[360.0, 250.0]]
    bosses = drawn["bosses"].get_xydata()
    assert bosses[0].tolist() == bosses[-1].tolist() == [170.0, 110.0], "an outline is closed"
    assert ax.get_xlim() == (-0.5, 399.5)
    assert ax.get_ylim() == (299.5, -0.5), "rows go downwards"


def test_the_end_is_drawn_where_an_eye_sees_it():
    ax = plot.plot_photo(make_evidence("a.jpg", gauge_end_outlines=((331.0, 129.0),)))
    assert lines(ax)["gauge's end"].get_xydata().tolist() == [[331.0, 129.0]]


def test_the_picture_lies_under_the_drawing_pixel_upon_pixel():
    picture = np.zeros((300, 400), np.uint8)
    ax = plot.plot_photo(make_evidence("a.jpg"), picture)
    assert ax.images[0].get_extent() == [-0.5, 399.5, 299.5, -0.5]


def test_a_picture_of_another_size_is_an_error():
    with pytest.raises(ValueError, match=r"a\.jpg has 400 x 300 pixels, the picture 300 x 400"):
        plot.plot_photo(make_evidence("a.jpg"), np.zeros((400, 300), np.uint8))


def saddles(*residuals, used=True):
    return tuple(
        SaddleEvidence(pixel=(10.0 * k, 20.0 * k), residual=r, used=used) for k, r in enumerate(residuals)
    )


def test_residuals_are_arrows_from_where_the_corners_are():
    photo = make_evidence("a.jpg", saddles=saddles((0.3, -0.4), (0.0, 0.5)) + saddles((3.0, 4.0), used=False))
    ax = plot.plot_sheet_residuals(photo, magnified=100.0)
    (arrows,) = (c for c in ax.collections if hasattr(c, "U"))
    assert arrows.get_offsets().tolist() == [[0.0, 0.0], [10.0, 20.0]]
    assert arrows.U.tolist() == pytest.approx([30.0, 0.0])
    assert arrows.V.tolist() == pytest.approx([-40.0, 50.0])
    assert (arrows.angles, arrows.scale_units, arrows.scale) == ("xy", "xy", 1.0)
    assert "2 corners, rms 0.500 px, x 100" in ax.get_title()
    assert len(lines(ax)["left out"].get_xdata()) == 1


def test_without_a_magnification_a_typical_arrow_is_easily_seen():
    photo = make_evidence("a.jpg", saddles=saddles((0.03, 0.04), (0.0, 0.05), (0.05, 0.0)))
    (arrows,) = (c for c in plot.plot_sheet_residuals(photo).collections if hasattr(c, "U"))
    assert np.median(np.hypot(arrows.U, arrows.V)) == pytest.approx(0.04 * 400)


def agreeing(feature, figures, *opinions):
    return Agreement(feature=feature, words=feature, figures=figures, opinions=opinions, chi2=1.0, freedom=1)


@pytest.fixture
def side():
    """A side whose gauge's end one of three photos shows elsewhere."""
    end = agreeing(
        "gauge_end",
        ("spoke_offset", "reach"),
        Opinion(photo="a.jpg", value=0.02, u=0.05),
        Opinion(photo="b.jpg", value=0.9, u=0.05, odd=True),
        Opinion(photo="c.jpg", value=-0.04, u=0.1, by_hand=True),
    )
    bosses = agreeing(
        "bosses",
        ("spoke_offset",),
        *(Opinion(boss=boss, value=value, u=0.05) for boss, value in enumerate((0.01, -0.01))),
    )
    tip = agreeing("tip", ("spoke_offset",), *(Opinion(photo="a.jpg", value=1.0, u=0.15),) * 2)
    return make_side(agreement=PhotosAgree(features=(end, bosses, tip)))


def bars(ax):
    """Every point with its interval, by what it is called."""
    return {c.get_label(): c for c in ax.containers if hasattr(c, "has_xerr") and c.has_xerr}


def test_agreement_has_a_row_for_each_feature_and_a_point_for_each_opinion(side):
    ax = plot.plot_agreement(side)
    drawn = bars(ax)
    assert {name: bar.lines[0].get_xdata()[0] for name, bar in drawn.items()} == {
        "_a.jpg": 0.02,
        "_b.jpg": 0.9,
        "_c.jpg": -0.04,
        "_boss 1": 0.01,
        "_boss 2": -0.01,
    }
    rows = {name: round(bar.lines[0].get_ydata()[0]) for name, bar in drawn.items()}
    assert rows == {"_a.jpg": 0, "_b.jpg": 0, "_c.jpg": 0, "_boss 1": 1, "_boss 2": 1}
    left, right = drawn["_c.jpg"].lines[2][0].get_segments()[0][:, 0]
    assert (left, right) == pytest.approx((-0.04 - 0.196, -0.04 + 0.196), abs=1e-4)
    assert [t.get_text() for t in ax.get_yticklabels()] == ["gauge_end", "bosses, each boss"]


def test_the_odd_one_is_hollow_and_named_and_a_mark_by_hand_is_square(side):
    ax = plot.plot_agreement(side)
    points = {name: bar.lines[0] for name, bar in bars(ax).items()}
    hollow = [name for name, point in points.items() if to_rgb(point.get_markerfacecolor()) == (1, 1, 1)]
    assert hollow == ["_b.jpg"]
    assert [t.get_text() for t in ax.texts] == ["b.jpg"]
    assert [name for name, point in points.items() if point.get_marker() == "s"] == ["_c.jpg"]


def test_agreement_shows_what_the_figure_hangs_on_alone(side):
    ax = plot.plot_agreement(side, figure="reach")
    assert [t.get_text() for t in ax.get_yticklabels()] == ["gauge_end"]
    assert ax.get_title().startswith("reach: ")


def test_every_stock_length_has_its_end_and_the_proposed_one_stands_out(order):
    ax = plot.plot_spoke_end(order)
    choice = order.choices[0]
    rows = list(bars(ax).values())
    assert [c.lines[0].get_xdata()[0] for c in rows] == [risk.end for risk in choice.candidates]
    spans = [c.lines[2][0].get_segments()[0][:, 0] for c in rows]
    assert spans[0] == pytest.approx(
        choice.candidates[0].end + 1.96 * choice.u_end * np.array([-1, 1]), abs=1e-3
    )
    proposed = [c.get_label() for c in rows].index("proposed")
    assert choice.candidates[proposed].length == choice.proposed.length
    assert [t.get_text() for t in ax.get_yticklabels()][proposed] == f"{choice.proposed.length:g} mm"
    band = next(p for p in ax.patches if p.get_label() == "nipple's window")
    assert (band.get_x(), band.get_x() + band.get_width()) == pytest.approx(order.window)
    risk = choice.candidates[proposed]
    said = f"too short {100 * risk.p_too_short:.0f} %, too long {100 * risk.p_too_long:.0f} %"
    assert said in [t.get_text() for t in ax.texts]


def test_plots_draw_on_given_axes_and_read_in_grey(order, side):
    figure = make_figure(2.2, 0.05, budget=SHARES)
    photo = make_evidence("a.jpg")
    for draw in (
        lambda ax: plot.plot_budget(figure, ax=ax),
        lambda ax: plot.plot_photo(photo, ax=ax),
        lambda ax: plot.plot_sheet_residuals(photo, ax=ax),
        lambda ax: plot.plot_agreement(side, ax=ax),
        lambda ax: plot.plot_spoke_end(order, ax=ax),
    ):
        canvas, ax = plt.subplots()
        assert draw(ax) is ax
        assert all(is_grey(line.get_color()) for line in ax.get_lines())
        assert all(is_grey(patch.get_facecolor()) for patch in ax.patches)
        canvas.canvas.draw()
