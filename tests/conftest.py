"""What tests of several parts share."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image

from hubsight.camera import CameraProfile, load_profile
from hubsight.model.refusal import Refusal
from made_up import make_side


class FakeMeasurement:
    """Stands in for the measuring of a side: answers what it is told to, and keeps what it was asked."""

    def __init__(self):
        self.asked = []
        self.answers = {}

    def __call__(self, side, target, wheel, *, camera_profile=None):
        self.asked.append((side, target, wheel, camera_profile))
        answer = self.answers.get(side.name)
        return make_side(side.name, side.photos) if answer is None else answer


@pytest.fixture(autouse=True)
def no_kit_of_the_user(monkeypatch, tmp_path):
    """Tests do not see the kit of whoever runs them."""
    folder = tmp_path / "kit-of-the-user"
    monkeypatch.setenv("HUBSIGHT_KIT", str(folder))
    return folder


@pytest.fixture
def fake_measurement():
    return FakeMeasurement()


@pytest.fixture
def refusal():
    return Refusal(
        reason="the gauge's end is outside the picture", remedy="Step back a little", photo="IMG_1.jpg"
    )


JOB_TEXT = """\
[target]
bar_x = 119.5
bar_y = 119.4
[gauges.a]
length = 100.02
[sides.drive]
photos = "drive/*"
[sides.non_drive]
photos = "non_drive/*"
[hub]
over_locknut = 142
[rim]
erd = { value = 596, u = 0.001 }
[wheel]
crosses = 2
"""


@pytest.fixture
def job_folder(tmp_path):
    """A job with two small photos a side."""
    folder = tmp_path / "job"
    for side in ("drive", "non_drive"):
        (folder / side).mkdir(parents=True)
        for number in (1, 2):
            Image.new("RGB", (400, 300), (90, 60 * number, 120)).save(folder / side / f"IMG_{number}.jpg")
    (folder / "job.toml").write_text(JOB_TEXT)
    return folder


@pytest.fixture
def example_profile():
    """The profile of an invented phone that comes with the how-to."""
    profile = load_profile(Path(__file__).parents[1] / "calibration" / "example-camera.json")
    assert isinstance(profile, CameraProfile)
    return profile
