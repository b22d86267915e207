"""The folder of the pictures made for the screen, which is gone when the page is.

A page that was killed leaves its folder behind. Each page holds a lock in its own; the next one throws away
what nobody holds any more.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from pathlib import Path

from filelock import FileLock, Timeout

PREFIX = "hubsight-bench-"
"""How the page's folders among the temporary ones begin."""
_LOCK = "in-use"
"""File that is held while such a folder is in use."""


class Cache:
    """A folder of its own among the system's temporary ones, held until `close`."""

    def __init__(self) -> None:
        _throw_away_abandoned(Path(tempfile.gettempdir()))
        self.folder = Path(tempfile.mkdtemp(prefix=PREFIX))
        self._lock = FileLock(self.folder / _LOCK, thread_local=False)
        self._lock.acquire()

    def close(self) -> None:
        """Throw the folder away."""
        self._lock.release()
        shutil.rmtree(self.folder, ignore_errors=True)


def _throw_away_abandoned(temporary: Path) -> None:
    for folder in temporary.glob(f"{PREFIX}*"):
        with contextlib.suppress(OSError):
            if _is_own(folder) and (folder / _LOCK).is_file() and not _is_held(folder / _LOCK):
                shutil.rmtree(folder, ignore_errors=True)


def _is_own(folder: Path) -> bool:
    """Tell a folder of this user from what others put among the temporary ones."""
    known = folder.stat(follow_symlinks=False)
    return not folder.is_symlink() and (os.name != "posix" or known.st_uid == os.getuid())


def _is_held(lock: Path) -> bool:
    try:
        with FileLock(lock, timeout=0, thread_local=False):
            return False
    except Timeout:
        return True
