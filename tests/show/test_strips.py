"""Strips of agreement and bars of budgets: what is drawn is what each photo says."""

from xml.etree import ElementTree as ET

import pytest

from hubsight.model.agreement import Agreement, Opinion, PhotosAgree, WithoutPhoto
from hubsight.model.figure import BudgetItem
from hubsight.model.result import MeasuredSide
from hubsight.show.budgets import SHOWN_SHARES, side_budgets
from hubsight.show.strips import FRAME, Strip, StripRow, side_strips
from made_up import make_figure, make_side

SVG = "{http://www.w3.org/2000/svg}"


def opinions(*values):
    return tuple(Opinion(photo=f"IMG_{k}.jpg", value=v, u=0.05, odd=v > 0.3) for k, v in enumerate(values))


def agreement(feature, *values):
    return Agreement(feature=feature, words="the gauge's end", opinions=opinions(*values), chi2=1, freedom=2)


def test_the_strips_name_every_photo_and_those_that_stand_out_come_first():
    agree = PhotosAgree(
        features=(agreement("gauge_axis", 0.0, 0.01), agreement("gauge_end", 0.0, 0.5)),
        without=tuple(
            WithoutPhoto(
                figure="spoke_offset", photo=f"IMG_{k}.jpg", value=2.2, moved=0.01 * k, expected=0.02
            )
            for k in range(2)
        ),
    )
    strips = side_strips(make_side(agreement=agree))
    assert [strip.odd for strip in strips] == [True, False, False]
    assert [row.label for row in strips[0].rows] == ["IMG_0", "IMG_1"]
    assert strips[1].title == "spoke offset, without each photo"
    assert "0 is 2.20 mm" in strips[1].said
    assert [row.value for row in strips[1].rows] == [0.0, 0.01]


def test_a_dot_lies_where_its_photo_puts_it():
    strip = Strip("t", "s", (StripRow("a", -0.2, 0.05), StripRow("b", 0.4, 0.05, odd=True)))
    root = ET.fromstring(str(strip.svg()))
    (dot,) = root.iter(f"{SVG}circle")
    middle, half = FRAME.x(0.5), FRAME.x(1.0) - FRAME.x(0.5)
    reach = (0.4 + 1.96 * 0.05) * 1.1
    assert float(dot.get("cx")) == pytest.approx(middle - 0.2 / reach * half, abs=0.1)
    whiskers = [line for line in root.iter(f"{SVG}line") if "whisker" in line.get("class")]
    length = float(whiskers[0].get("x2")) - float(whiskers[0].get("x1"))
    assert length == pytest.approx(2 * 1.96 * 0.05 / reach * half, abs=0.2)
    assert [path.get("class") for path in root.iter(f"{SVG}path")] == ["odd"]
    assert "! b" in [text.text for text in root.iter(f"{SVG}text")]
    assert "b +0.40 mm (odd)" in root.find(f"{SVG}desc").text


def test_a_budget_names_the_largest_and_takes_the_rest_together():
    items = tuple(BudgetItem(source=name, u=0.01 * k) for k, name in enumerate("abcdefghi", start=1))
    side = make_side(figures={"spoke_offset": make_figure(2.2, 0.17, budget=items)})
    (budget,) = side_budgets(MeasuredSide(name="drive", measurement=side))
    assert [share.source for share in budget.shares][:2] == ["i", "h"]
    assert len(budget.shares) == SHOWN_SHARES + 1
    assert budget.shares[-1].u == pytest.approx((0.01**2 + 0.02**2 + 0.03**2) ** 0.5)
    assert budget.shares[0].width == pytest.approx(0.09 / 0.17)
