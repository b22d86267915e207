"""Verifying a record: whether its files are unchanged, and whether the measurement repeats."""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from hubsight.job import Job, JobFileError, load_job
from hubsight.job.measure import measure_job
from hubsight.kit.store import JOB_KIT, Kit
from hubsight.model.files import inside, sha256_of
from hubsight.model.refusal import Refusal
from hubsight.model.result import JobResult
from hubsight.photo import load_photo
from hubsight.record.history import REPEATS_MM, FigureChange, figures_of, software_reasons
from hubsight.record.make import make_record, read_inputs
from hubsight.record.model import InputFile, Record
from hubsight.record.store import read_record

FileState = Literal["unchanged", "kept", "other tags", "changed", "missing", "outside", "added"]

FILE_WORDS: dict[FileState, str] = {
    "unchanged": "unchanged",
    "kept": "is kept in the record",
    "other tags": "the picture is unchanged, its tags are others",
    "changed": "CHANGED since it was measured",
    "missing": "MISSING",
    "outside": "lies outside the job folder: not looked at",
    "added": "was not there when it was measured",
}
"""What is said of a file."""


@dataclass(frozen=True)
class FileCheck:
    """A file of the record, and whether it is as it was."""

    path: str
    state: FileState

    @property
    def good(self) -> bool:
        """Whether the measurement can rest on it as before."""
        return self.state in ("unchanged", "kept", "other tags")


@dataclass(frozen=True)
class Verification:
    """A record, verified.

    Attributes
    ----------
    record
        As read.
    files
        Every input.
    repeated
        The new measurement; None where it was not repeated, and ``not_repeated`` says why.
    figures
        Every figure, as recorded and as repeated.
    software
        Programs and libraries that are of another version now.
    """

    record: Record
    files: tuple[FileCheck, ...]
    repeated: Record | None
    not_repeated: str
    figures: tuple[FigureChange, ...]
    software: tuple[str, ...]

    @property
    def files_good(self) -> bool:
        """Whether every file is as it was, and none was added."""
        return all(file.good for file in self.files)

    @property
    def largest_difference(self) -> float | None:
        """Of the figures that both have, mm."""
        differences = [abs(f.difference) for f in self.figures if f.difference is not None]
        return max(differences, default=None)

    @property
    def figures_repeat(self) -> bool:
        """Whether the same figures came out, to the decimals shown."""
        return self.repeated is not None and all(
            figure.difference is not None and abs(figure.difference) <= REPEATS_MM for figure in self.figures
        )

    @property
    def good(self) -> bool:
        """Whether nothing was found against the record."""
        return self.files_good and (self.figures_repeat or (self.repeated is None and not self.not_repeated))


def verify_job(
    path: Path, *, repeat: bool = True, measure: Callable[[Job], JobResult] = measure_job
) -> Verification:
    """Verify a job's record; nothing is written.

    Parameters
    ----------
    path
        The job folder, wherever it was copied to, or the job file in it.
    repeat
        Also measure again and compare.
    measure
        What measures a job.

    Raises
    ------
    JobFileError
        If there is no record that can be read.
    """
    record = read_record(path)
    folder = path if path.is_dir() else path.parent
    files = tuple(FileCheck(file.path, _state(file, folder)) for file in record.inputs)
    repeated = None
    with _kept_kit(record) as kit:
        job, why = _job(record, folder, kit)
        if job is not None:
            known = {file.path for file in record.inputs}
            files += tuple(FileCheck(name, "added") for name in _photo_names(job) if name not in known)
        if repeat and job is not None:
            inputs = read_inputs(job)
            repeated = make_record(job, measure(job), inputs)
    return Verification(
        record,
        files,
        repeated,
        not_repeated=why if repeat else "",
        figures=() if repeated is None else _all_figures(record, repeated),
        software=() if repeated is None else tuple(software_reasons(record, repeated)),
    )


def _state(file: InputFile, folder: Path) -> FileState:
    if file.content is not None:
        same = hashlib.sha256(file.content.encode()).hexdigest() == file.sha256
        return "kept" if same else "changed"
    path = inside(folder, file.path)
    if path is None:
        return "outside"
    try:
        if sha256_of(path) == file.sha256:
            return "unchanged"
    except OSError:
        return "missing"
    if file.pixels_sha256 is not None:
        photo = load_photo(path)
        if not isinstance(photo, Refusal) and photo.pixels_sha256 == file.pixels_sha256:
            return "other tags"
    return "changed"


@contextmanager
def _kept_kit(record: Record) -> Iterator[Path]:
    """Lay out the kit that the record holds, for as long as it is needed."""
    with tempfile.TemporaryDirectory(prefix="hubsight-") as name:
        for file in record.inputs:
            path = inside(Path(name), file.path)
            if file.content is not None and path is not None:
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_text(file.content, encoding="utf-8", newline="")
        yield Path(name) / JOB_KIT


def _job(record: Record, folder: Path, kept_kit: Path) -> tuple[Job | None, str]:
    """Return the record's job as it is in the folder now, or why it cannot be read."""
    file = inside(folder, record.job_file)
    if file is None or Path(record.job_file).name != record.job_file:
        return None, "the record names a job file outside the folder"
    try:
        return load_job(file, kit=Kit((folder / JOB_KIT, kept_kit))), ""
    except JobFileError as error:
        return None, str(error)


def _photo_names(job: Job) -> Sequence[str]:
    return [photo.relative_to(job.folder).as_posix() for side in job.sides for photo in side.stated.photos]


def _all_figures(record: Record, repeated: Record) -> tuple[FigureChange, ...]:
    old, new = figures_of(record), figures_of(repeated)
    return tuple(FigureChange(name, old.get(name), new.get(name)) for name in dict.fromkeys((*old, *new)))
