"""The picture of where a length can be trusted, against sampled cameras and OpenCV's own pose."""

import cv2
import numpy as np
import pytest

from hubsight.calibrate.plots import TRUST, length_uncertainty, trust_picture
from hubsight.camera import View, profile_prior
from hubsight.target.geometry import target_geometry

DISTANCE, PRINT_U = 330.0, 5e-4
SAMPLES = 150


@pytest.fixture
def size(example_profile):
    return example_profile.signature.width, example_profile.signature.height


@pytest.mark.parametrize("height", [0.0, 90.0])
@pytest.mark.parametrize("place", [(12, 9), (4, 4)])
def test_it_is_the_scatter_of_cameras_drawn_from_the_profile(example_profile, size, height, place):
    """Photograph with drawn cameras, find the pose with the profile's own, and measure the same bar."""
    prior = profile_prior(example_profile, *size)
    column, row = place
    predicted = length_uncertainty(prior, size, DISTANCE, height, PRINT_U)[row, column]
    saddles = target_geometry("a4").saddles
    ring = np.column_stack([saddles, np.zeros(len(saddles))])
    known = View(prior.value, np.array([0, 0, 0, np.pi, 0, 0, 0, 0, DISTANCE]))
    pixel = np.array(
        [[column / (TRUST.grid[0] - 1) * (size[0] - 1), row / (TRUST.grid[1] - 1) * (size[1] - 1)]]
    )
    middle = known.at_height(pixel, height)
    random = np.random.default_rng(5)
    worst = []
    for direction in np.eye(3)[:2]:
        bar = middle + np.array([[-0.5], [0.5]]) * TRUST.bar_mm * direction
        lengths = []
        for shared in random.multivariate_normal(prior.value, prior.covariance, SAMPLES):
            taken = View(shared, known.own)
            _, r, t = cv2.solvePnP(ring, taken.project(ring), known.matrix, known.distortion)
            found = View(prior.value, np.concatenate([np.zeros(3), r.ravel(), t.ravel()]))
            ends = found.at_height(taken.project(bar), height)
            lengths.append(np.linalg.norm(ends[1] - ends[0]) * (1 + PRINT_U * random.standard_normal()))
        worst.append(np.std(lengths))
    assert max(worst) == pytest.approx(predicted, rel=0.2)


def test_higher_is_less_certain_and_the_print_is_the_floor(example_profile, size):
    prior = profile_prior(example_profile, *size)
    middle = [length_uncertainty(prior, size, DISTANCE, z, PRINT_U)[9, 12] for z in (0.0, 50.0, 100.0)]
    assert middle == sorted(middle)
    assert middle[0] == pytest.approx(PRINT_U * TRUST.bar_mm, rel=0.05)
    poor = length_uncertainty(prior, size, DISTANCE, 0.0, 0.01)[9, 12]
    assert poor == pytest.approx(1.0, rel=0.05)


def test_the_picture_is_blue_on_the_paper_and_redder_above(example_profile):
    picture = np.asarray(trust_picture(example_profile, PRINT_U), dtype=float)
    thirds = np.split(picture[100:], 3, axis=1)
    redness = [float(np.median(third[..., 0] - third[..., 2])) for third in thirds]
    assert redness == sorted(redness)
    assert redness[0] < 0 < redness[2]
