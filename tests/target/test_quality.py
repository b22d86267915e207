"""How well drawn photos show the sheet: blur, view and glare of known size."""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np
import pytest

from hubsight.camera import View
from hubsight.target.find import find_target
from hubsight.target.geometry import target_geometry
from hubsight.target.quality import EDGE, sheet_view
from hubsight.target.sharpness import nothing_sharp, sharpest_edge
from scenes import look_at
from sheet_pictures import photograph

SIZE = (1600, 1200)
CAMERA = np.array([1500.0, 799.5, 599.5, 0, 0, 0, 0, 0])
A4 = target_geometry("a4")
BLUR_SHARE = 0.15
"""Blurs are read this well up to a quarter of the profile's half width, here 1.5 px; wider ones read low."""
PIXEL_BLUR = 0.35
"""Standard deviation of averaging over a pixel, and of reading between pixels."""


@lru_cache(maxsize=8)
def shown(blur=0.0, tilt=15.0, distance=330.0):
    return photograph(
        View(CAMERA, np.concatenate([np.zeros(3), look_at(40, tilt, distance)])), SIZE, blur_px=blur
    )


def judged(picture):
    return sheet_view(picture, find_target(picture, A4))


def read_px(blur):
    sighting = find_target(shown(blur), A4)
    return sheet_view(shown(blur), sighting).blur_mm * sighting.square_px / A4.square


@pytest.mark.parametrize("blur", [0.8, 1.1, 1.5])
def test_the_blur_is_measured(blur):
    assert read_px(blur) == pytest.approx(np.hypot(blur, PIXEL_BLUR), rel=BLUR_SHARE)


def test_a_wide_blur_reads_low_but_in_order():
    read = [read_px(blur) for blur in (1.5, 2.0, 2.5, 3.0)]
    assert read == sorted(read)
    assert 0.6 * 3.0 < read[-1] < 3.0


def test_a_sharp_whole_sheet_is_not_worth_a_word():
    view = judged(shown())
    assert (view.outside, view.hidden, view.glare) == (0, 0, 0)
    assert view.sentences() == []


def test_a_blurred_sheet_is_worth_a_word():
    assert any("blurred" in s for s in judged(shown(3.2)).sentences())


def test_corners_outside_the_picture_are_counted():
    picture = np.full_like(shown(), 120)
    shift = np.array([[1.0, 0, -560], [0, 1, 0]])
    picture = cv2.warpAffine(
        shown(), shift, SIZE, dst=picture, borderMode=cv2.BORDER_CONSTANT, borderValue=120
    )
    view = judged(picture)
    assert view.outside > 0.25 * view.corners
    assert any("outside the picture" in s for s in view.sentences())


def under_spot(light, radius=230):
    mask = np.zeros(shown().shape, np.float32)
    cv2.circle(mask, (1100, 250), radius, 1.0, -1)
    mask = cv2.GaussianBlur(mask, (0, 0), 15)
    return np.clip(shown() * (1 - mask) + light * mask, 0, 255).astype(np.uint8)


def test_glare_is_told_from_a_cover():
    bright, covered = judged(under_spot(255)), judged(under_spot(90))
    assert bright.glare > 0.5 * bright.hidden > 0
    assert covered.hidden > 0
    assert covered.glare == 0
    assert any("glare" in s for s in bright.sentences())
    assert not any("glare" in s for s in covered.sentences())


def test_too_few_edges_give_no_blur():
    sighting = find_target(shown(), A4)
    flat = np.full_like(shown(), 128)
    view = sheet_view(flat, sighting)
    assert view.blur_mm is None
    assert EDGE.least > 1


@pytest.mark.parametrize("blur", [1.5, 3.0])
def test_the_sharpest_edges_of_a_picture(blur):
    expected = np.hypot(blur, PIXEL_BLUR)
    assert sharpest_edge(shown(blur)) == pytest.approx(expected, rel=2 * BLUR_SHARE)


def test_a_blurred_picture_is_called_blurred_where_no_target_is_found():
    blurred = cv2.GaussianBlur(shown(), (0, 0), 7.0)
    assert nothing_sharp(blurred)
    assert not nothing_sharp(shown())
    assert "too blurred" in find_target(blurred, A4).reason


def test_another_paper_is_named():
    refusal = find_target(shown(), target_geometry("letter"))
    assert 'paper = "a4"' in refusal.remedy
