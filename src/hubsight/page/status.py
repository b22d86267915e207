"""The one line that says where a job stands: what is done, what blocks, and what to do next."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from hubsight.measure.first_look import FirstLook, still_missing
from hubsight.model.agreement import Question
from hubsight.model.catalogue import SIDE_WORDS
from hubsight.model.result import JobResult
from hubsight.model.stated import SETS, SIDES, SetName, SideName
from hubsight.model.verdict import Reason, VerdictWord
from hubsight.page.form import Typed
from hubsight.page.links import Link, field_id, link_of, link_of_field
from hubsight.page.state import JobState
from hubsight.page.words import said_here
from hubsight.show.view import VERDICT_WORDS

StepState = Literal["done", "missing", "doubtful", ""]
STATE_WORDS: dict[StepState, str] = {
    "done": "done",
    "missing": "something is missing",
    "doubtful": "look at it again",
    "": "not begun",
}
"""What the states of a step are called."""
LEAST_PHOTOS = 2
"""Photos of a side from which it can be measured without stated heights."""


@dataclass(frozen=True)
class Next:
    """The one thing to do next: a button's words, and where it leads or what it does."""

    words: str
    link: Link | None = None
    do: Literal["measure", "write-report", "open-report", ""] = ""


@dataclass(frozen=True)
class Shown:
    """A reason of the verdict, as the page shows it."""

    sentence: str
    severity: str
    link: Link


@dataclass(frozen=True)
class Asked:
    """A question that waits for an answer: a mark, or the photos."""

    side: SetName
    photo: str
    file: str
    question: Question


@dataclass(frozen=True)
class Status:
    """Where a job stands.

    Attributes
    ----------
    done, when
        What is done, and when it was measured.
    blocks
        What keeps from going on; empty where nothing does.
    blocks_link
        Where that is.
    next
        What to do; None while something is being done.
    steps
        The state of each step.
    word, heading
        The verdict; None before anything was measured.
    reasons, notes
        Of the verdict.
    questions
        That wait for an answer.
    """

    done: str
    when: str
    blocks: str
    blocks_link: Link | None
    next: Next | None
    steps: dict[str, StepState]
    word: VerdictWord | None = None
    heading: str = ""
    reasons: tuple[Shown, ...] = ()
    notes: tuple[Shown, ...] = ()
    questions: tuple[Asked, ...] = ()


def status_of(state: JobState, typed: Typed) -> Status:
    """Return where a job stands.

    Parameters
    ----------
    state
        The job.
    typed
        What is stated.
    """
    result = None if state.outcome is None else state.outcome.measured
    questions = tuple(_questions(state))
    shown = () if result is None else tuple(_shown(r, state) for r in result.verdict.reasons)
    word = None if result is None else result.verdict.word
    unsettled = _unsettled(state)
    if word == "order" and unsettled:
        word = "check"
    blocks, link, following = _what_next(state, typed, questions)
    heading = "" if word is None else VERDICT_WORDS[word]
    return Status(
        done=_done(state)[0],
        when=_done(state)[1],
        blocks=blocks,
        blocks_link=link,
        next=None if state.doing else following,
        steps=_steps(state, typed, questions),
        word=word,
        heading=f"{heading}; {unsettled}" if heading and unsettled else heading,
        reasons=tuple(s for s in shown if s.severity != "note"),
        notes=tuple(s for s in shown if s.severity == "note"),
        questions=questions,
    )


def _unsettled(state: JobState) -> str:
    """Say why the verdict is not the last word yet; empty if it is."""
    if not state.of_now:
        return "measured before the last change"
    return "looking once more" if state.outcome is not None and state.outcome.provisional else ""


def _shown(reason: Reason, state: JobState) -> Shown:
    return Shown(said_here(reason), reason.severity, link_of(reason, state))


def _asked_of(state: JobState, photos: SetName) -> tuple[Question, ...]:
    if photos == "lying":
        return () if state.lying is None else state.lying.questions
    measured = state.measured_side(photos)
    found = None if measured is None else measured.measurement
    return () if found is None else found.agreement.questions


