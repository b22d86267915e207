"""A builder's half hour in a real browser: wheels compared, one taken over, its ends noted and looked at."""

from __future__ import annotations

import datetime

import pytest

pytest.importorskip("selenium")

from selenium.webdriver.common.keys import Keys

from browser import needs_browser, set_width, sideways_overflow
from hubsight.kit import KitRim, save_item

from .test_builder import DRAWER, LIGHT

pytestmark = [needs_browser, pytest.mark.usefixtures("at_the_job")]


@pytest.fixture
def rims(open_bench):
    """Two rims in the job's own kit, which the page's children see too."""
    folder = open_bench.shelf / "rear-hub" / "kit"
    for name, erd in (("deep", (560.1, 560.3, 560.0)), ("light", (596.4, 595.2, 597.1))):
        rim = KitRim(date=datetime.date(2026, 3, 1), erd=erd, holes=24)
        save_item(rim, "rim", name, folder, replace=True)


def test_three_wheels_compared_one_taken_over_and_its_ends_noted(page, rims):
    page.step("wheel")
    for name, value in (("hub-over_locknut", "141.95"), ("rim-erd", "596"), ("wheel-spokes", "24")):
        page.type(f"#f-{name}", value)
    page.wait(lambda: page.all("#order tbody tr") and page.one("#doing").text == "")
    page.click("#what-if summary")
    for number in (1, 2):
        page.click(f"#w-rim-{number}")
    page.wait(lambda: "Compare 3 wheels" in page.one('[data-do="what-if"]').text)
    page.click('[data-do="what-if"]')
    page.wait(lambda: len(page.all("#wheels tbody tr")) == 3)
    assert page.all("#wheels tr.best"), "the best is marked"
    assert page.violations() == []
    ordered = page.all("#spokes-of-wheels tbody tr")[1].text
    page.click('#wheels [data-number="0"]')
    page.wait(lambda: page.one("#f-rim-kit").get_attribute("value") == "deep")
    page.wait(lambda: page.one("#doing").text == "" and page.one("#order .big").text in ordered)
    assert page.one("#f-rim-erd").get_attribute("value") == ""
    job = page.driver.current_url.partition("#")[0]
    try:
        page.driver.get(f"{job}/card.html")
        page.wait(lambda: page.one('[data-hole="1"] svg').is_displayed())
        for hole in (1, 3, 5):
            page.act(
                f'[data-side="drive"][data-hole="{hole}"]', lambda cell: cell.send_keys(Keys.ARROW_RIGHT)
            )
        page.wait(lambda: "3 of 12 ends noted" in page.one("#said-drive").text)
        page.driver.get(f"{page.home}built")
        shown = "return document.querySelector('img.picture').naturalWidth"
        assert page.wait(lambda: page.driver.execute_script(shown)) > 0
        assert "rear-hub, drive side" in page.one("main").text
        assert page.violations() == []
    finally:
        page.driver.get(f"{job}#wheel")
        page.type("#f-rim-erd", "596")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 390])
def test_the_builder_s_rooms_can_be_read_and_used(page, open_bench, scheme, width):
    owner = open_bench.owner()
    owner.post("/rims", LIGHT)
    owner.post(f"{DRAWER}/put", {"length": "294", "count": "12", "head": "straight-pull"})
    features = [{"name": "prefers-color-scheme", "value": scheme}]
    page.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": features})
    set_width(page.driver, width)
    page.console()
    try:
        for room in ("rims", "drawer", "built", "prepare"):
            page.driver.get(f"{page.home}{room}")
            page.wait(lambda r=room: page.one(f'.rooms [href="/{r}"][aria-current]'))
            page.driver.execute_script("for (const d of document.querySelectorAll('details')) d.open = true")
            assert page.violations() == [], room
            assert sideways_overflow(page.driver) == 0, room
        assert page.console() == []
    finally:
        set_width(page.driver, 1280)


def test_a_rim_and_spokes_are_entered_by_hand(page):
    page.driver.get(f"{page.home}rims")
    page.click('[data-post="/rims"] button')
    page.wait(lambda: "needs a name" in page.one("#e-name-e").text)
    assert page.driver.switch_to.active_element.get_attribute("id") == "e-name"
    page.keys("#e-name", "light")
    page.keys("#e-erd", "596.1 595.8 596.2 595.9")
    page.click('[data-post="/rims"] button')
    page.wait(lambda: "ERD 596.00" in page.one("main").text)
    page.driver.get(f"{page.home}drawer")
    page.keys("#e-length", "294")
    page.keys("#e-count", "12")
    page.click("[data-post] button.main")
    page.wait(lambda: "12 spokes" in page.one("#held").text)
    page.keys("#e-length", "294")
    page.keys("#e-count", "5")
    page.click("[data-to]")
    page.wait(lambda: "7 spokes" in page.one("#held").text)
