"""Putting photos into a job's folder: nothing is overwritten, nothing is half there, no source is touched."""

from __future__ import annotations

import itertools
import os
import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path

from hubsight.job.file.problems import one_problem
from hubsight.model.files import inside, sha256_of


@dataclass(frozen=True)
class Kept:
    """A photo in the job's folder.

    Attributes
    ----------
    source, file
        Where it came from, and where it is.
    new
        False where the same photo lay there already.
    """

    source: Path
    file: Path
    new: bool


def keep_photo(photo: Path, folder: Path, place: str) -> Kept:
    """Copy a photo into a folder of the job, under its own name or, if that is taken, a numbered one.

    Parameters
    ----------
    photo
        Stays where it is.
    folder, place
        The job, and the folder in it.

    Raises
    ------
    JobFileError
        If it cannot be read or written; what was there is then as it was.
    """
    where = folder / place
    if inside(folder, place) is None:
        raise one_problem(place, "this folder leads out of the job", "Put a folder in its place")
    try:
        where.mkdir(exist_ok=True)
        contents = sha256_of(photo)
        for file in sorted(where.iterdir()):
            if file.is_file() and file.stat().st_size == photo.stat().st_size and sha256_of(file) == contents:
                return Kept(photo, file, new=False)
        return Kept(photo, _copied(photo, where), new=True)
    except OSError as error:
        what = f"this cannot be copied into {place} ({error.strerror or error})"
        raise one_problem(photo.name, what, "Check the disk and the folder's permissions") from error


def kept_elsewhere(photo: Path, folder: Path, place: str) -> Path | None:
    """Return where else in the job the same photo lies: in another of its folders; None if in none."""
    try:
        size, contents = photo.stat().st_size, sha256_of(photo)
        others = (item for item in sorted(folder.iterdir()) if item.is_dir() and item.name != place)
        files = (file for other in others for file in sorted(other.iterdir()) if file.is_file())
        return next(
            (file for file in files if file.stat().st_size == size and sha256_of(file) == contents), None
        )
    except OSError:  # keeping it says what is wrong
        return None


def _copied(photo: Path, where: Path) -> Path:
    handle, name = tempfile.mkstemp(dir=where, prefix=".adding-")
    os.close(handle)
    unfinished = Path(name)
    try:
        shutil.copy2(photo, unfinished)
        for number in itertools.count(1):
            free = where / (photo.name if number == 1 else f"{photo.stem}-{number}{photo.suffix}")
            if _took_name(unfinished, free):
                return free
    finally:
        unfinished.unlink(missing_ok=True)
    raise AssertionError("numbers do not end")


def _took_name(unfinished: Path, name: Path) -> bool:
    """Give a finished copy its name, in one step; False where the name is taken."""
    if os.path.lexists(name):
        return False
    try:
        os.link(unfinished, name)
    except FileExistsError:
        return False
    except OSError:  # sticks and cards know no second name for a file
        unfinished.rename(name)
    return True