def _questions(state: JobState) -> Iterator[Asked]:
    for side in SETS:
        own = {photo.file.path.name: photo.file.id for photo in state.side_photos(side)}
        for question in _asked_of(state, side):
            if question.photo in own:
                yield Asked(side, own[question.photo], question.photo, question)


def _done(state: JobState) -> tuple[str, str]:
    """Return what is done, and when it was measured."""
    if state.hub:
        return f"Hub of the job “{Path(state.hub).name}”", ""
    counts = [(side, len(state.side_photos(side))) for side in SIDES]
    if not any(count for _, count in counts):
        return "Nothing done yet", ""
    photos = ", ".join(
        f"{SIDE_WORDS[side].lower()} {count} photo{'' if count == 1 else 's'}"
        for side, count in counts
        if count
    )
    measured = [side for side in SIDES if (m := state.measured_side(side)) is not None and m.measurement]
    words = "both sides" if len(measured) == len(SIDES) else "".join(SIDE_WORDS[s].lower() for s in measured)
    when = "" if state.measured_at is None else f"{state.measured_at.astimezone():%d %B %Y, %H:%M}"
    done = f"{photos[:1].upper()}{photos[1:]}"
    return (f"{done}; {words} measured", when) if measured else (done, "")


def _what_next(
    state: JobState, typed: Typed, questions: tuple[Asked, ...]
) -> tuple[str, Link | None, Next | None]:
    """Return what blocks, where, and what to do next: the first of these that applies."""
    photos = None if state.hub else _of_photos(state)
    for found in (photos, _of_measuring(state, typed), _of_wheel(state, typed, questions)):
        if found is not None:
            return found
    if state.reported:
        return "", None, Next("Open the report", do="open-report")
    return "", None, Next("Write the report", do="write-report")


Found = tuple[str, Link | None, Next | None]


def _of_photos(state: JobState) -> Found | None:
    """Return what the photos still lack, while nothing is measured of them."""
    if not state.photos:
        link = Link("photos", "files-drive")
        return "There are no photos yet", link, Next("Add photos of the drive side", link)
    if any(p.looked is None and not p.trouble for p in state.photos.values()):
        return "Photos are being looked at", Link("photos"), None
    bad = next((p for p in state.photos.values() if p.trouble), None)
    if bad is not None and state.outcome is None:
        words = f"{bad.file.path.name} cannot be used"
        return words, Link("photos"), Next("Look at it, and take it again", Link("photos"))
    if state.outcome is not None:
        return None
    for side in SIDES:
        missing = still_missing(_looks(state, side)) if state.side_photos(side) else ()
        if missing and len(state.side_photos(side)) < LEAST_PHOTOS:
            link = Link("photos", f"files-{side}")
            words = f"{SIDE_WORDS[side]}: {missing[0][:1].lower()}{missing[0][1:]}"
            return words, link, Next(f"Add photos of the {SIDE_WORDS[side].lower()}", link)
    return None


def _looks(state: JobState, side: SideName) -> list[FirstLook]:
    return [
        p.looked.look for p in state.side_photos(side) if p.looked is not None and p.looked.look is not None
    ]


def _of_measuring(state: JobState, typed: Typed) -> Found | None:
    """Return what keeps from measuring, or from believing what was measured."""
    gauge = None if state.hub else typed.without_length()
    if gauge is not None:
        link = Link("photos", field_id(f"gauges.{gauge}.length", "p"))
        name = "gauge" if len(typed.gauges) == 1 else f"gauge {gauge}"
        return f"The {name}'s length is missing", link, Next(f"State the {name}'s length", link)
    if len(typed.gauges) > 1 and not state.hub:
        for side in SIDES:
            if state.side_photos(side) and not typed.values.get(f"sides.{side}.gauges"):
                link = Link("photos", field_id(f"sides.{side}.gauges", "p"))
                words = f"{SIDE_WORDS[side]}: it is not said which gauge is in these photos"
                return words, link, Next("Choose the gauge", link)
    if state.outcome is None:
        return ("", None, Next("Take the hub's figures", do="measure")) if state.hub else _begin(state)
    if state.outcome.problems:
        field = state.outcome.fields[0] if state.outcome.fields else ""
        link = (link_of_field(field) if field else None) or Link("photos")
        return state.outcome.problems[0], link, Next("Mend it", link)
    if not state.of_now:
        return "Something was changed since this was measured", None, Next("Measure again", do="measure")
    return None


