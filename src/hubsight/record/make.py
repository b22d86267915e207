"""From a job and its measurement to the record."""

from __future__ import annotations

import platform
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from pydantic import BaseModel

from hubsight.job import Job
from hubsight.job.file.corrections import CORRECTIONS_FILE_NAME
from hubsight.job.file.load import photo_sets
from hubsight.job.file.model import LabelTable
from hubsight.job.file.problems import one_problem
from hubsight.job.measure import measure_job
from hubsight.job.recall import version_of
from hubsight.kit.store import JOB_KIT
from hubsight.model.files import sha256_of
from hubsight.model.refusal import Refusal
from hubsight.model.result import JobResult, KitUsed
from hubsight.model.stated import Reading
from hubsight.photo import load_photo
from hubsight.photo.load import read_lately
from hubsight.record.model import CameraNamed, InputFile, InputKind, Library, Record, Statement
from hubsight.record.store import write_record

LIBRARIES = ("scikit-image", "pillow", "pi-heif", "pydantic")
"""That had a part in the figures, beside those that every measurement names."""


@dataclass(frozen=True)
class JobInputs:
    """The files of a job as they were before it was measured.

    Attributes
    ----------
    begun
        When they were read, UTC.
    files
        With their SHA-256.
    paths
        Where each of them was read.
    """

    begun: datetime
    files: tuple[InputFile, ...]
    paths: tuple[Path, ...]


def read_inputs(job: Job) -> JobInputs:
    """Take down which files a job rests on, before it is measured.

    Parameters
    ----------
    job
        With a job file; bare photos have no record.

    Raises
    ------
    JobFileError
        If a file cannot be read.
    """
    begun = datetime.now(UTC)
    named = dict(_files(job))
    return JobInputs(begun, tuple(_input(path, item, job) for path, item in named.items()), tuple(named))


def _files(job: Job) -> Iterator[tuple[Path, tuple[InputKind, str]]]:
    """Yield every file that a job rests on, with its kind and its name in the job folder."""
    if job.file is None:
        raise ValueError("bare photos have no record")
    yield job.file, ("job file", job.file.name)
    if job.camera_profile is not None and job.camera_profile.is_relative_to(job.folder):
        yield job.camera_profile, ("camera profile", _relative(job.camera_profile, job))
    for used in job.kit:
        kind: InputKind = "camera profile" if used.kind == "camera" else "kit"
        yield Path(used.file), (kind, f"{JOB_KIT}/{used.kind}s/{used.name}.json")
    corrections = job.folder / CORRECTIONS_FILE_NAME
    if corrections.is_file():
        yield corrections, ("corrections", corrections.name)
    for photos in photo_sets(job):
        for photo in photos:
            yield photo, ("photo", _relative(photo, job))


def _relative(path: Path, job: Job) -> str:
    return path.relative_to(job.folder).as_posix()


def _input(path: Path, item: tuple[InputKind, str], job: Job) -> InputFile:
    kind, name = item
    try:
        content = None if path.is_relative_to(job.folder) else path.read_text(encoding="utf-8")
        return InputFile(
            path=name, kind=kind, size=path.stat().st_size, sha256=sha256_of(path), content=content
        )
    except (OSError, UnicodeDecodeError) as error:
        why = getattr(error, "strerror", None) or error
        raise one_problem(
            name, f"this cannot be read ({why})", "Check the file and its permissions"
        ) from error


def _with_picture(file: InputFile, path: Path, before: Record | None) -> InputFile:
    """Return a photo with what its picture is; it is decoded only if neither measuring nor the record did."""
    if file.kind != "photo":
        return file
    known = () if before is None else before.inputs
    for same in known:
        if (same.sha256, same.kind) == (file.sha256, "photo") and same.pixels_sha256 is not None:
            return same.model_copy(update={"path": file.path})
    photo = read_lately(file.sha256) or load_photo(path)
    if isinstance(photo, Refusal):  # measuring says what is wrong with a photo
        return file
    tag = photo.camera
    return file.model_copy(
        update={
            "pixels_sha256": photo.pixels_sha256,
            "width": photo.width,
            "height": photo.height,
            "camera": CameraNamed(make=tag.make, model=tag.model, lens=tag.lens, focal_35mm=tag.focal_35mm),
        }
    )


