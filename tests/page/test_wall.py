"""The wall of evidence in a real browser: pictures, marks, what a click opens, what a figure lights."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

pytest.importorskip("selenium")

from browser import needs_browser

from .conftest import wait_for
from .person import PHOTOS

pytestmark = [needs_browser, pytest.mark.usefixtures("at_the_job")]


def tiles(page):
    return page.wait(lambda: page.all("#look .tile"))


def test_everything_is_there_side_by_side_and_each_photo_opens_where_it_was_clicked(page):
    page.step("look")
    page.ready()
    said = [" ".join(tile.text.split()) for tile in tiles(page)]
    ends = page.all("#look .crops:first-child .tile")
    assert len(ends) == len(PHOTOS)
    assert all(any(f"drive-0{k}" in words for words in said) for k in range(1, len(PHOTOS) + 1))
    assert sum("boss" in words for words in said) >= 6
    wanted = ends[1]
    box = [float(v) for v in wanted.get_attribute("data-box").split()]
    photo = wanted.get_attribute("data-open")
    wanted.click()
    page.wait(lambda: page.one("#viewport").get_attribute("data-ready") == photo)
    middle = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    page.wait(lambda: max(map(abs, page.on_screen(middle))) < 5)
    assert page.driver.switch_to.active_element.get_attribute("id") == "viewport"


def test_a_close_up_is_that_part_of_the_photo(page, open_bench):
    """Against the picture for the screen: what the wall shows is cut from the same place."""
    page.step("look")
    tile = tiles(page)[0]
    box = [int(v) for v in tile.get_attribute("data-box").split()]
    job = page.driver.current_url.partition("#")[0].removeprefix(page.home.rstrip("/"))
    visitor = open_bench.owner()

    def picture(path):
        answer = wait_for(lambda: (a := visitor.get(path)).status == 200 and a)
        return Image.open(io.BytesIO(answer.body)).convert("L")

    name = tile.get_attribute("data-open")
    whole = picture(f"{job}/photo/{name}/full.jpg")
    shown = picture(page.one("#look .tile image").get_attribute("href"))
    expected = whole.crop(box).resize(shown.size)
    assert shown.size == (360, 360)
    off = np.abs(np.asarray(shown, float) - np.asarray(expected, float))
    assert off.mean() < 4.0
    elsewhere = whole.crop([v + 60 for v in box]).resize(shown.size)
    assert np.abs(np.asarray(shown, float) - np.asarray(elsewhere, float)).mean() > 2 * off.mean()


def test_hidden_bosses_are_dashed_in_the_viewer_too(page):
    page.step("look")
    page.ready()
    drawings = [page.drawing(tile.get_attribute("data-open")) for tile in tiles(page)[:3]]
    hidden = [d["inferred"] for d in drawings]
    assert any(hidden), "a photo from the side hides some"
    assert not all(len(h) == 6 for h in hidden)
    assert all(d["edges"] for d in drawings)
