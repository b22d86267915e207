"""What the report shows: from a record to plain objects that the page only sets out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from markupsafe import Markup

from hubsight.model.cautions import CAUTIONS
from hubsight.model.refusal import Refusal
from hubsight.model.result import MeasuredSide
from hubsight.record.current import out_of_date
from hubsight.record.history import shown
from hubsight.record.model import Record
from hubsight.report.pictures import ShownSet, lying_pictures, side_pictures
from hubsight.show.budgets import Budget, side_budgets
from hubsight.show.drawing import boss_detail, face_view
from hubsight.show.nipple_view import LengthPicture, length_pictures
from hubsight.show.side_view import side_view as hub_from_the_side
from hubsight.show.strips import Strip, side_strips
from hubsight.show.view import JobView, SideView, job_view


@dataclass(frozen=True)
class ReportSide:
    """One side as the report shows it.

    Attributes
    ----------
    view
        What every place shows of it.
    budgets
        What the figures' uncertainty consists of.
    drawing, detail
        The dimensioned drawings.
    camera
        The camera and the print's scale as adjusted, one line each.
    strips
        How photos agree.
    seen
        The photos with what was seen in them.
    lengths
        The choice of a length as pictures.
    """

    view: SideView
    budgets: tuple[Budget, ...]
    strips: tuple[Strip, ...]
    drawing: Markup | None
    detail: Markup | None
    camera: tuple[str, ...]
    seen: ShownSet
    lengths: tuple[LengthPicture, ...]


@dataclass(frozen=True)
class ReportContent:
    """The whole report: the job as every place shows it, and what only the report has."""

    record: Record
    out_of_date: tuple[str, ...]
    title: str
    job: JobView
    drawing: Markup | None
    refused: tuple[tuple[str, Refusal], ...]
    sides: tuple[ReportSide, ...]
    lying: ShownSet
    statements: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]


def report_content(record: Record, folder: Path | None, photos: Path | None) -> ReportContent:
    """Gather what the report of a record shows.

    Parameters
    ----------
    record
        As written.
    folder
        The job folder, for what was changed since; without it the report does not say.
    photos
        The folder of the photos; without it the report has none.
    """
    result = record.measurement
    view = job_view(result)
    return ReportContent(
        record=record,
        out_of_date=() if folder is None else out_of_date(record, folder),
        title=record.label.hub or record.job,
        job=view,
        drawing=hub_from_the_side(result),
        refused=tuple(_refused(record)),
        sides=tuple(
            _side(side, shown_side, record, photos)
            for side, shown_side in zip(result.sides, view.sides, strict=True)
        ),
        lying=_lying(record, photos),
        statements=tuple((item.field, shown(item)) for item in record.statements),
        cautions=CAUTIONS,
    )


def _lying(record: Record, folder: Path | None) -> ShownSet:
    lying = record.measurement.lying
    if lying is None:
        return ShownSet()
    return lying_pictures(lying.measurement, lying.photos, record, folder)


def _refused(record: Record) -> Iterator[tuple[str, Refusal]]:
    """Yield the photo sets beside the sides' that could not be used, and why."""
    flat, lying = record.measurement.flat, record.measurement.lying
    if flat is not None and flat.refusal is not None:
        yield "Photos of a ruler on the sheet", flat.refusal
    if lying is not None and lying.refusal is not None:
        yield "The lying hub", lying.refusal


def _side(side: MeasuredSide, view: SideView, record: Record, folder: Path | None) -> ReportSide:
    found = side.measurement
    return ReportSide(
        view=view,
        budgets=side_budgets(side),
        strips=() if found is None else side_strips(found),
        drawing=None if found is None else face_view(found),
        detail=None if found is None else boss_detail(found),
        camera=_camera(side),
        seen=side_pictures(side, record, folder),
        lengths=length_pictures(view),
    )


def _camera(side: MeasuredSide) -> tuple[str, ...]:
    found, out = side.measurement, []
    if found is not None and found.camera is not None:
        camera = found.camera
        x, y = camera.principal_point_px
        out.append(
            f"focal length {camera.focal_px:.1f} ± {camera.focal_u_px:.1f} px, principal point "
            f"{x:.0f}, {y:.0f} px, distortion k1 {camera.distortion[0]:+.3f}"
        )
    if found is not None and found.print_scale is not None:
        scale = found.print_scale
        out.append(
            f"print scale {scale.x:.4f} ± {scale.x_u:.4f} along the long side, "
            f"{scale.y:.4f} ± {scale.y_u:.4f} along the short side"
        )
    return tuple(out)
