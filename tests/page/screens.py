"""Take a picture of every screen: 1366 and 390 wide, light and dark, and enlarged to 200 %.

    python tests/page/screens.py OUT [--job FOLDER] [--only STEP,...] [--sets wide-light,...]

The job is a copy of the sample job unless another folder is given; it is measured first, with an order where
it states a rim. A picture shows the whole page, however long it is.
"""

from __future__ import annotations

import argparse
import base64
import datetime
import os
import shutil
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parents[1])]

from tests.page.conftest import run_bench  # noqa: E402
from tests.page.person import STEPS, Page  # noqa: E402
from tests.page.test_card import BY_HAND  # noqa: E402

from browser import open_browser, set_width  # noqa: E402
from hubsight.job.file.edit import set_fields  # noqa: E402
from hubsight.kit import KitRim, save_item  # noqa: E402
from hubsight.kit.drawer import DrawerLot, KitDrawer, save_drawer  # noqa: E402
from hubsight.kit.store import KIT_VARIABLE  # noqa: E402

SETS = {
    "wide-light": (1366, 1, "light"),
    "wide-dark": (1366, 1, "dark"),
    "narrow-light": (390, 1, "light"),
    "narrow-dark": (390, 1, "dark"),
    "twice-light": (683, 2, "light"),
}
"""Width of the window, pixels of the screen per CSS pixel, and colour scheme."""
HEIGHT = 900
SETTLED_S = 0.7
"""After which what a window's new width moves has moved."""
SAMPLE = HERE.parents[1] / "sample_images"
BESIDE_STEPS = ("jobs", "prepare", "rims", "drawer", "built", "report", "order-sheet", "card", "phone")
"""Screens beside the job's steps."""


def whole_page(driver, file, scale):
    """Write a picture of the page from top to bottom."""
    size = driver.execute_script(
        "const p = document.documentElement; return [innerWidth, Math.max(p.scrollHeight, innerHeight)]"
    )
    clip = {"x": 0, "y": 0, "width": size[0], "height": size[1], "scale": scale}
    shot = driver.execute_cdp_cmd(
        "Page.captureScreenshot", {"format": "png", "captureBeyondViewport": True, "clip": clip}
    )
    file.write_bytes(base64.b64decode(shot["data"]))


def settle(page):
    """Wait until all pictures in view are loaded."""
    page.wait(
        lambda: page.driver.execute_script(
            "const there = [...document.images].filter((i) => i.offsetParent && i.loading !== 'lazy');"
            "return there.every((i) => i.complete) && document.fonts.status === 'loaded'"
        )
    )
    time.sleep(SETTLED_S)  # the report and the order sheet run no script that could tell


def busy(page):
    """Return whether the bench says that it is at work, "yes" or "no"."""
    return page.one("body").get_attribute("data-busy")


def screens(page, name, wanted):
    """Yield the name of each screen while the window shows it."""
    driver = page.driver
    if "jobs" in wanted:
        driver.get(page.home)
        page.wait(lambda: page.one("#jobs"))
        yield "jobs"
    for room in ("prepare", "rims", "drawer", "built"):
        if room in wanted:
            driver.get(f"{page.home}{room}")
            driver.execute_script("for (const d of document.querySelectorAll('details')) d.open = true")
            driver.execute_script("for (const i of document.images) i.loading = 'eager'")
            yield room
    page.open_job(name)
    for step in STEPS:
        if step in wanted:
            page.step(step)
            page.wait(lambda s=step: not page.all(f"#{s} [data-part]:not([data-shown])"))
            driver.execute_script("document.getElementById('what-if')?.setAttribute('open', '')")
            yield step
    if "phone" in wanted:
        show_phone(page)
        yield "phone"
        page.open_job(name)
    job = driver.current_url.partition("#")[0]
    for screen, address in (("report", "report.html"), ("order-sheet", "order.html"), ("card", "card.html")):
        if screen in wanted:
            driver.get(f"{job}/{address}")
            yield f"page-{screen}"


