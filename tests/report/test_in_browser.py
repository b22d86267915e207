"""The report in a real browser: quiet, nowhere too wide, and on paper as expected."""

import io

import pypdfium2
import pytest

from browser import PAPERS_CM, needs_browser, open_browser, print_to_pdf, set_width, sideways_overflow

pytestmark = needs_browser

WIDTHS = (320, 360, 390, 768, 1366)
"""Phones, a tablet and a laptop, CSS pixels."""

SECTIONS = (
    "Drive side",
    "Non-drive side",
    "Uncertainty budgets",
    "What was seen",
    "Where the figures come from",
)
"""Each begins on a page of its own, after the first page."""


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
    assert len(pictures) == 4


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


def first_page(lines, heading):
    """Number of the first page whose first line is a heading; None where none is."""
    wanted = "".join(heading.split())
    return lines.index(wanted) if wanted in lines else None


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
    assert [first_page(begins, heading) for heading in SECTIONS] == [2, 3, 4, 6, 8]
    assert len(texts) == 9  # verdict with order, budgets and photos take two each
    assert "Verdict" in texts[0]
    assert "To order" in texts[0]
    assert "Cautions" in texts[0] + texts[1]


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
    assert photos == 4
