"""What a job measured before: a photo set whose photos and statements are unchanged needs no new look.

Every measured set carries a fingerprint of all that it rests on: the contents of its photos and of the
camera's profile, the statements that measuring is given, and the program. What changed is measured anew.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from pydantic_core import to_json

from hubsight.job.file.load import Job, JobSide
from hubsight.model.files import sha256_of
from hubsight.model.result import FlatReport, JobResult, LyingReport, MeasuredSide
from hubsight.model.stated import StatedSide, StatedTarget

LIBRARIES = ("numpy", "scipy", "opencv-python-headless", "scikit-image", "pillow", "pi-heif")
"""Packages that may move a figure."""

_UNKNOWN = ""
"""Fingerprint of what cannot be read: it is never taken for unchanged."""


@dataclass(frozen=True)
class Recall:
    """What was measured of a job before.

    Attributes
    ----------
    job
        As it is stated now, the scale of a ruler on the sheet in its target.
    before
        Its result then; None if it was never measured.
    """

    job: Job
    before: JobResult | None = None

    def side(self, side: JobSide) -> MeasuredSide | None:
        """Return a side as its photos showed it before, if nothing that it rests on has changed."""
        known = None if self.before is None else self.before.side(side.stated.name)
        if known is None or not _same(known.rests_on, self.side_rests_on(side)):
            return None
        return as_photos_show(known)

    def flat(self) -> FlatReport | None:
        """Return what the photos of the ruler said before, if nothing that it rests on has changed."""
        known = None if self.before is None else self.before.flat
        return known if known is not None and _same(known.rests_on, self.flat_rests_on()) else None

    def lying(self) -> LyingReport | None:
        """Return what the photos of the lying hub said before, if nothing that it rests on has changed."""
        known = None if self.before is None else self.before.lying
        return known if known is not None and _same(known.rests_on, self.lying_rests_on()) else None

    def side_rests_on(self, side: JobSide) -> str:
        """Return the fingerprint of all that a side's measurement rests on."""
        sets = (side.stated, *side.repeats)
        photos = (photo for one in sets for photo in one.photos)
        return self._fingerprint(photos, [_given(one) for one in sets], self.job.target, side.wheel)

    def flat_rests_on(self) -> str:
        """Return the fingerprint of all that the ruler's scale rests on; the job's target is without it."""
        if self.job.flat is None:
            return _UNKNOWN
        return self._fingerprint(self.job.flat.photos, self.job.flat.ruler, self.job.target)

    def lying_rests_on(self) -> str:
        """Return the fingerprint of all that the lying hub's measurement rests on."""
        if self.job.lying is None:
            return _UNKNOWN
        lying = self.job.lying
        return self._fingerprint(lying.photos, lying.drive_end, lying.corrections, self.job.target)

    def _fingerprint(self, photos: Iterable[Path], *stated: object) -> str:
        profile = self.job.camera_profile
        try:
            files = [(_name(photo, self.job.folder), sha256_of(photo)) for photo in photos]
            camera = None if profile is None else sha256_of(profile)
        except OSError:
            return _UNKNOWN
        return hashlib.sha256(to_json([program(), files, camera, stated])).hexdigest()


def measured_with(side: StatedSide) -> StatedSide:
    """Return a side as measuring is given it: caliper readings are compared with its figures afterwards."""
    return replace(side, caliper={})


def as_photos_show(side: MeasuredSide) -> MeasuredSide:
    """Return a measured side as it was before the job as a whole chose its centre to flange."""
    if side.measurement is None:
        return side
    figures = dict(side.measurement.figures)
    figures.pop("centre_to_flange", None)
    if side.own_centre is not None:
        figures["centre_to_flange"] = side.own_centre
    return side.model_copy(update={"measurement": side.measurement.model_copy(update={"figures": figures})})


def with_recalled_scale(job: Job, flat: FlatReport) -> tuple[Job, FlatReport, tuple[str, ...]]:
    """Return the job with the scale that its photos of a ruler gave before, as measuring it would."""
    if flat.along is None:
        return job, flat, flat.warnings
    x, y = (
        None if bar is None else replace(bar, u=bar.u * flat.bar_factor)
        for bar in (job.target.bar_x, job.target.bar_y)
    )
    return replace(job, target=StatedTarget(job.target.paper, x, y, flat.along)), flat, flat.warnings


@lru_cache(maxsize=1)
def program() -> str:
    """Return a fingerprint of this program: its own source, and the versions of what it computes with."""
    digest = hashlib.sha256()
    home = Path(__file__).resolve().parents[1]
    for file in sorted(home.rglob("*.py")):
        digest.update(file.relative_to(home).as_posix().encode())
        digest.update(file.read_bytes())
    digest.update(to_json([version_of(name) for name in LIBRARIES]))
    return digest.hexdigest()


def version_of(package: str) -> str:
    """Return the version of an installed package."""
    try:
        return version(package)
    except PackageNotFoundError:
        return "unknown"


def _given(side: StatedSide) -> StatedSide:
    """Return a side's statements without its photos, which count by their contents."""
    return replace(measured_with(side), photos=())


def _name(photo: Path, folder: Path) -> str:
    return photo.relative_to(folder).as_posix() if photo.is_relative_to(folder) else photo.name


def _same(before: str, now: str) -> bool:
    return before == now != _UNKNOWN
