"""Seeing a rod with two free ends in drawn pictures of which the truth is known."""

from __future__ import annotations

import numpy as np
import pytest

from hub_pictures import STEEL, Picture, rod, views
from hubsight.model.refusal import Refusal
from hubsight.see.gauge.rod import see_rod

OUT = np.array([0.97, 0.24, 0.03]) / np.linalg.norm([0.97, 0.24, 0.03])
FAR, LENGTH, DIAMETER = np.array([51.0, 14.0, 84.0]), 104.0, 2.0
END_MM, LENGTH_MM = 0.12, 0.1
"""Filled polygons reach half a fine pixel too far: each end is drawn 0.03 mm too long."""
HEAD, HEAD_DIAMETER = 1.5, 3.7


def draw(view, *, head=False, length=LENGTH, seed=0):
    picture = Picture(view)
    picture.fill(rod(FAR, OUT, length, DIAMETER), STEEL)
    if head:
        picture.fill(rod(FAR, OUT, HEAD, HEAD_DIAMETER, rounding=0.3), STEEL)
    return picture.developed(seed=seed)


@pytest.fixture(scope="module")
def own():
    return views(roll=0.0)


@pytest.fixture(scope="module")
def shots(own):
    return [draw(view, seed=k) for k, view in enumerate(own)]


def test_both_ends_are_found_to_hundredths(shots, own):
    found = see_rod(shots, own, LENGTH)
    assert found, getattr(found, "reason", "")
    ends = [FAR, FAR - LENGTH * OUT]
    if found.line.direction @ OUT < 0:
        ends.reverse()
    for seen, true in zip((found.far, found.near), ends, strict=True):
        assert np.linalg.norm(seen - true) < END_MM
    for photos, true in ((found.far_ends, found.far), (found.near_ends, found.near)):
        assert all(end is not None for end in photos), true
    assert found.length == pytest.approx(LENGTH, abs=LENGTH_MM)


@pytest.mark.parametrize("stated", [LENGTH * 0.94, LENGTH * 1.06])
def test_a_rod_of_another_length_is_told_with_its_length(shots, own, stated):
    found = see_rod(shots, own, stated)
    assert isinstance(found, Refusal)
    assert "what lies above the sheet is 104." in found.reason


def test_an_end_out_of_the_pictures_is_named(shots, own):
    cut = [
        picture[:, : int(view.project((FAR - 10.0 * OUT)[None])[0, 0])]
        for picture, view in zip(shots, own, strict=True)
    ]
    found = see_rod(cut, own, LENGTH)
    assert isinstance(found, Refusal)
    assert "outside the picture" in found.reason


def test_a_head_ends_at_its_back_and_has_to_be_stated(own):
    pictures = [draw(view, head=True, seed=k) for k, view in enumerate(own)]
    unsaid = see_rod(pictures, own, LENGTH)
    assert isinstance(unsaid, Refusal)
    assert "one end of the rod is thicker" in unsaid.reason
    found = see_rod(pictures, own, LENGTH, head=True)
    assert found, getattr(found, "reason", "")
    assert found.length == pytest.approx(LENGTH, abs=0.1)


def test_a_head_that_is_stated_and_not_there(shots, own):
    found = see_rod(shots, own, LENGTH, head=True)
    assert isinstance(found, Refusal)
    assert "both ends are plain" in found.reason