def make_record(job: Job, measured: JobResult, inputs: JobInputs, *, before: Record | None = None) -> Record:
    """Return the record of a measured job.

    Parameters
    ----------
    job
        As it was measured.
    measured
        Its result.
    inputs
        From `read_inputs`, called before measuring.
    before
        The job's earlier record; photos that it knows are not decoded again.

    Raises
    ------
    JobFileError
        If a file changed while the job was being measured: the record would not say what was measured.
    """
    if job.file is None:
        raise ValueError("bare photos have no record")
    for file, path in zip(inputs.files, inputs.paths, strict=True):
        _still_the_same(file, path)
    return Record(
        job=job.name,
        job_file=job.file.name,
        label=LabelTable() if job.table is None else job.table.label,
        begun=inputs.begun,
        finished=datetime.now(UTC),
        inputs=tuple(
            _with_picture(file, path, before) for file, path in zip(inputs.files, inputs.paths, strict=True)
        ),
        statements=() if job.table is None else tuple(statements_of(job.table)),
        measurement=measured.model_copy(update={"kit": tuple(map(_without_folder, measured.kit))}),
        system=f"{platform.system()} {platform.machine()}".strip(),
        libraries=tuple(Library(name=name, version=version_of(name)) for name in LIBRARIES),
    )


def record_if_changed(job: Job, measured: JobResult, inputs: JobInputs, before: Record | None) -> Record:
    """Write a job's record, unless the one that is there says the same of the same files.

    Parameters, result and errors are those of `make_record` and `write_record`.
    """
    record = make_record(job, measured, inputs, before=before)
    if before is not None:
        same_time = {"begun": before.begun, "finished": before.finished}
        if record.model_copy(update=same_time) == before:
            return before
    write_record(job.folder, record)
    return record


def _without_folder(used: KitUsed) -> KitUsed:
    """Return what a piece of kit is without where the user keeps it."""
    return used.model_copy(update={"file": Path(used.file).name})


def _still_the_same(file: InputFile, path: Path) -> None:
    try:
        same = sha256_of(path) == file.sha256
    except OSError:
        same = False
    if not same:
        raise one_problem(
            file.path, "this was changed while the job was being measured", "Measure the job again"
        )


def statements_of(table: BaseModel, prefix: str = "") -> Iterator[Statement]:
    """Yield all that is stated, in the order of the job file's tables."""
    for name in type(table).model_fields:
        if name in table.model_fields_set and (prefix or name not in ("schema_version", "label")):
            yield from _statement(getattr(table, name), f"{prefix}{name}")


def _statement(value: object, field: str) -> Iterator[Statement]:
    if isinstance(value, BaseModel):
        yield from statements_of(value, f"{field}.")
    elif isinstance(value, dict):
        for name, item in value.items():
            yield from _statement(item, f"{field}.{name}")
    elif isinstance(value, Reading):
        yield Statement(field=field, value=value.value, u=value.u)
    elif isinstance(value, list | tuple):
        if value:
            yield Statement(field=field, value=", ".join(_words(item) for item in value))
    elif isinstance(value, float | int | str) and value != "":
        yield Statement(field=field, value=value)


def _words(item: object) -> str:
    return f"{item.value:g}" if isinstance(item, Reading) else str(item)


def measure_and_record(job: Job, *, measure: Callable[[Job], JobResult] = measure_job) -> Record:
    """Measure a job and write its record.

    Parameters
    ----------
    job
        With a job file.
    measure
        What measures it.

    Returns
    -------
    Record
        As written; `Record.measurement` holds the figures.

    Raises
    ------
    JobFileError
        If an input or the record cannot be read or written. An earlier record is then as it was.
    """
    inputs = read_inputs(job)
    record = make_record(job, measure(job), inputs)
    write_record(job.folder, record)
    return record
