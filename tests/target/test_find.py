"""The finder on pictures warped from an exact drawing: bias, scatter, and what is refused."""

import cv2
import numpy as np
import pytest

from hubsight.camera import View
from hubsight.model.refusal import Refusal
from hubsight.target.find import find_target, grey
from hubsight.target.geometry import target_geometry
from scenes import look_at
from sheet_pictures import PAPER, PX_PER_MM, TABLE, drawing, errors, photograph

SIZE = (2400, 1800)
CAMERA = np.array([1800.0, 1203.3, 897.6, 0, 0, 0, 0, 0])
BIAS_PX = 0.01
"""Mean error of many corners, without noise."""
SCATTER_PX = 0.06
"""Standard deviation of a coordinate, with noise."""
NOISE_GREY = 3.0

VIEWS = {
    "above": View(CAMERA, np.concatenate([np.zeros(3), look_at(0, 0, 330, 3)])),
    "tilted": View(CAMERA, np.concatenate([np.zeros(3), look_at(40, 28, 345, -8)])),
    "steep": View(CAMERA, np.concatenate([np.zeros(3), look_at(-130, 38, 380, 12)])),
}


@pytest.fixture(scope="module", params=list(VIEWS))
def view(request):
    return VIEWS[request.param]


def test_without_noise_there_is_no_bias(view):
    found = find_target(photograph(view, SIZE, blur_px=0.8), target_geometry("a4"))
    assert len(found.index) == 70
    error = errors(found, view)
    assert np.abs(error.mean(0)).max() < BIAS_PX
    assert error.std() < 0.02


def test_noise_scatters_within_the_budget(view):
    picture = photograph(view, SIZE, blur_px=0.8, noise=NOISE_GREY, seed=1)
    found = find_target(picture, target_geometry("a4"))
    assert len(found.index) == 70
    assert errors(found, view).std(0).max() < SCATTER_PX


def test_moves_with_the_picture():
    """Shifted by whole pixels, the corners shift by as much: no pixel is preferred."""
    picture = photograph(VIEWS["tilted"], SIZE, blur_px=0.8, noise=NOISE_GREY, seed=2)
    one = find_target(picture, target_geometry("a4"))
    other = find_target(np.roll(picture, (7, -11), (0, 1)), target_geometry("a4"))
    np.testing.assert_array_equal(one.index, other.index)
    assert np.abs(other.pixels - one.pixels - [-11, 7]).max() < 0.02


@pytest.mark.parametrize("paper", ["letter", "a3"])
def test_other_papers_are_found_by_their_own_geometry(paper):
    view = View(CAMERA, np.concatenate([np.zeros(3), look_at(20, 15, 340 if paper == "letter" else 480)]))
    found = find_target(photograph(view, SIZE, paper, blur_px=0.8), target_geometry(paper))
    assert len(found.index) == len(target_geometry(paper).saddles)
    assert np.abs(errors(found, view)).max() < 0.06


