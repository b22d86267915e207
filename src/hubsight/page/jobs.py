"""The job folders that the page shows, and their photos. No name that comes from outside is ever a path.

Jobs and photos are asked for by identifiers, hashes of their names, that are looked up among what is there.
"""

from __future__ import annotations

import asyncio
import fnmatch
import hashlib
import os
import re
import shutil
import tempfile
import tomllib
import unicodedata
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass
from pathlib import Path

from hubsight.job import JOB_FILE_NAME, JobFileError
from hubsight.job.file.corrections import read_corrections, write_corrections
from hubsight.job.file.edit import new_job, new_wheel, set_fields, with_side, without_side
from hubsight.job.file.find_photos import PHOTO_SUFFIXES
from hubsight.job.file.problems import one_problem
from hubsight.job.file.text import read_job_text
from hubsight.model.files import inside
from hubsight.model.stated import SETS, SetName, SideName

LARGEST_UPLOAD = 80_000_000
"""Bytes; photos of 200 megapixels are smaller."""
MOST_PHOTOS = 60
"""Photos of one side."""
SPARE_ROOM = 200_000_000
"""Bytes of the disk that an upload leaves free: for pictures on the screen, and for the record."""
STALL_S = 30.0
"""Time without a byte after which an upload is given up, s."""
REMOVED = "removed"
"""Folder in the job for photos that were taken out: nothing is lost."""
LONGEST_NAME = 60
"""Letters of a job's name, which is its folder's."""

_KINDS: tuple[tuple[re.Pattern[bytes], str], ...] = (
    (re.compile(rb"\xff\xd8\xff"), ".jpg"),
    (re.compile(rb"\x89PNG\r\n\x1a\n"), ".png"),
    (re.compile(rb"II\*\x00|MM\x00\*"), ".tif"),
    (re.compile(rb"....ftyp(hei[cxms]|hev[cx]|mif1|msf1)", re.DOTALL), ".heic"),
)
"""How the files of photos begin, and their suffixes."""
_HEAD = 16
"""Bytes of a file that tell what it is."""


class UploadRefused(Exception):  # noqa: N818 - it is shown, not handled
    """An upload that is not taken; the text is for the user."""


class NoRoom(UploadRefused):
    """The disk has no room for it."""


def identifier(name: str) -> str:
    """Return the identifier of a file or folder name."""
    return hashlib.sha256(name.encode("utf-8", "surrogatepass")).hexdigest()[:16]


@dataclass(frozen=True)
class PhotoFile:
    """One photo of a job: of a side, or of the lying hub."""

    side: SetName
    path: Path

    @property
    def id(self) -> str:
        """Its identifier within the job."""
        return identifier(f"{self.side}/{self.path.name}")


def job_folders(shelf: Path) -> dict[str, Path]:
    """Return the jobs by identifier: the folder itself if it is a job, else those in it."""
    if (shelf / JOB_FILE_NAME).is_file():
        return {identifier(shelf.resolve().name): shelf}
    if not shelf.is_dir():
        return {}
    folders = sorted(p for p in shelf.iterdir() if p.is_dir() and not p.is_symlink())
    return {identifier(p.name): p for p in folders if (p / JOB_FILE_NAME).is_file()}


def folder_name(title: str) -> str:
    """Make a folder's name of what somebody typed: letters, digits, dash and underscore only.

    Raises
    ------
    JobFileError
        If nothing is left.
    """
    plain = unicodedata.normalize("NFKC", title)
    name = re.sub(r"[^\w]+", "-", plain).strip("-_")[:LONGEST_NAME].strip("-_")
    if not name:
        raise one_problem("name", "a job needs a name", "Type letters or digits, such as rear-hub")
    return name


def create_job(shelf: Path, title: str, gauge_length: list[float] | None = None) -> str:
    """Make a new job on the shelf; return its identifier. The gauge's length can be stated later.

    Raises
    ------
    JobFileError
        If there is one of that name, or the gauge's length is a slip.
    """
    name = folder_name(title)
    folder = shelf / name
    if folder.exists():
        raise one_problem("name", f'there is a folder "{name}" already', "Type another name")
    new_job(folder, gauge_length)
    return identifier(name)


