"""The drawings of how to prepare: true to the target, to the instructions, and readable."""

from __future__ import annotations

import itertools
import re

import numpy as np
import pypdfium2
import pytest

from hubsight.show.prepare.card import STEPS, draw_card
from hubsight.show.prepare.pictures import _TOP, SIZE, guide, places
from hubsight.show.prepare.scene import HUB, crossing, gauge_end, sheet
from hubsight.show.prepare.shapes import GREYS
from hubsight.target.draw import write_target
from hubsight.target.geometry import STATION_MM, target_geometry

PAPERS = ("a4", "letter", "a3")


@pytest.mark.parametrize("paper", PAPERS)
def test_the_drawn_sheet_is_the_target(paper):
    """Seen from straight above, in true size, every square and tick lies where it is printed."""
    geometry = target_geometry(paper)
    shapes = list(sheet(_TOP, geometry))
    page = np.array(shapes[0].points)
    assert np.ptp(page, axis=0) == pytest.approx(geometry.page, abs=0.1)
    dark = [np.array(s.points) for s in shapes if s.kind == "dark"]
    assert len(dark) == len(geometry.dark_squares)
    assert all(np.ptp(square, axis=0) == pytest.approx([geometry.square] * 2, abs=0.1) for square in dark)
    ticks = [np.array(s.points).mean(axis=0) for s in shapes if s.kind == "thin"]
    bar = [tick for tick in ticks if abs(tick[1] - geometry.check_bars[0].ticks.mean(axis=(0, 1))[1]) < 0.1]
    assert np.ptp([tick[0] for tick in bar]) == pytest.approx(geometry.check_bars[0].nominal, abs=0.1)


def test_the_hub_stands_where_the_target_says_and_the_gauge_points_to_the_right():
    along = gauge_end() - crossing()
    assert along[0] == pytest.approx(100.0)
    assert abs(along[1]) < 1e-9
    assert np.hypot(*(crossing()[:2] - STATION_MM)) == pytest.approx(23.5)
    starts = [start for start, _, _ in HUB.sections]
    assert starts == sorted(starts)
    assert starts[0] == 0.0
    assert starts[-1] < HUB.top
    assert gauge_end()[2] < crossing()[2], "a gauge leans towards the rim"


def test_the_phone_is_held_as_the_instructions_say():
    """One from almost straight above the gauge's far end, four leaning 15 to 30 degrees, 30 to 50 cm off."""
    shots = places()
    assert len(shots) == 5
    for number, (place, aim) in enumerate(shots):
        away = place - aim
        far, lean = np.linalg.norm(away), np.degrees(np.arccos(away[2] / np.linalg.norm(away)))
        assert 300 <= far <= 500
        assert (lean < 8) if number == 0 else (15 <= lean <= 30)
    first = shots[0][0][:2]
    assert np.linalg.norm(first - gauge_end()[:2]) < np.linalg.norm(first - STATION_MM)
    turns = sorted(np.degrees(np.arctan2(*(p - a)[1::-1])) for p, a in shots[1:])
    assert np.diff(turns) == pytest.approx([90.0] * 3)


@pytest.mark.parametrize("number", range(4))
@pytest.mark.parametrize("paper", PAPERS)
def test_words_lie_in_the_drawing_and_over_no_others(number, paper):
    drawing = guide(paper)[number]
    for words in drawing.words:
        left, bottom, right, top = words.box
        assert left >= -4.0
        assert right <= SIZE[0] + 4.0
        assert bottom >= 0.0
        assert top <= SIZE[1]
    for one, other in itertools.combinations(drawing.words, 2):
        a, b = one.box, other.box
        apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
        assert apart, (one.text, other.text)


def test_what_touches_is_told_apart_without_colour():
    for one, other in (
        ("dark", "paper"),
        ("dark", "mid"),
        ("mid", "paper"),
        ("metal", "metal-light"),
        ("metal", "wire"),
    ):
        assert abs(GREYS[one][0] - GREYS[other][0]) > 0.12, (one, other)


def test_each_drawing_says_what_it_shows():
    for drawing in guide():
        svg = str(drawing.svg())
        assert re.search(r'role="img".*<title>.+</title><desc>.{40,}</desc>', svg)
        assert "style=" not in svg, "a page's policy allows no styles in the text"


@pytest.mark.parametrize("paper", PAPERS)
def test_the_card_is_the_targets_second_page(tmp_path, paper):
    with pypdfium2.PdfDocument(write_target(tmp_path / "t.pdf", paper, draw_card)) as document:
        assert len(document) == 2
        assert document[0].get_size() == document[1].get_size()
        said = document[1].get_textpage().get_text_bounded()
        for title, sentences in STEPS:
            assert title.split("  ")[1] in said
            assert all(sentence in said for sentence in sentences)
        rows = np.asarray(document[1].render(scale=0.5).to_pil().convert("L"))
        margin = 8
        assert rows[:margin].min() > 240
        assert rows[-margin:].min() > 240
        assert rows[:, :margin].min() > 240
        assert rows[:, -margin:].min() > 240
    plain = write_target(tmp_path / "plain.pdf", paper)
    with pypdfium2.PdfDocument(plain) as document:
        assert len(document) == 1
