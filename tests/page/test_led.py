"""Led by one button, and nothing lost: status line, questions, correcting, and list, in a real browser."""

from __future__ import annotations

import json
import re
import shutil
import time

import pytest

pytest.importorskip("selenium")

from selenium.common.exceptions import StaleElementReferenceException
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from browser import needs_browser, open_browser, set_width, sideways_overflow

from .conftest import run_bench
from .person import PHOTOS, SAMPLE, Page

pytestmark = needs_browser
MOST_CLICKS, MOST_FIELDS = 12, 6
"""From an empty folder to an order."""


class Counting(Page):
    """Somebody whose clicks and fields are counted; choosing files is a click."""

    clicks = fields = 0

    def click(self, selector):
        self.clicks += 1
        super().click(selector)

    def fill(self, selector, text):
        """Fill a field that the page has led to."""
        self.fields += 1
        self.wait(lambda: self.driver.switch_to.active_element.get_attribute("id") == selector[1:])
        self.type(selector, text)

    def choose_files(self, selector, files):
        self.clicks += 1
        self.send(selector, files)

    def next(self, words):
        """Press the one button, as soon as it says so."""
        self.wait(lambda: words in self.one(".next").text)
        self.click(".next")


@pytest.fixture
def counting(tmp_path):
    running, end = run_bench(tmp_path / "empty")
    with open_browser() as driver:
        page = Counting(driver)
        page.home = f"http://{running.host}/"
        set_width(driver, 1366, 768)
        driver.get(running.address)
        page.wait(lambda: page.one("#new-job"))
        yield page
    end()


def test_from_an_empty_folder_to_an_order(counting):
    """All eight photos of the sample, one button after the other, and only what cannot be seen is typed."""
    page = counting
    page.fields += 1
    page.keys("#title", "rear hub")
    page.click("#new-job button")
    page.next("Add photos of the drive side")
    page.choose_files("#files-drive", sorted((SAMPLE / "drive").iterdir()))
    page.choose_files("#files-non_drive", sorted((SAMPLE / "non_drive").iterdir()))
    page.next("State the gauge's length")
    page.fill("#p-gauges-a-length", "100.12")
    page.next("Measure the photos")
    page.click('.steps a[href="#sheet"]')
    for name, text in (("x", "119.27"), ("y", "119.54")):
        page.fields += 1
        page.type(f"#f-target-bar_{name}", text)
    page.next("State the ERD of the rim")
    page.fill("#f-rim-erd", "596")
    page.next("State the number of spokes")
    page.fill("#f-wheel-spokes", "24")
    page.wait(lambda: len(page.all("#order tbody tr")) == 2)
    page.wait(lambda: page.one("#doing").text == "")
    lengths = [page.all(f"#order tbody tr:nth-child({k}) .big")[0].text for k in (1, 2)]
    assert all(float(length) in (294, 295, 296, 297, 298) for length in lengths)
    assert page.clicks <= MOST_CLICKS
    assert page.fields <= MOST_FIELDS
    print(f"{page.clicks} clicks, {page.fields} fields")


