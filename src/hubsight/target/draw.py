"""Drawing the target at true size: PDF, SVG or PNG, all from one list of rectangles and lines of text."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import NamedTuple, Protocol
from xml.sax.saxutils import escape

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont
from reportlab.lib import units
from reportlab.pdfgen.canvas import Canvas

from hubsight.model.arrays import Array, Picture
from hubsight.model.stated import PaperName
from hubsight.target.geometry import BAR_TICK_WIDTH_MM, STATION_TICK_WIDTH_MM, TargetGeometry, target_geometry


class Card(Protocol):
    """Draws onto the present page of a PDF, for a paper."""

    def __call__(self, canvas: Canvas, paper: PaperName) -> None:
        """Draw it."""


PNG_DPI = 600
"""Resolution of the drawing as PNG, dots per inch; raising it makes larger files."""


@dataclass(frozen=True)
class Ink:
    """Greys and text of the sheet, greys from 0 (black) to 1, sizes in mm.

    Attributes
    ----------
    black, station, text
        Of the pattern, of the station's ticks and of the text. The ticks are light: the hub's
        surroundings are to stay blank.
    text_mm, inset_mm
        Height of the text, of which two lines are 1.5 apart, and distance from the ring's inner edge
        to the outermost line.
    """

    black: float = 0.0
    station: float = 0.85
    text: float = 0.35
    text_mm: float = 2.4
    inset_mm: float = 3.2


INK = Ink()
"""As every sheet is drawn."""


class Rectangle(NamedTuple):
    """An upright rectangle; sides in target frame mm, grey from 0 (black) to 1."""

    left: float
    bottom: float
    right: float
    top: float
    grey: float = INK.black


class TextLine(NamedTuple):
    """A line of text: middle of its baseline in target frame mm, reading to the right or upwards."""

    x: float
    y: float
    text: str
    upwards: bool = False


@dataclass(frozen=True)
class TargetDrawing:
    """All that is printed on a sheet.

    Attributes
    ----------
    title
        The target's id.
    page
        Width and height, mm. The target frame's origin is its centre.
    rectangles
        None covers another, so that their order does not matter.
    texts
        Lines of text, all of one size.
    """

    title: str
    page: tuple[float, float]
    rectangles: tuple[Rectangle, ...]
    texts: tuple[TextLine, ...]


def draw_target(geometry: TargetGeometry) -> TargetDrawing:
    """Return what has to be printed for a target."""
    rectangles = [*_squares(geometry), *_markers(geometry), *_bars(geometry), *_station(geometry)]
    return TargetDrawing(geometry.target_id, geometry.page, tuple(rectangles), _texts(geometry))


def write_target(path: Path | str, paper: PaperName = "a4", card: Card | None = None) -> Path:
    """Write a target ready to print at true size.

    Parameters
    ----------
    path
        File to write or overwrite; its suffix (.pdf, .svg, .png) says in which format.
    paper
        Which paper.
    card
        Draws a second page, in PDF only.

    Returns
    -------
    Path
        The written file.

    Raises
    ------
    ValueError
        Where the suffix is none of these.
    OSError
        Where the file cannot be written.
    """
    path = Path(path)
    write = _WRITERS.get(path.suffix.lower())
    if write is None:
        raise ValueError(f"{path.name} does not end in {', '.join(_WRITERS)}")
    write(path, draw_target(target_geometry(paper)), None if card is None else partial(card, paper=paper))
    return path


def _squares(geometry: TargetGeometry) -> Iterable[Rectangle]:
    half = np.array(geometry.frame) / 2
    for column, row in geometry.dark_squares.tolist():
        left, top = column * geometry.square - half[0], half[1] - row * geometry.square
        yield Rectangle(left, top - geometry.square, left + geometry.square, top)


def _markers(geometry: TargetGeometry) -> Iterable[Rectangle]:
    """Yield each marker's dark cells, those side by side as one."""
    for marker, corners in zip(geometry.marker_ids.tolist(), geometry.marker_corners, strict=True):
        dark = _marker_cells(geometry, marker)
        cell = geometry.marker / len(dark)
        left, top = corners[0].tolist()
        for row, cells in enumerate(dark):
            edges = np.flatnonzero(np.diff(np.concatenate([[0], cells, [0]])))
            for start, stop in edges.reshape(-1, 2).tolist():
                upper = top - row * cell
                yield Rectangle(left + start * cell, upper - cell, left + stop * cell, upper)


