"""Corrections in a real browser: by dragging, by the keyboard, and by hand where nothing was found."""

from __future__ import annotations

import io
import re

import cv2
import numpy as np
import pytest
from PIL import Image

pytest.importorskip("selenium")

from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from browser import needs_browser
from hubsight.job.file.corrections import read_corrections
from hubsight.job.file.edit import set_fields
from hubsight.job.sample import load_truth

from .person import GAUGE_MM, PHOTOS, SAMPLE

pytestmark = [needs_browser, pytest.mark.usefixtures("at_the_job")]
TRUE_OFFSET = load_truth(SAMPLE).sides["drive"].figures["spoke_offset"]


def test_dragging_moves_the_figures_and_is_undone(page):
    low, high = page.interval("spoke offset")
    page.step("look")
    page.ready()
    before = page.figure("spoke offset")
    page.click("#zoom-end")
    drags = ((-60, -6), (-20, -2), (-20, -2))
    for by in drags:
        page.adjusted(lambda by=by: page.drag(".handle.end", by))
    assert "placed by hand" in page.one("#look .say.note").text
    # One mark against the other photos: the figure stays, wide enough to hold both.
    wide = page.interval("spoke offset")
    assert wide[1] - wide[0] > high - low + 0.2
    page.step("look")
    for _ in drags:
        page.driver.execute_script("document.getElementById('viewer-say').textContent = ''")
        page.click("#undo")
        page.wait(lambda: page.say().startswith("Taken back"))
    page.wait(lambda: page.figure("spoke offset") == before)
    page.wait(lambda: not page.one("#undo").is_enabled())


def test_a_handle_that_is_held_stays_while_an_answer_comes(page):
    """Somebody drags on before the figures are there: nothing is torn from his hand, and both moves count."""
    page.step("look")
    page.ready()
    before = page.known("reach")
    page.click("#zoom-end")
    first = page.one(".handle.end").rect["x"]

    def twice():
        hand = ActionChains(page.driver, duration=60)
        hand.click_and_hold(page.one(".handle.end")).move_by_offset(-30, 0).release().click_and_hold()
        for _ in range(30):
            hand.move_by_offset(-1, 0)
        hand.release().perform()

    page.adjusted(twice)
    page.wait(lambda: page.one(".handle.end").rect["x"] == pytest.approx(first - 60, abs=1))
    page.wait(lambda: page.known("reach")[1] > before[1])  # one mark against the other photos
    for _ in range(2):
        page.driver.execute_script("document.getElementById('viewer-say').textContent = ''")
        page.click("#undo")
        page.wait(lambda: page.say().startswith("Taken back"))
    page.wait(lambda: page.known("reach") == before)


# Notes where the photo lies in the window, and which element is the handle, in every frame.
WATCH = """
const port = document.getElementById("viewport"), end = document.querySelector(".handle.end");
window.seen = {tops: new Set(), same: true};
(function frame() {
  seen.tops.add(Math.round(port.getBoundingClientRect().top));
  seen.same = seen.same && end === document.querySelector(".handle.end");
  requestAnimationFrame(frame);
})();
"""


def test_nothing_moves_under_the_hand_while_an_answer_comes(page):
    """A question, a close-up or a longer status line above the photo does not push it away."""
    page.step("look")
    page.ready()
    page.click("#zoom-end")
    page.driver.execute_script("document.getElementById('viewport').scrollIntoView({block: 'center'})")
    page.driver.execute_script(WATCH)
    before = len(page.one('[data-part="questions"]').text)
    page.adjusted(lambda: page.drag(".handle.end", (-60, -6)))
    page.wait(lambda: len(page.one('[data-part="questions"]').text) > before)
    page.wait(lambda: "does not agree" in page.one('[data-part="wall"]').text)
    tops, same = page.driver.execute_script("return [[...seen.tops], seen.same]")
    assert max(tops) - min(tops) <= 1
    assert same, "the handle is the same element before and after the answer"
    page.click("#undo")
    page.wait(lambda: page.say().startswith("Taken back"))
    page.wait(lambda: not page.one("#undo").is_enabled())


