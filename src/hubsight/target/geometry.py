"""The target's geometry: where every printed thing lies, in nominal millimetres.

The target is a chessboard whose white squares carry coded markers (a ChArUco board), of which only the
outer ring, two squares wide, is printed. The blank field inside is for hub and gauge. On the ring's
middle line, where its two rows of squares meet, lie the *saddles*: the only true chessboard corners of
the sheet. The ring's outer and inner edges are the ends of squares, not corners, and must not be used as
such.

Target frame: origin at the frame's centre, +x along the sheet's long side, +y to the top of the sheet, +z
up out of the paper. All lengths are nominal: a print is x and y scales away from them.

One rule makes all papers: squares of 12 mm, landscape, frame centred on the page, and the most columns
and rows that leave :data:`LEAST_MARGIN_MM` free on every side, since printers cannot print to the edge.

===========  ===============  =======  =====  ==========
paper        page, mm         columns  rows   marker ids
===========  ===============  =======  =====  ==========
A4           297 x 210        23       16     0 to 183
US Letter    279.4 x 215.9    22       16     184 to 359
A3           420 x 297        33       23     360 to 738
===========  ===============  =======  =====  ==========

Marker ids are numbered row by row from the top left, as OpenCV does, beginning where the paper before
ended. No two papers share an id, so a single marker tells which paper lies there
(:func:`paper_of_marker`), and no part of one paper's ring can pass for part of another's.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal, TypeVar, cast

import cv2
import numpy as np
from numpy.typing import NDArray

from hubsight.model.arrays import Array, Flags, Indices
from hubsight.model.stated import CHECK_BAR_NOMINAL_MM, PaperName

_Scalar = TypeVar("_Scalar", bound=np.generic)

SQUARE_MM, MARKER_MM = 12.0, 9.0
"""Sides of a square and of the marker in it, mm; larger ones are read from farther and leave fewer
corners."""
LEAST_MARGIN_MM = 7.5
"""Margin that every print leaves free, mm: printers cannot print to the edge."""
RING_SQUARES = 2
"""Width of the printed ring, squares; raising it leaves less blank field."""

PAGE_MM: dict[PaperName, tuple[float, float]] = {
    "a4": (297.0, 210.0),
    "letter": (279.4, 215.9),
    "a3": (420.0, 297.0),
}
"""Landscape page sizes: ISO 216, and 11 x 8.5 inches."""

PAPER_TITLE: dict[PaperName, str] = {"a4": "A4", "letter": "Letter", "a3": "A3"}
"""Names of the papers in words."""

STATION_MM = (-50.0, 0.0)
"""Place where the hub stands, mm; the gauge points from here to +x."""

STATION_TICK_MM = (36.0, 44.0)
"""Inner and outer radius of the ticks around the station, mm."""

STATION_TICK_WIDTH_MM, BAR_TICK_WIDTH_MM = 0.3, 0.2
"""Widths of the ticks round the station and at the check bars, mm; wider ones are read less exactly."""
BAR_TICK_LENGTH_MM = 4.0
"""Length of the ticks at the check bars' ends, mm."""
BAR_INSET_MM = 6.0
"""Distance of a check bar from the ring's inner edge, mm."""

DESIGN_VERSION = 1
"""Version of the sheet, raised when anything printed moves."""


@dataclass(frozen=True, eq=False)
class CheckBar:
    """Two thin ticks, to be measured with a caliper from the middle of one to the middle of the other.

    Attributes
    ----------
    axis
        The direction in which the bar is measured.
    nominal
        Distance of the ticks' middles on a print at 100 %, mm.
    ticks
        (2, 2, 2): two ticks, each from one end to the other, target frame mm.
    """

    axis: Literal["x", "y"]
    nominal: float
    ticks: Array