def _marker_cells(geometry: TargetGeometry, marker: int) -> NDArray[np.int8]:
    """Return a marker's cells with its border, 1 for dark."""
    dictionary = geometry.dictionary()
    size = dictionary.markerSize + 2
    image = cv2.aruco.generateImageMarker(dictionary, marker, size, borderBits=1)
    return np.asarray(image == 0, dtype=np.int8)


def _bars(geometry: TargetGeometry) -> Iterable[Rectangle]:
    for bar in geometry.check_bars:
        for tick in bar.ticks:
            yield _stroke(tick, BAR_TICK_WIDTH_MM, INK.black)


def _station(geometry: TargetGeometry) -> Iterable[Rectangle]:
    for tick in geometry.station_ticks:
        yield _stroke(tick, STATION_TICK_WIDTH_MM, INK.station)


def _stroke(ends: Array, width: float, grey: float) -> Rectangle:
    """Return a line along x or y widened into a rectangle."""
    aside = np.where(np.ptp(ends, axis=0) > 0, 0.0, width / 2)
    left, bottom = (ends.min(axis=0) - aside).tolist()
    right, top = (ends.max(axis=0) + aside).tolist()
    return Rectangle(left, bottom, right, top, grey)


def _texts(geometry: TargetGeometry) -> tuple[TextLine, ...]:
    """Return all words, at the field's edges, where neither hub nor gauge lies."""
    top = geometry.field[1] / 2 - INK.inset_mm - INK.text_mm
    bottom = -geometry.field[1] / 2 + INK.inset_mm
    bar_y = geometry.check_bars[1].ticks[:, :, 0].mean()
    length = f"{geometry.check_bars[0].nominal:g} mm from the middle of one tick to the middle of the other"
    where = "The hub stands between the four grey ticks, the gauge points to the right."
    print_it = "Print at 100 %, then measure both bars with a caliper."
    return (
        TextLine(0.0, top, f"This edge is the top. {where}"),
        TextLine(0.0, bottom, f"{geometry.target_id}. {print_it}"),
        TextLine(0.0, bottom + 1.5 * INK.text_mm, f"Bar x: {length}"),
        TextLine(float(bar_y) + INK.text_mm / 3, 0.0, f"Bar y: {length}", upwards=True),
    )


def _write_pdf(path: Path, drawing: TargetDrawing, card: Callable[[Canvas], None] | None) -> None:
    width, height = (side * units.mm for side in drawing.page)
    # Invariant: the same target is the same file, whenever it is written.
    canvas = Canvas(str(path), pagesize=(width, height), pageCompression=1, invariant=1)
    canvas.setTitle(drawing.title)
    canvas.setViewerPreference("PrintScaling", "None")
    canvas.translate(width / 2, height / 2)
    canvas.scale(units.mm, units.mm)
    for grey, rectangles in _by_grey(drawing).items():
        canvas.setFillGray(grey)
        shape = canvas.beginPath()  # one path, so that no seams show between neighbours
        for part in rectangles:
            shape.rect(part.left, part.bottom, part.right - part.left, part.top - part.bottom)
        canvas.drawPath(shape, stroke=0, fill=1)
    canvas.setFillGray(INK.text)
    canvas.setFont("Helvetica", INK.text_mm)
    for line in drawing.texts:
        canvas.saveState()
        canvas.translate(line.x, line.y)
        canvas.rotate(90 if line.upwards else 0)
        canvas.drawCentredString(0, 0, line.text)
        canvas.restoreState()
    canvas.showPage()
    if card is not None:
        card(canvas)
        canvas.showPage()
    canvas.save()


def _by_grey(drawing: TargetDrawing) -> dict[float, list[Rectangle]]:
    groups: dict[float, list[Rectangle]] = {}
    for part in drawing.rectangles:
        groups.setdefault(part.grey, []).append(part)
    return groups


