"""What the page shows of a job, as plain objects that the templates only set out."""

from __future__ import annotations

from dataclasses import dataclass

from hubsight.job import JobFileError
from hubsight.job.file.corrections import read_corrections
from hubsight.measure.first_look import still_missing
from hubsight.measure.marks import MARK_WORDS
from hubsight.model.catalogue import OF_SIDE, SIDE_WORDS, FigureName
from hubsight.model.corrections import Answer, index_of, kind_of
from hubsight.model.figure import Figure
from hubsight.model.result import Check
from hubsight.model.stated import SETS, SIDES, SetName, SideName
from hubsight.page.fields import Field, caliper_fields, side_fields
from hubsight.page.jobs import MOST_PHOTOS
from hubsight.page.state import JobState, PhotoState
from hubsight.page.words import plain
from hubsight.show.marks import HANGS_ON
from hubsight.show.view import SideView

STILL_MM = 0.005
"""A figure that moves less than this did not move."""


@dataclass(frozen=True)
class FigureLine:
    """One line of the table of figures.

    Attributes
    ----------
    name, words, figure
        Its name, as a person reads it, and itself.
    moved
        By how much the last correction moved it, mm; None if it did not.
    caliper
        Where its caliper reading is typed, with what is typed there.
    check
        What the reading says.
    """

    name: FigureName
    words: str
    figure: Figure
    moved: float | None = None
    caliper: tuple[Field, str] | None = None
    check: Check | None = None

    @property
    def drawn(self) -> bool:
        """Whether the drawing dimensions it."""
        return bool(OF_SIDE[self.name].on_drawing)

    @property
    def hangs(self) -> str:
        """The marks over a photo that it hangs on."""
        return " ".join(HANGS_ON.get(self.name, ()))


@dataclass(frozen=True)
class PageSide:
    """What the page shows of one side.

    Attributes
    ----------
    name, words
        Of the side.
    view
        What every place shows of it; None where nothing was measured yet.
    photos
        In order.
    missing
        Which photos the set still lacks.
    lines
        Of the table of figures.
    length_moved
        By how much the last correction moved the spoke length, mm.
    more
        Further fields of the side.
    refused
        Why there are no figures of it, or not all.
    """

    name: SideName
    words: str
    view: SideView | None
    photos: list[PhotoState]
    missing: tuple[str, ...]
    lines: list[FigureLine]
    length_moved: float | None
    more: tuple[Field, ...]
    refused: tuple[str, ...] = ()
    most: int = MOST_PHOTOS

    @property
    def measured(self) -> bool:
        """Whether there are figures."""
        return bool(self.lines)

    @property
    def length(self) -> Figure | None:
        """Spoke length."""
        lengths = None if self.view is None else self.view.lengths
        return None if lengths is None else lengths.length


def page_sides(state: JobState, views: tuple[SideView, ...], values: dict[str, str]) -> list[PageSide]:
    """Return what is shown of both sides."""
    of_side = {view.name: view for view in views}
    return [_page_side(state, side, of_side.get(side), values) for side in SIDES]


def _page_side(state: JobState, side: SideName, view: SideView | None, values: dict[str, str]) -> PageSide:
    photos = state.side_photos(side)
    looks = [p.looked.look for p in photos if p.looked is not None and p.looked.look is not None]
    return PageSide(
        name=side,
        words=SIDE_WORDS[side],
        view=view,
        photos=photos,
        missing=still_missing(looks),
        lines=[] if view is None else _lines(state, view, values),
        length_moved=_length_moved(state, side),
        more=side_fields(side),
        refused=_refused(state, side),
    )


@dataclass(frozen=True)
class Answered:
    """An answer to the question whether a mark or the photos are right, which can be taken back."""

    side: SetName
    photo: str
    answer: Answer
    sentence: str


def answered(state: JobState) -> list[Answered]:
    """Return what somebody answered of marks that are still there."""
    try:
        corrections = read_corrections(state.folder)
    except JobFileError:
        return []
    out = []
    for side in SETS:
        own = corrections.of(side)
        photos = {photo.file.path.name: photo.file.id for photo in state.side_photos(side)}
        for mark in own.marks():
            believed = own.believed(mark)
            if believed is None or mark.photo not in photos:
                continue
            kind, index = kind_of(mark), index_of(mark)
            answer = next(a for a in own.answers if (a.photo, a.mark, a.index) == (mark.photo, kind, index))
            right = "your mark is" if believed == "mark" else "the photos are"
            sentence = f"{mark.photo}, {MARK_WORDS[kind]}: you said that {right} right."
            one = Answered(side, photos[mark.photo], answer, sentence)
            out += [] if one in out else [one]  # an edge's points are answered together
    return out


def _refused(state: JobState, side: SideName) -> tuple[str, ...]:
    """Return why a side's figures, or some of them, are not there."""
    measured = state.measured_side(side)
    if measured is None:
        return ()
    found = measured.measurement
    refusals = (measured.refusal, *(() if found is None else found.refusals))
    return tuple(plain(refusal.sentence()) for refusal in refusals if refusal is not None)


def _lines(state: JobState, view: SideView, values: dict[str, str]) -> list[FigureLine]:
    before = state.measured_side(view.name, before=True)
    old = {} if before is None or before.measurement is None else before.measurement.figures
    checks = {check.reading: check for check in view.checks}
    fields, elsewhere = caliper_fields(view.name), bool(state.hub)
    return [
        FigureLine(
            name=name,
            words=row.words,
            figure=row.figure,
            moved=_moved(row.figure, next((f for name, f in old.items() if name == row.name), None)),
            caliper=(fields[row.name], values.get(fields[row.name].name, ""))
            if row.name in fields and not elsewhere
            else None,
            check=checks.get(row.name),
        )
        for row in view.rows
        for name in OF_SIDE
        if name == row.name
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
