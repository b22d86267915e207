"""The one description of the target against the board that OpenCV builds, and what the paper demands."""

import cv2
import numpy as np
import pytest

from hubsight.model.stated import PaperName
from hubsight.target.geometry import (
    LEAST_MARGIN_MM,
    PAGE_MM,
    STATION_MM,
    all_papers_dictionary,
    paper_of_marker,
    target_geometry,
)
from opencv_board import opencv_board, to_frame

PAPERS: tuple[PaperName, ...] = ("a4", "letter", "a3")


def test_a4_is_the_stock_board_with_default_ids_and_pattern():
    board = opencv_board(target_geometry("a4"))
    stock = cv2.aruco.CharucoBoard((23, 16), 12, 9, cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_250))
    assert np.array_equal(board.getIds(), stock.getIds())
    assert np.array_equal(np.array(board.getObjPoints()), np.array(stock.getObjPoints()))
    assert np.array_equal(board.getChessboardCorners(), stock.getChessboardCorners())
    assert not board.getLegacyPattern()


def test_a4_has_seventy_saddles_on_the_rings_middle_line():
    saddles = target_geometry("a4").saddles
    assert saddles.shape == (70, 2)
    on_vertical = np.isclose(np.abs(saddles[:, 0]), 276 / 2 - 12)
    on_horizontal = np.isclose(np.abs(saddles[:, 1]), 192 / 2 - 12)
    assert np.all(on_vertical | on_horizontal)
    assert len(np.unique(saddles, axis=0)) == 70


@pytest.mark.parametrize("paper", PAPERS)
def test_saddles_and_markers_are_where_the_board_has_them(paper):
    geometry = target_geometry(paper)
    board = opencv_board(geometry)
    ids = np.asarray(board.getIds()).ravel()
    corners = to_frame(geometry, board.getObjPoints())
    row = np.searchsorted(ids, geometry.marker_ids)
    assert np.array_equal(ids[row], geometry.marker_ids)
    np.testing.assert_allclose(geometry.marker_corners, corners[row], atol=1e-5)
    chessboard = to_frame(geometry, board.getChessboardCorners())
    np.testing.assert_allclose(geometry.saddles, chessboard[geometry.saddle_ids], atol=1e-5)


@pytest.mark.parametrize("paper", PAPERS)
def test_only_the_ring_is_printed(paper):
    geometry = target_geometry(paper)
    half_field = np.array(geometry.field) / 2
    dark_centres = ((geometry.dark_squares + 0.5) * geometry.square - np.array(geometry.frame) / 2) * [1, -1]
    for centres in (geometry.marker_corners.mean(axis=1), dark_centres):
        assert np.all(np.any(np.abs(centres) > half_field, axis=1))
        assert np.all(np.abs(centres) < np.array(geometry.frame) / 2)
    columns, rows = geometry.squares
    in_ring = columns * rows - (columns - 4) * (rows - 4)
    assert len(dark_centres) + len(geometry.marker_ids) == in_ring


@pytest.mark.parametrize("paper", PAPERS)
def test_frame_fits_the_page_and_no_further_square_would(paper):
    geometry = target_geometry(paper)
    margin = (np.array(PAGE_MM[paper]) - geometry.frame) / 2
    assert np.all(margin >= LEAST_MARGIN_MM)
    assert np.all(margin < LEAST_MARGIN_MM + geometry.square / 2)


@pytest.mark.parametrize("paper", PAPERS)
def test_bars_and_ticks_lie_in_the_blank_field(paper):
    geometry = target_geometry(paper)
    half_field = np.array(geometry.field) / 2
    for points in (*(bar.ticks for bar in geometry.check_bars), geometry.station_ticks):
        assert np.all(np.abs(points) < half_field)


def test_a4_bars_and_station_are_where_the_design_puts_them():
    geometry = target_geometry("a4")
    along_x, along_y = geometry.check_bars
    np.testing.assert_allclose(along_x.ticks.mean(axis=1), [[-60, -66], [60, -66]])
    np.testing.assert_allclose(along_y.ticks.mean(axis=1), [[108, -60], [108, 60]])
    radius = np.linalg.norm(geometry.station_ticks - STATION_MM, axis=2)
    assert STATION_MM == (-50, 0)
    np.testing.assert_allclose(radius, np.tile([36, 44], (4, 1)))


@pytest.mark.parametrize("paper", PAPERS)
def test_bars_are_their_nominal_length(paper):
    for bar in target_geometry(paper).check_bars:
        step = np.diff(bar.ticks.mean(axis=1), axis=0)[0]
        np.testing.assert_allclose(step, [bar.nominal, 0] if bar.axis == "x" else [0, bar.nominal])


def test_a_single_marker_tells_the_paper():
    ids = {paper: set(target_geometry(paper).marker_ids.tolist()) for paper in PAPERS}
    assert not ids["a4"] & ids["letter"] | ids["a4"] & ids["a3"] | ids["letter"] & ids["a3"]
    for paper, members in ids.items():
        assert {paper_of_marker(member) for member in members} == {paper}
    assert paper_of_marker(60) is None  # in the middle of A4's blank field
    assert paper_of_marker(999) is None


@pytest.mark.parametrize("paper", PAPERS)
def test_one_dictionary_reads_all_papers(paper):
    geometry = target_geometry(paper)
    own, common = geometry.dictionary(), all_papers_dictionary()
    for marker in geometry.marker_ids.tolist():
        assert np.array_equal(own.bytesList[marker], common.bytesList[marker])


def test_the_description_cannot_be_changed_by_a_user_of_it():
    with pytest.raises(ValueError, match="read-only"):
        target_geometry("a4").saddles[0, 0] = 0.0
