"""The job folder while a job is read: its photos, found by name, and problems worded with their lines."""

from __future__ import annotations

import difflib
import fnmatch
from collections.abc import Sequence
from pathlib import Path

from hubsight.job.file.corrections import read_corrections
from hubsight.job.file.lines import field_lines, line_of
from hubsight.job.file.problems import JobFileError, Problem
from hubsight.model.files import inside

PHOTO_SUFFIXES = frozenset({".jpg", ".jpeg", ".png", ".tif", ".tiff", ".heic", ".heif"})
"""Of files that are taken for photos."""
PHOTO_KINDS = ", ".join(sorted(suffix.lstrip(".") for suffix in PHOTO_SUFFIXES))
"""As a message names them."""

_OF_THE_SYSTEM = frozenset({"thumbs.db", "desktop.ini"})
"""Files that a system puts into a folder by itself, beside those that begin with a dot."""


class JobContext:
    """The job folder and the job file's text: finds files, and words problems with their lines."""

    def __init__(self, path: Path, text: str, *, need_photos: bool) -> None:
        self.need_photos = need_photos
        self.folder = path.parent
        self.file = path.name
        self._lines = field_lines(text)
        self.problems: list[Problem] = []
        self.corrections = read_corrections(self.folder)

    def complain(self, field: str, what: str, remedy: str) -> None:
        """Note a problem of a field."""
        line = line_of(self._lines, tuple(field.split(".")))
        self.problems.append(Problem(self.file, line, field, what, remedy))

    def raise_problems(self) -> None:
        """Raise the problems noted so far, all at once; `JobFileError`."""
        if self.problems:
            raise JobFileError(self.problems)

    def inside(self, name: str, field: str) -> Path | None:
        """Return the path of ``name`` if it lies in the job folder, links followed."""
        path = inside(self.folder, name)
        if path is None:
            remedy = "Copy it into the job folder and name it from there"
            self.complain(field, f'"{name}" lies outside the job folder', remedy)
        return path


def find_photos(patterns: Sequence[str], field: str, context: JobContext) -> tuple[Path, ...]:
    """Return the photos that a field names, in its order; wildcards in the order of the names."""
    photos: list[Path] = []
    for pattern in patterns:
        for photo in _matching(pattern, field, context):
            if photo in photos:
                context.complain(field, f'"{photo.name}" is named twice', "Name each photo once")
            else:
                photos.append(photo)
    return tuple(photos)


def _matching(pattern: str, field: str, context: JobContext) -> list[Path]:
    path = context.inside(pattern, field)
    if path is None:
        return []
    if not _has_wildcard(pattern):
        return _one_photo(path, pattern, field, context)
    if _has_wildcard(str(Path(pattern).parent)):
        context.complain(field, f'"{pattern}" has a wildcard in the folder', "Use * in the file's name only")
        return []
    found = photos_in(path.parent, path.name)
    if not found and context.need_photos:
        _complain_of_none(path.parent, pattern, field, context)
    return [photo for photo in found if context.inside(str(photo.relative_to(context.folder)), field)]


def _has_wildcard(name: str) -> bool:
    return any(letter in name for letter in "*?[")


def _complain_of_none(where: Path, pattern: str, field: str, context: JobContext) -> None:
    """Say that a pattern names no photo: an empty folder waits for photos, another one may be misspelt."""
    if is_empty(where):
        remedy = f"Copy them there: hubsight add {context.folder} does it. Lengths by hand need no photos"
        context.complain(field, f'there are no photos in "{where.name}" yet', remedy)
        return
    remedy = f"Put the photos there ({PHOTO_KINDS}), or correct the name, or delete the side's table"
    context.complain(field, f'no photo matches "{pattern}"', remedy)


def is_empty(folder: Path) -> bool:
    """Tell whether a folder is there, and holds nothing that a person put into it."""
    if not folder.is_dir():
        return False
    names = (item.name.lower() for item in folder.iterdir())
    return all(name.startswith(".") or name in _OF_THE_SYSTEM for name in names)


def photos_in(folder: Path, pattern: str = "*") -> list[Path]:
    """Return the photos of a folder whose name matches, in any case of letters, sorted by name."""
    if not folder.is_dir():
        return []
    return sorted(
        item
        for item in folder.iterdir()
        if item.suffix.lower() in PHOTO_SUFFIXES
        and not item.name.startswith(".")
        and fnmatch.fnmatch(item.name.lower(), pattern.lower())
        and item.is_file()
    )


def _one_photo(path: Path, name: str, field: str, context: JobContext) -> list[Path]:
    if path.is_file():
        return [path]
    names = [item.name for item in photos_in(path.parent)]
    close = difflib.get_close_matches(path.name, names, n=1)
    otherwise = "Check the name, or copy the photo into the job folder"
    remedy = f'Did you mean "{Path(name).with_name(close[0]).as_posix()}"?' if close else otherwise
    context.complain(field, f'there is no file "{name}"', remedy)
    return []
