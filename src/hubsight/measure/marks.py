"""Marks by hand that photos contradict, or that move figures: each is a question, figures hold both answers.

A mark further from what the photos show than both uncertainties explain was left out by
`hubsight.measure.adjust.judged`. One that goes with the photos, but is surer than they are, may still take a
figure further than the figure's own uncertainty: it counts, and it is asked about.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from hubsight.measure.adjust.judged import Conflict
from hubsight.measure.doubt import Doubt
from hubsight.measure.settle import corrected, restated
from hubsight.measure.side_figures import side_measurement
from hubsight.measure.sightings import Sightings
from hubsight.model.agreement import Question
from hubsight.model.catalogue import OF_SIDE, figure_words
from hubsight.model.corrections import (
    EDGE_WORDS,
    MARKS_DISAGREE,
    NO_CORRECTIONS,
    Mark,
    MarkKind,
    PlacedEdge,
    index_of,
    kind_of,
)
from hubsight.model.figure import Figure
from hubsight.model.refusal import Refusal
from hubsight.model.side import FigureName
from hubsight.model.verdict import Reason, Severity

Figures = dict[FigureName, Figure]

SHOWS: dict[MarkKind, FigureName] = {
    "end": "spoke_offset",
    "axis": "spoke_offset",
    "face": "boss_width",
    "centreline": "spoke_offset",
    "end_face": "over_locknut",
    "rim": "flange_diameter",
    "flange": "centre_to_flange",
}
"""The figure by which a mark that contradicts the photos is asked about."""
MARK_WORDS: dict[MarkKind, str] = {
    "end": "the gauge's end",
    "axis": "the gauge's axis",
    "face": "a boss face",
    "centreline": "a boss centreline",
    "end_face": EDGE_WORDS["end_face"],
    "rim": EDGE_WORDS["rim"],
    "flange": EDGE_WORDS["flange"],
}
"""What a mark is placed on."""
HARDLY = 0.3
"""A mark that moves its figure by less than this share of the uncertainty need not be asked about."""
MOVES_U = 1.0
"""A mark that moves any figure by more standard uncertainties than this is asked about; raising it lets more
marks speak for themselves."""


@dataclass(frozen=True)
class AskedMark:
    """A mark that is asked about: the question, and the doubt that stands until it is answered."""

    question: Question
    doubt: Doubt


def asked_marks(seen: Sightings, figures: Figures, *, thorough: bool = True) -> list[AskedMark]:
    """Return the marks of a side that are to be asked about.

    Parameters
    ----------
    seen, figures
        A side, and its figures.
    thorough
        Whether those are looked for that go with the photos but move figures: each adjusts everything anew.
    """
    asked = [_of_conflict(seen, conflict, figures) for conflict in seen.marks.conflicts]
    return [*asked, *_that_move(seen, figures)] if thorough else asked


def _of_conflict(seen: Sightings, conflict: Conflict, figures: Figures) -> AskedMark:
    """Ask which is right where a mark that was left out contradicts the photos."""
    mark = conflict.mark
    answered = seen.stated.side.corrections.answered(mark, "mark")
    by_mark = _values(restated(seen, seen.stated.with_corrections(answered)))
    name = SHOWS[kind_of(mark)]
    question = _question(
        mark,
        conflict.sigmas,
        conflict.photos,
        name,
        by_mark=by_mark.get(name),
        by_photos=figures.get(name),
    )
    told = _of_what_was_left_out(question, figures.get(name))
    return AskedMark(question, _doubt(seen, question, told, by_mark, figures))


def _of_what_was_left_out(one: Question, figure: Figure | None) -> tuple[Severity, str]:
    what = f"{MARK_WORDS[one.mark]} in {one.photo}"
    far = f"your mark lies {one.sigmas:.0f} times its uncertainty from what the photos show, and was left out"
    if one.by_mark is None or figure is None:
        return "check", f"{what}: {far}; if it is right, these photos give no figures"
    if abs(one.by_mark - figure.value) < HARDLY * figure.u:
        return "note", f"{what}: {far}; the figures hardly hang on it"
    return "check", _which(one)


def _that_move(seen: Sightings, figures: Figures) -> list[AskedMark]:
    """Ask about marks that count and move a figure by more than its uncertainty without them."""
    corrections = seen.stated.side.corrections
    if corrections.bosses is not None or seen.by_hand != NO_CORRECTIONS:
        return []  # without the marks there would be nothing to compare with
    open_ones = [
        mark
        for mark in seen.marks.believed.marks()
        if mark.photo in seen.files and corrections.believed(mark) is None
    ]
    if not open_ones or _most_moved(_without(seen, open_ones), figures) is None:
        return []
    asked = []
    for mark in open_ones:
        together = corrections.together(mark) if isinstance(mark, PlacedEdge) else (mark,)
        if mark != together[0]:
            continue
        without = _without(seen, together)
        name = _most_moved(without, figures, first=SHOWS[kind_of(mark)])
        if name is None:
            continue
        sigmas = abs(figures[name].value - without[name].value) / without[name].u
        question = _question(mark, sigmas, seen.files, name, by_mark=figures[name], by_photos=without[name])
        asked.append(
            AskedMark(question, _doubt(seen, question, ("check", _which(question)), without, figures))
        )
    return asked


def _without(seen: Sightings, marks: Sequence[Mark]) -> Figures:
    return _figures(corrected(seen, seen.stated.side.corrections.without_marks(marks)))


def _figures(seen: Sightings | Refusal) -> Figures:
    measured = seen if isinstance(seen, Refusal) else side_measurement(seen)
    return {} if isinstance(measured, Refusal) else measured.figures


def _values(seen: Sightings | Refusal) -> Figures:
    """Return figures of which only the values are of use."""
    return _figures(seen if isinstance(seen, Refusal) else seen.without_budget())


def _most_moved(before: Figures, after: Figures, first: FigureName | None = None) -> FigureName | None:
    """Return the figure that moves most, in its uncertainty before; ``first`` if that moves enough, too."""
    moves = {
        name: abs(after[name].value - figure.value) / figure.u
        for name, figure in before.items()
        if name in after
    }
    enough = [name for name, move in moves.items() if move > MOVES_U]
    if first in enough:
        return first
    return max(enough, key=lambda name: moves[name], default=None)


def _question(
    mark: Mark,
    sigmas: float,
    photos: Sequence[str],
    name: FigureName,
    *,
    by_mark: Figure | None,
    by_photos: Figure | None,
) -> Question:
    return Question(
        photo=mark.photo,
        mark=kind_of(mark),
        index=index_of(mark),
        sigmas=sigmas,
        figure=name,
        by_mark=None if by_mark is None else by_mark.value,
        by_photos=None if by_photos is None else by_photos.value,
        photos=tuple(photo for photo in photos if photo != mark.photo),
    )


def _which(one: Question) -> str:
    """Ask which is right, the mark or the photos."""
    photos = f"{len(one.photos)} photos say" if len(one.photos) > 1 else "the photo says"
    by_mark = f"{_words(one.figure)} {one.by_mark:.2f} mm"
    return (
        f"{MARK_WORDS[one.mark]} in {one.photo}: your mark makes the {by_mark}, {photos} {one.by_photos:.2f}:"
        " which is right?"
    )


def _words(figure: str) -> str:
    return figure_words(next(name for name in OF_SIDE if name == figure))


def _doubt(
    seen: Sightings, question: Question, told: tuple[Severity, str], other: Figures, figures: Figures
) -> Doubt:
    """Return the doubt of a mark, told so; figures hold what they would be by the other answer."""
    severity, sentence = told
    about = f"{seen.side.name}.photos.{question.photo}"
    remedy = "Look at the mark again: move it, take it away, or say that it is right"
    reason = Reason(sentence=sentence, remedy=remedy, about=about, severity=severity)
    instead = {str(name): figure.value for name, figure in other.items() if name in figures}
    return Doubt(reason, instead, MARKS_DISAGREE)
