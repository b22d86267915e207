"""The bench card: what is on it, its documents, and that it is one page of A4 and of Letter."""

import io
import itertools
import json

import numpy as np
import pypdfium2
import pytest
from typer.testing import CliRunner

from browser import PAPERS_CM, needs_browser, open_browser, print_to_pdf, set_width, sideways_overflow
from hostile import HOSTILE
from hubsight.cli import app

BY_HAND = """\
[sides.drive.caliper]
flange_diameter = 47.1
spoke_offset = 1.9
centre_to_flange = 18.9
[sides.non_drive.caliper]
flange_diameter = 43.4
spoke_offset = 2.4
centre_to_flange = 33.5
[rim]
erd = { value = 596.2, u = 0.2 }
[wheel]
spokes = 24
crosses = 2
"""
TWO_TO_ONE = """\
[sides.drive]
stagger = 1.3
first_hole = 0
[sides.drive.caliper]
flange_diameter = 47.1
spoke_offset = 1.9
centre_to_flange = 18.9
[sides.non_drive]
kind = "radial"
crosses = 0
[sides.non_drive.caliper]
flange_diameter = 43.4
spoke_offset = 2.4
centre_to_flange = 33.5
[rim]
erd = [596.2, 596.4, 596.1]
holes = "DND"
[wheel]
spokes = 24
crosses = 2
tension = 1100
"""
SHEET_MM = 186.0


@pytest.fixture
def run(monkeypatch, tmp_path):
    monkeypatch.setenv("COLUMNS", "80")
    return lambda *arguments: CliRunner().invoke(app, [str(argument) for argument in arguments])


@pytest.fixture
def job(tmp_path):
    def write(text=BY_HAND):
        folder = tmp_path / "wheel"
        folder.mkdir(exist_ok=True)
        (folder / "job.toml").write_text(text)
        return folder

    return write


def page_of(run, folder):
    result = run("card", folder)
    assert result.exit_code == 0, result.output
    return (folder / "card.html").read_text(encoding="utf-8")


def test_the_card_says_what_the_bench_needs(run, job):
    page = page_of(run, job())
    for part in (
        "Drive side: 12 of 296 mm, wire 2.0 mm",
        "12 spokes, 6 bosses, 2 crosses",
        "leading to hole",
        "drive side 1000 N (102 kgf)",
        "A usual tension: the makers&#39; limits count, not this",
        "the slot&#39;s bottom",
        "outbound",
        "Wear eye protection",
    ):
        assert part in page
    assert page.count('class="scale"') == 24
    assert page.count('class="lacing"') == 2
    assert "Nm" not in page  # no torque of anything that is not known
    assert "<script" not in page
    assert "http://www.w3.org/2000/svg" in page.replace("https", "")
    assert "src=" not in page


def test_the_document_is_the_card(run, job):
    card = json.loads(run("card", job(), "--json").stdout)
    assert sorted(spoke["hole"] for spoke in card["spokes"]) == list(range(1, 25))
    lengths = json.loads(run("lengths", job(), "--json", "--no-record").stdout)
    for side, of_card in zip(lengths["sides"], card["sides"], strict=True):
        order = side["spoke_lengths"]["order"]
        assert of_card["end"] == pytest.approx(order["choices"][0]["proposed"]["end"], abs=1e-9)
        assert of_card["tension"] == order["tension"]
    assert card["tension_ratio"] == lengths["wheel"]["tension_ratio"]
    assert card["window"] == lengths["sides"][0]["spoke_lengths"]["order"]["window"]


def test_the_screen_shows_it_in_80_columns(run, job):
    said = run("card", job(), "--screen").stdout
    assert "hole 1: trailing, from 2" in said
    assert max(map(len, said.splitlines())) <= 80


