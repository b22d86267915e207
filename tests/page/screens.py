"""Take a picture of every screen: 1366 and 390 wide, light and dark, and enlarged to 200 %.

    python tests/page/screens.py OUT [--job FOLDER] [--only STEP,...] [--sets wide-light,...]

The job is a copy of the sample job unless another folder is given; it is measured first, with an order where
it states a rim. A picture shows the whole page, however long it is.
"""

from __future__ import annotations

import argparse
import base64
import shutil
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parents[1])]

from tests.page.conftest import run_bench  # noqa: E402
from tests.page.person import STEPS, Page  # noqa: E402

from browser import open_browser, set_width  # noqa: E402

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
BESIDE_STEPS = ("jobs", "prepare", "report", "order-sheet")
"""Screens beside the job's steps."""


def whole_page(driver, file, scale):
    """Write a picture of the page from top to bottom."""
    size = driver.execute_script(
        "const p = document.documentElement; return [p.clientWidth, Math.max(p.scrollHeight, innerHeight)]"
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
    if "prepare" in wanted:
        driver.get(f"{page.home}prepare")
        yield "prepare"
    page.open_job(name)
    for step in STEPS:
        if step in wanted:
            page.step(step)
            page.wait(lambda s=step: not page.all(f"#{s} [data-part]:not([data-shown])"))
            yield step
    job = driver.current_url.partition("#")[0]
    for screen, address in (("report", "report.html"), ("order-sheet", "order.html")):
        if screen in wanted:
            driver.get(f"{job}/{address}")
            yield f"page-{screen}"


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
