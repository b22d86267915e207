"""A whole job in a real browser, from the empty folder to the report by clicks alone, and by the phone."""

from __future__ import annotations

import pytest

pytest.importorskip("selenium")

from selenium.webdriver.common.keys import Keys

from browser import needs_browser, open_browser, set_width, sideways_overflow
from hubsight.job.sample import load_truth
from hubsight.page.network import LOOPBACK, own_addresses
from hubsight.report import pictures

from .person import PHOTOS, SAMPLE, Page

pytestmark = [needs_browser, pytest.mark.usefixtures("at_the_job")]


def test_the_figures_are_those_of_the_truth(page):
    truth = load_truth(SAMPLE).sides["drive"].figures
    for words in ("spoke offset", "flange diameter"):
        low, high = page.interval(words)
        assert low < truth[words.replace(" ", "_")] < high, words


def test_a_caliper_reading_gets_its_verdict_at_once(page):
    page.step("figures")
    field = "#c-sides-drive-caliper-flange_diameter"
    page.type(field, "47.3")
    page.wait(lambda: "agree" in page.one(f"{field}-v").text)
    page.type(field, "57.3")
    page.wait(lambda: page.all(f"{field}-v.disagrees"))
    page.type(field, "47.3")
    page.wait(lambda: page.all(f"{field}-v.agrees"))


def test_a_slip_is_told_beside_its_field_and_not_kept(page):
    page.step("wheel")
    page.keys("#f-rim-erd", "about 600", Keys.TAB)
    page.wait(lambda: "not a number" in page.one("#f-rim-erd-e").text)
    assert page.one("#f-rim-erd").get_attribute("aria-invalid") == "true"
    page.type("#f-rim-erd", "596")
    page.wait(lambda: page.one("#f-rim-erd-e").text == "")


# Answers to what is saved are held back until ``letGo``; then the field's part is drawn anew, as it was.
HOLD = """
const ask = window.fetch, held = new Promise((done) => { window.letGo = done; });
window.fetch = async (...all) => {
  const answer = await ask(...all);
  if (String(all[0]).endsWith("/fields")) await held;
  return answer;
};
window.drawAnew = () => {
  const part = document.getElementById("f-rim-erd").closest("[data-part]");
  part.innerHTML = part.dataset.shown;
};
"""


def test_a_slip_is_told_at_a_field_that_was_drawn_anew_meanwhile(page):
    page.step("wheel")
    page.settled()
    page.driver.execute_script(HOLD)
    page.keys("#f-rim-erd", "about 600", Keys.TAB)
    page.driver.execute_script("drawAnew(); letGo()")
    page.wait(lambda: "not a number" in page.one("#f-rim-erd-e").text)
    assert page.one("#f-rim-erd").get_attribute("aria-invalid") == "true"
    assert page.one("#f-rim-erd").get_attribute("value") == "about 600", "what is wrong is still there"
    page.type("#f-rim-erd", "596")
    page.wait(lambda: page.one("#f-rim-erd-e").text == "")


def test_a_slip_stays_told_while_the_figures_change(page):
    page.step("figures")
    wrong, right = "#c-sides-drive-caliper-boss_width", "#c-sides-drive-caliper-flange_diameter"
    page.keys(wrong, "8.4x", Keys.TAB)
    page.wait(lambda: "not a number" in page.one(f"{wrong}-e").text)
    page.type(right, "57.3")
    page.wait(lambda: page.all(f"{right}-v.disagrees"))
    assert "not a number" in page.one(f"{wrong}-e").text
    assert page.one(wrong).get_attribute("value") == "8.4x"
    assert page.one(wrong).get_attribute("aria-invalid") == "true"
    page.type(wrong, "8.42")
    page.wait(lambda: page.all(f"{wrong}-v.agrees"))
    assert page.one(f"{wrong}-e").text == ""
    page.type(right, "47.3")
    page.wait(lambda: page.all(f"{right}-v.agrees"))