def test_half_of_the_ring_hidden():
    view = VIEWS["tilted"]
    page = drawing().copy()
    page[:, : page.shape[1] // 2] = PAPER
    found = find_target(
        photograph(view, SIZE, page=page, blur_px=0.8, noise=NOISE_GREY), target_geometry("a4")
    )
    error = errors(found, view)
    assert 30 <= len(found.index) <= 37
    assert np.all(found.nominal[:, 0] > -7.0)
    assert np.abs(error.mean(0)).max() < 3 * SCATTER_PX / np.sqrt(len(error))
    assert error.std(0).max() < SCATTER_PX


def test_cropped():
    view = VIEWS["tilted"]
    picture = photograph(view, SIZE, blur_px=0.8, noise=NOISE_GREY)[:, 900:]
    found = find_target(picture, target_geometry("a4"))
    assert 25 <= len(found.index) < 70
    error = errors(found, view) + np.array([900, 0])
    assert error.std(0).max() < SCATTER_PX
    assert np.abs(error.mean(0)).max() < 3 * SCATTER_PX / np.sqrt(len(error))


@pytest.mark.parametrize("blur_px", [2.0, 3.5])
def test_out_of_focus(blur_px):
    """A blur of 3.5 px is half of a marker's cell: most markers are not read any more, all saddles found."""
    view = VIEWS["tilted"]
    found = find_target(photograph(view, SIZE, blur_px=blur_px, noise=NOISE_GREY), target_geometry("a4"))
    assert len(found.index) >= 65
    error = errors(found, view)
    assert error.std(0).max() < SCATTER_PX
    assert np.abs(error.mean(0)).max() < 3 * SCATTER_PX / np.sqrt(len(error))


@pytest.mark.parametrize("quarter", [1, 2, 3])
def test_turned_pictures_give_the_same_corners(quarter):
    """The sheet may lie any way round."""
    picture = photograph(VIEWS["tilted"], SIZE, blur_px=0.8)
    plain, turned = (
        find_target(np.ascontiguousarray(p), target_geometry("a4"))
        for p in (picture, np.rot90(picture, quarter))
    )
    np.testing.assert_array_equal(plain.index, turned.index)
    width, height = SIZE
    x, y = plain.pixels.T
    expected = {1: (y, width - 1 - x), 2: (width - 1 - x, height - 1 - y), 3: (height - 1 - y, x)}[quarter]
    assert np.abs(turned.pixels - np.stack(expected, -1)).max() < 0.02


def refused(picture, paper="a4"):
    found = find_target(picture, target_geometry(paper))
    assert isinstance(found, Refusal)
    return found.reason


def test_mirrored_picture_is_refused():
    picture = np.ascontiguousarray(photograph(VIEWS["tilted"], SIZE, blur_px=0.8)[:, ::-1])
    assert "mirrored" in refused(picture)


def test_another_paper_than_stated_is_refused():
    picture = photograph(VIEWS["above"], SIZE, "a4", blur_px=0.8)
    assert "A4" in refused(picture, "letter")
    assert find_target(picture, target_geometry("letter")).about == "target.paper"


def test_no_sheet_is_refused():
    random = np.random.default_rng(0)
    clutter = cv2.GaussianBlur(random.integers(0, 255, (1800, 2400)).astype(np.float32), (0, 0), 4)
    clutter = cv2.normalize(clutter, None, 0, 255, cv2.NORM_MINMAX).astype(np.uint8)
    assert "not found" in refused(clutter)
    assert refused(np.full((1800, 2400), TABLE, np.uint8))


def test_a_sheet_too_far_away_is_refused():
    far = View(CAMERA, np.concatenate([np.zeros(3), look_at(0, 0, 2400)]))
    assert refused(photograph(far, SIZE, blur_px=0.8))


def test_nearly_all_hidden_is_refused():
    page = drawing().copy()
    page[: -80 * PX_PER_MM] = PAPER
    page[:, : -80 * PX_PER_MM] = PAPER
    assert "can be seen" in refused(photograph(VIEWS["above"], SIZE, page=page, blur_px=0.8))


def test_no_corner_is_invented_where_the_ring_is_covered():
    view = VIEWS["above"]
    page = drawing().copy()
    page[:, : -40 * PX_PER_MM] = PAPER
    found = find_target(
        photograph(view, SIZE, page=page, blur_px=0.8, noise=NOISE_GREY), target_geometry("a4")
    )
    assert np.abs(errors(found, view)).max() < 5 * SCATTER_PX
    assert np.all(found.nominal[:, 0] > 148.5 - 40)


def test_grey_is_luma():
    """Weights of ITU-R BT.601, as OpenCV states them."""
    colours = np.array([[[255, 0, 0], [0, 255, 0], [0, 0, 255]]], np.uint8)
    np.testing.assert_allclose(grey(colours)[0], 255 * np.array([0.299, 0.587, 0.114]), atol=0.51)
