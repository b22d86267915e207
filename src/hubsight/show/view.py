"""The one view of a job's result: which figures in which order with which words, the verdict, sentences.

Screen, report and page only lay it out.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import TypeVar

from hubsight.job.close_calls import either_will_do
from hubsight.model.catalogue import OF_HUB, OF_SIDE, SIDE_WORDS, FigureEntry, FigureName, figure_words
from hubsight.model.figure import Figure
from hubsight.model.lengths import LengthChoice, OrderLine, SideLengths, StockRisk
from hubsight.model.result import Check, JobResult, MeasuredSide
from hubsight.model.stated import SideName
from hubsight.model.verdict import Reason, Severity, Verdict, VerdictWord
from hubsight.show.chance import percent
from hubsight.show.inches import InchRow, inch_rows
from hubsight.show.own_stock import own_stock_sentences

VERDICT_WORDS: dict[VerdictWord, str] = {
    "order": "Order",
    "check": "Check before ordering",
    "stop": "Stop: do not order yet",
}
"""How a verdict is headed."""
SEVERITY_WORDS: dict[Severity, str] = {"stop": "Stop", "check": "Check", "note": "Note"}
"""How a reason begins."""
Name = TypeVar("Name", bound=str)

BORE_WORDS = {"mean": "all spokes", "outer": "outer bores", "inner": "inner bores"}
"""Which spokes a length is for."""
FLANGE_WORDS = {"paired": "bosses", "radial": "radial bores", "j_bend": "flange holes"}
"""What carries the spokes."""

HOW_TO_READ = (
    "± u is the standard uncertainty; the 95 % interval is meant to hold the true value in 19 of 20 cases. "
    "Confidence: good, fair or poor; (!) marks a figure with a warning."
)
"""Explanation below the figures."""


@dataclass(frozen=True)
class FigureRow:
    """A line of a table of figures; ``main`` ones are shown in bold."""

    name: str
    words: str
    figure: Figure
    main: bool = False


@dataclass(frozen=True)
class VerdictView:
    """A verdict: its word as a heading, and its reasons, notes apart from those that keep from ordering.

    ``asked_below`` tells that a reason is left out here, since the job asks for it once for all sides.
    """

    word: VerdictWord
    heading: str
    reasons: tuple[Reason, ...]
    notes: tuple[Reason, ...]
    asked_below: bool = False


@dataclass(frozen=True)
class ChoiceRow:
    """A stock length in the table of a choice, with what marks it."""

    risk: StockRisk
    mark: str
    proposed: bool


@dataclass(frozen=True)
class ChoiceView:
    """The choice of a stock length: its rows, and what is said of it."""

    count: int
    rows: tuple[ChoiceRow, ...]
    sentence: str
    choice: LengthChoice


@dataclass(frozen=True)
class SideView:
    """One side.

    Attributes
    ----------
    name, title
        Of the side.
    found
        What was found, in a sentence; empty if nothing was measured.
    rows
        Figures that the photos show.
    used
        What the lengths rest on: words, value, standard uncertainty, source.
    lacing
        How the side is laced; empty without lengths.
    lengths, length_rows
        Spoke lengths, and their lines in a table.
    choices
        Of stock lengths; empty where the verdict is to stop.
    verdict
        On this side.
    checks, arithmetic
        Caliper readings beside the photos, and results by hand; sentences.
    placed, reasons, repeats, advice
        What was placed by hand, why figures are not better known, how repeated sets scatter, what would help.
    """

    name: SideName
    title: str
    found: str
    rows: tuple[FigureRow, ...]
    used: tuple[tuple[str, float, float, str], ...]
    lacing: str
    lengths: SideLengths | None
    length_rows: tuple[FigureRow, ...]
    choices: tuple[ChoiceView, ...]
    verdict: VerdictView
    checks: tuple[Check, ...]
    arithmetic: tuple[str, ...]
    placed: tuple[str, ...]
    reasons: tuple[str, ...]
    repeats: tuple[str, ...]
    advice: tuple[str, ...]


@dataclass(frozen=True)
class HubView:
    """The whole hub: figures, and how the photo sets agree."""

    rows: tuple[FigureRow, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class JobView:
    """A job: its sides, the hub, the verdict with what concerns the whole job, and further sentences.

    ``wheel`` says what tension does and what the rim is; ``order`` has a line for each length to order,
    ``drawer`` what the spokes at hand are good for. ``inches`` is there where the job asks for it.
    """

    sides: tuple[SideView, ...]
    hub: HubView | None
    verdict: VerdictView
    of_job: VerdictView
    order: tuple[str, ...]
    wheel: tuple[str, ...]
    drawer: tuple[str, ...]
    inches: tuple[InchRow, ...]
    scale: tuple[str, ...]
    kit: tuple[str, ...]


def job_view(result: JobResult) -> JobView:
    """Return what is shown of a job's result."""
    hub = result.hub
    shared = set(result.verdict.reasons)
    sides = tuple(side_view(side, shared) for side in result.sides)
    named = tuple(f"{side.title.lower()}: " for side in sides)
    rest = [reason for reason in result.verdict.reasons if not reason.sentence.startswith(named)]
    return JobView(
        sides=sides,
        hub=None if hub is None else HubView(_rows(hub.figures, OF_HUB), hub.notes),
        verdict=verdict_view(result.verdict),
        of_job=verdict_view(Verdict(word=result.verdict.word, reasons=tuple(rest))),
        order=tuple(_order_sentences(result)),
        wheel=(*_rim_sentences(result), *_tension_sentences(result)),
        drawer=_drawer_sentences(result),
        inches=inch_rows(result),
        scale=() if result.flat is None else result.flat.sentences,
        kit=tuple(used.sentence() for used in result.kit),
    )