def test_noted_ends_are_on_the_card(run, job):
    folder = job(BY_HAND + "[built.drive]\nlength = 294\nends = [-0.5, 0.3]\nholes = [3, 1]\n")
    card = json.loads(run("card", folder, "--json").stdout)
    noted = {spoke["hole"]: spoke["noted"] for spoke in card["spokes"] if spoke["noted"] is not None}
    assert noted == {1: 0.3, 3: -0.5}
    assert page_of(run, folder).count('class="noted"') == 2
    drive, _ = card["sides"]
    plain = json.loads(run("card", job(), "--json").stdout)["sides"][0]
    assert drive["end"] == pytest.approx(plain["end"] - 2.0)  # 294 instead of 296 mm
    assert "as built" in drive["spokes"][0]


def test_holes_that_do_not_go_with_the_ends_are_refused(run, job):
    result = run("card", job(BY_HAND + "[built.drive]\nends = [-0.5, 0.3]\nholes = [3]\n"))
    assert result.exit_code == 2
    assert "holes do not go with ends" in " ".join(result.stderr.split())


def test_a_two_to_one_wheel_has_its_card(run, job):
    page = page_of(run, job(TWO_TO_ONE))
    assert "8 spokes, 8 radial bores, radial" in page
    assert "do not touch, and are not woven" in page
    assert "A usual tension" not in page
    card = json.loads(run("card", job(TWO_TO_ONE), "--json").stdout)
    drive = [s["hole"] for s in card["spokes"] if s["side"] == "drive"]
    assert len(drive) == 16
    assert {(b - a) for a, b in itertools.pairwise(drive)} == {1, 2}


def test_where_the_verdict_is_to_stop_there_is_no_card(run, job):
    apart = BY_HAND.replace("spoke_offset = 1.9", "spoke_offset = 1.9\nreach = 90.0\nprotrusion = 93.0")
    wrong = run("card", job(apart.replace("crosses = 2", "crosses = 4")))
    assert wrong.exit_code == 2
    assert "there is no bench card" in " ".join(wrong.stderr.split())


def test_what_people_wrote_is_escaped(run, job):
    page = page_of(run, job(BY_HAND + f"[label]\nhub = '''{HOSTILE}'''\n"))
    assert HOSTILE not in page


@pytest.fixture
def card_in(run, job):
    """Write a job's card, and return its file."""

    def write(text):
        folder = job(text)
        page_of(run, folder)
        return folder / "card.html"

    return write


@pytest.fixture(scope="module")
def browser():
    with open_browser() as driver:
        yield driver


def ink(page):
    """Columns of a printed page in which the line below its head runs, mm from the left."""
    grey = np.asarray(page.render(scale=200 / 72).to_pil().convert("L"))
    dark = grey < 100
    row = int(np.argmax(dark.sum(axis=1)))
    (columns,) = np.nonzero(dark[row])
    return columns[0] / 200 * 25.4, columns[-1] / 200 * 25.4


@needs_browser
@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("wheel", [(20, 1), (24, 2), (36, 3), (48, 3)])
def test_it_prints_on_one_page_at_its_true_size(card_in, browser, paper, wheel):
    spokes, crosses = wheel
    text = BY_HAND.replace("spokes = 24", f"spokes = {spokes}").replace("crosses = 2", f"crosses = {crosses}")
    text = text.replace("47.1", "60.1").replace("43.4", "58.3")
    browser.get(card_in(text).as_uri())
    document = pypdfium2.PdfDocument(io.BytesIO(print_to_pdf(browser, paper)))
    assert len(document) == 1
    left, right = ink(document[0])
    assert right - left == pytest.approx(SHEET_MM, abs=0.4)
    assert left == pytest.approx((10.0 * PAPERS_CM[paper][0] - SHEET_MM) / 2.0, abs=1.0)


@needs_browser
@pytest.mark.parametrize("width", [320, 390, 768, 1366])
def test_it_reads_on_every_screen(card_in, browser, width):
    set_width(browser, width)
    browser.get(card_in(BY_HAND).as_uri())
    assert sideways_overflow(browser) <= 0
