"""Sorting new photos of a job into its sides, by when they were taken and by what they show."""

from __future__ import annotations

import itertools
import re
import statistics
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from hubsight.measure.set_up import ON_SHEET_MM, SeenInPhoto, common_end, standing_out
from hubsight.model.stated import SideName
from hubsight.photo import read_header

PAUSE_S = 75.0
"""Shortest pause between two photos in which a hub can be turned over, s (common practice, no source)."""
LONG_PAUSE = 2.5
"""Length of a pause that parts two sets of photos, over the usual one; raising it parts fewer."""
LOWER_MM = 5.0
"""Difference of the gauges' heights above the paper that tells two sides apart, mm."""

Names = dict[Path, SideName | None]
"""The side that each photo's name tells."""

_OF_SIDE: tuple[tuple[re.Pattern[str], SideName], ...] = (
    (re.compile(r"(?<![a-z])(non[-_ ]?drive|nds)(?![a-z])", re.IGNORECASE), "non_drive"),
    (re.compile(r"(?<![a-z])(drive|ds)(?![a-z])", re.IGNORECASE), "drive"),
)
"""Words in a photo's or its folder's name that name its side."""


@dataclass(frozen=True)
class Unsorted:
    """A photo that belongs to no set, and why."""

    photo: SeenInPhoto
    why: str


@dataclass(frozen=True)
class PhotoSet:
    """Photos that were taken in one go and do not contradict each other.

    Attributes
    ----------
    photos
        In the order in which they were taken.
    side
        That their names tell; None where nobody knows.
    guess, why
        What is likely, and what speaks for it.
    flat
        Whether the gauge lies on the sheet itself.
    """

    photos: tuple[SeenInPhoto, ...]
    side: SideName | None = None
    guess: SideName | None = None
    why: str = ""
    flat: bool = False

    @property
    def height(self) -> float | None:
        """Height of the gauge's end above the paper, mm; None where it is not seen twice."""
        end = common_end([photo.end for photo in self.photos if photo.end is not None])
        return None if end is None else float(end[2])


def sort_photos(seen: Sequence[SeenInPhoto]) -> tuple[tuple[PhotoSet, ...], tuple[Unsorted, ...]]:
    """Return the sets that photos make, and the photos that belong to none.

    Parameters
    ----------
    seen
        From `hubsight.measure.set_up.see_in_photo`.
    """
    loose = [Unsorted(photo, photo.refusal.reason) for photo in seen if photo.refusal is not None]
    sets = list[PhotoSet]()
    names = _names(seen)
    for run in _runs([photo for photo in seen if photo.refusal is None], names):
        odd = _odd(run)
        loose += [Unsorted(photo, _why_odd(odd, run)) for photo in odd]
        kept = tuple(photo for photo in run if photo not in odd)
        if kept:
            sets.append(_as_set(kept, names))
    return _guessed(sets), tuple(loose)


def _why_odd(odd: Sequence[SeenInPhoto], run: Sequence[SeenInPhoto]) -> str:
    if len(odd) == len(run):
        return "photos taken together show the gauge's end in different places: was the hub turned over?"
    return "it shows the gauge's end elsewhere than the photos taken with it"


def _odd(run: Sequence[SeenInPhoto]) -> tuple[SeenInPhoto, ...]:
    """Return the photos of a run that may show another set-up.

    Between photos that agree nobody turned the hub over and back: there the gauge's end was misread.
    """
    odd = standing_out(run)
    if len(odd) == len(run):
        return odd
    agree = [k for k, photo in enumerate(run) if photo not in odd and photo.end is not None]
    return tuple(photo for k, photo in enumerate(run) if photo in odd and not agree[0] < k < agree[-1])


def _as_set(photos: tuple[SeenInPhoto, ...], names: Names) -> PhotoSet:
    side = names[photos[0].file]
    if side is None and not any(photo.gauge for photo in photos):
        return PhotoSet(photos, why="no gauge is seen in them: does the hub lie on its flanges?")
    one = PhotoSet(photos, side, why="" if side is None else "by their names")
    height = one.height
    return one if height is None or height > ON_SHEET_MM else PhotoSet(photos, flat=True)


def _names(photos: Sequence[SeenInPhoto]) -> Names:
    """Return the sides that the photos' names, or else their folders', tell.

    A folder "drive" alone tells nothing: it may be a disk. Beside one for the non-drive side it does.
    """
    told = {photo.file: _told(photo.file.stem) for photo in photos}
    folders = {photo.file: _told(photo.file.resolve().parent.name) for photo in photos}
    if "non_drive" in folders.values():
        return {file: side or folders[file] for file, side in told.items()}
    return told


def _told(name: str) -> SideName | None:
    return next((side for words, side in _OF_SIDE if words.search(name)), None)


def _runs(photos: Sequence[SeenInPhoto], names: Names) -> list[list[SeenInPhoto]]:
    """Part photos at long pauses, at changes of folder, and at gaps in the numbers of untimed ones."""
    taken = {photo.file: _taken(photo) for photo in photos}
    order = sorted(photos, key=lambda p: (names[p.file] or "", taken[p.file] or datetime.min, p.file.name))
    pauses = [_pause(taken[a.file], taken[b.file]) for a, b in itertools.pairwise(order)]
    usual = statistics.median([p for p in pauses if p is not None] or [0.0])
    runs: list[list[SeenInPhoto]] = []
    for photo, before, pause in zip(order, [None, *order], [None, *pauses], strict=False):
        other = before is not None and names[before.file] != names[photo.file]
        if before is None or other or _parted(before, photo, pause, max(PAUSE_S, LONG_PAUSE * usual)):
            runs.append([])
        runs[-1].append(photo)
    return runs


def _taken(photo: SeenInPhoto) -> datetime | None:
    header = read_header(photo.file)
    return None if header is None else header.taken


def _pause(before: datetime | None, after: datetime | None) -> float | None:
    return None if before is None or after is None else (after - before).total_seconds()


def _parted(before: SeenInPhoto, photo: SeenInPhoto, pause: float | None, long: float) -> bool:
    if pause is not None:
        return pause > long
    return before.file.parent != photo.file.parent or _number(photo) - _number(before) > 1


def _number(photo: SeenInPhoto) -> int:
    digits = re.search(r"(\d+)\D*$", photo.file.stem)
    return int(digits[1]) if digits else 0


def _guessed(sets: Sequence[PhotoSet]) -> tuple[PhotoSet, ...]:
    """Say of two unnamed sets which is likely the drive side; a guess to ask about, never to act on."""
    open_sets = [one for one in sets if one.side is None and not one.flat]
    heights = [one.height for one in open_sets]
    if len(open_sets) != 2 or None in heights:
        return tuple(sets)
    low, high = sorted(open_sets, key=lambda one: one.height or 0.0)
    if (high.height or 0.0) - (low.height or 0.0) < LOWER_MM:
        return tuple(sets)
    lower = "its gauge lies lower than in the other set, as with the drive side of most rear hubs up"
    higher = "its gauge lies higher than in the other set, as with the non-drive side of most rear hubs up"
    guesses: dict[int, tuple[SideName, str]] = {id(low): ("drive", lower), id(high): ("non_drive", higher)}
    out = []
    for one in sets:
        side, why = guesses.get(id(one), (one.guess, one.why))
        out.append(replace(one, guess=side, why=why))
    return tuple(out)