def side_view(side: MeasuredSide, shared: Collection[Reason] = ()) -> SideView:
    """Return what is shown of a side; ``shared`` are reasons that are shown with the job."""
    found, lengths = side.measurement, side.spoke_lengths
    figures = {} if found is None else found.figures
    order = None if lengths is None or side.verdict.word == "stop" else lengths.order
    again = (one.refusal for one in side.repeated if one.refusal is not None)
    repeats = () if found is None else found.repeats
    return SideView(
        name=side.name,
        title=SIDE_WORDS[side.name],
        found=found_words(side),
        rows=_rows(figures, OF_SIDE),
        used=() if lengths is None else tuple(_used(lengths)),
        lacing="" if lengths is None else lacing_words(lengths.origin.kind, lengths.origin.crosses),
        lengths=lengths,
        length_rows=() if lengths is None else tuple(_length_rows(lengths)),
        choices=() if order is None else tuple(_choice(choice) for choice in order.choices),
        verdict=verdict_view(side.verdict, shared),
        checks=side.caliper_checks,
        arithmetic=tuple(one.sentence for one in side.arithmetic),
        placed=() if found is None else found.placed_by_hand,
        reasons=tuple(_reasons_once(figures)),
        repeats=(*repeats, *(f"a repeat was not measured: {refusal.sentence()}" for refusal in again)),
        advice=() if found is None else found.advice,
    )


def verdict_view(verdict: Verdict, shared: Collection[Reason] = ()) -> VerdictView:
    """Return what is shown of a verdict; ``shared`` reasons are left out."""
    own = [reason for reason in verdict.reasons if reason not in shared]
    return VerdictView(
        verdict.word,
        VERDICT_WORDS[verdict.word],
        tuple(reason for reason in own if reason.severity != "note"),
        tuple(reason for reason in own if reason.severity == "note"),
        asked_below=len(own) < len(verdict.reasons),
    )


def said(reason: Reason) -> str:
    """Return a reason as one paragraph: what is wrong, and what to do."""
    remedy = reason.remedy.rstrip(".")
    return f"{reason.sentence.rstrip('.')}. {remedy[:1].upper()}{remedy[1:]}."


def found_words(side: MeasuredSide) -> str:
    """Say what was found on a side, and in how many of the photos that were given; nothing if refused."""
    found = side.measurement
    if found is None:
        return ""
    shape = FLANGE_WORDS[found.kind]
    crosses = "crosses not readable"
    if found.crosses is not None:
        crosses = f"drilled for {lacing_words(found.kind, found.crosses)}"
    used = sum(photo.used for photo in found.photos)
    return f"{found.boss_count} {shape}, {crosses}; {used} of {len(side.photos)} photos used"


def lacing_words(kind: str, crosses: int) -> str:
    """Say how a side is laced; ``kind`` as of a `SideGeometry`.

    The two spokes of a boss cross inside it, and are not radial even if they cross no other spoke.
    """
    if kind != "paired" and crosses == 0:
        return "radial spokes"
    return f"{crosses} cross" if crosses == 1 else f"{crosses or 'no'} crosses"


def _rows(figures: Mapping[Name, Figure], entries: Mapping[Name, FigureEntry]) -> tuple[FigureRow, ...]:
    return tuple(
        FigureRow(str(name), entry.words, figures[name], entry.main)
        for name, entry in entries.items()
        if name in figures
    )


def _used(lengths: SideLengths) -> Iterable[tuple[str, float, float, str]]:
    for one in lengths.origin.figures:
        yield figure_words(one.name), one.value, one.u, one.source