def test_the_phones_way_to_both_sides_with_one_code(counting):
    """The phone is led from photo to photo and over to the other side; then the laptop goes on."""
    page = counting
    page.keys("#title", "by phone")
    page.click("#new-job button")
    page.click('.steps a[href="#photos"]')
    page.click('[data-do="phone-open"]')
    link = page.wait(lambda: page.one("#phone-link").text)
    with open_browser() as driver:
        phone = Counting(driver)
        set_width(driver, 390, 844)
        # Without a window a chooser of files would be cancelled at once.
        driver.execute_cdp_cmd("Page.setInterceptFileChooserDialog", {"enabled": True})
        driver.get(link)
        phone.wait(lambda: phone.one("#inside").is_displayed())
        took = []
        for side in ("drive", "non_drive"):
            for number, photo in enumerate(sorted((SAMPLE / side).iterdir())):
                begun = time.monotonic()
                phone.choose_files("#take", [photo])
                phone.wait(lambda n=number: len(phone.all("#mine :is(.fine, .mind, .bad)")) == n + 1)
                took.append(time.monotonic() - begun)
                assert len(phone.all("#mine .seen .corner")) > 60 * (number + 1)
            assert len(phone.all("#plan .taken")) == 4
            if side == "drive":
                phone.wait(lambda: "Turn the hub over" in phone.one("#now").text)
                assert phone.violations() == []
                phone.click("#turn")
                phone.wait(lambda: not phone.all("#mine li"))
        phone.wait(lambda: "One more from the left" in phone.one("#now").text)
        assert sideways_overflow(driver) == 0
        print(f"a photo came back within {max(took):.1f} s, {sorted(took)[4]:.1f} s in the middle")
        # retake and delete
        last = sorted((SAMPLE / "non_drive").iterdir())[3]
        phone.click("#mine li:first-child button:nth-of-type(2)")
        phone.wait(lambda: (len(phone.all("#mine li")), len(phone.all("#plan .taken"))) == (3, 3))
        phone.choose_files("#take", [last])
        phone.wait(lambda: len(phone.all("#plan .taken")) == 4)
        phone.click("#mine li:first-child button:nth-of-type(1)")
        phone.choose_files("#take", [last])
        phone.wait(lambda: "Sent" in phone.one("#say").text and "◌" not in phone.one("#mine").text)
        phone.wait(lambda: len(phone.all("#mine li")) == len(phone.all("#plan .taken")) == 4)
        phone.click('#sides button:not([aria-pressed="true"])')
        phone.wait(lambda: len(phone.all("#mine li")) == 4)
        assert [e for e in phone.console() if "favicon" not in e["message"]] == []
    page.next("State the gauge's length")
    page.fill("#p-gauges-a-length", "100.12")
    page.next("Measure the photos")
    page.next("State the ERD of the rim")
    page.fill("#f-rim-erd", "596")
    page.next("State the number of spokes")
    page.fill("#f-wheel-spokes", "24")
    page.wait(lambda: len(page.all("#order tbody tr")) == 2)
    assert page.clicks <= MOST_CLICKS


