"""A job's photos of a ruler lying on the sheet: its scale enters with the check bars' readings."""

from __future__ import annotations

from dataclasses import replace

from hubsight.camera.profile import CameraProfile
from hubsight.job.file.load import Job
from hubsight.model.refusal import Refusal
from hubsight.model.result import FlatReport


def with_flat_scale(
    job: Job, profile: CameraProfile | None
) -> tuple[Job, FlatReport | None, tuple[str, ...]]:
    """Return the job with the ruler's scale in its target, what is to be shown of it, and warnings.

    Parameters
    ----------
    job
        As read.
    profile
        Of the camera, if there is one.

    Returns
    -------
    job, report, warnings
        Photos that hold no scale leave the job as it was, with a warning.
    """
    if job.flat is None:
        return job, None, ()
    from hubsight.measure.flat import scale_from_photos  # noqa: PLC0415 - needs all image processing

    found = scale_from_photos(job.flat.photos, job.target, job.flat.ruler, profile=profile)
    if isinstance(found, Refusal):
        said = f"the photos of the ruler on the sheet were not used: {found.sentence()}"
        return job, FlatReport(refusal=found, warnings=(said,)), (said,)
    report = FlatReport(
        photos=found.photos,
        scale=found.along.value,
        u=found.along.u,
        sentences=found.sentences,
        warnings=found.warnings,
        along=found.along,
        bar_factor=found.bar_factor,
    )
    return replace(job, target=found.target(job.target)), report, found.warnings
