"""The verdict on a job and on each of its sides: order, check or stop, gathered from its one result.

Whether a doubt bears on the order follows from the wheel: an error that leaves the spoke's end inside of the
nipple's window is a note, whatever figure it is in. Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import replace
from itertools import chain

from hubsight.job.bearing import (
    TYPICAL_ROOM_MM,
    Bearing,
    bearing,
    half_width,
    how_far_astray,
    offset_confirmed,
    u_by_hand,
)
from hubsight.job.checks import figures_seen
from hubsight.job.close_calls import CloseCalls, close_calls
from hubsight.job.confirmed import unconfirmed
from hubsight.job.file.load import Job
from hubsight.job.joint.weigh import SURE
from hubsight.job.joint.words import MATTERS_MM, is_named
from hubsight.job.proved import proved
from hubsight.measure.hub_figures import apart
from hubsight.model.catalogue import OF_HUB, OF_SIDE, SIDE_WORDS, entry_of, figure_words
from hubsight.model.joint import JointTest
from hubsight.model.lengths import LengthChoice, PlannedWheel
from hubsight.model.refusal import Refusal
from hubsight.model.result import Check, HandResult, JobResult, MeasuredSide
from hubsight.model.stated import Reading, SideName
from hubsight.model.uncertainty import CONTRADICTS_E_N, COVERAGE_FACTOR, chance_limit, normalised_error
from hubsight.model.verdict import Reason, Severity, Verdict
from hubsight.wheel.rim import UNEVEN

MAKES_THE_LENGTH = (
    "protrusion",
    "boss_width",
    "boss_width_across",
    "reach",
    "spoke_offset",
    "flange_diameter",
    "centre_to_flange",
)
"""Readings by hand that make offset and length: a slip that is known in one of them explains another."""

BY_HAND_TESTS = 2
"""Results by hand that are compared with the photos' on one side: its offset and its length."""

POOR_FIT = 0.2
"""Risk of the proposed length above which another nipple or length is worth a thought."""


def with_verdict(result: JobResult, job: Job | None = None) -> JobResult:
    """Return a job's result with the verdict on each side and on the job.

    Lines of the order go where the verdict is to stop: on their side, or on the job as a whole.

    Parameters
    ----------
    result
        Complete but for the verdict.
    job
        What is stated; without it, for records of older versions, the result alone is judged.
    """
    by_side: dict[str, list[Reason]] = {side.name: [] for side in result.sides}
    of_job: list[Reason] = []
    close = close_calls(result)
    asked = {reason.about for reason in close.reasons}
    for place, reason in all_reasons(result, job, asked):
        by_side.get(place, of_job).append(reason)
    for name in close.sides:
        by_side[name] += close.reasons
    sides = tuple(
        side.model_copy(update={"verdict": Verdict.of(by_side[side.name])}) for side in result.sides
    )
    verdict = Verdict.of([*close.reasons, *of_job, *(r for side in sides for r in _named(side, close))])
    stopped = {side.name for side in sides if side.verdict.word == "stop"}
    if any(reason.severity == "stop" for reason in of_job):
        stopped = {side.name for side in sides}
    return result.model_copy(
        update={"sides": sides, "verdict": verdict, "wheel": _without(result.wheel, stopped)}
    )


def _side_of(about: str) -> str:
    """Return the side that a path is about: ``drive.reach``, or ``sides.drive.crosses``, a field."""
    parts = about.split(".")
    return parts[1] if parts[0] == "sides" and len(parts) > 1 else parts[0]


def all_reasons(
    result: JobResult, job: Job | None, asked: Collection[str] = ()
) -> Iterator[tuple[str, Reason]]:
    """Yield every reason but the close calls, each with what it is about: a side, or something else.

    ``asked`` are paths of readings that close calls ask for: that nothing confirms them goes without saying.
    """
    statements: Iterable[Reason] = () if job is None else about_statements(result, job, asked)
    for side in result.sides:
        blamed = {
            refusal.about for refusal in (side.refusal, side.spoke_lengths_refusal) if refusal is not None
        }
        for reason in of_side(side, explained=_explained(side.name, result.joint)):
            yield side.name if reason.about in blamed else _side_of(reason.about), reason
    for reason in chain(of_the_whole(result), statements):
        yield _side_of(reason.about), reason


def _explained(side: SideName, test: JointTest | None) -> bool:
    """Tell whether one slip that all readings together name explains another offset and length by hand."""
    best = None if test is None else test.best
    if test is None or best is None or best.probability < SURE or not is_named(test, best):
        return False
    return abs(best.lengths.get(side, 0.0)) >= MATTERS_MM