@dataclass(frozen=True, eq=False)
class TargetGeometry:
    """Everything that is printed on one paper's target. Nominal mm in the target frame unless said otherwise.

    Attributes
    ----------
    paper
        Name of the paper.
    page
        Width and height of the landscape sheet; the frame's centre is the page's centre.
    squares
        Columns and rows of the whole board, the blank field's squares counted too.
    square, marker
        Side of a square and of a marker.
    first_marker_id
        Id of the board's first marker.
    saddles
        (M, 2) positions of the chessboard corners on the ring's middle line.
    saddle_ids
        (M,) their ids as the board's ChArUco corners.
    marker_ids
        (K,) ids of the markers that are printed.
    marker_corners
        (K, 4, 2) their corners in OpenCV's order: with the top of the sheet up, top left, top right, bottom
        right, bottom left.
    dark_squares
        (D, 2) column and row, from the top left, of the printed black squares.
    station_ticks
        (4, 2, 2) radial ticks around `STATION_MM`, each from its inner to its outer end.
    check_bars
        The bar along x and the bar along y.
    target_id
        Printed on the sheet: names paper, pattern and version of the design.
    """

    paper: PaperName
    page: tuple[float, float]
    squares: tuple[int, int]
    square: float
    marker: float
    first_marker_id: int
    saddles: Array
    saddle_ids: Indices
    marker_ids: Indices
    marker_corners: Array
    dark_squares: Indices
    station_ticks: Array
    check_bars: tuple[CheckBar, CheckBar]
    target_id: str

    @property
    def frame(self) -> tuple[float, float]:
        """Outer width and height of the printed ring."""
        return self.squares[0] * self.square, self.squares[1] * self.square

    @property
    def field(self) -> tuple[float, float]:
        """Width and height of the blank field inside the ring."""
        ring = 2 * RING_SQUARES * self.square
        return self.frame[0] - ring, self.frame[1] - ring

    def dictionary(self) -> Any:
        """Return the smallest predefined marker dictionary that reads this paper."""
        last = self.first_marker_id + _marker_count(self.squares) - 1
        return _dictionary(cv2.aruco.DICT_5X5_250 if last < 250 else cv2.aruco.DICT_5X5_1000)


def _dictionary(name: int) -> Any:
    return cv2.aruco.getPredefinedDictionary(name)


def all_papers_dictionary() -> Any:
    """Return the marker dictionary that reads every paper's target.

    OpenCV's 5x5 dictionaries are beginnings of one list: ids 0 to 249 mean the same in the smaller one.
    """
    return _dictionary(cv2.aruco.DICT_5X5_1000)


