"""All screens in a real browser: an accessibility checker, widths, schemes, many photos, and the console."""

from __future__ import annotations

import time

import pytest
from PIL import Image

pytest.importorskip("selenium")

from browser import needs_browser, set_width, sideways_overflow

from .person import SAMPLE, STEPS

pytestmark = [needs_browser, pytest.mark.usefixtures("measured")]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 390])
def test_every_screen_can_be_read_and_used(page, scheme, width):
    driver = page.driver
    features = [{"name": "prefers-color-scheme", "value": scheme}]
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": features})
    set_width(driver, width)
    try:
        driver.get(page.home)
        page.wait(lambda: page.one("#new-job"))
        assert page.violations() == []
        page.open_job("rear-hub")
        for step in STEPS:
            page.step(step)
            drawn = f"#{step} [data-part]"
            page.wait(lambda d=drawn: all(p.get_attribute("data-shown") is not None for p in page.all(d)))
            page.driver.execute_script("for (const d of document.querySelectorAll('details')) d.open = true")
            assert page.violations() == [], step
            assert sideways_overflow(driver) == 0, step
    finally:
        set_width(driver, 1280)


def test_the_cautions_are_those_of_the_readme(page):
    readme = (SAMPLE.parent / "README.md").read_text()
    cautions = [
        line[2:]
        for line in readme.partition("## Cautions")[2].partition("##")[0].splitlines()
        if line[:2] == "- "
    ]
    assert len(cautions) >= 4
    page.driver.get(page.home)
    shown = page.one(".cautions").text
    assert [c for c in cautions if c not in shown] == []


def test_fifty_photos_are_all_shown_and_only_those_in_view_are_loaded(page, open_bench):
    page.new_job("many")
    where = open_bench.shelf / "many"
    for side in ("drive", "non_drive"):
        for number in range(1, 26):
            Image.new("RGB", (800, 600), (number * 9, 90, 120)).save(
                where / side / f"{side}-{number:02d}.jpg"
            )
    page.step("photos")
    page.looked_at(50)
    page.step("sheet")
    page.step("photos")
    page.wait(lambda: len(page.all("#photos .photos li")) == 50)
    loaded = sum(
        page.driver.execute_script("return arguments[0].complete", i) for i in page.all("#photos img")
    )
    assert loaded < 50


def test_a_script_that_got_into_the_page_would_not_run(page):
    """The last line of defence: even what slips past the escaping is stopped by the policy."""
    page.driver.get(page.home)
    page.console()
    page.driver.execute_script(
        "const s = document.createElement('script');"
        "s.textContent = 'window.got_in = 1'; document.body.append(s);"
        "const i = document.createElement('div');"
        "i.innerHTML = '<img src=x onerror=\"window.got_in = 2\">';"
        "document.body.append(i);"
    )
    time.sleep(0.5)
    assert page.driver.execute_script("return window.got_in ?? null") is None
    assert any("Content Security Policy" in entry["message"] for entry in page.console())


def test_the_console_is_free_of_errors(page):
    page.open_job("rear-hub")
    page.console()
    for step in STEPS:
        page.step(step)
        if step == "look":
            page.ready()
    time.sleep(1.2)
    assert page.console() == []
