"""What the page keeps of a job in a folder of its own: a job closed and opened again shows all it knew.

The folder `KEPT` holds nothing that the photos and the job's other files do not hold: delete it, and what is
missing is measured or looked at again. What cannot be read there is as if it were not there; where the folder
cannot be written, the page forgets, and does everything else.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal, TypeVar

from pydantic import BaseModel, Field, ValidationError

from hubsight.job import JOB_FILE_NAME, JobFileError
from hubsight.job.file.corrections import CORRECTIONS_FILE_NAME
from hubsight.model.files import inside, write_atomically
from hubsight.model.frozen import Frozen
from hubsight.model.result import JobResult
from hubsight.model.side import PhotoEvidence
from hubsight.model.stated import SETS, PaperName, SideName, TipKind
from hubsight.page.history import History
from hubsight.page.jobs import PhotoFile, photos_of
from hubsight.page.looking import Looked
from hubsight.page.stated import hub_of
from hubsight.record import Record, read_record

KEPT = ".bench"
"""Folder in the job."""
LARGEST = 8_000_000
"""Bytes of one file in it."""
RESULT, HISTORY, LOOKS = "result.json", "history.json", "looks.json"
"""Files in it: the last result, the history of corrections, the photos' first looks."""

Model = TypeVar("Model", bound=BaseModel)


class KeptResult(Frozen):
    """The last result of the page, what it rests on, and what was seen in photos of refused sides."""

    schema_version: Literal[1] = 1
    inputs: str
    measured_at: datetime
    result: JobResult
    refused_photos: dict[SideName, tuple[PhotoEvidence, ...]] = Field(default_factory=dict)


class KeptLook(Frozen):
    """A first look at one photo, with what it was looked at for."""

    size: int
    paper: PaperName
    tip: TipKind
    looked: Looked


class KeptLooks(Frozen):
    """First looks by the photos' identifiers."""

    schema_version: Literal[1] = 1
    looks: dict[str, KeptLook] = Field(default_factory=dict)


class Remembered(Frozen):
    """The last result of a job.

    Attributes
    ----------
    result
        From the page's own folder or from the job's record; None of a job that was never measured.
    refused_photos
        See `KeptResult`.
    measured_at
        When that was.
    of_now
        Whether nothing that it rests on was changed since.
    recorded
        Whether the record is of this very state, so that a report can be made of it.
    """

    result: JobResult | None = None
    refused_photos: dict[SideName, tuple[PhotoEvidence, ...]] = Field(default_factory=dict)
    measured_at: datetime | None = None
    of_now: bool = False
    recorded: bool = False


def read_kept(folder: Path, name: str, model: type[Model]) -> Model | None:
    """Return what is kept under a name; None where there is nothing, or nothing that can be read."""
    file = inside(folder, f"{KEPT}/{name}")
    try:
        if file is None or not file.is_file() or file.stat().st_size > LARGEST:
            return None
        return model.model_validate_json(file.read_bytes())
    except (OSError, ValidationError):
        return None


def keep(folder: Path, name: str, content: BaseModel | bytes) -> bool:
    """Keep something under a name; False where that cannot be written."""
    file = inside(folder, f"{KEPT}/{name}")
    if file is None:
        return False
    with suppress(OSError):
        file.parent.mkdir(exist_ok=True)
        write_atomically(file, content if isinstance(content, bytes) else content.model_dump_json().encode())
        return True
    return False


def kept_file(folder: Path, name: str) -> Path | None:
    """Return a file that is kept; None where it is not there."""
    file = inside(folder, f"{KEPT}/{name}")
    return file if file is not None and file.is_file() else None


def inputs_of(folder: Path) -> str:
    """Return a word for all that a job's result rests on: its statements, corrections and photos."""
    digest = hashlib.sha256()
    for name in (JOB_FILE_NAME, CORRECTIONS_FILE_NAME):
        digest.update(_bytes(folder / name))
    hub = hub_of(folder)
    if hub and (folder / hub).is_dir() and not hub_of(folder / hub):
        digest.update(inputs_of(folder / hub).encode())
    for name, size in sorted(_photos(folder)):
        digest.update(f"\n{name} {size}".encode("utf-8", "surrogatepass"))
    return digest.hexdigest()


def _bytes(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError:
        return b""


def _photos(folder: Path) -> Iterable[tuple[str, int]]:
    for side in SETS:
        for photo in photos_of(folder, side):
            with suppress(OSError):
                yield os.path.relpath(photo.path, folder).replace(os.sep, "/"), photo.path.stat().st_size


def remembered(folder: Path) -> Remembered:
    """Return a job's last result, without measuring anything."""
    now = inputs_of(folder)
    kept = read_kept(folder, RESULT, KeptResult)
    record = _record(folder)
    recorded = record is not None and is_of_now(record, folder)
    if kept is not None and (kept.inputs == now or record is None or kept.measured_at > record.finished):
        return Remembered(
            result=kept.result,
            refused_photos=kept.refused_photos,
            measured_at=kept.measured_at,
            of_now=kept.inputs == now,
            recorded=recorded,
        )
    if record is None:
        return Remembered()
    return Remembered(
        result=record.measurement, measured_at=record.finished, of_now=recorded, recorded=recorded
    )


def _record(folder: Path) -> Record | None:
    try:
        return read_record(folder)
    except JobFileError:
        return None


def is_of_now(record: Record, folder: Path) -> bool:
    """Tell whether a record is of a job as it is: statements and marks to the byte, photos by size."""
    known = {item.path: item for item in record.inputs}
    for name in (JOB_FILE_NAME, CORRECTIONS_FILE_NAME):
        was, content = known.get(name), _bytes(folder / name)
        if (was is None) != (not content):
            return False
        if was is not None and hashlib.sha256(content).hexdigest() != was.sha256:
            return False
    photos = {item.path: item.size for item in record.inputs if item.kind == "photo"}
    there = dict(_photos(folder))
    return all(
        photos[path] == there[path] if path in there else _size(folder / path) == photos[path]
        for path in photos
    ) and set(there) <= set(photos)


def _size(file: Path) -> int | None:
    try:
        return file.stat().st_size
    except OSError:
        return None


def keep_result(
    folder: Path, inputs: str, result: JobResult, refused: dict[SideName, tuple[PhotoEvidence, ...]]
) -> None:
    """Keep a result, with what it rests on."""
    kept = KeptResult(inputs=inputs, measured_at=datetime.now(UTC), result=result, refused_photos=refused)
    keep(folder, RESULT, kept)


def read_history(folder: Path) -> History:
    """Return the history of a job's corrections; an empty one where none is kept."""
    return read_kept(folder, HISTORY, History) or History()


def read_looks(folder: Path) -> dict[str, KeptLook]:
    """Return the first looks that are kept, by the photos' identifiers."""
    kept = read_kept(folder, LOOKS, KeptLooks)
    return {} if kept is None else dict(kept.looks)


def still_holds(look: KeptLook | None, photo: PhotoFile, paper: PaperName, tip: TipKind) -> bool:
    """Tell whether a first look is of this photo as it is, and of what is looked for now."""
    return look is not None and (look.size, look.paper, look.tip) == (_size(photo.path), paper, tip)