def create_wheel(shelf: Path, title: str, hub: Path) -> str:
    """Make a job for another wheel on the hub of a job beside it; return its identifier.

    Raises
    ------
    JobFileError
        If there is one of that name, or the hub's job is not on the shelf.
    """
    name = folder_name(title)
    if hub.resolve().parent != shelf.resolve():
        raise one_problem("name", "this page shows one job only", "Open the bench on the folder above it")
    if (shelf / name).exists():
        raise one_problem("name", f'there is a folder "{name}" already', "Type another name")
    new_wheel(shelf / name, f"../{hub.resolve().name}")
    return identifier(name)


def photos_of(folder: Path, side: SetName) -> list[PhotoFile]:
    """Return a set's photos, in the order of their names: those of the job file, else of its own folder."""
    return [PhotoFile(side, path) for path in sorted(_named(folder, _patterns(folder, side)))]


def _patterns(folder: Path, side: SetName) -> tuple[str, ...]:
    """Return the names of a set's photos in the job file, with their wildcards."""
    try:
        stated = tomllib.loads(read_job_text(folder / JOB_FILE_NAME))
        named = (stated if side == "lying" else stated["sides"])[side]["photos"]
    except (JobFileError, tomllib.TOMLDecodeError, KeyError, TypeError):
        return () if side == "lying" else (f"{side}/*",)
    names = [named] if isinstance(named, str) else named
    usable = isinstance(names, list) and names and all(isinstance(name, str) for name in names)
    if not usable:
        return () if side == "lying" else (f"{side}/*",)
    return tuple(names)


def _named(folder: Path, patterns: tuple[str, ...]) -> set[Path]:
    found = set[Path]()
    for pattern in patterns:
        where, name = (folder / pattern).parent, (folder / pattern).name
        if inside(folder, pattern) is None or not name or not where.is_dir():
            continue
        found |= {
            path for path in where.iterdir() if fnmatch.fnmatch(path.name, name) and _usable(path, folder)
        }
    return found


def _usable(path: Path, folder: Path) -> bool:
    return (
        path.suffix.lower() in PHOTO_SUFFIXES
        and not path.name.startswith(".")
        and path.is_file()
        and inside(folder, path.relative_to(folder).as_posix()) is not None
    )


def find_photo(folder: Path, photo: str) -> PhotoFile | None:
    """Look a photo up by its identifier."""
    return next((p for side in SETS for p in photos_of(folder, side) if p.id == photo), None)


async def take_upload(
    folder: Path, side: SideName, chunks: AsyncIterator[bytes], size: int = LARGEST_UPLOAD
) -> PhotoFile:
    """Store an upload as a new photo of a side, under a name of our own.

    Parameters
    ----------
    folder, side
        Where it belongs.
    chunks
        Its bytes.
    size
        How many they will be, as far as that is told.

    Raises
    ------
    UploadRefused
        If it is too large, one too many, or no photo by its first bytes; nothing is left of it.
    """
    where = folder / side
    if inside(folder, side) is None:
        raise UploadRefused("The folder for these photos leads out of the job. Put a folder in its place.")
    _refuse_one_too_many(folder, side)
    _refuse_full_disk(folder, size)
    where.mkdir(exist_ok=True)
    handle, name = tempfile.mkstemp(dir=where, prefix=".upload-")
    unfinished = Path(name)
    try:
        with os.fdopen(handle, "wb") as stream:
            suffix = await _store(chunks, stream.write)
        _refuse_one_too_many(folder, side)  # others may have come meanwhile
        unfinished.chmod(0o644)
        path = _free_name(where, side, suffix)
        unfinished.replace(path)
    finally:
        unfinished.unlink(missing_ok=True)
    with_side(folder, side)
    photo = PhotoFile(side, path)
    if photo not in photos_of(folder, side):  # the job names other photos one by one
        named = [*_patterns(folder, side), f"{side}/{path.name}"]
        set_fields(folder, {f"sides.{side}.photos": named})
    return photo


