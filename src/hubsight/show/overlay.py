"""Pictures of what was seen: every photo with its marks, a legend, and the hub and gauge ends close up."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from hubsight.model.files import write_atomically
from hubsight.model.refusal import Refusal
from hubsight.model.result import JobResult, MeasuredSide
from hubsight.model.side import PhotoEvidence, Pixel, SaddleEvidence
from hubsight.photo import load_photo, upright
from hubsight.show.canvas import Canvas, Colour, Picture, Window, text_width, write_words

# Told apart by shape and lightness as well as by hue, so that no mark rests on red against green.
CORNER: Colour = (126, 178, 255)
UNUSED: Colour = (255, 255, 255)
GAUGE: Colour = (255, 216, 48)
SEAT: Colour = (255, 255, 255)
CROSSING: Colour = (255, 120, 214)
OUTLINE: Colour = (72, 214, 238)
CENTRELINE: Colour = (255, 158, 64)
AXIS: Colour = (255, 255, 255)
INK: Colour = (236, 238, 242)
PANEL: Colour = (30, 33, 41)

HEIGHT = 1100
"""Of the shown photo, picture pixels."""

SIDE_PANEL = 700
"""Width of the close-ups beside the photo, picture pixels."""

HUB_PANEL = 690
"""Height of the hub's close-up; the gauge ends share the rest."""

END_HALF_WIDTH = 90
"""Half the width of a gauge end's close-up, photo pixels."""

LONGEST_TAIL = 26.0
"""The longest residual of a used corner is drawn this long, picture pixels."""

_GAP = 8
_TEXT = 22


def displayed(point: Pixel, orientation: int, width: int, height: int) -> Pixel:
    """Return where a pixel of the stored array lies in the picture as it is looked at.

    Parameters
    ----------
    point
        Column, row in the array as stored.
    orientation
        EXIF orientation, 1 to 8.
    width, height
        Of the array as stored.
    """
    x, y = point
    right, bottom = width - 1 - x, height - 1 - y
    return {
        2: (right, y),
        3: (right, bottom),
        4: (x, bottom),
        5: (y, x),
        6: (bottom, x),
        7: (bottom, right),
        8: (y, right),
    }.get(orientation, (x, y))


def displayed_evidence(evidence: PhotoEvidence, orientation: int) -> PhotoEvidence:
    """Turn all that was seen in a photo into the picture as it is looked at."""

    def turn(point: Pixel) -> Pixel:
        return displayed(point, orientation, evidence.width, evidence.height)

    def turn_saddle(saddle: SaddleEvidence) -> SaddleEvidence:
        seen = turn(saddle.pixel)
        adjusted = turn((saddle.pixel[0] - saddle.residual[0], saddle.pixel[1] - saddle.residual[1]))
        residual = (seen[0] - adjusted[0], seen[1] - adjusted[1])
        return SaddleEvidence(pixel=seen, residual=residual, used=saddle.used)

    wide, high = evidence.width, evidence.height
    return evidence.model_copy(
        update={
            "width": high if orientation >= 5 else wide,
            "height": wide if orientation >= 5 else high,
            "saddles": tuple(turn_saddle(saddle) for saddle in evidence.saddles),
            "gauges": tuple(tuple(turn(point) for point in line) for line in evidence.gauges),
            "gauge_ends": tuple(turn(point) for point in evidence.gauge_ends),
            "gauge_end_outlines": tuple(turn(point) for point in evidence.gauge_end_outlines),
            "seats": tuple(turn(point) for point in evidence.seats),
            "crossing_points": tuple(turn(point) for point in evidence.crossing_points),
            "boss_outlines": tuple(tuple(turn(point) for point in line) for line in evidence.boss_outlines),
            "centrelines": tuple((turn(a), turn(b)) for a, b in evidence.centrelines),
            "axis": None if evidence.axis is None else turn(evidence.axis),
        }
    )


def _longest_residual(evidence: PhotoEvidence) -> float:
    used = [np.hypot(*saddle.residual) for saddle in evidence.saddles if saddle.used]
    return float(max(used, default=0.0))


def _draw_saddles(canvas: Canvas, evidence: PhotoEvidence) -> None:
    longest = _longest_residual(evidence)
    stretch = LONGEST_TAIL / longest if longest > 0 else 0.0
    for saddle in evidence.saddles:
        if not saddle.used:
            canvas.cross(saddle.pixel, 6, UNUSED)
            continue
        canvas.ring(saddle.pixel, 5, CORNER)
        tail = (saddle.residual[0] * stretch, saddle.residual[1] * stretch)
        canvas.strokes(saddle.pixel, [((0.0, 0.0), tail)], CORNER)