def _write_svg(path: Path, drawing: TargetDrawing, card: Callable[[Canvas], None] | None) -> None:  # noqa: ARG001
    """Write the drawing with y downwards, as SVG has it."""
    width, height = drawing.page
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
        f'viewBox="{-width / 2:g} {-height / 2:g} {width:g} {height:g}">',
        f"<title>{escape(drawing.title)}</title>",
        f'<rect x="{-width / 2:g}" y="{-height / 2:g}" width="{width:g}" height="{height:g}" fill="#fff"/>',
    ]
    for grey, rectangles in _by_grey(drawing).items():
        shape = "".join(
            f"M{part.left:.6f} {-part.top:.6f}h{part.right - part.left:.6f}"
            f"v{part.top - part.bottom:.6f}h{part.left - part.right:.6f}z"
            for part in rectangles
        )
        lines.append(f'<path fill="{_svg_grey(grey)}" d="{shape}"/>')
    style = f'font-family="Helvetica, Arial, sans-serif" font-size="{INK.text_mm:g}" text-anchor="middle"'
    lines.append(f'<g fill="{_svg_grey(INK.text)}" {style}>')
    for line in drawing.texts:
        turn = " rotate(-90)" if line.upwards else ""
        place = f'transform="translate({line.x:.3f} {-line.y:.3f}){turn}"'
        lines.append(f"<text {place}>{escape(line.text)}</text>")
    lines += ["</g>", "</svg>", ""]
    path.write_text("\n".join(lines), encoding="utf-8")


def _svg_grey(grey: float) -> str:
    return f"#{round(255 * grey):02x}" + 2 * f"{round(255 * grey):02x}"


def _write_png(path: Path, drawing: TargetDrawing, card: Callable[[Canvas], None] | None) -> None:  # noqa: ARG001
    picture = Image.fromarray(render_target(drawing, PNG_DPI))
    picture.save(path, dpi=(PNG_DPI, PNG_DPI), compress_level=6)


def render_target(drawing: TargetDrawing, dpi: float) -> Picture:
    """Return the drawing as a grey array; a partly covered pixel takes its share, so edges keep their place.

    Parameters
    ----------
    drawing
        What to draw.
    dpi
        Pixels per inch. The page's centre comes to lie at the array's centre, pixel (columns - 1) / 2 and
        (rows - 1) / 2.

    Returns
    -------
    ndarray
        (rows, columns), white where nothing is printed.
    """
    per_mm = dpi / 25.4
    columns, rows = (round(side * per_mm) for side in drawing.page)
    page = np.full((rows, columns), 255, np.uint8)
    for part in drawing.rectangles:
        across, x = _shares(columns / 2 + part.left * per_mm, columns / 2 + part.right * per_mm)
        down, y = _shares(rows / 2 - part.top * per_mm, rows / 2 - part.bottom * per_mm)
        ink = np.rint(255 * (1 - part.grey) * np.outer(down, across))
        window = page[y : y + len(down), x : x + len(across)]
        window[:] = np.clip(window - ink, 0, 255)
    return _with_texts(page, drawing, per_mm)


def _shares(start: float, stop: float) -> tuple[Array, int]:
    """Return how much of each pixel lies between start and stop, and the first pixel's number."""
    first = int(np.floor(start))
    pixel = np.arange(first, int(np.ceil(stop)))
    return np.clip(np.minimum(pixel + 1, stop) - np.maximum(pixel, start), 0, 1), first


def _with_texts(page: Picture, drawing: TargetDrawing, per_mm: float) -> Picture:
    font = ImageFont.load_default(size=INK.text_mm * per_mm)
    picture = Image.fromarray(page)
    rows, columns = page.shape
    for line in drawing.texts:
        length, size = font.getlength(line.text), round(2 * INK.text_mm * per_mm)
        strip = Image.new("L", (int(length) + 2, size), 255)
        middle = (strip.width / 2, size / 2)
        ImageDraw.Draw(strip).text(middle, line.text, fill=round(255 * INK.text), font=font, anchor="ms")
        if line.upwards:
            strip = strip.transpose(Image.Transpose.ROTATE_90)
        x, y = columns / 2 + line.x * per_mm, rows / 2 - line.y * per_mm
        picture.paste(strip, (round(x - strip.width / 2), round(y - strip.height / 2)))
    return np.asarray(picture)


_WRITERS: dict[str, Callable[[Path, TargetDrawing, Callable[[Canvas], None] | None], None]] = {
    ".pdf": _write_pdf,
    ".svg": _write_svg,
    ".png": _write_png,
}
"""By file ending what writes a drawing."""
