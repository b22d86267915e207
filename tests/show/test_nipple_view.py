"""Lengths as a picture: each end where it comes to lie, in scale with the window and the slot's bottom."""

from xml.etree import ElementTree as ET

import pytest

from hubsight.model.lengths import LengthChoice, SideOrder, StockRisk
from hubsight.show.nipple_view import nipple_view
from hubsight.show.view import percent

SVG = "{http://www.w3.org/2000/svg}"
ENDS = {294.0: -0.96, 295.0: 0.04, 296.0: 1.04}


def choice():
    candidates = tuple(
        StockRisk(length=length, end=end, p_too_short=0.7 if end < -0.5 else 0.0, p_too_long=0.1)
        for length, end in ENDS.items()
    )
    return LengthChoice(
        count=12,
        proposed=candidates[1],
        rounded_up=candidates[2],
        candidates=candidates,
        sampled_too_short=0.0,
        sampled_too_long=0.0,
        p_other=0.0,
        close_call=False,
        u_end=0.25,
    )


def order():
    return SideOrder(
        proposed=295.0,
        p_too_short=0.0,
        p_too_long=0.0,
        close_call=False,
        choices=(choice(),),
        window=(-1.0, 1.5),
        tension=1000.0,
        bracing_angle=4.0,
        stretch=0.5,
        sits=0.6,
        in_wheel=295.5,
    )


def drawn():
    return ET.fromstring(str(nipple_view(order(), choice())))


def lines(root, kind):
    return [line for line in root.iter(f"{SVG}line") if line.get("class") == kind]


def test_the_ends_lie_in_scale_with_the_window():
    root = drawn()
    (window,) = [box for box in root.iter(f"{SVG}rect") if box.get("class") == "window"]
    low, per_mm = float(window.get("x")), float(window.get("width")) / 2.5
    (bottom,) = lines(root, "slot")
    zero = float(bottom.get("x1"))
    assert zero - low == pytest.approx(1.0 * per_mm, abs=0.2)
    at = [float(line.get("x1")) for line in lines(root, "end")]
    assert at == pytest.approx([zero + end * per_mm for end in ENDS.values()], abs=0.2)
    spokes = [box for box in root.iter(f"{SVG}rect") if "spoke" in box.get("class")]
    ends = [float(box.get("x")) + float(box.get("width")) for box in spokes]
    assert ends == pytest.approx(at, abs=0.2)


def test_the_spread_is_the_95_percent_interval_of_the_end():
    root = drawn()
    flat = [line for line in lines(root, "spread") if line.get("y1") == line.get("y2")]
    (window,) = [box for box in root.iter(f"{SVG}rect") if box.get("class") == "window"]
    per_mm = float(window.get("width")) / 2.5
    wide = float(flat[0].get("x2")) - float(flat[0].get("x1"))
    assert wide == pytest.approx(2 * 1.96 * 0.25 * per_mm, abs=0.3)


def test_the_proposed_length_is_told_apart_by_more_than_its_colour():
    words = [text.text for text in drawn().iter(f"{SVG}text")]
    assert "▶ 295 mm" in words
    assert words.count("proposed") == 1
    assert words.count("rounded up") == 1
    assert "too short 70.0 %" in words
    assert "too short under 0.1 %" in words


@pytest.mark.parametrize(
    ("share", "words"), [(0.0, "under 0.1 %"), (0.0234, "2.3 %"), (0.9999, "over 99.9 %")]
)
def test_a_computed_probability_is_never_certain(share, words):
    assert percent(share) == words
