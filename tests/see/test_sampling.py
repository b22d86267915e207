"""Blur and linear light are made of parts of a picture; there they are those of the whole picture."""

import cv2
import numpy as np
import pytest

from hub_pictures import views
from hubsight.see.ribbon import linear_light, unroll
from hubsight.see.sampling import sampled, softened, softened_round

NOISE = np.random.default_rng(5).integers(0, 256, (400, 500), dtype=np.uint8)


@pytest.mark.parametrize("blur_px", [0.8, 1.0, 1.6])
def test_the_blur_is_opencvs(blur_px):
    theirs = cv2.GaussianBlur(NOISE.astype(np.float32), (0, 0), blur_px)
    assert np.abs(softened(NOISE, blur_px) - theirs).max() < 1e-3


@pytest.mark.parametrize("corner", [(200.3, 150.7), (-20.0, -9.5), (480.2, 390.6)])
def test_a_blurred_part_shows_what_the_whole_does(corner):
    at = (np.stack(np.meshgrid(np.arange(0, 30, 0.7), np.arange(0, 30, 0.7)), -1) + corner).astype(np.float32)
    whole = sampled(softened(NOISE, 1.0), at)
    part = softened_round(NOISE, [at[:10], at[10:]], 1.0)
    assert part.light.size < NOISE.size / 20
    assert np.abs(part.sampled(at) - whole).max() < 0.1


def test_a_ribbon_has_the_pictures_linear_light_and_none_beyond_its_border():
    view = views()[0]
    width, height = (int(2 * c) for c in view.shared[1:3])
    picture = np.random.default_rng(6).integers(0, 256, (height, width), dtype=np.uint8)
    edge = view.at_height(np.array([[width - 30.0, height / 2]]), 50.0)[0]
    back, across = np.arange(-20.0, 20.0, 0.5), np.arange(-3.0, 3.0, 0.5)
    ribbon = unroll(picture, view, edge, np.array([1.0, 0.0, 0.0]), back=back, across=across)
    at = ribbon.pixels[:, None] + (ribbon.px_per_mm[:, None] * across)[..., None] * ribbon.normals[:, None]
    inside = np.all((at > 0) & (at < np.array([width, height]) - 1), axis=2)
    expected = sampled(linear_light(picture), at.astype(np.float32))
    assert inside.any()
    assert not inside.all()
    assert np.abs(ribbon.light - expected)[inside].max() < 0.02
    assert np.isnan(ribbon.light[~inside]).all()
