"""Advice on calibration sets: said where it is due, silent where not."""

from dataclasses import replace

import numpy as np
import pytest

from hubsight.calibrate.boards import PlainBoard
from hubsight.calibrate.calibrate import calibrate
from hubsight.calibrate.conditions import advice, bending, corner_reach, photo_conditions, widest_gap
from hubsight.camera import View
from hubsight.model.stated import Reading
from scenes import CAMERA, Scene, look_at, ring, scene

NOISE_PX = 0.05


def said(found):
    return advice(found, [f"IMG_{k}.jpg" for k in range(len(found.photos.sightings))])


def of_poses(*poses, board=None):
    views = tuple(View(CAMERA, np.concatenate([np.zeros(3), pose])) for pose in poses)
    board = board or ring()
    return Scene(board, views, np.zeros(len(board.saddles)))


GOOD = [look_at(45 * k, 28.0, 280 + 30 * (k % 4), 10 * k) for k in range(8)]


def test_a_good_set_needs_no_advice():
    found = calibrate(of_poses(*GOOD).board_set(NOISE_PX))
    assert said(found) == ()


def test_conditions_are_those_of_the_pose():
    found = calibrate(of_poses(*GOOD).board_set(NOISE_PX))
    for k in range(8):
        how = photo_conditions(found, k)
        assert how.tilt_deg == pytest.approx(28.0, abs=0.3)
        assert (how.azimuth_deg - 45 * k + 180) % 360 - 180 == pytest.approx(0.0, abs=0.5)
        assert how.distance_mm == pytest.approx(280 + 30 * (k % 4), rel=0.005)


@pytest.mark.parametrize(
    ("poses", "word"),
    [
        ([look_at(45 * k, 3.0, 300 + 30 * (k % 4), 10 * k) for k in range(8)], "Too few tilts"),
        ([look_at(12 * k, 28.0, 300 + 30 * (k % 4), 10 * k) for k in range(8)], "from one side"),
        ([look_at(45 * k, 28.0, 320, 10 * k) for k in range(8)], "one distance"),
        ([look_at(45 * k, 28.0, 800 + 90 * (k % 4), 10 * k) for k in range(8)], "corner"),
    ],
)
def test_what_is_lacking_is_said(poses, word):
    sentences = said(calibrate(of_poses(*poses).board_set(NOISE_PX)))
    assert any(word in sentence for sentence in sentences), sentences


def test_corners_are_named_as_stored():
    """Points in the right half of the pictures only: both left corners are bare."""
    half = PlainBoard(ring().saddles[ring().saddles[:, 0] > 10])
    poses = [look_at(45 * k, 20.0, 290 + 30 * (k % 3), 0) for k in range(8)]
    found = calibrate(of_poses(*poses, board=half).board_set(NOISE_PX))
    reach = corner_reach(found)
    assert np.all(reach[[0, 2]] < 0.2)
    assert np.all(reach[[1, 3]] > 0.5)
    bare = next(sentence for sentence in said(found) if "never came near" in sentence)
    assert "top left" in bare
    assert "bottom left" in bare


def test_a_bent_sheet_is_noticed_and_measured():
    found = calibrate(scene(seed=1, bend_mm=0.8).board_set(NOISE_PX))
    assert any("not flat" in sentence for sentence in said(found))
    assert 0.3 < bending(found).value < 1.2
    flat = calibrate(scene(seed=1).board_set(NOISE_PX))
    assert not any("not flat" in sentence for sentence in said(flat))


def test_a_shaken_photo_is_named():
    steady, shaken = (of_poses(*GOOD).board_set(noise, seed=5) for noise in (NOISE_PX, 0.6))
    found = calibrate(
        replace(steady, sightings=(*steady.sightings[:3], shaken.sightings[3], *steady.sightings[4:]))
    )
    named = [sentence for sentence in said(found) if "IMG_3.jpg" in sentence]
    assert len(named) == 1
    assert not any("IMG_2.jpg" in sentence for sentence in said(found))


def test_a_focal_length_unlike_the_tags_is_questioned():
    data = of_poses(*GOOD).board_set(NOISE_PX, focal=Reading(CAMERA[0] / 1.3, 0.03 * CAMERA[0] / 1.3))
    assert any("cut or zoomed" in sentence for sentence in said(calibrate(data)))


def test_swapped_bars_are_questioned():
    truth = of_poses(*GOOD)
    stretched = replace(truth, board=PlainBoard(truth.board.saddles * np.array([1.006, 0.994])))
    data = stretched.board_set(NOISE_PX)
    nominal = tuple(replace(s, geometry=truth.board) for s in data.sightings)
    readings = {"right": (1.006, 0.994), "swapped": (0.994, 1.006)}
    asked = {
        name: any(
            "measure both bars again" in sentence
            for sentence in said(
                calibrate(replace(data, sightings=nominal, scales=tuple(Reading(v, 8e-4) for v in values)))
            )
        )
        for name, values in readings.items()
    }
    assert asked == {"right": False, "swapped": True}


def test_widest_gap():
    assert widest_gap([0, 90, 180, 270]) == pytest.approx(90)
    assert widest_gap([350, 10, 20]) == pytest.approx(330)
    assert widest_gap([5]) == 360
