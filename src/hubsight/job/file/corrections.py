"""The file ``corrections.json`` in the job folder: what was placed by hand in the photos of each side."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from pydantic import ValidationError

from hubsight.job.file.problems import JobFileError, one_problem
from hubsight.model.corrections import NO_CORRECTIONS, Corrections
from hubsight.model.files import LARGEST_TEXT, inside, write_atomically
from hubsight.model.frozen import Frozen
from hubsight.model.stated import SetName

CORRECTIONS_FILE_NAME = "corrections.json"
"""In a job's folder."""


class JobCorrections(Frozen):
    """A whole corrections file."""

    schema_version: Literal[1] = 1
    drive: Corrections = NO_CORRECTIONS
    non_drive: Corrections = NO_CORRECTIONS
    lying: Corrections = NO_CORRECTIONS

    def of(self, photos: SetName) -> Corrections:
        """Return the corrections of a side's photos, or of those of the lying hub."""
        return {"drive": self.drive, "non_drive": self.non_drive, "lying": self.lying}[photos]

    def having(self, photos: SetName, corrections: Corrections) -> JobCorrections:
        """Return the same with other corrections of one set of photos."""
        return self.model_copy(update={photos: corrections})


def read_corrections(folder: Path) -> JobCorrections:
    """Read a job's corrections; none where there is no file.

    Raises
    ------
    JobFileError
        If the file cannot be read: figures without marks that somebody placed would be others.
    """
    file = folder / CORRECTIONS_FILE_NAME
    remedy = "Restore the file, or delete it to measure without what was placed by hand"
    try:
        if not file.is_file():
            return JobCorrections()
        if inside(folder, file.name) is None:
            raise one_problem(file.name, "this is a link that leads out of the job", remedy)
        if file.stat().st_size > LARGEST_TEXT:
            raise one_problem(file.name, "this is too large for a file of corrections", remedy)
        return JobCorrections.model_validate_json(file.read_bytes())
    except (OSError, ValidationError) as error:
        why = error.strerror if isinstance(error, OSError) else "it was not written by hubsight"
        raise one_problem(file.name, f"this cannot be read ({why})", remedy) from error


def write_corrections(folder: Path, corrections: JobCorrections) -> None:
    """Write a job's corrections in one step.

    Raises
    ------
    JobFileError
        If the folder cannot be written.
    """
    file = folder / CORRECTIONS_FILE_NAME
    try:
        write_atomically(file, (corrections.model_dump_json(indent=1) + "\n").encode())
    except OSError as error:
        raise _unwritable(file, error) from error


def _unwritable(file: Path, error: OSError) -> JobFileError:
    return one_problem(
        file.name, f"this cannot be written ({error.strerror})", "Check the folder's permissions"
    )