def _begin(state: JobState) -> Found:
    other = next((side for side in SIDES if not state.side_photos(side)), None)
    if other is not None:
        link = Link("photos", f"files-{other}")
        side = SIDE_WORDS[other].lower()
        words = f"The {side} has no photos yet: turn the hub over, or measure one side below"
        return words, link, Next(f"Add photos of the {side}", link)
    return "", None, Next("Measure the photos", do="measure")


def _of_wheel(state: JobState, typed: Typed, questions: tuple[Asked, ...]) -> Found | None:
    """Return what keeps from ordering."""
    result = None if state.outcome is None else state.outcome.measured
    if result is None:
        return None
    if questions:
        link = Link("look", "question-0", photo=questions[0].photo, at=_place(questions[0].question))
        return "A mark and the photos contradict each other", link, Next("Answer which is right", link)
    for side in result.sides:
        if side.refusal is not None:
            first = next(iter(state.side_photos(side.name)), None)
            link = Link("look", photo="" if first is None else first.file.id)
            return f"{SIDE_WORDS[side.name]}: {side.refusal.reason}", link, Next("Look at its photos", link)
    for field, words in (("rim.erd", "ERD of the rim"), ("wheel.spokes", "number of spokes")):
        if not typed.values.get(field) and not _by_kit(field, result, typed):
            link = Link("wheel", field_id(field))
            return f"The {words} is missing", link, Next(f"State the {words}", link)
    grave = next((r for r in result.verdict.reasons if r.severity != "note"), None)
    if grave is None:
        return None
    link = link_of(grave, state)
    remedy = grave.remedy.rstrip(".").partition(";")[0].partition(", ")[0]
    short = remedy if len(remedy) <= 44 else "See what to check"
    return (
        grave.sentence,
        link,
        Next(said_here(grave.model_copy(update={"sentence": "", "remedy": short}))[2:-1], link),
    )


def _by_kit(field: str, result: JobResult, typed: Typed) -> bool:
    """Tell whether a rim of the kit, or another way of stating it, says what a field leaves out."""
    if field == "rim.erd":
        return result.wheel is not None
    return bool(typed.values.get("rim.kit") and result.order)


def _place(question: Question) -> Literal["end", "bosses", ""]:
    return "end" if question.mark in ("end", "axis") else "bosses"


def _steps(state: JobState, typed: Typed, questions: tuple[Asked, ...]) -> dict[str, StepState]:
    result = None if state.outcome is None else state.outcome.measured
    doubted = set[str]()
    if result is not None:
        doubted = {link_of(r, state).step for r in result.verdict.reasons if r.severity != "note"}
        if questions or any(side.refusal is not None for side in result.sides):
            doubted.add("look")
    seen: StepState = "" if result is None else "done"
    counted = result is not None and (
        bool(typed.values.get("wheel.spokes")) or _by_kit("wheel.spokes", result, typed)
    )
    planned = result is not None and result.wheel is not None and counted
    states: dict[str, StepState] = {
        "sheet": seen if state.hub else _of_sheet(typed),
        "photos": seen if state.hub else _of_sets(state),
        "look": seen,
        "figures": seen,
        "wheel": "missing" if seen and not planned else seen,
        "report": "done" if state.reported and state.of_now else "",
    }
    return {step: "doubtful" if step in doubted and now == "done" else now for step, now in states.items()}


def _of_sheet(typed: Typed) -> StepState:
    if typed.without_length() is not None:
        return "missing"
    bars = [typed.values.get(f"target.{bar}") for bar in ("bar_x", "bar_y")]
    return "done" if all(bars) or typed.values.get("target.kit") else "doubtful"


def _of_sets(state: JobState) -> StepState:
    if not state.photos:
        return "missing"
    complete = all(not still_missing(_looks(state, side)) for side in SIDES)
    return "done" if complete and not any(p.trouble for p in state.photos.values()) else "doubtful"
