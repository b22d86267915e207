"""The bench card on the page: ends noted by tapping are kept in the job, as ``hubsight built`` reads them."""

import tomllib

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from typer.testing import CliRunner

from browser import needs_browser, open_browser
from hubsight.cli import app

from .conftest import wait_for

BY_HAND = """\
[sides.drive.caliper]
flange_diameter = 47.1
spoke_offset = 1.9
centre_to_flange = 18.9
[sides.non_drive.caliper]
flange_diameter = 43.4
spoke_offset = 2.4
centre_to_flange = 33.5
[rim]
erd = { value = 596.2, u = 0.2 }
[wheel]
spokes = 24
crosses = 2
"""


@pytest.fixture
def wheel(bench, job):
    """The address of a job that has readings by hand, and its file."""
    file = next(bench.shelf.rglob("job.toml"))
    file.write_text(BY_HAND)
    return f"{job}/card", file


def built(file):
    return tomllib.loads(file.read_text()).get("built", {})


def test_a_tapped_end_is_kept_as_built_reads_it(owner, wheel):
    address, file = wheel
    page = owner.get(f"{address}.html")
    assert page.status == 200
    assert page.body.count(b'class="scale"') == 24
    for hole, end in ((1, 0.4), (5, 0.9), (3, 1.1)):
        answer = owner.post(address, {"side": "drive", "hole": hole, "end": end})
        assert answer.status == 200, answer.body
    assert "3 of 12 ends noted; the ends lie +0.8 mm" in answer.json["said"]
    assert 'class="noted"' in answer.json["scale"]
    assert built(file)["drive"] == {"ends": [0.4, 1.1, 0.9], "holes": [1, 3, 5], "length": 296.0}
    said = CliRunner().invoke(app, ["built", str(file.parent)])
    assert "spokes of 296 mm: the ends lie +0.8 mm" in " ".join(said.stdout.split())
    again = owner.get(f"{address}.html")
    assert again.body.count(b'class="noted"') == 3


def test_a_note_can_be_taken_away(owner, wheel):
    address, file = wheel
    owner.get(f"{address}.html")
    owner.post(address, {"side": "non_drive", "hole": 2, "end": 0.4})
    owner.post(address, {"side": "non_drive", "hole": 2, "end": None})
    assert built(file)["non_drive"]["ends"] == []
    assert built(file)["non_drive"]["holes"] == []
    assert BY_HAND.splitlines()[0] in file.read_text()


@pytest.mark.parametrize(
    "body",
    [
        {"side": "middle", "hole": 1, "end": 0.1},
        {"side": "drive", "hole": "1", "end": 0.1},
        {"side": "drive", "hole": 1, "end": "0.1"},
        {"side": "drive", "hole": 1, "end": True},
        {"side": "drive", "hole": 2, "end": 0.1},
        {"side": "drive", "hole": 1, "end": 1e9},
        {"side": "drive", "hole": 1, "end": float("nan")},
        {},
    ],
)
def test_what_is_no_note_changes_nothing(owner, wheel, body):
    address, file = wheel
    owner.get(f"{address}.html")
    assert owner.post(address, body).status in (400, 422)
    assert file.read_text() == BY_HAND


def test_ends_that_a_hand_wrote_are_not_lost(owner, wheel):
    address, file = wheel
    file.write_text(BY_HAND + "[built.drive]\nends = [0.1, 0.2]\n")
    owner.get(f"{address}.html")
    answer = owner.post(address, {"side": "drive", "hole": 1, "end": 0.3})
    assert answer.status == 422
    assert "2 ends are noted without their rim holes" in answer.json["error"]
    assert built(file)["drive"]["ends"] == [0.1, 0.2]


def test_a_job_without_a_wheel_has_no_card(owner, wheel):
    address, file = wheel
    file.write_text(BY_HAND.replace("erd = ", "# erd = "))
    answer = owner.get(f"{address}.html")
    assert answer.status == 422
    assert b"Without the rim" in answer.body


@needs_browser
def test_tapping_a_scale_with_mouse_and_keyboard(bench, owner, wheel):
    address, file = wheel
    with open_browser() as driver:
        driver.get(f"http://{bench.host}/#{bench.key}")
        wait_for(driver.get_cookies)
        driver.get(f"http://{bench.host}{address}.html")
        cell = driver.find_element(By.CSS_SELECTOR, '[data-side="drive"][data-hole="7"]')
        low, high = (
            float(driver.find_element(By.CSS_SELECTOR, "[data-job]").get_attribute(f"data-{end}"))
            for end in ("low", "high")
        )
        box = cell.rect
        share = (20.5 + (0.5 - low) / (high - low) * 40.0) / 61.5  # where +0.5 mm is drawn
        ActionChains(driver).move_to_element_with_offset(
            cell, (share - 0.5) * box["width"], 0
        ).click().perform()
        wait_for(lambda: built(file).get("drive"))
        assert built(file)["drive"]["ends"] == [pytest.approx(0.5, abs=0.11)]
        assert built(file)["drive"]["holes"] == [7]
        cell.send_keys(Keys.ARROW_RIGHT)
        wait_for(lambda: built(file)["drive"]["ends"] != [] and built(file)["drive"]["ends"][0] > 0.55)
        cell.send_keys(Keys.DELETE)
        wait_for(lambda: built(file)["drive"]["ends"] == [])
        assert [entry for entry in driver.get_log("browser") if entry["level"] == "SEVERE"] == []
