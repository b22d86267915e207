"""Keeping records in the job folder: the newest as ``record.json``, earlier ones in ``records``.

A record takes its name in one step, after the one that it replaces was put into ``records``: whoever looks,
whatever was killed, finds the old record or the new one. A lock file keeps two processes apart.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from filelock import FileLock, Timeout

from hubsight.job.file.hub_of import named_hub
from hubsight.job.file.problems import JobFileError, one_problem
from hubsight.job.file.text import JOB_FILE_NAME, parse_job, read_job_text
from hubsight.model.files import LARGEST_RESULT, inside, unfinished_prefix, write_atomically
from hubsight.record.migrate import NewerRecordError, parse_record
from hubsight.record.model import Record

RECORD_FILE = "record.json"
"""Newest record in a job's folder."""
LOCK_FILE = ".hubsight.lock"
"""File that is held while a record is written."""


LOCK_WAIT_S = 30.0
"""Writing a record takes a fraction of a second."""


@dataclass(frozen=True)
class RecordPlace:
    """Where a job's records are.

    Attributes
    ----------
    folder
        The job folder.
    prefix
        Empty for the job file ``job.toml``; another job file in the folder has records of its own.
    """

    folder: Path
    prefix: str = ""

    @property
    def current(self) -> Path:
        """The newest record."""
        return self.folder / f"{self.prefix}{RECORD_FILE}"

    @property
    def history(self) -> Path:
        """The folder of the earlier ones."""
        return self.folder / f"{self.prefix}records"


def place_of(path: Path) -> RecordPlace:
    """Return where the records of a job are; ``path`` is the job folder or a job file in it."""
    if path.is_dir() or path.suffix.lower() != Path(JOB_FILE_NAME).suffix:
        return RecordPlace(path)
    return RecordPlace(path.parent, "" if path.name == JOB_FILE_NAME else f"{path.stem}.")


def read_record(path: Path) -> Record:
    """Read a job's newest record.

    Parameters
    ----------
    path
        The job folder, or the job file in it.

    Raises
    ------
    JobFileError
        If there is none, or if it cannot be read: damaged, or of a newer version of the program.
    """
    place = place_of(path)
    if not place.current.is_file():
        if not place.folder.is_dir():
            raise one_problem(str(path), "there is no such folder", "Name a job's folder")
        _refuse_a_wheel(path)
        raise one_problem(
            str(place.current), "this job has no record yet", f"Measure it first: hubsight measure {path}"
        )
    return parse_record(_bytes_of(place.current, place), str(place.current))


def _refuse_a_wheel(path: Path) -> None:
    """Refuse a job whose hub is measured in another one: the record is there."""
    file = path / JOB_FILE_NAME if path.is_dir() else path
    if not file.is_file() or file.suffix != Path(JOB_FILE_NAME).suffix:
        return
    hub = named_hub(parse_job(read_job_text(file), file.name))
    if hub is not None:
        what = f'the hub of this wheel is measured in the job "{hub}", and recorded there'
        raise one_problem(str(file), what, f"Name that job: {file.parent / hub}")


def read_history(path: Path) -> tuple[Record, ...]:
    """Read all records of a job, from the oldest to the newest.

    Parameters
    ----------
    path
        The job folder, or the job file in it.

    Raises
    ------
    JobFileError
        As `read_record`.
    """
    newest, place = read_record(path), place_of(path)
    own = _archive_name(_bytes_of(place.current, place))
    earlier = [
        parse_record(_bytes_of(file, place), str(file)) for file in _earlier(place) if file.name != own
    ]
    return (*sorted(earlier, key=lambda record: record.begun), newest)


def _earlier(place: RecordPlace) -> list[Path]:
    """Files in the folder of earlier records; links out of the job folder are not followed."""
    if inside(place.folder, place.history.name) is None or not place.history.is_dir():
        return []
    return sorted(file for file in place.history.glob("[!.]*.json") if file.is_file())


def _bytes_of(file: Path, place: RecordPlace) -> bytes:
    name = file.relative_to(place.folder).as_posix()
    if inside(place.folder, name) is None:
        raise one_problem(
            str(file), "this is a link that leads out of the job folder", "Put the file itself there"
        )
    try:
        if file.stat().st_size > LARGEST_RESULT:
            raise one_problem(str(file), "this is too large for a record", "Restore it from a backup")
        return file.read_bytes()
    except OSError as error:
        raise one_problem(
            str(file), f"this cannot be read ({error.strerror})", "Check its permissions"
        ) from error


def write_record(path: Path, record: Record) -> Path:
    """Write a job's record, and keep the one before it.

    Parameters
    ----------
    path
        The job folder; the record names the job file.
    record
        To be written.

    Returns
    -------
    Path
        The record's file.

    Raises
    ------
    JobFileError
        If it cannot be written, or if the record that is there was written by a newer version of the program.
        What was there is then as it was.
    """
    place = place_of(path / record.job_file)
    content = record.model_dump_json(indent=1).encode()
    try:
        with _locked(place):
            _clear_unfinished(place)
            _keep_earlier(place)
            write_atomically(place.current, content)
    except OSError as error:
        why = error.strerror or str(error)
        raise one_problem(
            str(place.current),
            f"the record cannot be written ({why}); what was there is untouched",
            "Make room on the disk, or allow writing to the folder, and measure again; "
            "--no-record measures without writing one",
        ) from error
    return place.current


@contextmanager
def _locked(place: RecordPlace) -> Iterator[None]:
    """Keep other processes from writing records of this folder."""
    try:
        with FileLock(place.folder / LOCK_FILE, timeout=LOCK_WAIT_S):
            yield
    except Timeout as error:
        raise one_problem(
            str(place.folder), "another hubsight is writing to this job", "Wait until it has ended"
        ) from error


def _clear_unfinished(place: RecordPlace) -> None:
    """Remove what killed processes left; nobody else is writing while the lock is held."""
    for file in place.folder.glob(f"{unfinished_prefix(place.current)}*"):
        file.unlink(missing_ok=True)
    if place.history.is_dir() and not place.history.is_symlink():
        for file in place.history.glob(".*.json.*"):
            file.unlink(missing_ok=True)


def _keep_earlier(place: RecordPlace) -> None:
    """Put the newest record among the earlier ones, byte for byte, before another takes its place."""
    if not place.current.exists():
        return
    if place.history.is_symlink():
        raise one_problem(str(place.history), "this is a link, not a folder", "Remove the link")
    content = _bytes_of(place.current, place)
    name = _archive_name(content)
    place.history.mkdir(exist_ok=True)
    if not (place.history / name).exists():
        write_atomically(place.history / name, content)


def _archive_name(content: bytes) -> str:
    """Name a record by its time and content; one that cannot be read is kept all the same.

    Raises
    ------
    NewerRecordError
        A newer version of the program wrote it; this one leaves it alone.
    """
    digest = hashlib.sha256(content).hexdigest()[:12]
    try:
        record = parse_record(content, RECORD_FILE)
    except NewerRecordError:
        raise
    except JobFileError:
        return f"damaged-{digest}.txt"
    return f"{record.begun:%Y%m%dT%H%M%SZ}-{digest}.json"