def about_statements(result: JobResult, job: Job, asked: Collection[str] = ()) -> tuple[Reason, ...]:
    """Return what all readings and proofs together say of what is stated, and what nothing confirms."""
    lying = None if result.lying is None else result.lying.measurement
    found = () if result.joint is None else result.joint.reasons
    proof = proved(job)
    known = {*asked, *proof.paths}
    if result.flat is not None and result.flat.scale is not None:
        known.add("target")
    return (*found, *proof.reasons, *unconfirmed(job, result.sides, lying, proved=known))


def _named(side: MeasuredSide, close: CloseCalls) -> Iterator[Reason]:
    """Yield a side's reasons for the job's verdict, with the side in front."""
    for reason in side.verdict.reasons:
        if reason not in close.reasons:
            sentence = f"{SIDE_WORDS[side.name].lower()}: {reason.sentence}"
            yield reason.model_copy(update={"sentence": sentence})


def _without(wheel: PlannedWheel | None, stopped: set[SideName]) -> PlannedWheel | None:
    if wheel is None or not stopped:
        return wheel
    order = tuple(line for line in wheel.order if line.side not in stopped)
    return wheel.model_copy(update={"order": order, "own_stock": None})


def of_side(side: MeasuredSide, *, explained: bool = False) -> Iterator[Reason]:
    """Yield every reason that one side's own result gives.

    ``explained`` tells whether a slip is known that explains other results by hand.
    """
    bears = bearing(side)
    yield from _refused(side)
    if side.measurement is not None:
        yield from (_bearing_on(doubt, side, bears) for doubt in side.measurement.doubts)
        yield from _warned(side, bears)
    yield from _stated_centre(side, bears)
    for check in side.caliper_checks:
        yield from _checked(check, bears, confirmed=offset_confirmed(side))
    for one in side.arithmetic:
        yield from _by_hand(one, side, bears, explained=explained)
    lengths = side.spoke_lengths
    if lengths is not None:
        about = f"{side.name}.spoke_length"
        for text in lengths.warnings:
            yield Reason(sentence=text, remedy="Settle it before ordering", about=about, severity="check")
        yield from lengths.doubts
        for text in lengths.notes:
            yield Reason(sentence=text, remedy="Mind it when ordering", about=about, severity="note")
        for choice in () if lengths.order is None else lengths.order.choices:
            yield from _poor_fit(choice, about)


def _refused(side: MeasuredSide) -> Iterator[Reason]:
    """Yield what was refused: without a length there is nothing to order."""
    refused = side.spoke_lengths_refusal
    without_length = side.spoke_lengths is None
    if side.refusal is not None:
        yield _of_refusal(side.refusal, f"{side.name}.photos", "stop" if without_length else "check")
    if refused is not None and refused != side.refusal:
        yield _of_refusal(refused, f"{side.name}.spoke_length", "stop")
    if side.measurement is not None:
        for part in side.measurement.refusals:
            if part != refused:
                yield _of_refusal(part, f"{side.name}.photos", "stop" if without_length else "check")
    for again in side.repeated:
        if again.refusal is not None:
            yield _of_refusal(again.refusal, f"{side.name}.repeats", "note")


def _of_refusal(refusal: Refusal, about: str, severity: Severity) -> Reason:
    where = "" if refusal.photo is None else f"{refusal.photo}: "
    return Reason(
        sentence=f"{where}{refusal.reason}",
        remedy=refusal.remedy,
        about=refusal.about or about,
        severity=severity,
    )


def _bearing_on(doubt: Reason, side: MeasuredSide, bears: Bearing) -> Reason:
    """Return a doubt about a figure as a note where all that the figure holds leaves the end in the window.

    Doubts of what lies apart widen the figure to hold both.
    """
    name = doubt.about.removeprefix(f"{side.name}.")
    figure = next((f for key, f in figures_seen(side).items() if key == name), None)
    if figure is None or doubt.severity != "check" or doubt.sentence not in figure.warnings:
        return doubt
    return doubt.model_copy(update={"severity": bears.severity(name, half_width(figure))})