def _draw_hub(canvas: Canvas, evidence: PhotoEvidence, size: float) -> None:
    """Draw what was seen of hub and gauge; ``size`` scales the marks."""
    for outline in evidence.boss_outlines:
        canvas.line(outline, OUTLINE, closed=True)
    for start, end in evidence.centrelines:
        canvas.dashes(start, end, CENTRELINE)
    for gauge in evidence.gauges:
        canvas.line(gauge, GAUGE)
    for index, end in enumerate(evidence.gauge_ends):
        gauge = evidence.gauges[index] if index < len(evidence.gauges) else ()
        along = next((point for point in reversed(gauge) if point != end), (end[0] - 1.0, end[1]))
        canvas.bar(end, along, 14 * size, GAUGE)
    for seat in evidence.seats:
        canvas.square(seat, 7 * size, SEAT)
    for crossing in evidence.crossing_points:
        canvas.ring(crossing, 8 * size, CROSSING, 3)
        canvas.ring(crossing, 1, CROSSING)
    if evidence.axis is not None:
        canvas.plus(evidence.axis, 16 * size, AXIS)


def _hub_window(evidence: PhotoEvidence) -> Window | None:
    """Return the window that holds all bosses, seats and the axis."""
    points = [point for outline in evidence.boss_outlines for point in outline]
    points += [point for line in evidence.centrelines for point in line]
    points += [*evidence.seats, *evidence.crossing_points]
    points += [] if evidence.axis is None else [evidence.axis]
    if len(points) < 2:
        return None
    low, high = np.min(points, axis=0), np.max(points, axis=0)
    span = np.maximum(high - low, 40.0) * 1.25
    scale = min(SIDE_PANEL / span[0], HUB_PANEL / span[1])
    return _window_about(tuple(((low + high) / 2).tolist()), (SIDE_PANEL, HUB_PANEL), float(scale))


def _window_about(centre: Pixel, size: tuple[int, int], scale: float) -> Window:
    width, height = (max(round(length / scale), 2) for length in size)
    return Window(round(centre[0] - width / 2), round(centre[1] - height / 2), width, height, scale)


def _panel(photo: Picture, evidence: PhotoEvidence, window: Window, size: tuple[int, int]) -> Picture:
    canvas = Canvas(window.show(photo), window)
    _draw_hub(canvas, evidence, 1.6)
    panel = np.full((size[1], size[0], 3), PANEL, np.uint8)
    height, width = min(size[1], canvas.picture.shape[0]), min(size[0], canvas.picture.shape[1])
    panel[:height, :width] = canvas.picture[:height, :width]
    return panel


def _close_ups(photo: Picture, evidence: PhotoEvidence) -> Picture | None:
    """Return a column with the hub and the gauge ends close up; None where neither was seen."""
    hub, ends = _hub_window(evidence), evidence.gauge_ends[:2]
    if hub is None and not ends:
        return None
    column = np.full((HEIGHT, SIDE_PANEL, 3), PANEL, np.uint8)
    if hub is not None:
        column[:HUB_PANEL] = _panel(photo, evidence, hub, (SIDE_PANEL, HUB_PANEL))
    height = HEIGHT - HUB_PANEL - _GAP
    for index, end in enumerate(ends):
        width = (SIDE_PANEL - _GAP * (len(ends) - 1)) // len(ends)
        window = _window_about(end, (width, height), width / (2.0 * END_HALF_WIDTH))
        left = index * (width + _GAP)
        column[HUB_PANEL + _GAP :, left : left + width] = _panel(photo, evidence, window, (width, height))
    return column


@dataclass(frozen=True)
class _LegendEntry:
    words: str
    draw: Callable[[Canvas, Pixel], None]


def _legend_entries(evidence: PhotoEvidence) -> list[_LegendEntry]:
    def line(colour: Colour) -> Callable[[Canvas, Pixel], None]:
        return lambda canvas, at: canvas.line([(at[0] - 14, at[1]), (at[0] + 14, at[1])], colour)

    used = any(saddle.used for saddle in evidence.saddles)
    unused = any(not saddle.used for saddle in evidence.saddles)
    longest = _longest_residual(evidence)
    corner = f"target corner (tail: residual, longest {longest:.2f} px)"
    known: list[tuple[Any, str, Callable[[Canvas, Pixel], None]]] = [
        (used, corner, lambda canvas, at: canvas.ring(at, 6, CORNER)),
        (unused, "corner not used", lambda canvas, at: canvas.cross(at, 6, UNUSED)),
        (evidence.gauges, "gauge spoke", line(GAUGE)),
        (
            evidence.gauge_ends,
            "gauge end",
            lambda canvas, at: canvas.bar(at, (at[0] - 1, at[1]), 12, GAUGE),
        ),
        (evidence.seats, "head seat", lambda canvas, at: canvas.square(at, 8, SEAT)),
        (evidence.crossing_points, "crossing point", lambda canvas, at: canvas.ring(at, 9, CROSSING, 3)),
        (evidence.boss_outlines, "boss outline", line(OUTLINE)),
        (
            evidence.centrelines,
            "boss centreline",
            lambda canvas, at: canvas.dashes((at[0] - 16, at[1]), (at[0] + 16, at[1]), CENTRELINE, dash=4),
        ),
        (evidence.axis is not None, "hub axis at the flange", lambda canvas, at: canvas.plus(at, 12, AXIS)),
    ]
    return [_LegendEntry(words, draw) for present, words, draw in known if present]


