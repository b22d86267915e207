"""The wall of evidence: close-ups of everything that a figure hangs on, side by side."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from markupsafe import Markup

from hubsight.model.agreement import PhotosAgree
from hubsight.model.catalogue import SIDE_WORDS, figure_words
from hubsight.model.files import inside
from hubsight.model.side import FaceGeometry, PhotoEvidence
from hubsight.model.stated import SIDES
from hubsight.page.cutting import CUT_PX
from hubsight.page.state import JobState, PhotoState
from hubsight.show.canvas import Window
from hubsight.show.crops import Crop, CropGroup, crops_of
from hubsight.show.marks import Mark, marks_of
from hubsight.show.overlay import path_of
from hubsight.show.svg_marks import marks_svg
from hubsight.show.turned import displayed_evidence

SHOWN_PX = 150.0
"""Width of a close-up on the screen, px, by which its marks are sized."""
STEP_PX = 12
"""Step of a close-up's place and width, photo pixels; raising it cuts fewer pictures, centred worse."""
NEAR = 1.5
"""Marks are drawn this far round a close-up's middle, in its half widths."""


@dataclass(frozen=True)
class Tile:
    """A close-up as the page shows it.

    Attributes
    ----------
    crop
        In pixels of the upright photo.
    name
        The photo's name.
    photo
        Its identifier, to open it; empty for photos that the viewer does not know.
    cut
        Name of its picture in the cache.
    window
        What of the photo it shows.
    marks
        What was seen there.
    """

    crop: Crop
    name: str
    photo: str
    cut: str
    window: Window
    marks: Markup

    @property
    def box(self) -> str:
        """The window's corners, for the viewer."""
        w = self.window
        return f"{w.left} {w.top} {w.left + w.width} {w.top + w.height}"


@dataclass(frozen=True)
class TileGroup:
    """Close-ups of the same thing, and the words for the figures that hang on it."""

    group: CropGroup
    hangs: str
    tiles: tuple[Tile, ...]


@dataclass(frozen=True)
class WallSet:
    """The close-ups of one photo set; ``odd`` tells that something in it disagrees."""

    title: str
    groups: tuple[TileGroup, ...]

    @property
    def odd(self) -> int:
        """How many close-ups disagree."""
        return sum(bool(tile.crop.odd) for group in self.groups for tile in group.tiles)


@dataclass(frozen=True)
class _Set:
    """What was seen of one photo set, upright, with the photos' files and identifiers."""

    title: str
    photos: tuple[PhotoEvidence, ...]
    files: dict[str, Path]
    ids: dict[str, str] = field(default_factory=dict)
    agreement: PhotosAgree | None = None
    face: FaceGeometry | None = None


class Wall:
    """The wall of one job, made when a template asks for it."""

    def __init__(self, state: JobState) -> None:
        self._state = state
        self._cuts: dict[str, tuple[Path, Window]] = {}

    def sets(self) -> tuple[WallSet, ...]:
        """Return the close-ups of every photo set in which something was seen."""
        walls, self._cuts = [], {}
        for one in (*self._sides(), *self._lying()):
            groups = crops_of(one.photos, one.agreement, one.face)
            walls.append(WallSet(one.title, tuple(self._tiles(group, one) for group in groups)))
        self._state.cuts = self._cuts
        return tuple(wall for wall in walls if wall.groups)

    def _sides(self) -> Iterable[_Set]:
        for side in SIDES:
            measured = self._state.measured_side(side)
            found = None if measured is None else measured.measurement
            known = [(p, self._state.evidence(p)) for p in self._state.side_photos(side)]
            seen = [(photo, evidence) for photo, evidence in known if evidence is not None]
            yield _Set(
                SIDE_WORDS[side],
                tuple(displayed_evidence(evidence, _orientation(photo)) for photo, evidence in seen),
                {evidence.file: photo.file.path for photo, evidence in seen},
                {evidence.file: photo.file.id for photo, evidence in seen},
                None if found is None else found.agreement,
                None if found is None else found.face,
            )

    def _lying(self) -> Iterable[_Set]:
        outcome = self._state.outcome
        report = None if outcome is None or outcome.measured is None else outcome.measured.lying
        if report is None or report.measurement is None:
            return
        evidence = report.measurement.evidence
        paths = {e.file: inside(self._state.folder, path_of(e, report.photos)) for e in evidence}
        files = {file: path for file, path in paths.items() if path is not None}
        shown = tuple(displayed_evidence(e, e.orientation) for e in evidence if e.file in files)
        yield _Set("The lying hub", shown, files)

    def _tiles(self, group: CropGroup, one: _Set) -> TileGroup:
        evidence = {photo.file: photo for photo in one.photos}
        tiles = [self._tile(crop, evidence[crop.photo], one) for crop in group.crops]
        return TileGroup(group, ", ".join(figure_words(name) for name in group.figures), tuple(tiles))

    def _tile(self, crop: Crop, evidence: PhotoEvidence, one: _Set) -> Tile:
        window = _window(crop)
        name = _cut_name(one.files[crop.photo], window)
        self._cuts[name] = (one.files[crop.photo], window)
        marks = [mark for mark in marks_of(evidence) if _near(mark, crop)]
        photo = one.ids.get(crop.photo, "")
        return Tile(
            crop, Path(crop.photo).stem, photo, name, window, marks_svg(marks, window.width / SHOWN_PX)
        )


def _orientation(photo: PhotoState) -> int:
    return 1 if photo.looked is None else photo.looked.orientation


def _window(crop: Crop) -> Window:
    """Return what is cut out; in steps, so that a small correction asks for no other picture."""
    width = max(math.ceil(2 * crop.half / STEP_PX), 2) * STEP_PX
    left, top = (round((at - width / 2) / STEP_PX) * STEP_PX for at in crop.centre)
    return Window(left, top, width, width, CUT_PX / width)


def _cut_name(path: Path, window: Window) -> str:
    stamp = path.stat().st_mtime_ns if path.is_file() else 0
    at = f"{path} {stamp} {window.left} {window.top} {window.width}"
    return f"cut-{hashlib.sha256(at.encode('utf-8', 'surrogatepass')).hexdigest()[:20]}"


def _near(mark: Mark, crop: Crop) -> bool:
    """Tell whether some of a mark may show in a close-up; a line may pass through between its points."""
    xs, ys = ([point[axis] for point in mark.points] for axis in (0, 1))
    reach = NEAR * crop.half
    return all(
        min(values) - reach < at < max(values) + reach
        for values, at in zip((xs, ys), crop.centre, strict=True)
    )