def column(handle):
    """Where a handle is in the photo, as it is said."""
    return int(re.search(r"column (\d+)", handle.get_attribute("aria-label"))[1])


def test_the_keyboard_alone_moves_a_mark_and_shift_moves_it_finely(page):
    page.step("look")
    page.ready()
    before = page.known("spoke offset")
    handle = page.one(".handle.end")
    assert "Far end of the gauge" in handle.get_attribute("aria-label")
    page.driver.execute_script("arguments[0].focus()", handle)
    places = [column(handle)]
    for shift in (False, True):
        chain = ActionChains(page.driver)
        chain = chain.key_down(Keys.SHIFT) if shift else chain
        chain.send_keys(Keys.ARROW_LEFT * 2).key_up(Keys.SHIFT).perform()
        places.append(column(handle))
    assert places[0] - places[1] > 3 * (places[1] - places[2]) > 0
    placed = "the gauge's end was placed by hand"
    page.wait(lambda: placed in page.one('[data-figures="drive"]').text)
    page.wait(lambda: page.one("#doing").text == "")
    assert page.driver.switch_to.active_element == handle, "the focus stays where it was"
    while page.one("#undo").is_enabled():  # slow keys are sent one by one
        page.click("#undo")
        page.wait(lambda: page.say().startswith("Taken back"))
    page.wait(lambda: page.known("spoke offset") == before)
    assert placed not in page.one('[data-figures="drive"]').text


def test_a_move_that_was_not_sent_is_not_taken_to_another_photo(page, open_bench):
    page.step("look")
    page.ready()
    file = open_bench.shelf / "rear-hub" / "corrections.json"
    before = file.read_text() if file.exists() else None
    page.driver.execute_script(
        "const end = document.querySelector('.handle.end'); end.focus();"
        "end.dispatchEvent(new KeyboardEvent('keydown', {key: 'ArrowLeft', bubbles: true}));"
        "const pick = document.getElementById('pick'); pick.selectedIndex = 1;"
        "pick.dispatchEvent(new Event('change'))"
    )
    choose_photo(page, 2)
    choose_photo(page, 0)
    assert not page.one("#clear").is_enabled()
    assert (file.read_text() if file.exists() else None) == before


@pytest.mark.parametrize(("kind", "figure"), [("face", "boss width"), ("centreline", "spoke offset")])
def test_faces_and_centrelines_can_be_moved(page, kind, figure):
    """A mark that contradicts the photos widens the figure, and does not move it."""
    page.step("look")
    page.ready()
    before = page.known(figure)
    page.choose("#move", "the gauge's")
    page.adjusted(lambda: page.drag(f".handle.{kind}", (14, 10)))
    page.wait(lambda: page.known(figure)[1] > before[1])
    page.click("#undo")
    page.wait(lambda: page.known(figure) == before)
    page.choose("#move")


def test_an_unusable_photo_is_left_out_and_taken_back(page):
    page.step("look")
    page.ready()
    before = page.figure("spoke offset")
    page.click("#unusable")
    page.wait(lambda: page.one("#unusable").get_attribute("aria-pressed") == "true")
    page.wait(lambda: "marked as unusable" in page.one('[data-figures="drive"]').text)
    assert page.figure("spoke offset") != before
    page.click("#unusable")
    page.wait(lambda: page.one("#unusable").get_attribute("aria-pressed") == "false")
    page.wait(lambda: page.figure("spoke offset") == before)


# ---- a misled detector