@pytest.mark.usefixtures("at_the_job")
class TestAtTheJob:
    def test_every_reason_leads_to_its_place(self, page):
        page.wait(lambda: page.one(".judged"))
        links = page.wait(lambda: page.all(".judged li a"))
        for number in range(len(links)):
            step, field, photo = page.wait(lambda n=number: follow_reason(page, n))
            page.wait(lambda s=step: page.one(s).is_displayed())
            if field:
                page.wait(lambda f=field: page.driver.switch_to.active_element.get_attribute("id") == f)
            if photo:
                page.wait(lambda p=photo: page.one("#pick").get_attribute("value") == p)

    def test_the_verdict_stays_in_view(self, page):
        for step in ("photos", "figures", "wheel"):
            page.step(step)
            page.driver.execute_script("scrollTo(0, document.body.scrollHeight)")
            box = "return document.querySelector('.judged').getBoundingClientRect().top"
            page.wait(lambda b=box: 0 <= page.driver.execute_script(b) < 250)

    def test_no_word_of_the_job_file_is_shown(self, page):
        for step in ("sheet", "photos", "look", "figures", "wheel", "report"):
            page.step(step)
            text = page.one("body").text
            for word in ("toml", "[sides", "[wheel]", "[rim]", "sides.", "gauges.", "_width", "erd ="):
                assert word not in text, (step, word)

    # ---- questions

    def test_a_contradiction_is_asked_answered_and_taken_back(self, page):
        page.step("look")
        page.ready()
        before = page.known("spoke offset")
        page.click("#zoom-end")
        page.adjusted(lambda: page.drag(".handle.end", (-60, -6)))
        asked = page.wait(lambda: page.one(".question").text)
        assert "your mark makes the spoke offset" in asked
        said = re.search(r"photos? says? (\d+\.\d\d) mm", asked)
        assert float(said[1]) == before[0], "what they said before anything was marked"
        page.wait(lambda: "Answer which is right" in page.one(".next").text)
        page.click(".next")
        page.wait(lambda: page.driver.switch_to.active_element.get_attribute("id") == "question-0")
        page.click('.question [data-believe="photos"]')
        page.wait(lambda: not page.all(".question"))
        page.wait(lambda: "you said that the photos are right" in page.one(".answered").text)
        page.wait(lambda: page.known("spoke offset") == before)
        page.click(".answered button")
        page.wait(lambda: page.all(".question"))
        page.click('.question [data-believe="mark"]')
        page.wait(lambda: "you said that your mark is right" in page.one(".answered").text)
        page.wait(lambda: abs(page.figure("spoke offset") - before[0]) > 0.1)
        for _ in range(4):
            page.wait(lambda: page.one("#undo").is_enabled() and page.one("#doing").text == "")
            page.take_back()
        page.wait(lambda: page.known("spoke offset") == before)
        assert not page.all(".answered")

    # ---- correcting

    def test_looking_and_panning_never_move_a_mark(self, page, open_bench):
        page.step("look")
        page.looking()
        page.click("#zoom-fit")
        assert page.all("#handles .handle") == []
        file = open_bench.shelf / "rear-hub" / "corrections.json"
        marks = file.read_text() if file.exists() else None
        end = page.drawing(page.one("#pick").get_attribute("value"))["ends"][0]
        x, y = (round(v) for v in page.on_screen(end))
        pan = ActionChains(page.driver, duration=20)
        pan.move_to_element_with_offset(page.one("#viewport"), x, y).click_and_hold().move_by_offset(40, 30)
        pan.release().perform()
        assert page.on_screen(end)[0] == pytest.approx(x + 40, abs=2), "the photo went along"
        assert (file.read_text() if file.exists() else None) == marks
        page.correct()
        page.wait(lambda: page.all(".handle.end"))
        pan = ActionChains(page.driver, duration=20)
        pan.move_to_element_with_offset(page.one("#viewport"), x + 80, y + 90).click_and_hold()
        pan.move_by_offset(30, 30).release().perform()
        assert page.on_screen(end)[0] == pytest.approx(x + 70, abs=2)
        assert (file.read_text() if file.exists() else None) == marks
        page.click("#correct")
        assert page.all("#handles .handle") == []

    def test_a_loupe_lies_beside_the_pointer_while_a_handle_is_held(self, page):
        page.step("look")
        page.ready()
        page.click("#zoom-end")
        assert not page.one("#loupe").is_displayed()
        handle = page.one(".handle.end")
        ActionChains(page.driver, duration=20).click_and_hold(handle).move_by_offset(5, 4).perform()
        assert page.one("#loupe").is_displayed()
        lens, at = page.boxes("#loupe", ".handle.end")
        apart = (
            lens["x"] + lens["width"] / 2 - at["x"] - at["width"] / 2,
            lens["y"] + lens["height"] / 2 - at["y"] - at["height"] / 2,
        )
        assert max(map(abs, apart)) > lens["width"] / 2 + 30, "it covers neither handle nor finger"
        pixels = page.driver.execute_script(
            "const draw = document.getElementById('loupe').getContext('2d');"
            "return [...draw.getImageData(9, 60, 120, 1).data]"
        )
        assert len(set(pixels)) > 8, "the photo is in it"
        ActionChains(page.driver, duration=20).move_by_offset(-5, -4).release().perform()
        page.wait(lambda: not page.one("#loupe").is_displayed())

    def test_a_locked_direction_keeps_the_mark_on_its_line(self, page):
        page.step("look")
        page.ready()
        page.click("#zoom-end")
        photo = page.one("#pick").get_attribute("value")
        line = page.drawing(photo)["gauges"][0]
        (ax, ay), (bx, by) = line[-2], line[-1]
        n = ((bx - ax) ** 2 + (by - ay) ** 2) ** 0.5
        u = ((bx - ax) / n, (by - ay) / n)
        before = at_of(page, photo)
        page.choose("#direction", "along the wire")
        page.adjusted(lambda: page.drag(".handle.end", (-60, -50)))
        after = at_of(page, photo)
        moved = (after[0] - before[0], after[1] - before[1])
        assert abs(moved[0] * -u[1] + moved[1] * u[0]) < 0.01 * abs(moved[0] * u[0] + moved[1] * u[1])
        assert abs(moved[0] * u[0] + moved[1] * u[1]) > 5
        page.choose("#direction", "any")
        page.take_back()

    def test_the_keyboard_takes_back_and_does_again(self, page):
        page.step("look")
        page.ready()
        page.click("#zoom-end")
        before = page.known("reach")
        page.adjusted(lambda: page.drag(".handle.end", (-30, 0)))
        moved = page.wait(lambda: (k := page.known("reach")) != before and k)
        page.one("#viewport").click()
        keys(page, Keys.CONTROL, "z")
        page.wait(lambda: page.known("reach") == before)
        keys(page, Keys.CONTROL, "y")
        page.wait(lambda: page.known("reach") == moved)
        keys(page, Keys.CONTROL, "z")
        page.wait(lambda: page.known("reach") == before)
        page.wait(lambda: not page.one("#doing").text)

    def test_the_keyboard_alone_goes_from_the_list_to_a_corrected_mark(self, page):
        page.driver.get(page.home)
        page.wait(lambda: page.all(".jobs a"))
        tab_to(page, lambda e: e.tag_name == "a" and e.text == "rear-hub")
        page.driver.switch_to.active_element.send_keys(Keys.ENTER)
        page.wait(lambda: page.all(".next"))
        tab_to(page, lambda e: (e.get_attribute("hash") or "") == "#look")
        page.driver.switch_to.active_element.send_keys(Keys.ENTER)
        page.looking()
        before = page.known("reach")
        tab_to(page, lambda e: e.get_attribute("id") == "correct")
        page.driver.switch_to.active_element.send_keys(Keys.ENTER)
        page.wait(lambda: page.all(".handle.end"))
        tab_to(page, lambda e: "end" in (e.get_attribute("class") or "").split())
        assert page.one("#loupe").is_displayed()
        for _ in range(4):
            keys(page, Keys.SHIFT, Keys.ARROW_LEFT)
        page.wait(lambda: page.known("reach") != before)
        page.wait(lambda: not page.one("#doing").text)
        keys(page, Keys.CONTROL, "z")
        page.wait(lambda: page.known("reach") == before)

    # ---- the list

    def test_jobs_are_found_and_set_side_by_side(self, page, open_bench):
        other = open_bench.shelf / "again"
        if not other.exists():
            shutil.copytree(open_bench.shelf / "rear-hub", other)
        page.driver.get(page.home)
        page.wait(lambda: page.one("#search"))
        page.keys("#q", "d about 47", Keys.ENTER)
        page.wait(lambda: "q=" in page.driver.current_url)
        names = [e.text for e in page.all(".jobs h3")]
        assert {"rear-hub", "again"} <= set(names)
        page.keys("#q", "d about 99", Keys.ENTER)
        page.wait(lambda: "Nothing found" in page.one("main").text)
        page.driver.get(page.home)
        assert not page.one("#compare-them").is_enabled()
        for box in page.all(".jobs li"):
            if box.find_element("css selector", "h3").text in ("rear-hub", "again"):
                box.find_element("css selector", ".pick").click()
        page.click("#compare-them")
        page.wait(lambda: "Side by side" in page.one("h1").text)
        text = page.one("main").text
        assert "flange diameter" in text
        assert "alike within 0.00 mm" in text
        assert page.violations() == []