def _squares(page: tuple[float, float]) -> tuple[int, int]:
    columns, rows = (int((side - 2 * LEAST_MARGIN_MM) // SQUARE_MM) for side in page)
    return columns, rows


def _marker_count(squares: tuple[int, int]) -> int:
    return squares[0] * squares[1] // 2


def _first_marker_id(paper: PaperName) -> int:
    first = 0
    for name, page in PAGE_MM.items():
        if name == paper:
            return first
        first += _marker_count(_squares(page))
    raise KeyError(paper)


def paper_of_marker(marker_id: int) -> PaperName | None:
    """Return the paper on whose target the marker is printed; None for a marker of no target."""
    for paper in PAGE_MM:
        if np.any(target_geometry(paper).marker_ids == marker_id):
            return paper
    return None


def _in_ring(index: Indices, squares: tuple[int, int]) -> Flags:
    """Tell for (K, 2) columns and rows whether the square belongs to the ring."""
    limit = np.array(squares) - RING_SQUARES
    return cast("Flags", np.any((index < RING_SQUARES) | (index >= limit), axis=1))


def _grid(squares: tuple[int, int]) -> Indices:
    """Return (columns * rows, 2) column and row of all squares, row by row."""
    rows, columns = np.mgrid[: squares[1], : squares[0]]
    return np.column_stack([columns.ravel(), rows.ravel()]).astype(np.intp)


def _point(index: Array | Indices, squares: tuple[int, int]) -> Array:
    """Return grid lines (column, row from the top left) in target frame mm."""
    half = np.array(squares) * SQUARE_MM / 2
    return np.asarray((index * SQUARE_MM - half) * np.array([1.0, -1.0]))


def _ring_saddles(squares: tuple[int, int]) -> tuple[Array, Indices]:
    """Return positions and ChArUco corner ids of the corners on the ring's middle line."""
    inner = (squares[0] - 1, squares[1] - 1)
    corner = _grid(inner)
    on_line = np.any((corner == 0) | (corner == np.array(inner) - 1), axis=1)
    return _point(corner[on_line] + 1, squares), np.flatnonzero(on_line).astype(np.intp)


def _ring_markers(squares: tuple[int, int], first_id: int) -> tuple[Indices, Array]:
    """Return ids (K,) and corners (K, 4, 2) of the printed markers. The top left square is dark."""
    light = _grid(squares)
    light = light[light.sum(axis=1) % 2 == 1]
    printed = _in_ring(light, squares)
    inset = (SQUARE_MM - MARKER_MM) / (2 * SQUARE_MM)
    unit = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * (1 - 2 * inset) + inset
    corners = _point(light[printed][:, None, :] + unit, squares)
    return first_id + np.flatnonzero(printed).astype(np.intp), corners


def _dark_ring_squares(squares: tuple[int, int]) -> Indices:
    grid = _grid(squares)
    dark = grid.sum(axis=1) % 2 == 0
    return np.asarray(grid[dark & _in_ring(grid, squares)])


def _station_ticks() -> Array:
    direction = np.array([[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]])
    radius = np.array(STATION_TICK_MM)
    return np.asarray(np.array(STATION_MM) + direction[:, None, :] * radius[:, None])


def _check_bars(squares: tuple[int, int]) -> tuple[CheckBar, CheckBar]:
    """Return the bar along x at the field's lower edge and the bar along y at its right edge."""
    half, tick = CHECK_BAR_NOMINAL_MM / 2, BAR_TICK_LENGTH_MM / 2
    x = squares[0] * SQUARE_MM / 2 - RING_SQUARES * SQUARE_MM - BAR_INSET_MM
    y = -(squares[1] * SQUARE_MM / 2 - RING_SQUARES * SQUARE_MM - BAR_INSET_MM)
    along_x = np.array([[[s, y - tick], [s, y + tick]] for s in (-half, half)])
    along_y = np.array([[[x - tick, s], [x + tick, s]] for s in (-half, half)])
    return (
        CheckBar("x", CHECK_BAR_NOMINAL_MM, _fixed(along_x)),
        CheckBar("y", CHECK_BAR_NOMINAL_MM, _fixed(along_y)),
    )


def _fixed(array: NDArray[_Scalar]) -> NDArray[_Scalar]:
    """Return an array made read-only, so that the one description stays one."""
    array.setflags(write=False)
    return array


@lru_cache
def target_geometry(paper: PaperName = "a4") -> TargetGeometry:
    """Return the one description of a paper's target.

    Examples
    --------
    >>> geometry = target_geometry("a4")
    >>> geometry.squares, geometry.saddles.shape, geometry.target_id
    ((23, 16), (70, 2), 'hubsight A4 23x16-12 v1')
    """
    page = PAGE_MM[paper]
    squares = _squares(page)
    first_id = _first_marker_id(paper)
    saddles, saddle_ids = _ring_saddles(squares)
    marker_ids, marker_corners = _ring_markers(squares, first_id)
    name = PAPER_TITLE[paper]
    return TargetGeometry(
        paper=paper,
        page=page,
        squares=squares,
        square=SQUARE_MM,
        marker=MARKER_MM,
        first_marker_id=first_id,
        saddles=_fixed(saddles),
        saddle_ids=_fixed(saddle_ids),
        marker_ids=_fixed(marker_ids),
        marker_corners=_fixed(marker_corners),
        dark_squares=_fixed(_dark_ring_squares(squares)),
        station_ticks=_fixed(_station_ticks()),
        check_bars=_check_bars(squares),
        target_id=f"hubsight {name} {squares[0]}x{squares[1]}-{SQUARE_MM:g} v{DESIGN_VERSION}",
    )
