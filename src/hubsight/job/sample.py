"""The sample job: where it lies, its truth, and how a measurement compares with it."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from hubsight.job.file.problems import JobFileError, Problem
from hubsight.job.file.text import JOB_FILE_NAME
from hubsight.model.frozen import Frozen
from hubsight.model.stated import SideName

_PACKAGE = Path(__file__).resolve().parents[1]
"""Folder of the package."""
_PLACES = (_PACKAGE / "sample_images", _PACKAGE.parents[1] / "sample_images")
"""In an installed package; in a clone."""


class TrueSide(Frozen):
    """True values of one side, mm, by figure name; ``spoke_length`` among them."""

    boss_count: int
    crosses: int
    figures: dict[str, float]


class SampleTruth(Frozen):
    """Truth of the sample job. Its photos are ray traced, so the truth is exact."""

    rendered: Literal[True]
    sides: dict[SideName, TrueSide]


def find_sample_job() -> Path:
    """Return the sample job's folder, in a clone or an installed package.

    Raises
    ------
    JobFileError
        If it is in neither.
    """
    for place in _PLACES:
        if (place / JOB_FILE_NAME).is_file():
            return place
    remedy = "Clone the repository, or measure a job of your own: hubsight start FOLDER"
    raise JobFileError([Problem("sample_images", None, "", "the sample job is not here", remedy)])


def load_truth(folder: Path) -> SampleTruth:
    """Read the sample job's truth."""
    return SampleTruth.model_validate_json((folder / "truth.json").read_text(encoding="utf-8"))
