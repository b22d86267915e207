"""A job opened again by another bench: corrected at once, with its history; and a lying hub."""

from __future__ import annotations

import shutil

import numpy as np
import pytest

pytest.importorskip("selenium")

from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from browser import needs_browser, open_browser, set_width
from hubsight.job import load_job
from hubsight.job.file.corrections import read_corrections
from hubsight.measure.lying import LyingSeen
from hubsight.measure.lying_evidence import LyingPhoto
from hubsight.measure.sheet import camera_prior
from hubsight.page.seen import keep_lying, rests_on
from hubsight.see.lying.flanges import FlangeSeen
from hubsight.see.lying.frame import frame_between
from hubsight.see.lying.place import Placed
from hubsight.target.geometry import target_geometry
from hubsight.target.shots import take_shots

from .conftest import run_bench
from .person import PHOTOS, Page

pytestmark = needs_browser

LENGTH, MIDDLES, HEIGHT = 100.0, (-34.0, 33.0), 24.0
"""Of the lying hub, which is invented: its photos show another one."""


def lay_a_hub(folder):
    """Add a lying hub to a job, as it would have been seen in two photos of the sheet."""
    (folder / "lying").mkdir()
    photos = [folder / "lying" / f"{k}.jpg" for k in range(2)]
    for source, photo in zip(PHOTOS, photos, strict=False):
        shutil.copy(source, photo)
    text = (folder / "job.toml").read_text()
    (folder / "job.toml").write_text(text + '\n[lying]\nphotos = "lying/*"\ndrive_end = "right"\n')
    target = load_job(folder).target
    shots, _ = take_shots(photos, target_geometry(target.paper))
    prior = camera_prior(shots, None)
    frame = frame_between(np.array([-LENGTH / 2, 0.0, HEIGHT]), np.array([LENGTH / 2, 0.0, HEIGHT]))
    ends = (-LENGTH / 2, LENGTH / 2)
    seen = LyingSeen(
        photos=tuple(
            LyingPhoto(p.file, p.width, p.height, p.orientation, shot.sighting)
            for shot, p in ((shot, shot.photo) for shot in shots)
        ),
        prior=prior,
        placed=Placed(frame, ends, (9.0, 9.0), 0.95, 0.9, (0.0, 0.0), 0.1, 0.3, 0.003),
        flanges=tuple(FlangeSeen(middle, 22.0, 0.1, doubtful=False) for middle in MIDDLES),
        notes=(),
    )
    keep_lying(folder, rests_on(photos, (target, repr(None))), seen)


def take_back_all(page):
    while page.one("#undo").is_enabled():
        page.take_back()
        page.settled()


@pytest.fixture(scope="module")
def reopened(page, measured, open_bench, tmp_path_factory):
    """Somebody at another bench, on a copy of the measured job in which the gauge's end was moved."""
    page.open_job("rear-hub")
    page.step("look")
    page.ready()
    take_back_all(page)
    before = page.figure("spoke offset")
    page.click("#zoom-end")
    page.adjusted(lambda: page.drag(".handle.end", (12, 1)))
    page.wait(lambda: page.one("#doing").text == "")
    page.wait((open_bench.shelf / "rear-hub" / ".bench" / "seen-drive.json").is_file)
    moved = page.figure("spoke offset")
    shelf = tmp_path_factory.mktemp("again")
    shutil.copytree(open_bench.shelf / "rear-hub", shelf / "rear-hub")
    take_back_all(page)
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
        reopened.take_back()
    reopened.wait(lambda: reopened.figure("spoke offset") == reopened.before)
    assert not reopened.one("#undo").is_enabled()
    assert read_corrections(reopened.folder).drive.marks() == ()
    reopened.click("#redo")
    reopened.wait(lambda: reopened.say().startswith("Done again"))
    reopened.wait(lambda: reopened.figure("spoke offset") == reopened.moved)
    reopened.click("#undo")
    reopened.wait(lambda: reopened.figure("spoke offset") == reopened.before)


@pytest.fixture(scope="module")
def lying(reopened):
    """The same job with a lying hub, measured once the figures of the last correction stand."""
    reopened.settled()
    lay_a_hub(reopened.folder)
    reopened.open_job("rear-hub")
    reopened.step("photos")
    reopened.settled()
    reopened.click("#measure")
    reopened.step("look")
    reopened.wait(lambda: "The lying hub" in reopened.one('[data-part="wall"]').text)
    reopened.choose("#pick", "Lying hub")
    reopened.wait(lambda: reopened.one("#correct").is_enabled())
    reopened.looking()
    return reopened


def lying_marks(page):
    return read_corrections(page.folder).lying.edges


def test_an_end_face_of_a_lying_hub_is_moved_by_dragging_and_asked_about(lying):
    lying.correct()
    lying.choose("#move", "right end face")
    lying.wait(lambda: len(lying.all(".handle.end_face")) == 1)
    lying.adjusted(lambda: lying.drag(".handle.end_face", (40, 3)))
    (mark,) = lying_marks(lying)
    assert (mark.edge, mark.number) == ("end_face", 1)
    question = lying.wait(lambda: lying.one("[data-question]")).text
    assert "Lying hub" in question
    assert "over-locknut" in question
    lying.click("#undo")
    lying.wait(lambda: not lying.all("[data-question]"))
    assert lying_marks(lying) == ()


def test_a_flange_of_a_lying_hub_is_moved_by_the_keyboard_alone(lying):
    lying.choose("#move", "left flange")
    handle = lying.wait(lambda: lying.one(".handle.flange"))
    lying.driver.execute_script("arguments[0].focus()", handle)
    ActionChains(lying.driver).key_down(Keys.SHIFT).send_keys(Keys.ARROW_RIGHT).key_up(Keys.SHIFT).perform()
    lying.wait(lambda: len(lying_marks(lying)) == 1)
    assert lying_marks(lying)[0].edge == "flange"
    lying.wait(lambda: lying.one("#undo").is_enabled())
    lying.click("#undo")
    lying.wait(lambda: lying_marks(lying) == ())


def test_edges_of_a_lying_hub_are_placed_anew(lying):
    if not lying.one("#place-start").is_displayed():
        lying.click("#by-hand summary")
    lying.choose("#place-what", "the left end face")
    lying.click("#place-start")
    ActionChains(lying.driver).send_keys(Keys.ENTER, Keys.ARROW_RIGHT, Keys.ENTER).perform()
    lying.adjusted(lambda: lying.click("#place-done"))
    assert [(m.edge, m.number, m.point) for m in lying_marks(lying)] == [
        ("end_face", 0, 0),
        ("end_face", 0, 1),
    ]
    lying.click("#undo")
    lying.wait(lambda: lying_marks(lying) == ())
