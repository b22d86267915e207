"""A job opened again by another bench: corrected at once, from what was seen, with its history."""

from __future__ import annotations

import shutil

import pytest

pytest.importorskip("selenium")


from browser import needs_browser, open_browser, set_width
from hubsight.job.file.corrections import read_corrections

from .conftest import run_bench
from .person import Page

pytestmark = needs_browser


@pytest.fixture(scope="module")
def reopened(page, measured, open_bench, tmp_path_factory):
    """Somebody at another bench, on a copy of the measured job in which the gauge's end was moved."""
    page.open_job("rear-hub")
    page.step("look")
    page.ready()
    before = page.figure("spoke offset")
    page.click("#zoom-end")
    page.adjusted(lambda: page.drag(".handle.end", (12, 1)))
    page.wait(lambda: page.one("#doing").text == "")
    page.wait((open_bench.shelf / "rear-hub" / ".bench" / "seen-drive.json").is_file)
    moved = page.figure("spoke offset")
    shelf = tmp_path_factory.mktemp("again")
    shutil.copytree(open_bench.shelf / "rear-hub", shelf / "rear-hub")
    while page.one("#undo").is_enabled():
        page.click("#undo")
        page.wait(lambda: page.say().startswith("Taken back"))
    running, end = run_bench(shelf)
    with open_browser() as driver:
        again = Page(driver)
        again.home = f"http://{running.host}/"
        set_width(driver, 1280)
        driver.get(running.address)
        again.wait(lambda: again.one("#new-job"))
        again.open_job("rear-hub")
        again.folder, again.before, again.moved = shelf / "rear-hub", before, moved
        yield again
    end()


# Notes all that is said to be done.
LISTEN = """
const doing = document.getElementById("doing");
window.said = new Set();
const every = {childList: true, characterData: true, subtree: true};
new MutationObserver(() => said.add(doing.textContent)).observe(doing, every);
"""


def said(page):
    return " | ".join(page.driver.execute_script("return [...said]"))


def test_it_is_corrected_from_what_was_seen_without_a_look_at_its_photos(reopened):
    reopened.step("look")
    reopened.driver.execute_script(LISTEN)
    reopened.ready()
    assert reopened.figure("spoke offset") == reopened.moved
    reopened.click("#zoom-end")
    reopened.adjusted(lambda: reopened.drag(".handle.end", (-60, -6)))
    reopened.wait(lambda: reopened.all("[data-question]"))
    reopened.wait(
        lambda: "provisional" not in reopened.one("#doing").text and not reopened.one("#doing").text
    )
    assert "looking for the gauge" not in said(reopened).lower()
    assert "bosses" not in said(reopened).lower()


def test_what_was_corrected_before_is_taken_back_after_a_restart(reopened):
    for _ in range(2):
        reopened.driver.execute_script("document.getElementById('viewer-say').textContent = ''")
        reopened.click("#undo")
        reopened.wait(lambda: reopened.say().startswith("Taken back"))
    reopened.wait(lambda: reopened.figure("spoke offset") == reopened.before)
    assert not reopened.one("#undo").is_enabled()
    assert read_corrections(reopened.folder).drive.marks() == ()
    reopened.click("#redo")
    reopened.wait(lambda: reopened.say().startswith("Done again"))
    reopened.wait(lambda: reopened.figure("spoke offset") == reopened.moved)
    reopened.click("#undo")
    reopened.wait(lambda: reopened.figure("spoke offset") == reopened.before)