def _warned(side: MeasuredSide, bears: Bearing) -> Iterator[Reason]:
    """Yield the warnings of a side and of its figures, each sentence once; doubts have said theirs.

    A warned figure may be off by more than its interval says. A sentence that several figures carry counts by
    the one that bears most; one that no figure carries may concern them all.
    """
    found = side.measurement
    if found is None:
        return
    figures, said = figures_seen(side), {doubt.sentence for doubt in found.doubts}
    carried: dict[str, list[str]] = {}
    for name, figure in figures.items():
        for text in (one for one in dict.fromkeys(figure.warnings) if one not in said):
            carried.setdefault(text, []).append(name)
    for text in dict.fromkeys((*found.warnings, *carried)):
        names = carried.get(text, [])
        if not names:
            remedy = "Settle it, or photograph the side again"
            yield Reason(sentence=text, remedy=remedy, about=f"{side.name}.photos", severity="check")
            continue
        astray = {name: how_far_astray(side, name, figures[name]) for name in names}
        # A protrusion doubted without the reach is doubted for the boss' face, which no length hangs on.
        slopes = {**bears.slopes, **({} if "reach" in names else {"protrusion": 0.0})}
        moved = {name: abs(slopes.get(name, 0.0)) * astray[name] for name in names}
        most = max(names, key=lambda name: moved[name])
        words = "" if text in found.warnings else f"{_and([figure_words(name) for name in names])}: "
        yield Reason(
            sentence=f"{words}{text}",
            remedy=entry_of(most).settle,
            about=f"{side.name}.{most}",
            severity=replace(bears, slopes=slopes).severity(most, astray[most]),
        )


def _and(words: list[str]) -> str:
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))


def _stated_centre(side: MeasuredSide, bears: Bearing) -> Iterator[Reason]:
    """Yield a reason where the length rests on a stated centre to flange that the photos contradict."""
    used = None if side.spoke_lengths is None else side.spoke_lengths.origin.figure("centre_to_flange")
    seen = None if side.measurement is None else side.measurement.figures.get("centre_to_flange")
    if used is None or seen is None or used.source == "photos" or used.per_mm is None:
        return
    if not apart(seen, Reading(used.value, used.u)):
        return
    moved = abs(used.per_mm * (used.value - seen.value))
    yield Reason(
        sentence=f"the length is for the stated centre to flange of {used.value:.2f} mm, the photos show "
        f"{seen.value:.2f} mm; that is {moved:.2f} mm of spoke",
        remedy="Measure centre to flange again, or leave it to the photos",
        about=f"{side.name}.centre_to_flange",
        severity="stop" if moved > bears.room else "note",
    )


def _checked(check: Check, bears: Bearing, *, confirmed: bool) -> Iterator[Reason]:
    """Yield a reason where a caliper reading differs from the photos' figure.

    A reading with a slip that explains it is the reading's fault; without one either may be wrong. Where the
    offset by hand is the photos' (``confirmed``), their protrusion is off with a face that it does not need.
    """
    if check.verdict not in ("doubt", "disagrees"):
        return
    beyond: Severity = "stop" if check.verdict == "disagrees" and check.slip is None else "check"
    yield Reason(
        sentence=check.sentence,
        remedy=f"Read the {figure_words(check.reading)} again",
        about=f"{check.side}.{check.reading}",
        severity="note"
        if confirmed and check.reading == "protrusion"
        else bears.severity(check.reading, check.stated - check.photo, beyond),
    )


def _by_hand(one: HandResult, side: MeasuredSide, bears: Bearing, *, explained: bool) -> Iterator[Reason]:
    """Yield a reason where arithmetic by hand does not hold, or makes something else than the photos."""
    lengths = side.spoke_lengths
    used = None if lengths is None else lengths.origin.figure(one.quantity)
    sets_the_length = used is not None and used.source != "photos"
    if one.quantity == "spoke_length":
        if lengths is not None:
            apart_by = one.value - lengths.length.value
            e_n = apart_by / (COVERAGE_FACTOR * u_by_hand(one, side))
            yield from _unlike(one, side, e_n, moves=not explained and abs(apart_by) > bears.room)
        return
    if not one.agrees:
        yield Reason(
            sentence=one.sentence,
            remedy="Work it out again from the readings",
            about=f"{one.side}.{one.quantity}",
            severity="check" if sets_the_length else "note",
        )
    seen = None if side.measurement is None else side.measurement.figures.get("spoke_offset")
    if one.quantity == "spoke_offset" and seen is not None and not sets_the_length:
        apart_by = one.value - seen.value
        half = seen.high - seen.value if apart_by > 0 else seen.value - seen.low
        e_n = normalised_error(one.value, COVERAGE_FACTOR * u_by_hand(one, side), seen.value, half)
        both = (
            f"the readings by hand make the spoke offset {one.value:.2f} mm, the photos {seen.value:.2f} mm"
        )
        told = one.model_copy(update={"sentence": both})
        moves = not explained and bears.severity("spoke_offset", apart_by) != "note"
        yield from _unlike(told, side, e_n, moves=moves)