def furnish(shelf, job):
    """Put rims and spokes into the kit, and a built wheel beside the job."""
    kit = shelf / ".kit"
    os.environ[KIT_VARIABLE] = str(kit)
    day = datetime.date(2026, 3, 1)
    for name, erd in (("light", (596.4, 595.2, 595.7, 597.1)), ("deep", (560.1, 560.3, 560.0, 560.2))):
        save_item(KitRim(date=day, erd=erd, holes=24, nipple="slotted"), "rim", name, kit)
    lots = ((294.0, 30), (295.0, 13), (297.0, 6), (300.0, 40))
    held = tuple(DrawerLot(length=length, count=count, wire="2.0") for length, count in lots)
    save_drawer(KitDrawer(date=day, lots=held), "drawer", kit)
    built = shelf / "front-hub"
    built.mkdir()
    (built / "job.toml").write_text(
        BY_HAND + "[built.drive]\nends = [0.3, 0.5]\n[built.non_drive]\nends = 1.4\n"
    )
    set_fields(job, {"spokes.drawer": "drawer"})


def compare_wheels(page):
    """Compare wheels on the hub that is measured."""
    page.step("wheel")
    page.click("#what-if summary")
    for rim in ("1", "2"):
        page.click(f"#w-rim-{rim}")
    page.type("#w-what-if-crosses", "1")
    page.wait(lambda: "6 wheels" in page.one('[data-do="what-if"]').text)
    page.click('[data-do="what-if"]')
    page.wait(lambda: page.all("#wheels tbody tr"))


def show_phone(page):
    """Open the phone's door, and its page in the same window."""
    page.step("photos")
    page.click('[data-do="phone-open"]')
    link = page.wait(lambda: page.one("#phone-link").text)
    page.driver.get(link)
    page.wait(lambda: page.one("#inside").is_displayed())


def main() -> None:
    """Measure the job, and take the pictures."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("out", type=Path)
    parser.add_argument("--job", type=Path, default=SAMPLE)
    parser.add_argument("--only", default=",".join((*STEPS, *BESIDE_STEPS)))
    parser.add_argument("--sets", default=",".join(SETS))
    arguments = parser.parse_args()
    arguments.out.mkdir(parents=True, exist_ok=True)
    wanted = arguments.only.split(",")
    with tempfile.TemporaryDirectory(prefix="hubsight-screens-") as shelf:
        job = Path(shelf) / arguments.job.resolve().name
        shutil.copytree(arguments.job, job)
        furnish(Path(shelf), job)
        bench, end = run_bench(Path(shelf))
        try:
            with open_browser() as driver:
                page = Page(driver)
                page.home = f"http://{bench.host}/"
                set_width(driver, 1366)
                driver.get(bench.address)
                page.open_job(job.name)
                page.step("photos")
                page.looked_at(len(list(job.glob("*drive/*"))))
                page.click("#measure")
                page.step("look")
                page.wait(lambda: page.all("#look .tile") and busy(page) == "no", 900)
                if "wheel" in wanted:
                    compare_wheels(page)
                if {"report", "order-sheet"} & set(wanted):
                    page.step("report")
                    page.click("#write-report")
                    page.wait(lambda: page.all("#open-order") and busy(page) == "no", 900)
                for chosen in arguments.sets.split(","):
                    take(page, job.name, arguments.out, chosen, wanted)
        finally:
            end()


def take(page, name, out, chosen, wanted):
    """Take the pictures of one kind of window."""
    width, scale, scheme = SETS[chosen]
    driver = page.driver
    driver.execute_cdp_cmd(
        "Emulation.setEmulatedMedia", {"features": [{"name": "prefers-color-scheme", "value": scheme}]}
    )
    set_width(driver, width, HEIGHT // scale)
    for screen in screens(page, name, wanted):
        settle(page)
        whole_page(driver, out / f"{screen}-{chosen}.png", scale)


if __name__ == "__main__":
    main()
