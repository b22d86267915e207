"""The report in a real browser: quiet, nowhere too wide, and on paper as expected."""

import io

import numpy as np
import pypdfium2
import pytest

from browser import PAPERS_CM, needs_browser, open_browser, print_to_pdf, set_width, sideways_overflow
from hubsight.report import render_order

pytestmark = needs_browser

WIDTHS = (320, 360, 390, 768, 1366)
"""Phones, a tablet and a laptop, CSS pixels."""

LEAST_FILLED = 0.55
"""Of a page's height, but for the last one: what moves to the next page never leaves half a page blank."""


@pytest.fixture(scope="module")
def browser():
    with open_browser() as driver:
        yield driver


def show(browser, text, folder):
    file = folder / "page.html"
    file.write_text(text, encoding="utf-8")
    browser.get_log("browser")  # what an earlier page said
    browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
    browser.get(file.as_uri())


def test_the_console_is_quiet_and_nothing_is_fetched(browser, page, tmp_path):
    show(browser, page, tmp_path)
    assert browser.get_log("browser") == []
    fetched = browser.execute_script("return performance.getEntriesByType('resource').map(e => e.name)")
    assert [name for name in fetched if not name.startswith("data:")] == []
    pictures = browser.execute_script("return [...document.images].map(i => i.complete && i.naturalWidth)")
    assert all(pictures)
    assert len(pictures) == 4 + 12


def test_the_check_of_the_console_can_fail(browser, tmp_path):
    show(
        browser, "<!DOCTYPE html><img src='nothing-here.png'><script>throw new Error('a')</script>", tmp_path
    )
    assert len(browser.get_log("browser")) >= 2


@pytest.mark.parametrize("width", WIDTHS)
def test_nothing_is_wider_than_the_window(browser, page, tmp_path, width):
    show(browser, page, tmp_path)
    set_width(browser, width)
    assert sideways_overflow(browser) == 0


def test_the_check_of_the_width_can_fail(browser, tmp_path):
    show(browser, "<!DOCTYPE html><div style='width: 900px'>wide</div>", tmp_path)
    set_width(browser, 360)
    assert sideways_overflow(browser) > 500


def test_hostile_words_do_nothing_and_fit(browser, hostile, tmp_path):
    show(browser, hostile, tmp_path)
    assert browser.get_log("browser") == []
    set_width(browser, 360)
    assert sideways_overflow(browser) == 0
    assert browser.execute_script("return document.scripts.length") == 0


def text_of(page):
    return page.get_textpage().get_text_range().strip()


def filled(sheet):
    """Share of a page's height down to the last thing printed on it."""
    rows = np.asarray(sheet.render(scale=0.5).to_pil().convert("L")).min(axis=1)
    return (np.flatnonzero(rows < 200).max() + 1) / len(rows)


@pytest.mark.parametrize("paper", PAPERS_CM)
def test_it_prints_with_the_expected_pages(browser, page, tmp_path, paper):
    show(browser, page, tmp_path)
    pdf = pypdfium2.PdfDocument(io.BytesIO(print_to_pdf(browser, paper)))
    points = [cm / 2.54 * 72 for cm in PAPERS_CM[paper]]
    texts = []
    for sheet in pdf:
        assert sheet.get_size() == pytest.approx(points, abs=1.0)
        texts.append(text_of(sheet))
    # Letters of one word may lie apart in a PDF: compare without spaces.
    begins = ["".join(text.splitlines()[0].split()) for text in texts]
    assert begins[0].startswith("job")
    assert all(share > LEAST_FILLED for share in list(map(filled, pdf))[:-1])
    assert len(texts) <= 8
    assert "Verdict" in texts[0]
    assert "To order" in texts[0]
    assert "Cautions" in texts[0] + texts[1]


@pytest.mark.parametrize("paper", PAPERS_CM)
def test_the_order_sheet_is_one_sheet(browser, record, tmp_path, paper):
    show(browser, render_order(record), tmp_path)
    assert browser.get_log("browser") == []
    assert len(pypdfium2.PdfDocument(io.BytesIO(print_to_pdf(browser, paper)))) == 1
    for width in WIDTHS:
        set_width(browser, width)
        assert sideways_overflow(browser) == 0


def test_no_label_lies_over_a_drawing(browser, page, tmp_path):
    """The words of the dimensions keep clear of bosses, gauge and flange, and of each other."""
    show(browser, page, tmp_path)
    over = browser.execute_script("""
        const meet = (a, b) => a.left < b.right - 0.5 && b.left < a.right - 0.5
            && a.top < b.bottom - 0.5 && b.top < a.bottom - 0.5;
        const found = [];
        for (const svg of document.querySelectorAll('svg.drawing')) {
          const words = [...svg.querySelectorAll('text')];
          const things = [...svg.querySelectorAll('.part, .wire'), ...words];
          for (const w of words) for (const t of things)
            if (w !== t && meet(w.getBoundingClientRect(), t.getBoundingClientRect()))
              found.push(`${w.textContent} | ${t.tagName} ${t.textContent}`);
        }
        return found;
    """)
    assert over == []


def test_on_paper_the_photos_are_whole(browser, page, tmp_path):
    show(browser, page, tmp_path)
    pdf = pypdfium2.PdfDocument(io.BytesIO(print_to_pdf(browser, "letter")))
    photos = 0
    for sheet in pdf:
        width, height = sheet.get_size()
        for item in sheet.get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_IMAGE]):
            left, bottom, right, top = item.get_bounds()
            assert left >= 0
            assert bottom >= 0
            assert right <= width
            assert top <= height
            photos += 1
    assert photos == 4 + 12
