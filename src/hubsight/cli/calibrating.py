"""What ``hubsight calibrate`` does: calibrate, show, keep the profile."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from rich.console import Console

from hubsight.calibrate.from_photos import PhotoCalibration, calibrate_photos
from hubsight.calibrate.plots import write_coverage, write_trust
from hubsight.calibrate.report import calibration_document, print_calibration
from hubsight.camera.profile import save_profile
from hubsight.cli.working import progress_bar
from hubsight.job.file.bare import named_photos
from hubsight.job.file.problems import JobFileError, Problem
from hubsight.kit.store import KitError, check_name, save_item, user_kit_folder
from hubsight.model.refusal import Refusal
from hubsight.model.stated import PaperName, Reading, StatedTarget
from hubsight.target.print_scale import print_scale, read_bar
from hubsight.target.sheet import PRINT_SCALE_PRIOR

Bars = tuple[Sequence[float], Sequence[float]]


def run_calibration(
    paths: Sequence[Path],
    paper: PaperName,
    bars: Bars,
    out: Path | None,
    *,
    keep: str | None = None,
    plot: Path | None = None,
    trust: Path | None = None,
    as_json: bool,
) -> PhotoCalibration | Refusal:
    """Calibrate a camera from photos, print the result and write the profile.

    Parameters
    ----------
    paths
        Photos of the target alone, or folders of such.
    paper, bars
        The target, and the readings of its check bars along x and y, mm.
    out
        File for the profile; not written if not given.
    keep
        Name under which the profile is kept in the user's kit; not kept if not given.
    plot
        File for the picture of coverage and residuals; not written if not given.
    trust
        File for the picture of where in one photo, and how high, a length can be trusted.
    as_json
        Print one JSON document, without a progress bar.

    Returns
    -------
    PhotoCalibration or Refusal
        A refusal, of which nothing was printed, where the photos hold no calibration.

    Raises
    ------
    hubsight.job.JobFileError
        Where readings or files cannot be used, or the profile not be written.
    """
    paths = named_photos(paths)
    for path, what in ((out, "profile"), (plot, "picture"), (trust, "picture")):
        if path is not None and not path.parent.is_dir():
            raise _no_place(path, what, "there is no such folder")
    if keep is not None:
        with _keeping():
            check_name(keep)
    bar_x, bar_y = (_bar(values, axis, paper) for values, axis in zip(bars, "xy", strict=True))
    target = StatedTarget(paper, bar_x, bar_y)
    found = calibrate_photos(paths, target) if as_json else _with_progress(paths, target)
    if isinstance(found, Refusal):
        return found
    if out is not None:
        with _writing(out, "profile"):
            save_profile(found.profile, out)
    if keep is not None:
        out = _keep(found, keep)
    if plot is not None:
        with _writing(plot, "picture"):
            write_coverage(found.calibration, plot)
    if trust is not None:
        with _writing(trust, "picture"):
            write_trust(found.profile, _print_u(target), trust)
    if as_json:
        name = None if out is None else str(out)
        sys.stdout.write(calibration_document(found, name).model_dump_json(indent=1) + "\n")
    else:
        console = Console()
        print_calibration(console, found)
        console.print(
            f"Profile written to {out}" if out else "Keep it with --keep NAME in your kit, or with --out FILE"
        )
    return found


def _print_u(target: StatedTarget) -> float:
    """Return the relative standard uncertainty of the print's scale."""
    scales = [print_scale(bar) for bar in (target.bar_x, target.bar_y)]
    return max(PRINT_SCALE_PRIOR if scale is None else scale.u for scale in scales)


def _keep(found: PhotoCalibration, name: str) -> Path:
    """Keep a profile in the user's kit; a newer calibration takes the place of an older one."""
    with _keeping():
        return save_item(found.profile, "camera", name, user_kit_folder(), replace=True)


@contextmanager
def _keeping() -> Iterator[None]:
    try:
        yield
    except KitError as error:
        raise JobFileError([Problem("--keep", None, "", error.what, error.remedy)]) from error


@contextmanager
def _writing(path: Path, what: str) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise _no_place(path, what, error.strerror) from error


def _no_place(path: Path, what: str, why: str | None) -> JobFileError:
    said = f"the {what} cannot be written there ({why})"
    return JobFileError([Problem(str(path), None, "", said, "Name a file in a folder that is there")])


def _bar(values: Sequence[float], axis: str, paper: PaperName) -> Reading | None:
    bar = read_bar(values, axis, paper)
    if isinstance(bar, Refusal):
        raise JobFileError([Problem(f"--bar-{axis}", None, "", bar.reason, bar.remedy)])
    return bar


def _with_progress(paths: Sequence[Path], target: StatedTarget) -> PhotoCalibration | Refusal:
    if not sys.stderr.isatty():
        return calibrate_photos(paths, target)
    with progress_bar() as bar:
        task = bar.add_task(f"Calibrating from {len(paths)} photos", total=1.0)
        return calibrate_photos(paths, target, progress=lambda share: bar.update(task, completed=share))