def _heading(title: str, evidence: PhotoEvidence) -> str:
    parts = [title]
    if evidence.focal_px is not None:
        parts.append(f"focal length {evidence.focal_px:.0f} px")
    if evidence.residual_px is not None:
        parts.append(f"residual {evidence.residual_px:.2f} px")
    if not evidence.used:
        parts.append("not used")
    if evidence.note:
        parts.append(evidence.note)
    return "   ".join(parts)


def _legend(title: str, evidence: PhotoEvidence, width: int) -> Picture:
    """Return the strip below the picture: what the photo is, and what the marks mean."""
    line_height, indent = 44, 48
    words = [((16, 10), _heading(title, evidence), INK, _TEXT + 2)]
    places: list[tuple[_LegendEntry, Pixel]] = []
    x, y = 16, 10 + line_height
    for entry in _legend_entries(evidence):
        needed = indent + text_width(entry.words, _TEXT) + 32
        if x + needed > width and x > 16:
            x, y = 16, y + line_height
        places.append((entry, (x + 18.0, y + 14.0)))
        words.append(((x + indent, y), entry.words, INK, _TEXT))
        x += needed
    strip = np.full((y + line_height, width, 3), PANEL, np.uint8)
    canvas = Canvas(strip, Window(0, 0, width, strip.shape[0], 1.0))
    for entry, at in places:
        entry.draw(canvas, at)
    return write_words(canvas.picture, words)


def overlay_picture(photo: Picture, evidence: PhotoEvidence, title: str) -> Picture:
    """Draw what was seen onto a photo.

    Parameters
    ----------
    photo
        RGB, as it is looked at: after EXIF rotation.
    evidence
        In pixels of that picture, see :func:`displayed_evidence`.
    title
        Names the photo in the legend.

    Returns
    -------
    ndarray
        RGB: the photo, the hub and the gauge ends close up beside it, the legend below.
    """
    scale = HEIGHT / photo.shape[0]
    window = Window(0, 0, photo.shape[1], photo.shape[0], scale)
    canvas = Canvas(window.show(photo), window)
    _draw_saddles(canvas, evidence)
    _draw_hub(canvas, evidence, 1.0)
    picture = canvas.picture
    column = _close_ups(photo, evidence)
    if column is not None:
        gap = np.full((HEIGHT, _GAP, 3), PANEL, np.uint8)
        picture = np.hstack([picture, gap, column])
    return np.vstack([picture, _legend(title, evidence, picture.shape[1])])


def write_overlays(measured: JobResult, folder: Path, out: Path) -> list[Path]:
    """Write one picture per measured photo.

    Parameters
    ----------
    measured
        The job's measurement.
    folder
        The job folder, in which the photos are.
    out
        Folder for the pictures; made if it is not there.

    Returns
    -------
    list of Path
        The pictures, in the order of sides and photos.
    """
    out.mkdir(parents=True, exist_ok=True)
    written = []
    for side in measured.sides:
        evidence = side.measurement.photos if side.measurement is not None else ()
        for number, seen in enumerate(evidence, start=1):
            photo = load_photo(folder / path_of(seen, side))
            if isinstance(photo, Refusal):
                continue
            picture = overlay_picture(
                upright(photo.pixels, photo.orientation),
                displayed_evidence(seen, photo.orientation),
                f"{side.name.replace('_', '-')} side, {seen.file}",
            )
            file = out / f"{side.name}-{number:02d}-{Path(seen.file).stem}.jpg"
            write_atomically(file, _jpeg(picture))
            written.append(file)
    return written


def path_of(seen: PhotoEvidence, side: MeasuredSide) -> str:
    """Return the photo's path in the job folder; evidence names the file only."""
    return next((photo for photo in side.photos if Path(photo).name == Path(seen.file).name), seen.file)


def _jpeg(picture: Picture) -> bytes:
    buffer = io.BytesIO()
    Image.fromarray(picture).save(buffer, "JPEG", quality=90)
    return buffer.getvalue()