def _length_rows(lengths: SideLengths) -> Iterable[FigureRow]:
    lacing = lacing_words(lengths.origin.kind, lengths.origin.crosses)
    yield FigureRow("spoke_length", f"spoke length, {lacing}", lengths.length, main=True)
    if len(lengths.sorts) < 2:
        return
    angles = len({sort.alpha for sort in lengths.sorts}) > 1
    for sort in lengths.sorts:
        where = f", {sort.alpha:.1f}°" if angles and sort.alpha is not None else ""
        yield FigureRow("", f"  {BORE_WORDS[sort.bore]} ({sort.count}){where}", sort.length)


def _choice(choice: LengthChoice) -> ChoiceView:
    rows = tuple(
        ChoiceRow(risk, _mark(risk, choice), risk.length == choice.proposed.length)
        for risk in choice.candidates
    )
    return ChoiceView(choice.count, rows, choice_sentence(choice), choice)


def _mark(risk: StockRisk, choice: LengthChoice) -> str:
    words = []
    if risk.length == choice.proposed.length:
        words.append("least risk, proposed")
    if risk.length == choice.rounded_up.length:
        words.append("rounded up")
    return ", ".join(words)


def choice_sentence(choice: LengthChoice) -> str:
    """Say how sure a choice is, as far as the figures hold: what is doubtful in them the verdict says."""
    if not choice.close_call:
        return "no other length is likely, if the figures hold"
    return "either will do" if either_will_do(choice) else "a close call"


def _reasons_once(figures: Mapping[FigureName, Figure]) -> Iterable[str]:
    """Yield why figures are not better known, every sentence once, behind the figures' names."""
    carriers: dict[str, list[str]] = {}
    for name, entry in OF_SIDE.items():
        for sentence in figures[name].reasons if name in figures else ():
            carriers.setdefault(sentence, []).append(entry.words)
    for sentence, names in carriers.items():
        both = " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))
        yield f"{both}: {sentence}"


def _wire_words(line: OrderLine) -> str:
    """Name a spoke's make, wire and steel; records of earlier versions know only the wire."""
    make = f"{line.make}, " if line.make else ""
    return f"{make}wire {line.wire} mm{f', {line.steel}' if line.steel else ''}"


def _order_sentences(result: JobResult) -> Iterable[str]:
    for line in result.order:
        yield (
            f"{SIDE_WORDS[line.side].lower()}: {line.count} spokes of {line.length:g} mm, and {line.spares} "
            f"spare; {line.head}, {_wire_words(line)}, thread {line.thread}; length {line.measured}"
        )
    for nipple in dict.fromkeys(line.nipple for line in result.order):
        count = sum(line.count + line.spares for line in result.order if line.nipple == nipple)
        yield f"{count} nipples, {nipple}"
    yield from () if result.wheel is None or not result.order else result.wheel.order_notes


def _drawer_sentences(result: JobResult) -> tuple[str, ...]:
    own = None if result.wheel is None else result.wheel.own_stock
    return () if own is None else own_stock_sentences(own)


def _rim_sentences(result: JobResult) -> Iterable[str]:
    wheel = result.wheel
    if wheel is None or wheel.erd is None:
        return
    readings = wheel.erd_readings
    parts = [f"ERD {wheel.erd.value:.2f} ± {wheel.erd.u:.2f} mm"]
    if len(readings) > 1:
        apart = max(readings) - min(readings)
        parts[0] += f" by {len(readings)} readings, {apart:.1f} mm from smallest to largest"
    if wheel.rim_offset:
        towards = SIDE_WORDS["drive" if wheel.rim_offset > 0.0 else "non_drive"].lower()
        parts.append(f"spoke holes {abs(wheel.rim_offset):.1f} mm off its middle, towards the {towards}")
    parts.append(f"its radius shrinks by {wheel.rim_shrink:.2f} mm in the tensioned wheel")
    yield f"Rim: {'; '.join(parts)}"


def _tension_sentences(result: JobResult) -> Iterable[str]:
    for side in result.sides:
        order = None if side.spoke_lengths is None else side.spoke_lengths.order
        if order is not None:
            yield (
                f"{SIDE_WORDS[side.name]}: at {order.tension:.0f} N a spoke stretches by {order.stretch:.2f}"
                f" mm ({order.proposed:g} mm on the bench is {order.in_wheel:.2f} mm in the wheel); with the"
                f" rim's compression its end comes to lie {order.sits:.2f} mm farther out; bracing angle"
                f" {order.bracing_angle:.1f}°"
            )
    if result.wheel is not None and result.wheel.p_wrong is not None:
        risk = percent(result.wheel.p_wrong)
        yield f"Risk of the wheel, that any spoke ends outside of its nipple's window: {risk}"
    if result.wheel is not None and result.wheel.tension_ratio is not None:
        yield f"The slacker side has {100.0 * result.wheel.tension_ratio:.0f} % of the other's tension"
