"""Time the bench page in a browser: ``python tests/page/benchmark.py [--photos 50] [--uploads 5] ...``.

Prints how long it takes from an upload to its first overlay, from letting go of a handle to the new figures,
how smoothly a job of many photos of 12 megapixels scrolls and switches, how long the page waits for an answer
while the server works, and what memory server and children take. The times are those of this machine, with
whatever else runs on it; the goals are for two cores that do nothing else.
"""

from __future__ import annotations

import argparse
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from contextlib import contextmanager
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from browser import open_browser, set_width
from hubsight.job.file.edit import with_side
from page.person import PHOTOS, SAMPLE, Page

GOALS = {
    "first overlay": 3.0,
    "drag to figures": 0.3,
    "opened again": 1.0,
    "longest frame": 0.1,
    "switching": 1.0,
    "answer": 0.3,
}
"""Seconds. Of frame, switching and answer: what feels smooth (common practice, no source)."""


def another(photo: Path, out: Path, number: int) -> Path:
    """Write a photo of the sample, which have 12 megapixels, as another file."""
    out.write_bytes(photo.read_bytes() + number.to_bytes(2))
    return out


@contextmanager
def served(shelf: Path):
    """Run the bench as its command does; gives the process and the address."""
    command = [sys.executable, "-m", "hubsight", "bench", str(shelf), "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        try:
            address = next(m[0] for line in process.stdout if (m := re.search(r"http://\S+", line)))
            yield process, address
        finally:
            process.terminate()


def memory_mb(process: int) -> float:
    """Memory of a process and its children, shared parts counted once, MB."""
    total, waiting = 0.0, [process]
    while waiting:
        pid = waiting.pop()
        rollup = Path(f"/proc/{pid}/smaps_rollup").read_text()
        total += int(re.search(r"^Pss:\s+(\d+)", rollup, re.M)[1]) / 1024
        for task in Path(f"/proc/{pid}/task").iterdir():
            waiting += [int(child) for child in (task / "children").read_text().split()]
    return total


def say(words: str, seconds: list[float], goal: str) -> None:
    best, middle, worst = min(seconds), statistics.median(seconds), max(seconds)
    late = sorted(seconds)[max(0, round(0.95 * len(seconds)) - 1)]
    verdict = "reached" if middle <= GOALS[goal] else "NOT reached"
    print(
        f"{words:42s} best {best:6.3f}  median {middle:6.3f}  p95 {late:6.3f}  worst {worst:6.3f} s   "
        f"goal {GOALS[goal]:.1f} s: {verdict}",
        flush=True,
    )


def first_overlays(page: Page, folder: Path, uploads: int) -> None:
    page.new_job("uploads")
    page.step("photos")
    took = []
    for number in range(uploads):
        photo = another(PHOTOS[number % len(PHOTOS)], folder / f"{number}.jpg", number)
        begun = time.perf_counter()
        page.send("#files-drive", [photo])
        page.looked_at(number + 1)
        took.append(time.perf_counter() - begun)
    say("first overlay of a 12 MP upload", took, "first overlay")


def drags(page: Page, shelf: Path, count: int) -> None:
    """Time drags in a job of both sides with lengths and order, and the first one after a restart."""
    shutil.copytree(SAMPLE, shelf / "both-sides")
    page.open_job("both-sides")
    page.step("photos")
    page.looked_at(8)
    page.click("#measure")
    page.wait(lambda: len(page.all("[data-figures] [data-figure]")) > 14 and page.one("#doing").text == "")
    page.ready()
    page.click("#zoom-end")
    for words, far in (("agreeing with the photos", 3), ("against them, asked about", 40)):
        took = [page.adjusted(lambda by=by: page.drag(".handle.end", (by, 0))) for by in (-far, far) * count]
        say(f"drag to new figures, {words}", took, "drag to figures")
    page.wait(lambda: page.one("#doing").text == "")


def reopened(page: Page) -> None:
    """Time the first correction of a job that another bench measured, from choosing to correct."""
    page.open_job("both-sides")
    page.step("look")
    page.looking()
    begun = time.perf_counter()
    page.ready()
    shown = time.perf_counter() - begun
    page.click("#zoom-end")
    took = page.adjusted(lambda: page.drag(".handle.end", (-20, 0)))
    say("opened again: handles", [shown], "opened again")
    say("opened again: first drag to new figures", [took], "opened again")


LONGEST_FRAME = (
    "const done = arguments[0]; let last = performance.now(), worst = 0, left = 90;"
    "const frame = (now) => { worst = Math.max(worst, now - last); last = now; scrollBy(0, 60);"
    " if (left--) requestAnimationFrame(frame); else done(worst / 1000); }; requestAnimationFrame(frame);"
)


def many(page: Page, shelf: Path, photos: int, process: int) -> None:
    page.new_job("many")
    job = shelf / "many"
    sources = sorted(SAMPLE.glob("*/*.jpg"))
    for number in range(photos):
        side = ("drive", "non_drive")[number % 2]
        another(sources[number % len(sources)], job / side / f"{number:03d}.jpg", number)
    for side in ("drive", "non_drive"):
        with_side(job, side)
    begun = time.perf_counter()
    page.step("photos")
    answers, frames, most = [], [], 0.0
    ask = (
        "const done = arguments[0], begun = performance.now();"
        "fetch(`${location.pathname}/state`).then((a) => a.json())"
        ".then(() => done((performance.now() - begun) / 1000))"
    )
    while len(page.all("#photos .photos .fine, #photos .photos .bad")) < photos:
        answers.append(page.driver.execute_async_script(ask))
        frames.append(page.driver.execute_async_script(LONGEST_FRAME))
        page.driver.execute_script("scrollTo(0, 0)")
        most = max(most, memory_mb(process))
    print(f"{photos} photos of 12 MP looked at in {time.perf_counter() - begun:.0f} s")
    say("an answer while photos are looked at", answers, "answer")
    say("longest frame, scrolling meanwhile", frames, "longest frame")
    frames = [page.driver.execute_async_script(LONGEST_FRAME) for _ in range(3)]
    say("longest frame, scrolling when all are there", frames, "longest frame")
    page.step("look")
    page.wait(lambda: len(page.all("#pick option")) == photos)
    took = []
    for option in page.all("#pick option")[1:13]:
        begun = time.perf_counter()
        option.click()
        wanted = option.get_attribute("value")
        page.wait(lambda wanted=wanted: page.one("#viewport").get_attribute("data-ready") == wanted)
        page.driver.execute_async_script("document.getElementById('shown').decode().then(arguments[0])")
        took.append(time.perf_counter() - begun)
    say("switching to another photo, drawn", took, "switching")
    print(f"memory of server and children: {memory_mb(process):.0f} MB now, {most:.0f} MB at most")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.partition(":")[0])
    parser.add_argument("--photos", type=int, default=50)
    parser.add_argument("--uploads", type=int, default=5)
    parser.add_argument("--drags", type=int, default=10)
    parser.add_argument("--drags-only", action="store_true")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="hubsight-benchmark-") as folder:
        shelf, uploads = Path(folder) / "jobs", Path(folder) / "uploads"
        uploads.mkdir()
        with served(shelf) as (process, address), open_browser() as driver:
            page = Page(driver)
            page.home = address.partition("#")[0]
            set_width(driver, 1280)
            driver.set_script_timeout(120)
            driver.get(address)
            page.wait(lambda: page.one("#new-job"))
            if not asked.drags_only:
                first_overlays(page, uploads, asked.uploads)
                many(page, shelf, asked.photos, process.pid)
            drags(page, shelf, asked.drags)
        with served(shelf) as (_, address), open_browser() as driver:
            page = Page(driver)
            page.home = address.partition("#")[0]
            set_width(driver, 1280)
            driver.get(address)
            page.wait(lambda: page.one("#new-job"))
            reopened(page)


if __name__ == "__main__":
    main()
