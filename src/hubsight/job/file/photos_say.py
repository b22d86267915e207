"""What the photos' tags say of a job: how old the sheet's readings are, and whose camera took them."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from hubsight.camera.library import find_profile
from hubsight.job.file.from_kit import describe
from hubsight.job.file.model import TargetTable
from hubsight.kit.readings import age_warning, aged
from hubsight.kit.store import Kit
from hubsight.model.result import KitUsed
from hubsight.model.stated import StatedTarget
from hubsight.photo import PhotoHeader, read_header


@dataclass(frozen=True)
class CameraByTags:
    """The profile that was found for a job's photos: its file, how it is shown, and notes on others."""

    file: Path | None = None
    used: tuple[KitUsed, ...] = ()
    notes: tuple[str, ...] = ()


def read_headers(photos: Sequence[Path]) -> list[PhotoHeader]:
    """Read the headers of those photos that have one; measuring says what is wrong with the others."""
    return [header for photo in photos if (header := read_header(photo)) is not None]


def aged_target(table: TargetTable, headers: Sequence[PhotoHeader]) -> tuple[StatedTarget, tuple[str, ...]]:
    """Return the target with its bars widened by the age of their readings, and what to say of it.

    The age is counted to the day of the first photo; to the present day where the photos do not tell.
    """
    plain = StatedTarget(table.paper, table.bar_x, table.bar_y)
    if table.bars_read is None or (table.bar_x is None and table.bar_y is None):
        return plain, ()
    day = min((header.day for header in headers if header.day), default=datetime.date.today())
    days = abs((day - table.bars_read).days)
    x, y = (None if bar is None else aged(bar, days) for bar in (table.bar_x, table.bar_y))
    warning = age_warning(table.bars_read, day)
    return StatedTarget(table.paper, x, y), () if warning is None else (warning,)


def camera_by_tags(kit: Kit, folder: Path | None, headers: Sequence[PhotoHeader]) -> CameraByTags:
    """Find the profile of the camera that took a job's photos.

    Parameters
    ----------
    kit
        Whose cameras are looked through.
    folder
        Of the job: profiles that lie in it come first.
    headers
        Of all photos.
    """
    beside = [] if folder is None else sorted(folder.glob("*.json"))
    search = find_profile([beside, *kit.places("camera")], headers)
    if search.found is None:
        return CameraByTags(notes=search.notes)
    file = search.found.file
    used = KitUsed(
        kind="camera",
        name=file.stem,
        file=str(file),
        says=describe(search.found.profile),
        how=search.found.how,
    )
    return CameraByTags(file, (used,))