def _refuse_full_disk(folder: Path, size: int = LARGEST_UPLOAD) -> None:
    if shutil.disk_usage(folder).free < size + SPARE_ROOM:
        raise NoRoom(
            "The computer's disk is almost full: this photo was not stored. Make room, and send it again."
        )


def _refuse_one_too_many(folder: Path, side: SideName) -> None:
    if len(photos_of(folder, side)) >= MOST_PHOTOS:
        raise UploadRefused(f"This side has {MOST_PHOTOS} photos already. Take some out first.")


async def _patiently(chunks: AsyncIterator[bytes]) -> AsyncIterator[bytes]:
    """Give an upload's bytes, as long as they come."""
    while True:
        try:
            chunk = await asyncio.wait_for(anext(chunks, None), STALL_S)
        except TimeoutError:
            raise UploadRefused("The connection stalled. Send the photo again.") from None
        if chunk is None:
            return
        yield chunk


async def _store(chunks: AsyncIterator[bytes], write: Callable[[bytes], object]) -> str:
    size, suffix, head = 0, "", b""
    async for chunk in _patiently(chunks):
        size += len(chunk)
        if size > LARGEST_UPLOAD:
            raise UploadRefused(f"This file is larger than {LARGEST_UPLOAD // 1_000_000} MB. Send a photo.")
        if not suffix:
            head += chunk
            if len(head) < _HEAD:
                continue
            suffix = _kind(head)
            chunk = head  # noqa: PLW2901 - what was held back goes with it
        write(chunk)
    if not suffix:
        raise UploadRefused("This is no photo. Send a JPEG, PNG, TIFF or HEIC picture.")
    return suffix


def _kind(head: bytes) -> str:
    for pattern, suffix in _KINDS:
        if pattern.match(head):
            return suffix
    raise UploadRefused("This is no photo. Send a JPEG, PNG, TIFF or HEIC picture.")


def _free_name(where: Path, side: SideName, suffix: str) -> Path:
    """Return the next free name; what was taken out keeps its own."""
    used = [*where.iterdir(), *(where.parent / REMOVED).glob("*")]
    taken = [int(m[1]) for p in used if (m := re.match(rf"{side}-(\d{{1,6}})\.", p.name))]
    return where / f"{side}-{max(taken, default=0) + 1:02d}{suffix}"


def remove_photo(folder: Path, photo: PhotoFile) -> None:
    """Take a photo out of the job, into the folder `REMOVED`; marks placed in it go too.

    Raises
    ------
    JobFileError
        If the folder cannot be written.
    """
    if photo.side == "lying":
        what = "photos of the lying hub are named by the job file"
        raise one_problem(photo.path.name, what, "Take it out there")
    if inside(folder, REMOVED) is None:
        what = f'the folder "{REMOVED}" leads out of the job'
        raise one_problem(photo.path.name, what, "Put a folder in its place")
    try:
        (folder / REMOVED).mkdir(exist_ok=True)
        photo.path.replace(folder / REMOVED / photo.path.name)
    except OSError as error:
        what = f"this photo cannot be moved ({error.strerror})"
        raise one_problem(photo.path.name, what, "Check the folder's permissions") from error
    corrections = read_corrections(folder)
    marks = corrections.of(photo.side).without_photo(photo.path.name)
    if marks != corrections.of(photo.side):
        write_corrections(folder, corrections.having(photo.side, marks))
    left = photos_of(folder, photo.side)
    named = _patterns(folder, photo.side)
    own = photo.path.relative_to(folder).as_posix()
    if left and own in named:
        set_fields(folder, {f"sides.{photo.side}.photos": [name for name in named if name != own]})
    if not left:
        without_side(folder, photo.side)
