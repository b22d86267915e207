"""A person at the page: what he does in a browser window, and what he waits for."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.actions.wheel_input import ScrollOrigin
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

SAMPLE = Path(__file__).parents[2] / "sample_images"
PHOTOS = [SAMPLE / "drive" / f"IMG_{n}.jpg" for n in (7508, 7510, 7511)]
"""Three are enough for figures, and quicker than all."""
AXE = (Path(__file__).parent / "axe" / "axe.min.js").read_text()
STEPS = ("sheet", "photos", "look", "figures", "wheel", "report")
GAUGE_MM = 100.08
PATIENCE_S = 180.0
"""Long enough for the busiest machine; a test that waits so long has failed."""


class Page:
    """One browser window, and what a person does in it."""

    photos = PHOTOS

    def __init__(self, driver):
        self.driver = driver

    def all(self, selector):
        return self.driver.find_elements(By.CSS_SELECTOR, selector)

    def one(self, selector):
        return self.driver.find_element(By.CSS_SELECTOR, selector)

    def wait(self, condition, seconds=PATIENCE_S):
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            try:
                if found := condition():
                    return found
            except Exception:  # the page is being redrawn
                pass
            time.sleep(0.05)
        pytest.fail(f"this did not happen in time; the page says: {self.one('body').text[:600]}")

    def act(self, selector, do):
        """Do something to an element as soon as it can be used: it may be hidden, covered or drawn anew."""

        def done():
            element = self.one(selector)
            if not (element.is_displayed() and element.is_enabled()):
                return False
            do(element)
            return True

        self.wait(done)

    def click(self, selector):
        self.act(selector, lambda element: element.click())

    def keys(self, selector, *keys):
        """Press keys in a field, in place of what it held."""
        self.act(selector, lambda field: (field.send_keys(Keys.CONTROL, "a"), field.send_keys(*keys)))

    def choose(self, selector, words=None, number=0):
        """Choose an option of a list by words in it, or by its place."""

        def chosen():
            options = [o for o in self.all(f"{selector} option") if words is None or words in o.text]
            options[number].click()
            return options[number].is_selected()

        self.wait(chosen)

    def step(self, name):
        """Go to a step, and wait until what it shows is of now."""
        elsewhere = not self.driver.current_url.endswith(f"#{name}")
        if elsewhere:
            self.driver.execute_script("delete document.body.dataset.version")
        self.click(f'.steps a[href="#{name}"]')
        self.wait(lambda: self.one(f"#{name}").is_displayed() and (not elsewhere or self.version()))

    def open_job(self, name):
        self.driver.get(self.home)
        self.wait(lambda: next(a for a in self.all(".jobs a") if a.text == name).click() is None)
        self.wait(lambda: self.one(".steps"))

    def measure(self, title, photos):
        """Begin a job and measure a side's photos, be it that the figures are refused."""
        self.new_job(title)
        self.type("#f-target-bar_x", "119.27")
        self.type("#f-target-bar_y", "119,54")
        self.step("photos")
        self.send("#files-drive", photos)
        self.looked_at(len(photos))
        self.click("#measure")
        words = '[data-figures="drive"] [data-figure], [data-figures="drive"] .say.warn'
        self.wait(lambda: self.all(words) and self.one("#doing").text == "")

    def type(self, selector, text):
        """Fill a field, leave it, and wait until it is saved."""
        self.keys(selector, text, Keys.TAB)
        left = ("data-typed", "data-saving")
        self.wait(lambda: not any(self.one(selector).get_attribute(name) for name in left))

    def send(self, selector, files):
        self.wait(lambda: self.one(selector)).send_keys("\n".join(map(str, files)))

    def new_job(self, title):
        self.driver.get(self.home)
        self.keys("#title", title, Keys.ENTER)
        self.wait(lambda: self.one(".steps"))
        self.type("#f-gauges-a-length", str(GAUGE_MM))

    def looked_at(self, count):
        self.wait(lambda: len(self.all("#photos .photos .fine, #photos .photos .bad")) >= count)

    def figure(self, words, side="drive"):
        return float(self.wait(lambda: self.one(f'[data-figure="{side}.{words}"]').text))

    def known(self, words, side="drive"):
        """Return a figure beside the photo, and its standard uncertainty."""
        row = f'[data-figures="{side}"] li:has([data-figure="{side}.{words}"])'
        u = self.wait(lambda: self.one(f'{row} [data-label="±"]').text)
        return self.figure(words, side), float(u)

    def console(self):
        return [entry for entry in self.driver.get_log("browser") if entry["level"] in ("SEVERE", "WARNING")]

    def version(self):
        """Return which state of the job is drawn."""
        return self.one("body").get_attribute("data-version")

    def say(self):
        return self.one("#viewer-say").text

    def settled(self):
        """Wait until nothing is being done: what is drawn then is of all that was stated."""
        self.wait(lambda: self.one("#doing").text == "")

    def boxes(self, *selectors):
        """Where elements lie in the window, all at one moment: a line above them may come or go at any."""
        return self.driver.execute_script(
            "return arguments[0].map((s) => document.querySelector(s).getBoundingClientRect().toJSON())",
            selectors,
        )

    def take_back(self):
        """Take the last correction back, and wait until it is."""
        self.driver.execute_script("document.getElementById('viewer-say').textContent = ''")
        self.click("#undo")
        self.wait(lambda: self.say().startswith("Taken back"))

    def looking(self):
        """Wait until the photo is drawn."""
        self.wait(lambda: self.one("#viewport").get_attribute("data-ready"))
        self.wait(
            lambda: self.driver.execute_script(
                "const i = document.getElementById('shown'); return i.complete && i.naturalWidth"
            )
        )

    def ready(self):
        """Wait until the photo is drawn, and choose to correct what is seen in it."""
        self.looking()
        self.correct()
        self.wait(lambda: self.all("#handles .handle"))

    def correct(self):
        if self.one("#correct").get_attribute("aria-pressed") != "true":
            self.click("#correct")

    def adjusted(self, act):
        """Do what sends marks, and wait until what comes of them is drawn; how long that took, s."""
        self.driver.execute_script("delete document.getElementById('viewport').dataset.took")
        act()
        return int(self.wait(self._took)) / 1000

    def _took(self):
        return self.one("#viewport").get_attribute("data-took")

    def interval(self, words):
        """Go to the figures, and read one's interval."""
        self.step("figures")
        row = self.wait(lambda: self.one(f'#figures [data-line="{words}"]'))
        return tuple(
            float(v)
            for v in row.find_element(By.CSS_SELECTOR, "[data-interval]")
            .get_attribute("textContent")
            .split(" to ")
        )

    def drag(self, selector, by):
        """Drag a handle by screen pixels, in steps as a hand does."""
        chain = ActionChains(self.driver, duration=20).click_and_hold(self.one(selector))
        for k in range(4):
            chain.move_by_offset(*(v * (k + 1) // 4 - v * k // 4 for v in by))
        chain.release().perform()

    def drawing(self, photo):
        """Return what the server draws over a photo of the job that is open."""
        return self.driver.execute_async_script(
            "const done = arguments[1];"
            "fetch(`${location.pathname}/photo/${arguments[0]}/drawing`).then((a) => a.json()).then(done)",
            photo,
        )["drawing"]

    def scale(self):
        """Screen pixels per pixel of the photo."""
        return self.driver.execute_script(
            "const i = document.getElementById('shown');"
            "return i.getBoundingClientRect().width / i.naturalWidth"
        )

    def on_screen(self, at):
        """Where a pixel of the photo is, from the middle of the viewport."""
        return self.driver.execute_script(
            "const i = document.getElementById('shown').getBoundingClientRect(),"
            " v = document.getElementById('viewport').getBoundingClientRect(), [x, y, s] = arguments;"
            "return [i.x + (x + 0.5) * s - v.x - v.width / 2, i.y + (y + 0.5) * s - v.y - v.height / 2]",
            *at,
            self.scale(),
        )

    def in_view(self, at):
        """Where a pixel of the photo is from the middle of what can be seen of the viewport.

        From there a driver counts (WebDriver, "in-view center point"): the window may cut the viewport off.
        """
        x, y = self.on_screen(at)
        cut = self.driver.execute_script(
            "const v = document.getElementById('viewport').getBoundingClientRect();"
            "return (Math.max(v.top, 0) + Math.min(v.bottom, innerHeight)) / 2 - (v.top + v.bottom) / 2"
        )
        return round(x), round(y - cut)

    def zoom_in_on(self, at):
        """Turn the wheel over a pixel of the photo until its pixels are as large as the screen's."""
        self.click("#zoom-fit")
        viewport = self.one("#viewport")
        for _ in range(12):
            if self.scale() >= 1:
                return
            x, y = self.in_view(at)
            ActionChains(self.driver).scroll_from_origin(
                ScrollOrigin.from_element(viewport, x, y), 0, -200
            ).perform()
        pytest.fail("the wheel does not zoom")

    def tap(self, at):
        """Tap a pixel of the photo."""
        self.zoom_in_on(at)
        x, y = self.in_view(at)
        ActionChains(self.driver).move_to_element_with_offset(self.one("#viewport"), x, y).click().perform()

    def violations(self):
        """Violations that the checker finds, of any weight, in words."""
        self.driver.execute_script(AXE)
        return self.driver.execute_async_script(
            "axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']})"
            ".then((r) => arguments[0](r.violations.map((v) => `${v.impact} ${v.id}: ${v.nodes[0].html}`)))"
        )
