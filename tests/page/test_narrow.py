"""Narrow windows: a telephone, and a laptop enlarged twice and four times, which leaves as little room."""

from __future__ import annotations

import shutil

import pytest

pytest.importorskip("selenium")

from browser import needs_browser, set_width, sideways_overflow
from hubsight.job.file.edit import new_job

from .person import STEPS

pytestmark = needs_browser

LAPTOP = (1280, 900)


@pytest.fixture
def narrow(page):
    """The page in a window of another size; afterwards as it was."""
    yield lambda width, height: set_width(page.driver, width, height)
    set_width(page.driver, *LAPTOP)


@pytest.fixture(scope="module")
def job(page, open_bench):
    """A job without photos: every step can be seen."""
    new_job(open_bench.shelf / "narrow", [100.08])
    return "narrow"


@pytest.mark.parametrize(("width", "height"), [(640, 450), (320, 225), (390, 844)])
def test_the_steps_stay_in_view_and_nothing_scrolls_sideways(page, job, narrow, width, height):
    """1280 x 900 enlarged to 200 and 400 %, and a telephone (sizes: WCAG 2.2, 1.4.10 Reflow)."""
    narrow(width, height)
    page.open_job(job)
    for step in STEPS:
        page.step(step)
        page.driver.execute_script("scrollTo(0, document.body.scrollHeight)")
        page.wait(
            lambda: page.driver.execute_script(
                "const s = document.querySelector('.steps').getBoundingClientRect();"
                "return s.top >= 0 && s.bottom <= innerHeight / 3"
            ),
            20,
        )
        assert sideways_overflow(page.driver) == 0, step
        inside = "const s = document.querySelector('.steps'); return s.scrollWidth - s.clientWidth"
        assert page.driver.execute_script(inside) == 0, "no step is cut off"
        shown = [link.text for link in page.all(".steps a")]
        assert all(shown), "each step can be seen"
        assert page.all(".steps a[aria-current] .name")[0].is_displayed()
    page.driver.execute_script("for (const d of document.querySelectorAll('details')) d.open = true")
    for step in STEPS:
        page.step(step)
        assert sideways_overflow(page.driver) == 0, step


@pytest.mark.usefixtures("measured")
def test_a_caliper_box_says_what_it_is_in_every_window(page, narrow):
    """Each box is inside its own label, which names figure, photos' value and caliper at every width."""
    page.open_job("rear-hub")
    page.step("figures")
    for width, height in (LAPTOP, (390, 844)):
        narrow(width, height)
        boxes = page.wait(lambda: page.all("#figures .calipers input"))
        assert len(boxes) >= 3
        for box in boxes:
            words = page.driver.execute_script("return arguments[0].labels[0].innerText", box)
            assert "caliper" in words
            assert "photos" in words
            assert box.is_displayed()


def test_a_deleted_job_is_named_as_what_it_is(page, open_bench):
    new_job(open_bench.shelf / "goes", [100.08])
    page.open_job("goes")
    shutil.rmtree(open_bench.shelf / "goes")
    page.wait(lambda: "renamed, moved or deleted" in page.one("#doing").text, 60)
    assert "closed" not in page.one("#doing").text


def test_a_second_tab_follows_the_first(page, job, open_bench):
    """What somebody states in one tab is in the fields of the other, without loading it again."""
    page.open_job(job)
    first = page.driver.current_window_handle
    page.driver.switch_to.new_window("tab")
    try:
        page.open_job(job)
        page.type("#f-target-bar_x", "119,27 mm")
        assert page.one("#f-target-bar_x").get_attribute("value") == "119.27"
    finally:
        page.driver.close()
        page.driver.switch_to.window(first)
    page.wait(lambda: page.one("#f-target-bar_x").get_attribute("value") == "119.27", 60)