def beyond_the_end(photo, evidence):
    """The photo with another bit of wire behind the gauge's end, in line with it, a small gap between."""
    picture = Image.open(photo)
    tags, pixels = picture.info["exif"], np.array(picture)
    line, end = np.array(evidence["gauges"][0]), np.array(evidence["ends"][0])
    step = line[-1] - line[-4]
    per_mm = np.linalg.norm(step) / (3 * GAUGE_MM / (len(line) - 1))
    along = step / np.linalg.norm(step)
    across = np.array([-along[1], along[0]]) * 1.3 * per_mm
    first, last = end + 0.6 * per_mm * along, end + 9 * per_mm * along
    mask = np.zeros(pixels.shape[:2], np.uint8)
    corners = np.array([first - across, first + across, last + across, last - across])
    cv2.fillPoly(mask, [np.round(corners).astype(np.int32)], 255)
    shift = np.round(9 * per_mm * along)
    moved = cv2.warpAffine(pixels, np.float32([[1, 0, shift[0]], [0, 1, shift[1]]]), pixels.shape[1::-1])
    pixels[mask > 0] = moved[mask > 0]
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=95, exif=tags)
    return out.getvalue(), end


def test_dragging_the_end_repairs_photos_that_misled_the_detector(page, tmp_path):
    """More wire lies behind the gauge: the detector takes its end for the gauge's, and nothing is right."""
    page.step("look")
    page.ready()
    options = [o.get_attribute("value") for o in page.all("#pick option")]
    ends, files = [], []
    for photo, known in zip(PHOTOS, options, strict=True):
        content, end = beyond_the_end(photo, page.drawing(known))
        ends.append(end)
        files.append(tmp_path / photo.name)
        files[-1].write_bytes(content)
    page.measure("misled", files)
    assert "sticks out of the boss" in page.one('[data-figures="drive"]').text
    page.ready()
    # The hand does not know better than the eye: the end is dragged to where the gap is seen, first roughly,
    # then from nearby.
    for button in ("#zoom-fit", "#zoom-end"):
        page.click(button)
        page.adjusted(lambda: drag_to(page, ".handle.end", ends[0]))
    page.wait(lambda: abs(page.figure("spoke offset") - TRUE_OFFSET) < 0.4)
    assert "contradicts what was placed by hand" in page.one(".judged").get_attribute("textContent")
    assert "the gauge's end was placed by hand" in page.one('[data-figures="drive"]').text
    low, high = page.interval("spoke offset")
    assert low < TRUE_OFFSET < high


def drag_to(page, selector, at):
    """Drag a handle to a pixel of the photo."""
    handle, view = page.one(selector).rect, page.one("#viewport").rect
    here = [
        handle["x"] + handle["width"] / 2 - view["x"] - view["width"] / 2,
        handle["y"] + handle["height"] / 2 - view["y"] - view["height"] / 2,
    ]
    page.drag(selector, [round(to - of) for to, of in zip(page.on_screen(at), here, strict=True)])


# ---- nothing found


def wiped(photo, drawing):
    """The photo without its gauge, and with the hub's bosses smeared: no detector finds either."""
    picture = Image.open(photo)
    pixels = np.array(picture)
    line = np.round(np.array(drawing["gauges"][0])).astype(np.int32)
    wire = np.zeros(pixels.shape[:2], np.uint8)
    cv2.polylines(wire, [line[4:].reshape(-1, 1, 2)], False, 255, 44)
    pixels = cv2.inpaint(pixels, wire, 5, cv2.INPAINT_TELEA)
    outlines = np.concatenate([np.array(o) for o in drawing["outlines"]]).astype(np.float32)
    centre, radius = cv2.minEnclosingCircle(outlines)
    hub = np.zeros(pixels.shape[:2], np.uint8)
    cv2.circle(hub, [round(v) for v in centre], round(radius * 1.15), 255, -1)
    smeared = cv2.GaussianBlur(pixels, (0, 0), 60)  # less leaves ghosts of bosses to be found
    pixels[hub > 0] = smeared[hub > 0]
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=95, exif=picture.info["exif"])
    return out.getvalue()


