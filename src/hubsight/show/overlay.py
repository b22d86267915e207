"""Pictures of what was seen: every photo with its marks, a legend, and what its figures hang on close up."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from PIL import Image

from hubsight.model.files import write_atomically
from hubsight.model.refusal import Refusal
from hubsight.model.result import JobResult
from hubsight.model.side import PhotoEvidence, Pixel
from hubsight.photo import load_photo, upright
from hubsight.photo.at_once import at_once
from hubsight.show.canvas import Canvas, Colour, Picture, Window, text_width, write_words
from hubsight.show.crops import Crop, crops_of
from hubsight.show.marks import Mark, corner_marks, marks_of
from hubsight.show.paint import COLOURS, legend_of, paint
from hubsight.show.turned import displayed_evidence


@dataclass(frozen=True)
class Layout:
    """Of a picture, picture pixels.

    Attributes
    ----------
    ink, ground
        Colours of the words and of what lies beside the photo.
    height
        Of the shown photo.
    side
        Width of the close-ups beside it.
    hub
        Height of the hub's close-up; gauge ends, exits and end faces share the rest.
    most
        Close-ups below the hub's.
    tail
        The longest residual of a used corner is drawn this long.
    gap, text
        Room between pictures, and size of the words.
    """

    ink: Colour = (236, 238, 242)
    ground: Colour = (30, 33, 41)
    height: int = 1100
    side: int = 700
    hub: int = 690
    most: int = 4
    tail: float = 26.0
    gap: int = 8
    text: int = 22


LAYOUT = Layout()
"""Layout of the program's pictures."""


def _longest_residual(evidence: PhotoEvidence) -> float:
    used = [np.hypot(*saddle.residual) for saddle in evidence.saddles if saddle.used]
    return float(max(used, default=0.0))


def _draw_saddles(canvas: Canvas, evidence: PhotoEvidence) -> None:
    longest = _longest_residual(evidence)
    stretch = LAYOUT.tail / longest if longest > 0 else 0.0
    paint(canvas, corner_marks(evidence), 1.0)
    for saddle in evidence.saddles:
        if saddle.used:
            tail = (saddle.residual[0] * stretch, saddle.residual[1] * stretch)
            canvas.strokes(saddle.pixel, [((0.0, 0.0), tail)], COLOURS["corner"])


def _hub_window(evidence: PhotoEvidence) -> Window | None:
    """Return the window that holds all bosses, seats and the axis; of a lying hub all its edges."""
    points = [point for outline in evidence.boss_outlines for point in outline]
    points += [point for line in evidence.centrelines for point in line]
    points += [*evidence.seats, *evidence.crossing_points]
    points += [] if evidence.axis is None else [evidence.axis]
    points += [point for edge in evidence.edges for point in edge.points]
    if len(points) < 2:
        return None
    low, high = np.min(points, axis=0), np.max(points, axis=0)
    span = np.maximum(high - low, 40.0) * 1.25
    scale = min(LAYOUT.side / span[0], LAYOUT.hub / span[1])
    return _window_about(tuple(((low + high) / 2).tolist()), (LAYOUT.side, LAYOUT.hub), float(scale))


def _window_about(centre: Pixel, size: tuple[int, int], scale: float) -> Window:
    width, height = (max(round(length / scale), 2) for length in size)
    return Window(round(centre[0] - width / 2), round(centre[1] - height / 2), width, height, scale)


def _panel(photo: Picture, marks: Sequence[Mark], window: Window, size: tuple[int, int]) -> Picture:
    canvas = Canvas(window.show(photo), window)
    paint(canvas, marks, 1.6)
    panel = np.full((size[1], size[0], 3), LAYOUT.ground, np.uint8)
    height, width = min(size[1], canvas.picture.shape[0]), min(size[0], canvas.picture.shape[1])
    panel[:height, :width] = canvas.picture[:height, :width]
    return panel


def crop_picture(photo: Picture, evidence: PhotoEvidence, crop: Crop, size: int) -> Picture:
    """Return a close-up with what was seen drawn in, ``size`` pixels square.

    ``photo``, ``evidence`` and ``crop`` are of the picture as it is looked at.
    """
    window = _window_about(crop.centre, (size, size), size / (2.0 * crop.half))
    return _panel(photo, marks_of(evidence), window, (size, size))


