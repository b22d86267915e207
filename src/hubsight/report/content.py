"""What the report shows: from a record to plain objects that the page only sets out."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from markupsafe import Markup

from hubsight.job.document import MeasuredSide, SpokeLengths
from hubsight.job.double_check import Check
from hubsight.model.catalogue import FIGURE_WORDS, SIDE_WORDS
from hubsight.model.cautions import CAUTIONS
from hubsight.model.figure import BudgetItem, Figure
from hubsight.model.hub import FIGURE_WORDS as HUB_FIGURE_WORDS
from hubsight.model.refusal import Refusal
from hubsight.record.history import shown
from hubsight.record.model import Record
from hubsight.report.pictures import ShownPhoto, shown_photos
from hubsight.show.drawing import boss_detail, face_view
from hubsight.show.side_view import side_view
from hubsight.show.words import found_words, warnings_once
from hubsight.wheel.document import LengthsDocument

SHOWN_SHARES = 6
"""Largest contributions of a budget that are shown one by one; the rest is taken together."""

BUDGET_FIGURES = ("spoke_offset", "flange_diameter", "protrusion", "boss_width", "flange_height")


@dataclass(frozen=True)
class FigureRow:
    """A line of the table of figures."""

    words: str
    figure: Figure


@dataclass(frozen=True)
class Share:
    """One bar of a budget; ``width`` is its length in parts of the whole uncertainty."""

    source: str
    u: float
    width: float


@dataclass(frozen=True)
class Budget:
    """The bars of one figure."""

    words: str
    u: float
    shares: tuple[Share, ...]


@dataclass(frozen=True)
class ReportSide:
    """One side as the report shows it.

    Attributes
    ----------
    title
        Of the side.
    refusal
        Why it was not measured.
    found
        What was found, in one line.
    rows, budgets
        Figures, and what their uncertainty consists of.
    drawing, detail
        The dimensioned drawings.
    warnings, advice
        To be read before using the figures.
    repeats
        How repeated photo sets of the side scatter; why one of them could not be measured.
    lengths, lengths_refusal
        Spoke lengths.
    checks
        Caliper readings beside the photos' figures.
    camera
        The camera and the print's scale as adjusted, one line each.
    photos
        With what was seen in them.
    """

    title: str
    refusal: str
    found: str
    rows: tuple[FigureRow, ...]
    budgets: tuple[Budget, ...]
    drawing: Markup | None
    detail: Markup | None
    warnings: tuple[str, ...]
    advice: tuple[str, ...]
    repeats: tuple[str, ...]
    lengths: SpokeLengths | None
    lengths_refusal: str
    checks: tuple[Check, ...]
    camera: tuple[str, ...]
    photos: tuple[ShownPhoto, ...]


@dataclass(frozen=True)
class ReportHub:
    """The whole hub: figures, the drawing from the side, how its photo sets agree, and what is wrong."""

    rows: tuple[FigureRow, ...]
    drawing: Markup | None
    notes: tuple[str, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class ReportContent:
    """The whole report."""

    record: Record
    title: str
    hub: ReportHub | None
    refused: tuple[tuple[str, Refusal], ...]
    sides: tuple[ReportSide, ...]
    wheel: LengthsDocument | None
    statements: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]


def report_content(record: Record, folder: Path | None) -> ReportContent:
    """Gather what the report of a record shows.

    Parameters
    ----------
    record
        As written.
    folder
        The job folder, for the photos; without it the report has none.
    """
    return ReportContent(
        record=record,
        title=record.label.hub or record.job,
        hub=_hub(record),
        refused=tuple(_refused(record)),
        sides=tuple(_side(side, record, folder) for side in record.measurement.sides),
        wheel=record.lengths,
        statements=tuple((item.field, shown(item)) for item in record.statements),
        cautions=CAUTIONS,
    )


def _refused(record: Record) -> Iterator[tuple[str, Refusal]]:
    """Yield the photo sets beside the sides' that could not be used, and why."""
    flat, lying = record.measurement.flat, record.measurement.lying
    if flat is not None and flat.refusal is not None:
        yield "Photos of a ruler on the sheet", flat.refusal
    if lying is not None and lying.refusal is not None:
        yield "The lying hub", lying.refusal


def _hub(record: Record) -> ReportHub | None:
    hub, lying = record.measurement.hub, record.measurement.lying
    if hub is None:
        return None
    said = warnings_once(hub.warnings, hub.figures, HUB_FIGURE_WORDS)
    if lying is not None and lying.measurement is not None:
        said += lying.measurement.warnings
    return ReportHub(
        rows=tuple(FigureRow(HUB_FIGURE_WORDS[name], figure) for name, figure in hub.figures.items()),
        drawing=side_view(record.measurement),
        notes=hub.notes,
        warnings=tuple(dict.fromkeys(said)),
    )


def _side(side: MeasuredSide, record: Record, folder: Path | None) -> ReportSide:
    found = side.measurement
    figures = {} if found is None else dict(found.figures)
    rows = [FigureRow(FIGURE_WORDS[name], figure) for name, figure in figures.items()]
    lengths = side.spoke_lengths
    if lengths is not None and lengths.centre_to_flange != figures.get("centre_to_flange"):
        rows.append(FigureRow("centre to flange in the spoke length", lengths.centre_to_flange))
    budgets = [_budget(FIGURE_WORDS[name], figures[name]) for name in BUDGET_FIGURES if name in figures]
    if lengths is not None:
        budgets.insert(0, _budget("spoke length", lengths.length))
    refused = side.spoke_lengths_refusal
    return ReportSide(
        title=SIDE_WORDS[side.name],
        refusal="" if side.refusal is None else side.refusal.sentence(),
        found=found_words(side),
        rows=tuple(rows),
        budgets=tuple(budget for budget in budgets if budget.shares),
        drawing=None if found is None else face_view(found),
        detail=None if found is None else boss_detail(found),
        warnings=_warnings(side),
        advice=() if found is None else found.advice,
        repeats=_repeats(side),
        lengths=side.spoke_lengths,
        lengths_refusal="" if refused is None else refused.sentence(),
        checks=side.caliper_checks,
        camera=_camera(side),
        photos=shown_photos(side, record, folder),
    )


def _warnings(side: MeasuredSide) -> tuple[str, ...]:
    found, out = side.measurement, []
    if found is not None:
        out += warnings_once(found.warnings, found.figures, FIGURE_WORDS)
        out += [*(refusal.sentence() for refusal in found.refusals), *found.placed_by_hand]
    if side.spoke_lengths is not None:
        out += side.spoke_lengths.warnings
    return tuple(dict.fromkeys(out))


def _repeats(side: MeasuredSide) -> tuple[str, ...]:
    scatter = () if side.measurement is None else side.measurement.repeats
    refused = (again.refusal for again in side.repeated if again.refusal is not None)
    return (*scatter, *(f"a repeat was not measured: {refusal.sentence()}" for refusal in refused))


def _budget(words: str, figure: Figure) -> Budget:
    """Return the largest contributions and the rest taken together, as lengths of bars."""
    ordered = sorted((item for item in figure.budget if item.u > 0), key=lambda item: -item.u)
    few, rest = ordered[:SHOWN_SHARES], ordered[SHOWN_SHARES:]
    if rest:
        together = math.hypot(*(item.u for item in rest))
        few.append(BudgetItem(source=f"{len(rest)} smaller ones together", u=together))
    whole = max(figure.u, *(item.u for item in few)) if few else 1.0
    return Budget(words, figure.u, tuple(Share(item.source, item.u, item.u / whole) for item in few))


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