@pytest.fixture(scope="module")
def nothing_found(page, measured, tmp_path_factory):
    """A job in whose photos the detector finds nothing; where gauge and bosses are, per photo."""
    page.open_job("rear-hub")
    page.step("look")
    page.ready()
    known = [page.drawing(o.get_attribute("value")) for o in page.all("#pick option")]
    folder, files = tmp_path_factory.mktemp("wiped"), []
    for photo, drawing in zip(PHOTOS, known, strict=True):
        files.append(folder / photo.name)
        files[-1].write_bytes(wiped(photo, drawing))
    page.measure("nothing found", files)
    assert "no gauge spoke was found" in page.one('[data-figures="drive"]').text
    return known


def choose_photo(page, number):
    page.choose("#pick", number=number)
    wanted = page.all("#pick option")[number].get_attribute("value")
    page.wait(lambda: page.one("#viewport").get_attribute("data-ready") == wanted)
    page.wait(
        lambda: page.driver.execute_script(
            "const i = document.getElementById('shown'); return i.complete && i.naturalWidth"
        )
    )


def say_what_is_placed(page, what, bosses=None):
    if not page.one("#place-start").is_displayed():
        page.click("#by-hand summary")
    page.choose("#place-what", what)
    if bosses is not None:
        page.keys("#place-count", str(bosses) or Keys.BACKSPACE)


def begin_placing(page, what, bosses=None):
    say_what_is_placed(page, what, bosses)
    page.click("#place-start")
    page.wait(lambda: page.one("#placing").is_displayed())


def place_gauge(page, drawing, number):
    choose_photo(page, number)
    begin_placing(page, "the gauge")
    line = drawing["gauges"][0]
    for at in (line[5], line[-4]):
        page.tap(at)
    page.adjusted(lambda: page.tap(drawing["ends"][0]))


def place_bosses(page, drawing, number):
    choose_photo(page, number)
    begin_placing(page, "the bosses", len(drawing["outlines"]))
    for outline in drawing["outlines"][::2]:
        quarter = (len(outline) - 1) // 4
        page.tap(outline[quarter])
        page.tap(outline[-2 - quarter])
    page.adjusted(lambda: page.click("#place-done"))


def test_gauge_and_bosses_are_placed_by_hand_where_nothing_was_found(page, nothing_found):
    page.open_job("nothing-found")
    page.step("look")
    side = '[data-figures="drive"]'
    place_gauge(page, nothing_found[0], 0)
    assert "in one more photo" in page.one(side).text
    place_gauge(page, nothing_found[1], 1)
    assert "No figures yet" in page.one(side).text, "its bosses are smeared"
    place_bosses(page, nothing_found[0], 0)
    place_bosses(page, nothing_found[1], 1)
    page.wait(lambda: abs(page.figure("spoke offset") - TRUE_OFFSET) < 0.8)
    text = page.one(side).text
    for said in (
        "the gauge's axis was",
        "the gauge's end was",
        "the pattern of 6 bosses was",
        "a boss face was",
    ):
        assert f"{said} placed by hand" in text
    # what was placed can be moved, and taken back
    before = page.figure("spoke offset")
    page.wait(lambda: page.one("#move").get_attribute("value") == "bosses placed by hand")
    page.adjusted(lambda: page.drag(".handle.face", (9, 9)))
    assert page.figure("spoke offset") != before
    page.click("#undo")
    page.wait(lambda: page.figure("spoke offset") == before)
    low, high = page.interval("spoke offset")
    assert low < TRUE_OFFSET < high
    assert high - low > 0.4, "hands place less exactly than the detector sees"


def test_placing_by_the_keyboard_alone(page, nothing_found):
    page.open_job("nothing-found")
    page.step("look")
    choose_photo(page, 2)
    begin_placing(page, "the gauge")
    assert page.driver.switch_to.active_element.get_attribute("id") == "viewport"

    def keys(*pressed):
        ActionChains(page.driver).send_keys(*pressed).perform()

    assert "1 of 3" in page.one("#placing-say").text
    keys("+", "+", Keys.ENTER)
    assert "2 of 3" in page.one("#placing-say").text
    keys(Keys.BACKSPACE)
    assert "1 of 3" in page.one("#placing-say").text
    keys(Keys.ENTER, *[Keys.ARROW_RIGHT] * 3, Keys.ENTER)
    assert len(page.all("#pending span")) == 2
    keys(Keys.ESCAPE)
    assert not page.one("#placing").is_displayed()
    assert not page.one("#clear").is_enabled(), "nothing was placed"


