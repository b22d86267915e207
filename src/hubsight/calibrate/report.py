"""A calibration as a JSON document and as tables on the screen."""

from __future__ import annotations

import numpy as np
from rich import box
from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from hubsight.calibrate.from_photos import PhotoCalibration
from hubsight.camera.model import SHARED
from hubsight.model.frozen import Frozen
from hubsight.model.refusal import Refusal


class Value(Frozen):
    """A value with its standard uncertainty."""

    value: float
    u: float


class PrincipalPoint(Frozen):
    """Column, row and the larger of their standard uncertainties, px as stored."""

    x: float
    y: float
    u: float


class PhotoReport(Frozen):
    """One photo: corners used, residual (px), how it was taken."""

    file: str
    corners: int
    residual_px: float
    tilt_deg: float
    azimuth_deg: float
    distance_mm: float


class ModelReport(Frozen):
    """One distortion model that was tried: Akaike's criterion above the best one's, and its residual, px."""

    model: str
    above_best: float
    residual_px: float


class CalibrationDocument(Frozen):
    """What ``hubsight calibrate --json`` prints.

    Attributes
    ----------
    distortion
        k1, k2, p1, p2, k3.
    residual_px, held_out_px
        Root mean square of a coordinate's residual, in the photos used and in photos held out.
    print_scale
        Printed over nominal length in x and y.
    """

    schema_version: int = 1
    focal_px: Value
    principal_px: PrincipalPoint
    distortion: dict[str, Value]
    distortion_model: str
    residual_px: float
    held_out_px: float | None
    print_scale: dict[str, Value]
    models: tuple[ModelReport, ...]
    photos: tuple[PhotoReport, ...]
    left_out: tuple[Refusal, ...]
    warnings: tuple[str, ...]
    profile: str | None = None


def calibration_document(found: PhotoCalibration, profile: str | None = None) -> CalibrationDocument:
    """Return a calibration as a document; ``profile`` names the file that it was written to."""
    c = found.calibration
    u = np.sqrt(np.diag(c.covariance))
    where = c.solution.layout["scale"]
    scale, scale_u = c.solution.x[where], np.sqrt(np.diag(c.solution.covariance)[where])
    return CalibrationDocument(
        focal_px=Value(value=c.camera[0], u=u[0]),
        principal_px=PrincipalPoint(x=c.camera[1], y=c.camera[2], u=max(u[1], u[2])),
        distortion={name: Value(value=c.camera[k], u=u[k]) for k, name in enumerate(SHARED) if k > 2},
        distortion_model=c.model,
        residual_px=c.residual_px,
        held_out_px=c.held_out_px,
        print_scale={name: Value(value=scale[k], u=scale_u[k]) for k, name in enumerate("xy")},
        models=tuple(
            ModelReport(
                model=trial.name,
                above_best=trial.above_best,
                residual_px=trial.residual_px,
            )
            for trial in c.trials
        ),
        photos=_photos(found),
        left_out=found.left_out,
        warnings=found.warnings,
        profile=profile,
    )


def _photos(found: PhotoCalibration) -> tuple[PhotoReport, ...]:
    return tuple(
        PhotoReport(
            file=one.photo.file,
            corners=int((found.calibration.weights(k) > 0.5).sum()),
            residual_px=found.calibration.photo_residual_px[k],
            tilt_deg=how.tilt_deg,
            azimuth_deg=how.azimuth_deg,
            distance_mm=how.distance_mm,
        )
        for k, (one, how) in enumerate(zip(found.photos, found.conditions, strict=True))
    )


def print_calibration(console: Console, found: PhotoCalibration) -> None:
    """Print camera, photos and warnings."""
    document = calibration_document(found)
    console.print(_camera_table(document))
    console.print(_photo_table(document))
    for warning in document.warnings:
        console.print(Padding(Text.assemble(("warning: ", "bold"), warning), (0, 0, 0, 2)))


def _camera_table(document: CalibrationDocument) -> Table:
    table = Table(title="Camera", title_justify="left", title_style="bold", box=box.SIMPLE_HEAD)
    table.add_column("px, distortion 1")
    table.add_column("value", justify="right")
    table.add_column("± u", justify="right")
    focal, principal = document.focal_px, document.principal_px
    table.add_row("focal length", f"{focal.value:.1f}", f"{focal.u:.1f}")
    table.add_row("principal point, column", f"{principal.x:.1f}", f"{principal.u:.1f}")
    table.add_row("principal point, row", f"{principal.y:.1f}", f"{principal.u:.1f}")
    table.add_section()
    for name, value in document.distortion.items():
        table.add_row(f"distortion {name}", f"{value.value:.5f}", f"{value.u:.5f}")
    table.add_section()
    table.add_row("residual of photos used", f"{document.residual_px:.3f}", "")
    if document.held_out_px is not None:
        table.add_row("residual of photos held out", f"{document.held_out_px:.3f}", "")
    table.add_row("distortion model", document.distortion_model, "")
    return table


def _photo_table(document: CalibrationDocument) -> Table:
    table = Table(title="Photos", title_justify="left", title_style="bold", box=box.SIMPLE_HEAD)
    table.add_column("photo")
    for name in ("corners", "residual px", "tilt °", "from °", "distance mm"):
        table.add_column(name, justify="right")
    for photo in document.photos:
        table.add_row(
            photo.file,
            str(photo.corners),
            f"{photo.residual_px:.3f}",
            f"{photo.tilt_deg:.0f}",
            f"{round(photo.azimuth_deg) % 360}",
            f"{photo.distance_mm:.0f}",
        )
    return table
