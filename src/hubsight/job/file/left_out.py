"""Which side of a hub a job leaves out: one whose folder waits empty while the other side is photographed."""

from __future__ import annotations

from pathlib import Path

from hubsight.job.file.find_photos import is_empty, photos_in
from hubsight.job.file.model import SidesTable, SideTable
from hubsight.model.files import inside
from hubsight.model.stated import SideName

_SAYS_NOTHING = ("photos", "block_thickness", "gauges")
"""Fields of a side that say nothing of a hub without its photos."""


def side_left_out(sides: SidesTable, folder: Path) -> SideName | None:
    """Return the side that nothing is known of, while there are photos of the other one; else None.

    Parameters
    ----------
    sides
        As stated.
    folder
        The job's.
    """
    if sides.drive is None or sides.non_drive is None:
        return None
    if _waits(sides.non_drive, folder) and _has_photos(sides.drive, folder):
        return "non_drive"
    if _waits(sides.drive, folder) and _has_photos(sides.non_drive, folder):
        return "drive"
    return None


def _waits(side: SideTable, folder: Path) -> bool:
    """Tell whether nothing is stated of a side, and its folder is there and empty."""
    bare = side.model_copy(update={name: getattr(SideTable(), name) for name in _SAYS_NOTHING})
    return bare == SideTable() and bool(side.photos) and all(is_empty(p.parent) for p in _paths(side, folder))


def _has_photos(side: SideTable, folder: Path) -> bool:
    return any(photos_in(path.parent, path.name) for path in _paths(side, folder))


def _paths(side: SideTable, folder: Path) -> list[Path]:
    """Return the patterns of a side's photos as paths; what leads out of the job is refused elsewhere."""
    return [folder / pattern for pattern in side.photos if inside(folder, pattern) is not None]
