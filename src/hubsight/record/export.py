"""A copy of a job to give away: photos without place, owner and serial numbers, their pixels as they are.

The originals are left alone. The copy verifies: its record says the same, and `hubsight.record.verify` knows
a photo that lost its tags by its pixels.
"""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path

from PIL import Image

from hubsight.job import Job, load_job
from hubsight.job.file.problems import JobFileError, Problem, one_problem
from hubsight.model.files import inside, write_atomically
from hubsight.model.refusal import Refusal
from hubsight.photo import load_photo
from hubsight.photo.load import own_size_limit
from hubsight.photo.strip import measuring_tags, strip_tags
from hubsight.record.make import read_inputs
from hubsight.record.store import place_of


@dataclass(frozen=True)
class Exported:
    """What was written: the folder, its photos, and its other files, from the folder's top."""

    folder: Path
    photos: tuple[str, ...]
    others: tuple[str, ...]


def export_job(path: Path, out: Path) -> Exported:
    """Write a copy of a job without private tags in its photos.

    Parameters
    ----------
    path
        The job folder, or the job file in it.
    out
        Folder to make; it must not be there yet.

    Raises
    ------
    JobFileError
        If the job cannot be read, a photo cannot be freed of its tags without changing it, or the folder
        cannot be written. Then no folder is left.
    """
    job = load_job(path)
    if out.exists() or out.is_symlink():
        raise one_problem(str(out), "this is there already", "Name a new folder; nothing is overwritten")
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=out.parent, prefix=f".{out.name}.") as unfinished:
            exported = _write(job, Path(unfinished) / "job")
            (Path(unfinished) / "job").rename(out)
    except OSError as error:
        raise one_problem(
            str(out), f"the copy cannot be written ({error.strerror})", "Name another folder"
        ) from error
    return Exported(out, *exported)


def _write(job: Job, folder: Path) -> tuple[tuple[str, ...], tuple[str, ...]]:
    folder.mkdir()
    inputs = read_inputs(job)
    photos, others, problems = list[str](), list[str](), list[Problem]()
    for file, path in zip(inputs.files, inputs.paths, strict=True):
        target = inside(folder, file.path)
        if target is None:
            raise one_problem(file.path, "this lies outside the job folder", "Copy it into the job folder")
        target.parent.mkdir(parents=True, exist_ok=True)
        if file.kind == "photo":
            refused = _write_photo(path, target, file.path)
            problems += (
                [] if refused is None else [Problem(file.path, None, "", refused.reason, refused.remedy)]
            )
            photos.append(file.path)
        else:
            write_atomically(target, path.read_bytes())
            others.append(file.path)
    if problems:
        raise JobFileError(problems)
    return tuple(photos), (*others, *_copy_records(job, folder))


def _write_photo(source: Path, target: Path, name: str) -> Refusal | None:
    """Write a photo without private tags, and read it again to see that it is the same picture."""
    bare = strip_tags(source.read_bytes(), name)
    if isinstance(bare, Refusal):
        return bare
    write_atomically(target, bare)
    before, after = load_photo(source), load_photo(target)
    if isinstance(before, Refusal):
        return before
    same = not isinstance(after, Refusal) and (
        (before.pixels_sha256, before.orientation, before.camera)
        == (after.pixels_sha256, after.orientation, after.camera)
    )
    if not same or _leftovers(target):
        target.unlink()
        return Refusal(
            reason="private tags cannot be taken off this photo without changing it",
            remedy="Leave this photo out, or take its tags off with another program",
            photo=name,
        )
    return None


def _leftovers(file: Path) -> bool:
    """Tell whether a photo still has tags beyond those that measuring reads, thumbnails or text."""
    with own_size_limit():
        picture = Image.open(file)
    with picture:
        exif, kept = picture.getexif(), measuring_tags(picture.getexif())
        own = picture.format == "TIFF"  # there the tags of the pixels' structure are among them
        more = set() if own else set(exif) - set(kept) - {0x8769}
        details = set(exif.get_ifd(0x8769)) - set(kept.get_ifd(0x8769))
        private = {0x8825, 0x013B, 0x8298, 0x9C9D, 0x02BC, 0x83BB} & set(exif)
        text = {"xmp", "comment", "photoshop", "XML:com.adobe.xmp"} & set(picture.info)
        held = any(
            _says_something(picture.info.get(name)) for name in (*text, "thumbnails", "metadata", "mp")
        )
    return bool(more or details or private or held)


def _says_something(held: object) -> bool:
    """Tell whether there is more than an overwritten text."""
    return bool(held.strip() if isinstance(held, bytes | str) else held)


def _copy_records(job: Job, folder: Path) -> tuple[str, ...]:
    """Copy the record and the earlier ones; links are left out."""
    if job.file is None:
        return ()
    place = place_of(job.file)
    copied = []
    found = [place.current]
    if inside(place.folder, place.history.name) is not None and place.history.is_dir():
        found += sorted(place.history.glob("[!.]*.json"))
    for file in found:
        if file.is_file() and not file.is_symlink():
            name = file.relative_to(place.folder)
            (folder / name).parent.mkdir(exist_ok=True)
            shutil.copyfile(file, folder / name)
            copied.append(name.as_posix())
    return tuple(copied)