@pytest.mark.parametrize(("title", "words"), [("", "needs a name"), ("rear hub", "already")])
def test_a_slip_in_a_new_job_is_told_at_its_field(page, title, words):
    page.driver.get(page.home)
    page.keys("#title", title, Keys.ENTER)
    page.wait(lambda: words in page.one("#new-error").text)
    assert page.driver.switch_to.active_element.get_attribute("id") == "title"
    assert page.all("[aria-invalid]") == [page.one("#title")]


@pytest.mark.parametrize(
    ("length", "words"), [("", "needs its length"), ("10cm", "not a number"), ("5", "not between")]
)
def test_a_slip_in_the_gauges_length_is_told_at_its_field(page, length, words):
    page.step("sheet")
    page.keys("#f-gauges-a-length", length or Keys.BACKSPACE, Keys.TAB)
    page.wait(lambda: words in page.one("#f-gauges-a-length-e").text)
    assert page.one("#f-gauges-a-length").get_attribute("aria-invalid") == "true"


def test_lengths_and_order_follow_what_is_stated(page):
    page.step("wheel")
    for name, value in (("hub-over_locknut", "141.95"), ("rim-erd", "596"), ("wheel-spokes", "24")):
        page.type(f"#f-{name}", value)
    page.settled()  # until then the order may be that of what was stated before
    page.wait(lambda: page.all("#order tbody tr"))
    first = page.one("#wheel .big").text
    page.type("#f-rim-erd", "606")
    page.settled()
    # half a millimetre of spoke for a millimetre of ERD
    assert float(page.one("#wheel .big").text) - float(first) == pytest.approx(5.0, abs=0.15)
    page.type("#f-rim-erd", "596")
    page.wait(lambda: page.one("#wheel .big").text == first)


def test_the_report_in_one_click(page, open_bench, monkeypatch):
    """Its photos too are decoded in a child: here, in the server's own process, nobody may."""
    monkeypatch.setattr(pictures, "load_photo", None)
    page.step("report")
    page.click("#write-report")
    page.click("#open-report")
    page.driver.switch_to.window(page.driver.window_handles[-1])
    page.wait(lambda: "Drive side" in page.one("body").text)
    text = page.one("body").text
    photos = page.driver.execute_script(
        "return [...document.images].filter((i) => i.src.startsWith('data:image/jpeg') && i.width > 300)"
        ".filter((i) => i.naturalWidth).length"
    )
    page.driver.close()
    page.driver.switch_to.window(page.driver.window_handles[0])
    assert "rear-hub" in text
    assert photos == len(PHOTOS)
    assert (open_bench.shelf / "rear-hub" / "record.json").is_file()


# ---- the phone


def test_a_phone_sends_a_photo_through_the_door(page):
    page.new_job("by phone")
    page.step("photos")
    page.click('[data-do="phone-open"]')
    link = page.wait(lambda: page.one("#phone-link").text)
    assert (own_addresses() or (LOOPBACK,))[0] in link
    assert page.one("#qr svg").is_displayed()
    assert "overheard" in page.one("#phone-code").text
    with open_browser() as driver:
        phone = Page(driver)
        set_width(driver, 390, 844)
        driver.get(link)
        phone.wait(lambda: phone.one("#inside").is_displayed())
        assert "#" not in driver.current_url
        assert "overheard" in phone.one("#phone").text
        assert "straight above" in phone.one("#now").text
        assert len(phone.all("#plan .wanted")) == 1
        phone.send("#pick", [PHOTOS[0]])
        phone.wait(lambda: "Good: target and gauge are seen." in phone.one("#mine").text)
        assert len(phone.all("#mine .seen .corner")) == 70
        assert len(phone.all("#mine .seen .gauge")) == 1
        phone.wait(lambda: len(phone.all("#plan .taken")) == 1)
        assert "from" in phone.one("#now").text
        assert sideways_overflow(driver) == 0
        assert phone.violations() == []
        driver.get("about:blank")
        driver.get(link)  # the code once more
        phone.wait(lambda: "wrong or was used" in phone.one("#say").text)
        assert [e for e in phone.console() if "403" not in e["message"]] == []
    page.looked_at(1)
    page.click('[data-do="phone-close"]')
    page.wait(lambda: not page.all('[data-do="phone-close"]'))
    page.wait(lambda: not page.one("#phone-code").is_displayed())
