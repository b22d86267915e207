"""The live preview in a real browser, whose camera shows a photo of the sample."""

import io

import pytest

pytest.importorskip("selenium")

from PIL import Image

from browser import needs_browser, open_browser, set_width, sideways_overflow
from hubsight.page.network import LOOPBACK

from .person import PHOTOS, Page

pytestmark = needs_browser


@pytest.fixture
def camera(tmp_path):
    """Arguments of a browser whose camera shows a photo, and which trusts certificates made on the spot."""
    frame = io.BytesIO()
    with Image.open(PHOTOS[0]) as picture:
        picture.resize((1280, 960)).save(frame, "JPEG", quality=85)
    film = tmp_path / "film.mjpeg"
    film.write_bytes(frame.getvalue() * 5)
    return (
        "--use-fake-device-for-media-stream",
        "--use-fake-ui-for-media-stream",
        f"--use-file-for-fake-video-capture={film}",
        "--ignore-certificate-errors",
    )


def test_the_preview_draws_the_marks_that_the_camera_sees(owner, job, camera):
    opened = owner.post(f"{job}/phone/open", {"side": "drive", "address": LOOPBACK, "secure": True}).json
    with open_browser(*camera) as driver:
        phone = Page(driver)
        set_width(driver, 390, 844)
        driver.get(opened["link"])
        phone.wait(lambda: phone.one("#inside").is_displayed(), 60)
        phone.click("#live-start")
        phone.wait(lambda: "of 70 marks" in phone.one("#live-say").text, 60)
        assert len(phone.all("#live-marks circle")) >= 60
        assert phone.violations() == []
        assert sideways_overflow(driver) == 0
        phone.click("#live-start")
        phone.wait(lambda: not phone.one("#live-view").is_displayed(), 20)
        assert [e for e in phone.console() if "favicon" not in e["message"]] == []
    owner.post(f"{job}/phone/close")
