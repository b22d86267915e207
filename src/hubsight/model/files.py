"""Files that are never half there, and names that stay in their folder."""

from __future__ import annotations

import hashlib
import os
import tempfile
from pathlib import Path

LARGEST_TEXT = 1_000_000
"""Largest file that a person writes or has written for him, bytes: a job, a piece of kit, marks by hand."""
LARGEST_RESULT = 50_000_000
"""Largest file of a result or record, bytes; one of eight photos has a quarter of a million."""


def sha256_of(file: Path) -> str:
    """Return the SHA-256 of a file, hexadecimal.

    Raises
    ------
    OSError
        If it cannot be read.
    """
    with file.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def write_atomically(file: Path, content: bytes) -> None:
    """Write a file so that nobody ever finds half of it there, and so that it survives a power cut.

    The content goes to a file of another name in the same folder, is forced to the disk, and takes the name
    in one step; then the folder is forced to the disk.

    Raises
    ------
    OSError
        The file is then as it was before.
    """
    handle, name = tempfile.mkstemp(dir=file.parent, prefix=unfinished_prefix(file))
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        Path(name).chmod(0o644)
        Path(name).replace(file)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    _force_to_disk(file.parent)


def unfinished_prefix(file: Path) -> str:
    """Return how the names of unfinished copies of a file begin: a killed process leaves one behind."""
    return f".{file.name}."


def _force_to_disk(folder: Path) -> None:
    """Force a folder's list of names to the disk, where the system knows such a thing."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError:  # some network file systems have no such call; the file itself is on the disk
        pass
    finally:
        os.close(handle)


def inside(folder: Path, name: str) -> Path | None:
    """Return the path of ``name`` in a folder; None if it lies outside, links followed.

    Job folders come from other people: what a file in them names must not reach out of them.
    """
    try:
        path = folder / name
        if Path(name).is_absolute() or not path.resolve().is_relative_to(folder.resolve()):
            return None
    except (OSError, ValueError, RuntimeError):  # null characters, loops of links
        return None
    return path