def tab_to(page, wanted, most=250):
    """Press Tab until what is wanted has the focus."""
    for _ in range(most):
        ActionChains(page.driver).send_keys(Keys.TAB).perform()
        try:
            if wanted(page.driver.switch_to.active_element):
                return
        except StaleElementReferenceException:
            continue
    pytest.fail("the keyboard does not get there")


def follow_reason(page, number):
    """Click on one reason of the verdict; return the step, the field and the photo that it promises."""
    page.driver.execute_script("document.querySelector('.judged').open = true")
    link = page.all(".judged li a")[number]
    promised = tuple(link.get_attribute(name) for name in ("hash", "data-focus", "data-show"))
    link.click()
    return promised


def keys(page, held, letter):
    ActionChains(page.driver).key_down(held).send_keys(letter).key_up(held).perform()


def at_of(page, photo):
    groups = page.drawing(photo)["groups"]
    return next(h["at"] for g in groups for h in g["handles"] if h["what"] == "end")


def test_a_job_closed_and_opened_again_takes_back_what_was_corrected_before(tmp_path):
    """The history outlives the page: without a browser, as any page would ask."""
    from hubsight.job.file.edit import new_job, with_side  # noqa: PLC0415
    from hubsight.page.jobs import identifier, photos_of  # noqa: PLC0415

    shelf = tmp_path / "shelf"
    new_job(shelf / "hub", [100.08])
    with_side(shelf / "hub", "drive")
    (shelf / "hub" / "drive").mkdir(exist_ok=True)
    shutil.copy(PHOTOS[0], shelf / "hub" / "drive" / "a.jpg")
    address, photo = f"/job/{identifier('hub')}", photos_of(shelf / "hub", "drive")[0].id
    file = shelf / "hub" / "corrections.json"
    running, end = run_bench(shelf)
    try:
        owner = running.owner()
        assert owner.post(f"{address}/photo/{photo}/unusable", {"unusable": True}).status == 200
        assert json.loads(file.read_text())["drive"]["unusable"] == ["a.jpg"]
    finally:
        end()
    running, end = run_bench(shelf)
    try:
        owner = running.owner()
        assert owner.get(f"{address}/state").json["undo"]
        assert owner.post(f"{address}/undo").json["side"] == "Drive side"
        assert json.loads(file.read_text())["drive"]["unusable"] == []
        assert owner.post(f"{address}/undo").json["side"] is None
        assert owner.post(f"{address}/redo").json["side"] == "Drive side"
        assert json.loads(file.read_text())["drive"]["unusable"] == ["a.jpg"]
    finally:
        end()