def _unlike(one: HandResult, side: MeasuredSide, e_n: float, *, moves: bool) -> Iterator[Reason]:
    """Yield a reason where a result by hand is unlike the photos'; a slip that is known explains it.

    ``moves`` tells whether the difference takes the spoke's end out of the nipple's window, unexplained.
    """
    if abs(e_n) <= chance_limit(BY_HAND_TESTS) / COVERAGE_FACTOR:
        return
    explained = any(check.slip and check.reading in MAKES_THE_LENGTH for check in side.caliper_checks)
    beyond: Severity = "stop" if abs(e_n) > CONTRADICTS_E_N else "check"
    yield Reason(
        sentence=one.sentence,
        remedy="Read protrusion, boss width and the gauge's length again",
        about=f"{one.side}.{one.quantity}",
        severity=beyond if moves and not explained else "note",
    )


def _poor_fit(choice: LengthChoice, about: str) -> Iterator[Reason]:
    """Yield a reason where the best length that can be had may well not fit.

    Where another length is as good a close call asks for the reading that may settle both.
    """
    best = choice.proposed
    risk = best.p_too_short + best.p_too_long
    if risk > POOR_FIT:
        yield Reason(
            sentence=f"even the best length, {best.length:g} mm, may end outside of the nipple's window "
            f"({100.0 * risk:.0f} %)",
            remedy="Take other nipples, or have spokes cut to order",
            about=about,
            severity="note" if choice.close_call else "check",
        )


def of_the_whole(result: JobResult) -> Iterator[Reason]:
    """Yield every reason that concerns the job as a whole."""
    for text in result.warnings:
        yield Reason(sentence=text, remedy="Settle it before ordering", about="job", severity="check")
    for text in result.notes:
        yield Reason(sentence=text, remedy="Mind it next time", about="kit", severity="note")
    if result.left_out is not None:
        side = SIDE_WORDS[result.left_out].lower()
        yield Reason(
            sentence=f"the {side} is left out: it has neither photos nor readings",
            remedy="Add its photos, or readings by hand, before you order for it",
            about=f"sides.{result.left_out}.photos",
            severity="note",
        )
    if result.lying is not None and result.lying.refusal is not None:
        yield _of_refusal(result.lying.refusal, "lying.photos", "note")
    yield from _of_hub(result)
    wheel = result.wheel
    if wheel is None:
        yield Reason(
            sentence="no rim is stated: there is no spoke length to order",
            remedy="State the rim's ERD",
            about="rim.erd",
            severity="check",
        )
        return
    uneven = (max(wheel.erd_readings) - min(wheel.erd_readings)) / 4.0 if wheel.erd_readings else 0.0
    room = min((bearing(side).room for side in result.sides), default=TYPICAL_ROOM_MM)
    for text in wheel.warnings:
        grave = not text.startswith(UNEVEN) or uneven > room
        remedy = "Measure the rim again"
        yield Reason(sentence=text, remedy=remedy, about="rim.erd", severity="check" if grave else "note")
    for text in wheel.notes:
        yield Reason(sentence=text, remedy="Mind it when building", about="wheel", severity="note")


def _of_hub(result: JobResult) -> Iterator[Reason]:
    """Yield what the photo sets say against each other; what is about one figure counts by its bearing."""
    lying = None if result.lying is None else result.lying.measurement
    said = [] if result.hub is None else list(result.hub.warnings)
    if lying is not None:
        carried = (text for figure in lying.figures.values() for text in figure.warnings)
        said += [f"the hub lying: {text}" for text in (*lying.warnings, *carried)]
    of_figure = (*(entry.words for entry in OF_HUB.values()), "the hub lying")
    remedy = OF_SIDE["centre_to_flange"].settle
    grave = any(
        bearing(side).severity("centre_to_flange", OF_SIDE["centre_to_flange"].astray) != "note"
        for side in result.sides
    )
    for text in dict.fromkeys(said):
        bears = grave or not text.startswith(of_figure)
        yield Reason(sentence=text, remedy=remedy, about="hub", severity="check" if bears else "note")