@pytest.mark.parametrize("typed", ["", "2", "11", "5.5", "-6"])
def test_a_wrong_number_of_bosses_is_told(page, nothing_found, typed):
    page.open_job("nothing-found")
    page.step("look")
    choose_photo(page, 2)
    say_what_is_placed(page, "the bosses", typed)
    page.click("#place-start")
    assert "how many bosses" in page.one("#place-error").text
    assert not page.one("#placing").is_displayed()


# ---- turned edges, and a second gauge


def edges_of(open_bench, job):
    return read_corrections(open_bench.shelf / job).drive.edges


def test_an_end_face_is_placed_by_the_keyboard_alone(page, open_bench):
    page.step("look")
    choose_photo(page, 1)
    begin_placing(page, "the end face")
    keys = [Keys.ENTER, *[Keys.ARROW_RIGHT] * 2, Keys.ENTER, *[Keys.ARROW_DOWN] * 2]
    ActionChains(page.driver).send_keys(*keys).perform()
    assert not page.one("#place-done").is_enabled(), "two points make no circle"
    ActionChains(page.driver).send_keys(Keys.ENTER).perform()
    page.adjusted(lambda: page.click("#place-done"))
    assert [m.point for m in edges_of(open_bench, "rear-hub")] == [0, 1, 2]
    page.click("#undo")
    page.wait(lambda: edges_of(open_bench, "rear-hub") == ())


def test_a_radial_flange_is_placed_by_its_rim(page, nothing_found, open_bench):
    """The hub is none, and the page says so: its gauge does not point away from the middle."""
    page.open_job("nothing-found")
    page.step("look")
    while page.one("#undo").is_enabled():
        page.click("#undo")
        page.wait(lambda: page.say().startswith("Taken back"))
    for number in (0, 1):
        place_gauge(page, nothing_found[number], number)
    choose_photo(page, 0)
    begin_placing(page, "the flange's rim", 10)
    outlines = [np.mean(o, axis=0) for o in nothing_found[0]["outlines"]]
    for at in outlines[:5]:
        page.tap([float(v) for v in at])
    page.adjusted(lambda: page.click("#place-done"))
    corrections = read_corrections(open_bench.shelf / "nothing-found").drive
    assert corrections.bosses == 10
    assert {m.edge for m in corrections.edges} == {"rim"}
    page.wait(lambda: "rim placed by hand" in page.one('[data-figures="drive"]').text)
    page.wait(lambda: page.one("#move").get_attribute("value") == "flange's rim")
    assert len(page.all(".handle.rim")) == 5


def test_a_second_gauge_is_placed_and_moved(page, nothing_found, open_bench):
    """In photos that show one gauge where two are stated."""
    job = open_bench.shelf / "nothing-found" / "job.toml"
    text = job.read_text()
    job.write_text(text.replace("[sides.drive]", '[gauges.b]\nlength = 100.2\ntip = "flat"\n\n[sides.drive]'))
    set_fields(job.parent, {"sides.drive.gauges": ["a", "b"]})
    page.open_job("nothing-found")
    page.step("look")
    choose_photo(page, 2)
    begin_placing(page, "gauge 2")
    line = nothing_found[2]["gauges"][0]
    for at in (line[5], line[-4]):
        page.tap(at)
    page.adjusted(lambda: page.tap(nothing_found[2]["ends"][0]))
    own = [m for m in read_corrections(job.parent).drive.ends if m.gauge == 1]
    assert len(own) == 1
    page.correct()
    page.choose("#move", "gauge 2")
    page.adjusted(lambda: page.drag(".handle.end", (0, 12)))
    moved = [m for m in read_corrections(job.parent).drive.ends if m.gauge == 1]
    assert moved[0].pixel != own[0].pixel
    job.write_text(text)
