"""The printed A4 sheet: its picture, the true places of its saddles, the height of paper that is not flat.

Target frame: origin at the middle of the coded frame, x along the sheet, y up the sheet, z out of the paper.
Lengths in mm.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from render.design import Curl
from render.mesh import Array

WIDTH, HEIGHT = 297.0, 210.0
COLUMNS, ROWS = 23, 16
SQUARE, MARKER = 12.0, 9.0
STATION = (-50.0, 0.0)
"""Where the hub stands."""

BAR = 120.0
"""Nominal length of the check bars."""

CALM_MM = 45.0
"""Paper lies flat within this distance of the hub and of the sheet's middle."""


def board() -> cv2.aruco.CharucoBoard:
    """Return the board of which the sheet shows the two outer rings of squares."""
    codes = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_250)
    return cv2.aruco.CharucoBoard((COLUMNS, ROWS), SQUARE, MARKER, codes)


def page_image(per_mm: int = 28) -> npt.NDArray[np.uint8]:
    """Return the page in grey, row 0 at the top edge.

    Parameters
    ----------
    per_mm
        Pixels per mm; a multiple of 14, since a marker's cell is 9/7 mm. Raises ValueError for any other.
    """
    if per_mm % 14:
        raise ValueError(f"a marker's cells need a multiple of 14 pixels per mm, not {per_mm}")
    width, height, square = int(WIDTH * per_mm), int(HEIGHT * per_mm), int(SQUARE * per_mm)
    page = np.full((height, width), 255, np.uint8)
    frame = board().generateImage((COLUMNS * square, ROWS * square), marginSize=0, borderBits=1)
    frame[2 * square : -2 * square, 2 * square : -2 * square] = 255
    top, left = (height - ROWS * square) // 2, (width - COLUMNS * square) // 2
    page[top : top + ROWS * square, left : left + COLUMNS * square] = frame
    for x, y, wide, high, grey in _ticks():
        columns = (np.array([x - wide / 2, x + wide / 2]) + WIDTH / 2) * per_mm
        rows = (HEIGHT / 2 - np.array([y + high / 2, y - high / 2])) * per_mm
        page[round(rows[0]) : round(rows[1]), round(columns[0]) : round(columns[1])] = grey
    return page


def _ticks() -> list[tuple[float, float, float, float, int]]:
    """Return (x, y, width, height, grey) of the check bars' ends and of the station's marks."""
    bars = [(x, -66.0, 0.2, 4.0, 0) for x in (-BAR / 2, BAR / 2)]
    bars += [(108.0, y, 4.0, 0.2, 0) for y in (-BAR / 2, BAR / 2)]
    for dx, dy in ((40, 0), (-40, 0), (0, 40), (0, -40)):
        bars.append((STATION[0] + dx, float(dy), 8 if dx else 0.3, 8 if dy else 0.3, 217))
    return bars


def saddles() -> tuple[Array, npt.NDArray[np.int64]]:
    """Return the ring's saddle points, nominal (70, 2), and their numbers on the board (70,)."""
    points, numbers = [], []
    for row in range(ROWS - 1):
        for column in range(COLUMNS - 1):
            if column in (0, COLUMNS - 2) or row in (0, ROWS - 2):
                points.append(((column + 1 - COLUMNS / 2) * SQUARE, (ROWS / 2 - row - 1) * SQUARE))
                numbers.append(row * (COLUMNS - 1) + column)
    return np.array(points), np.array(numbers)


@dataclass(frozen=True)
class Wave:
    """Paper that is not flat.

    Attributes
    ----------
    highest
        Of the waves.
    terms
        (x, y, phase, share) of each wave: rad/mm, rad.
    curl
        A lifted edge, or None.
    """

    highest: float
    terms: tuple[tuple[float, float, float, float], ...]
    curl: Curl | None = None


def draw_wave(highest: float, curl: Curl | None, generator: np.random.Generator) -> Wave | None:
    """Return the paper's waves and curl; None for flat paper."""
    terms = []
    for _ in range(2 if highest else 0):
        x, y, phase = generator.normal(0, 0.035), generator.normal(0, 0.05), generator.uniform(0, 6)
        terms.append((float(x), float(y), float(phase), 0.5))
    return Wave(highest, tuple(terms), curl) if highest or curl else None


def wave_height(x: npt.ArrayLike, y: npt.ArrayLike, wave: Wave | None) -> Array:
    """Return the paper's height over the bench: 0 at the station and in the middle, mm."""
    x, y = np.asarray(x, float), np.asarray(y, float)
    height = np.zeros(np.broadcast(x, y).shape)
    if wave is None:
        return height
    for along_x, along_y, phase, share in wave.terms:
        height = height + share * 0.5 * (1 - np.cos(along_x * x + along_y * y + phase))
    calm = np.minimum(np.hypot(x - STATION[0], y - STATION[1]), np.hypot(x, y))
    height = height * np.clip((calm - CALM_MM) / 40, 0, 1) ** 2 * wave.highest
    return height + _curl_height(x, y, wave.curl) if wave.curl else height


def _curl_height(x: Array, y: Array, curl: Curl) -> Array:
    across, out, half, edge = (
        (y, x, HEIGHT / 2, WIDTH / 2) if curl.axis == 0 else (x, y, WIDTH / 2, HEIGHT / 2)
    )
    along_edge = np.cos(np.clip(across / half, -1, 1) * np.pi / 2) ** 2
    rise: Array = np.clip((curl.sign * out - curl.start) / (edge - curl.start), 0, 1.2) ** 2
    return curl.lift * along_edge * rise
