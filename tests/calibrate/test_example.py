"""The example in calibration/: readable, and as the page says."""

from pathlib import Path

import numpy as np

from hubsight.camera import CameraProfile, load_profile, profile_prior

FOLDER = Path(__file__).parents[2] / "calibration"


def test_the_example_profile_is_as_its_page_says():
    profile = load_profile(FOLDER / "example-camera.json")
    assert isinstance(profile, CameraProfile)
    page = " ".join((FOLDER / "CAMERA.md").read_text(encoding="utf-8").split())
    said = f"the profile says {profile.camera.f:.1f} with standard uncertainty {profile.uncertainty()[0]:.1f}"
    assert said in page


def test_the_example_profile_serves_as_a_prior():
    prior = profile_prior(load_profile(FOLDER / "example-camera.json"), 4032, 3024)
    assert np.all(np.linalg.eigvalsh(prior.covariance) > 0)
