"""Preparing without any data, and the sample job by one click."""

from __future__ import annotations

import pytest

pytest.importorskip("selenium")

from browser import needs_browser, set_width, sideways_overflow
from hubsight.page.prepare_pages import SAMPLE_NAME

from .conftest import run_bench
from .person import Page

pytestmark = needs_browser


@pytest.fixture(scope="module")
def newcomer(tmp_path_factory):
    """Somebody before an empty bench."""
    from browser import open_browser  # noqa: PLC0415

    bench, end = run_bench(tmp_path_factory.mktemp("new"))
    with open_browser() as driver:
        page = Page(driver)
        page.home = f"http://{bench.host}/"
        set_width(driver, 1366)
        driver.get(bench.address)
        page.wait(lambda: page.one("#new-job"))
        yield page, bench
    end()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1366, 390])
def test_the_four_steps_are_drawn_and_can_be_read(newcomer, scheme, width):
    page, _ = newcomer
    features = [{"name": "prefers-color-scheme", "value": scheme}]
    page.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": features})
    set_width(page.driver, width)
    page.driver.get(page.home)
    page.click('a[href="/prepare"]')
    drawings = page.wait(lambda: page.all("svg.guide"))
    assert len(drawings) == 4
    assert all(drawing.size["width"] > 250 for drawing in drawings)
    assert sideways_overflow(page.driver) == 0
    assert page.violations() == []


def test_the_target_comes_with_the_card(newcomer):
    _, bench = newcomer
    body = bench.owner().get("/target/a4.pdf").body
    assert body.count(b"/Type /Page\n") == 2 or body.count(b"/Type /Page ") == 2


def test_the_sample_opens_with_one_click_and_is_measured(newcomer):
    page, bench = newcomer
    page.driver.get(page.home)
    page.click("#open-sample")
    page.wait(lambda: page.driver.current_url.endswith("#look"))
    page.wait(lambda: page.all("#look .tile") and page.all('[data-figures="non_drive"] [data-figure]'))
    assert (bench.shelf / SAMPLE_NAME / "job.toml").is_file()
    assert not (bench.shelf / SAMPLE_NAME / "truth.json").exists()
    page.driver.get(page.home)
    page.click("#open-sample")
    page.wait(lambda: page.driver.current_url.endswith("#look"))
    assert [p.name for p in bench.shelf.iterdir()] == [SAMPLE_NAME], "it is put there once"


def test_a_stranger_gets_neither(newcomer):
    _, bench = newcomer
    stranger = bench.stranger()
    assert stranger.get("/prepare").status == 401
    assert stranger.post("/sample").status == 401


def test_what_has_the_samples_place_is_left_alone(tmp_path):
    (tmp_path / SAMPLE_NAME).mkdir()
    (tmp_path / SAMPLE_NAME / "mine.txt").write_text("mine")
    bench, end = run_bench(tmp_path)
    try:
        answer = bench.owner().post("/sample")
    finally:
        end()
    assert answer.status == 422
    assert "already" in answer.json["error"]
    assert [p.name for p in (tmp_path / SAMPLE_NAME).iterdir()] == ["mine.txt"]