def _close_ups(photo: Picture, evidence: PhotoEvidence) -> Picture | None:
    """Return a column with the hub close up and what its figures hang on; None where nothing was seen."""
    groups = [
        group
        for group in crops_of((evidence,))
        if group.kind in ("gauge_end", "exit", "end_face", "lying_end")
    ]
    hub, crops = _hub_window(evidence), [crop for group in groups for crop in group.crops][: LAYOUT.most]
    if hub is None and not crops:
        return None
    column = np.full((LAYOUT.height, LAYOUT.side, 3), LAYOUT.ground, np.uint8)
    if hub is not None:
        column[: LAYOUT.hub] = _panel(photo, marks_of(evidence), hub, (LAYOUT.side, LAYOUT.hub))
    count = max(len(crops), 2)
    size = min((LAYOUT.side - LAYOUT.gap * (count - 1)) // count, LAYOUT.height - LAYOUT.hub - LAYOUT.gap)
    for index, crop in enumerate(crops):
        left, top = index * (size + LAYOUT.gap), LAYOUT.hub + LAYOUT.gap
        column[top : top + size, left : left + size] = crop_picture(photo, evidence, crop, size)
    return column


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


def _corner_legend(evidence: PhotoEvidence) -> Iterator[tuple[str, Mark]]:
    if any(saddle.used for saddle in evidence.saddles):
        longest = _longest_residual(evidence)
        yield f"target corner (tail: residual, longest {longest:.2f} px)", Mark("corner", ())
    if any(not saddle.used for saddle in evidence.saddles):
        yield "corner not used", Mark("unused", ())


def _legend(title: str, evidence: PhotoEvidence, width: int) -> Picture:
    """Return the strip below the picture: what the photo is, and what the marks mean."""
    line_height, indent = 44, 48
    words = [((16, 10), _heading(title, evidence), LAYOUT.ink, LAYOUT.text + 2)]
    entries = [
        (said, lambda canvas, at, mark=mark: paint(canvas, [replace(mark, points=(at,))], 1.0))
        for said, mark in _corner_legend(evidence)
    ]
    places = []
    x, y = 16, 10 + line_height
    for said, draw in [*entries, *legend_of(marks_of(evidence))]:
        needed = indent + text_width(said, LAYOUT.text) + 32
        if x + needed > width and x > 16:
            x, y = 16, y + line_height
        places.append((draw, (x + 18.0, y + 14.0)))
        words.append(((x + indent, y), said, LAYOUT.ink, LAYOUT.text))
        x += needed
    strip = np.full((y + line_height, width, 3), LAYOUT.ground, np.uint8)
    canvas = Canvas(strip, Window(0, 0, width, strip.shape[0], 1.0))
    for draw, at in places:
        draw(canvas, at)
    return write_words(canvas.picture, words)


def overlay_picture(photo: Picture, evidence: PhotoEvidence, title: str) -> Picture:
    """Draw what was seen onto a photo.

    Parameters
    ----------
    photo
        RGB, as it is looked at: after EXIF rotation.
    evidence
        In pixels of that picture, see :func:`hubsight.show.turned.displayed_evidence`.
    title
        Names the photo in the legend.

    Returns
    -------
    ndarray
        RGB: the photo, the hub and what its figures hang on close up beside it, the legend below.
    """
    scale = LAYOUT.height / photo.shape[0]
    window = Window(0, 0, photo.shape[1], photo.shape[0], scale)
    canvas = Canvas(window.show(photo), window)
    _draw_saddles(canvas, evidence)
    paint(canvas, marks_of(evidence), 1.0)
    picture = canvas.picture
    column = _close_ups(photo, evidence)
    if column is not None:
        gap = np.full((LAYOUT.height, LAYOUT.gap, 3), LAYOUT.ground, np.uint8)
        picture = np.hstack([picture, gap, column])
    return np.vstack([picture, _legend(title, evidence, picture.shape[1])])


@dataclass(frozen=True)
class SeenPhoto:
    """A photo in which something was seen: its place in the job folder, whose it is, and what was seen."""

    path: str
    of: str
    title: str
    evidence: PhotoEvidence


def seen_photos(measured: JobResult) -> tuple[SeenPhoto, ...]:
    """Return every photo of a job in which something was seen, the sides' first, then the lying hub's."""
    out = [
        SeenPhoto(path_of(seen, side.photos), side.name, f"{side.name.replace('_', '-')} side", seen)
        for side in measured.sides
        for seen in (() if side.measurement is None else side.measurement.photos)
    ]
    lying = measured.lying
    if lying is not None and lying.measurement is not None:
        out += [
            SeenPhoto(path_of(seen, lying.photos), "lying", "lying hub", seen)
            for seen in lying.measurement.evidence
        ]
    return tuple(out)


def write_overlays(measured: JobResult, folder: Path, out: Path) -> list[Path]:
    """Write one picture per measured photo, those of the lying hub included.

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
    numbers, files = dict[str, int](), list[Path]()
    seen = seen_photos(measured)
    for one in seen:
        numbers[one.of] = numbers.get(one.of, 0) + 1
        files.append(out / f"{one.of}-{numbers[one.of]:02d}-{Path(one.evidence.file).stem}.jpg")
    written = at_once(lambda one: _write_overlay(folder, *one), zip(seen, files, strict=True))
    return [file for file in written if file is not None]


def _write_overlay(folder: Path, seen: SeenPhoto, file: Path) -> Path | None:
    """Write one photo's picture and return its file; None where the photo is not there any more."""
    photo = load_photo(folder / seen.path)
    if isinstance(photo, Refusal):
        return None
    picture = overlay_picture(
        upright(photo.pixels, photo.orientation),
        displayed_evidence(seen.evidence, photo.orientation),
        f"{seen.title}, {seen.evidence.file}",
    )
    write_atomically(file, _jpeg(picture))
    return file


def path_of(seen: PhotoEvidence, photos: Sequence[str]) -> str:
    """Return the photo's path in the job folder; evidence names the file only."""
    return next((photo for photo in photos if Path(photo).name == Path(seen.file).name), seen.file)


def _jpeg(picture: Picture) -> bytes:
    buffer = io.BytesIO()
    Image.fromarray(picture).save(buffer, "JPEG", quality=90)
    return buffer.getvalue()
