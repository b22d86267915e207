"""What the page shows of a job, as plain objects that the templates only set out."""

from __future__ import annotations

from dataclasses import dataclass

from hubsight.job.double_check import Check
from hubsight.measure.first_look import still_missing
from hubsight.model.catalogue import FIGURE_WORDS, SIDE_WORDS
from hubsight.model.figure import Figure
from hubsight.model.hub import FIGURE_WORDS as HUB_FIGURE_WORDS
from hubsight.model.refusal import Refusal
from hubsight.model.side import FigureName
from hubsight.model.stated import SideName
from hubsight.page.bench import JobState, PhotoState
from hubsight.page.form import CALIPER, Field, caliper_fields, side_fields
from hubsight.page.jobs import MOST_PHOTOS, SIDES
from hubsight.show.words import found_words, reasons_once, warnings_once

ORDER: tuple[FigureName, ...] = (
    "spoke_offset",
    "flange_diameter",
    "centre_to_flange",
    "boss_width",
    "boss_width_across",
    "protrusion",
    "reach",
    "spoke_offset_by_width",
    "flange_height",
    "over_locknut",
)
STILL_MM = 0.005
"""A figure that moves less than this did not move."""


@dataclass(frozen=True)
class FigureLine:
    """One line of the table of figures.

    Attributes
    ----------
    words, figure
        Its name and itself.
    moved
        By how much the last correction moved it, mm; None if it did not.
    caliper
        Where its caliper reading is typed, with what is typed there.
    check
        What the reading says.
    """

    words: str
    figure: Figure
    moved: float | None = None
    caliper: tuple[Field, str] | None = None
    check: Check | None = None


@dataclass(frozen=True)
class SideView:
    """What is shown of one side.

    Attributes
    ----------
    name, words
        Of the side.
    photos
        In order.
    missing
        Which photos the set still lacks.
    measured
        Whether there are figures.
    lines, warnings, advice, refusals, by_hand, reasons
        What came out; the reasons say why figures are not better known.
    found
        What was found, in a sentence.
    more
        Further fields of the side.
    """

    name: SideName
    words: str
    photos: list[PhotoState]
    missing: tuple[str, ...]
    lines: list[FigureLine]
    length: Figure | None
    length_moved: float | None
    warnings: list[str]
    advice: list[str]
    refusals: list[str]
    by_hand: tuple[str, ...]
    reasons: list[str]
    found: str
    more: tuple[Field, ...]
    can_undo: bool
    most: int = MOST_PHOTOS

    @property
    def measured(self) -> bool:
        """Whether there are figures."""
        return bool(self.lines)


def side_views(state: JobState, values: dict[str, str]) -> list[SideView]:
    """Return what is shown of both sides."""
    return [_side_view(state, side, values) for side in SIDES]


def _side_view(state: JobState, side: SideName, values: dict[str, str]) -> SideView:
    photos = state.side_photos(side)
    looks = [p.looked.look for p in photos if p.looked is not None and p.looked.look is not None]
    measured = state.measured_side(side)
    found = None if measured is None else measured.measurement
    lengths = None if measured is None else measured.spoke_lengths
    refusals: list[Refusal | None] = (
        [] if measured is None else [measured.refusal, measured.spoke_lengths_refusal]
    )
    refusals += () if found is None else found.refusals
    warnings = [] if found is None else warnings_once(found.warnings, found.figures, FIGURE_WORDS)
    return SideView(
        name=side,
        words=SIDE_WORDS[side],
        photos=photos,
        missing=still_missing(looks),
        lines=_lines(state, side, values),
        length=None if lengths is None else lengths.length,
        length_moved=_length_moved(state, side),
        warnings=list(dict.fromkeys((*warnings, *(() if lengths is None else lengths.warnings)))),
        advice=[] if found is None else list(found.advice),
        refusals=[r.sentence() for r in refusals if r is not None],
        by_hand=() if found is None else found.placed_by_hand,
        reasons=[] if found is None else reasons_once(found.figures, FIGURE_WORDS),
        found="" if measured is None else found_words(measured),
        more=side_fields(side),
        can_undo=bool(state.undo[side]),
    )


@dataclass(frozen=True)
class HubView:
    """What is shown of the whole hub: figures, how the photo sets agree, and what is wrong."""

    lines: list[FigureLine]
    notes: tuple[str, ...]
    warnings: list[str]


def hub_view(state: JobState) -> HubView | None:
    """Return what is shown of the whole hub; None where no photo set shows it."""
    hub = None if state.outcome is None or state.outcome.measured is None else state.outcome.measured.hub
    if hub is None:
        return None
    return HubView(
        lines=[FigureLine(HUB_FIGURE_WORDS[name], figure) for name, figure in hub.figures.items()],
        notes=hub.notes,
        warnings=warnings_once(hub.warnings, hub.figures, HUB_FIGURE_WORDS),
    )


def _lines(state: JobState, side: SideName, values: dict[str, str]) -> list[FigureLine]:
    measured, before = state.measured_side(side), state.measured_side(side, before=True)
    if measured is None or measured.measurement is None:
        return []
    figures = measured.measurement.figures
    old = {} if before is None or before.measurement is None else before.measurement.figures
    checks = {check.reading: check for check in measured.caliper_checks}
    fields = caliper_fields(side)
    return [
        FigureLine(
            words=FIGURE_WORDS[name],
            figure=figures[name],
            moved=_moved(figures[name], old.get(name)),
            caliper=(fields[name], values.get(fields[name].name, "")) if name in CALIPER else None,
            check=checks.get(name),
        )
        for name in ORDER
        if name in figures
    ]


def _moved(now: Figure, before: Figure | None) -> float | None:
    if before is None or abs(now.value - before.value) < STILL_MM:
        return None
    return now.value - before.value


def _length_moved(state: JobState, side: SideName) -> float | None:
    now, before = state.measured_side(side), state.measured_side(side, before=True)
    if now is None or before is None or now.spoke_lengths is None or before.spoke_lengths is None:
        return None
    return _moved(now.spoke_lengths.length, before.spoke_lengths.length)
