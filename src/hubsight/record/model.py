"""The record of one measurement: what was measured, from which files, how. Lengths in mm, times in UTC."""

from __future__ import annotations

from typing import Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict

from hubsight.job.file.model import LabelTable
from hubsight.model.result import JobResult

SCHEMA_VERSION: Literal[2] = 2
"""Raised whenever this program would misread an older record; `hubsight.record.migrate` then gets a step."""

InputKind = Literal["job file", "photo", "camera profile", "corrections", "kit"]


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", ser_json_inf_nan="constants")


class CameraNamed(_Frozen):
    """What a photo's tags say of its camera; nothing of owner, place or serial numbers."""

    make: str = ""
    model: str = ""
    lens: str = ""
    focal_35mm: float | None = None


class InputFile(_Frozen):
    """A file that the measurement rests on.

    Attributes
    ----------
    path
        In the job folder, with forward slashes. Kit from the user's own folder is named as it would be in the
        job folder, and ``content`` holds it.
    size
        Bytes.
    sha256
        Of the file.
    pixels_sha256
        Of a photo's decoded picture, which stays the same when tags are taken off.
    width, height
        Of a photo as stored, px.
    content
        The file itself, a page of text, where it lies outside the job folder; so a copied folder is complete.
    """

    path: str
    kind: InputKind
    size: int
    sha256: str
    pixels_sha256: str | None = None
    width: int | None = None
    height: int | None = None
    camera: CameraNamed | None = None
    content: str | None = None


class Statement(_Frozen):
    """One thing that the job file states.

    Attributes
    ----------
    field
        Dotted name in the job file, as ``sides.drive.caliper.protrusion``.
    value
        Lengths in mm; of several readings their mean.
    u
        Standard uncertainty of a reading.
    """

    field: str
    value: float | int | str
    u: float | None = None


class Library(_Frozen):
    """A library that took part, and its version."""

    name: str
    version: str


class Record(_Frozen):
    """One measurement of a job, as evidence.

    Attributes
    ----------
    job, job_file
        Names of the folder and of the job file, when it was measured.
    label
        The user's words to find the job again.
    begun, finished
        When the inputs were read, and when the record was made; UTC.
    inputs
        Every file that was read.
    statements
        What the job file stated.
    measurement
        The job's result: figures with budgets, what was seen in every photo with residuals, caliper checks,
        spoke lengths, what to order, the verdict, versions.
    system
        Operating system and processor.
    libraries
        Beside those that the measurement names.
    """

    schema_version: Literal[2] = SCHEMA_VERSION
    job: str
    job_file: str
    label: LabelTable = LabelTable()
    begun: AwareDatetime
    finished: AwareDatetime
    inputs: tuple[InputFile, ...]
    statements: tuple[Statement, ...]
    measurement: JobResult
    system: str = ""
    libraries: tuple[Library, ...] = ()
