"""From a job, measured or read by hand, to the wheel's plan: what to order, and how sure that is."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from hubsight.job.by_hand import HandFigures
from hubsight.job.centre import one_centre
from hubsight.job.checks import caliper_checks
from hubsight.job.file.build_tables import SpokesTable
from hubsight.job.file.load import Job
from hubsight.job.file.model import JobFile, SideTable
from hubsight.job.file.problems import one_problem
from hubsight.job.joint import cleared, joint_test
from hubsight.job.lengths import length_figure
from hubsight.job.passing import passing_doubts
from hubsight.job.ready_side import ReadySide, ready_side, side_by_hand
from hubsight.job.verdict import with_verdict
from hubsight.model.figure import Figure
from hubsight.model.lengths import PlannedWheel, SideLengths
from hubsight.model.own_stock import OwnStock
from hubsight.model.refusal import Refusal
from hubsight.model.result import HandResult, JobResult, MeasuredSide
from hubsight.model.stated import Reading, SideName
from hubsight.model.uncertainty import COVERAGE_FACTOR
from hubsight.wheel.elastic import common_section, section_from_mass
from hubsight.wheel.geometry import RimGeometry
from hubsight.wheel.lay_out import length_figure as plain_figure
from hubsight.wheel.lay_out import planned_wheel, side_lengths
from hubsight.wheel.length import LengthResult, SpokeLength, side_length
from hubsight.wheel.lot import Lot
from hubsight.wheel.manual import Redone
from hubsight.wheel.nipple import Nipple, Stock, Window
from hubsight.wheel.order import WORKING_TENSION_N, Build, PlannedSide, WheelPlan, plan_wheel
from hubsight.wheel.own_stock import from_drawer
from hubsight.wheel.rim import bead_seat_warning, erd_definition
from hubsight.wheel.wire import (
    HEAD_BUTT_MM,
    MODULUS_PATENTED,
    MODULUS_STAINLESS,
    THREAD_BUTT_MM,
    USUAL_WIRE_MM,
    SpokeWire,
    bladed,
    butted,
    plain,
)

TENSION_SHARE = WORKING_TENSION_N.u / WORKING_TENSION_N.value
"""Relative standard uncertainty of a stated tension: spokes of a wheel differ, and meters do."""

MASS_U_G = 15.0
"""Standard uncertainty of a rim's mass, eyelets and sleeve in it (common practice, no source)."""


@dataclass(frozen=True)
class Planned:
    """A planned wheel, and the job's result with it.

    Attributes
    ----------
    plan
        The plan; None when no side's lengths could be computed.
    result
        The whole job, refusals included.
    """

    plan: WheelPlan | None
    result: JobResult


def stated_erd(job: Job) -> Reading | None:
    """Return the rim's ERD as stated; both sides share it."""
    return next((side.wheel.erd for side in job.sides), None)


def require_rim(job: Job) -> None:
    """Raise JobFileError if a job states no rim: there are no spoke lengths then."""
    if stated_erd(job) is None:
        remedy = "State erd in [rim]: the diameter on which the spoke ends are to lie"
        raise one_problem(job.name, "without the rim there are no spoke lengths", remedy)


def plan_job(job: Job, measured: JobResult) -> Planned:
    """Plan the wheel of a job, by what is stated now.

    Parameters
    ----------
    job
        As read by :func:`hubsight.job.load_job`, photos or not.
    measured
        What its photos show; what followed from earlier statements is worked out anew.

    Returns
    -------
    Planned
        A side without lengths carries its refusal. Where no rim is stated there are no lengths at all, but
        checks and verdict.
    """
    known = tuple(
        measured.side(side.stated.name) or MeasuredSide(name=side.stated.name) for side in job.sides
    )
    sides, hub = one_centre(job, known, measured.hub)
    checks = caliper_checks(job, sides)
    joint = joint_test(job, sides, None if measured.lying is None else measured.lying.measurement)
    sides = tuple(
        side.model_copy(
            update={
                "caliper_checks": cleared(checks[side.name], joint),
                "arithmetic": (),
                "spoke_lengths": None,
                "spoke_lengths_refusal": None,
            }
        )
        for side in sides
    )
    result = measured.model_copy(update={"sides": sides, "hub": hub, "wheel": None, "joint": joint})
    erd = stated_erd(job)
    planned = Planned(None, result) if erd is None else _with_lengths(job, result, erd)
    return replace(planned, result=with_verdict(planned.result, job))


def _with_lengths(job: Job, result: JobResult, erd: Reading) -> Planned:
    table = job.table or JobFile()
    pairs = list(zip(job.sides, result.sides, strict=True))
    by_hand = {side.name: side_by_hand(stated, side, table) for stated, side in pairs}
    ready = {side.name: ready_side(stated, side, table, by_hand[side.name]) for stated, side in pairs}
    good = {
        name: replace(side, doubts=(*side.doubts, *passing_doubts(table, name)))
        for name, side in ready.items()
        if isinstance(side, ReadySide)
    }
    lengths: dict[SideName, SideLengths | Refusal] = {
        name: side for name, side in ready.items() if isinstance(side, Refusal)
    }
    plan = _plan(job, table, erd, list(good.values()))
    if isinstance(plan, Refusal):
        lengths |= dict.fromkeys(good, plan)
    elif plan is not None:
        lengths |= dict(plan.refusals)
        lengths |= {side.geometry.name: _lengths(side, plan, good[side.geometry.name]) for side in plan.sides}
    sides = tuple(_finished(side, lengths[side.name], by_hand[side.name]) for _, side in pairs)
    if isinstance(plan, WheelPlan):
        sides = tuple(_with_length_by_hand(side, plan, good.get(side.name)) for side in sides)
    said = _warnings(table, erd)
    wheel = (
        planned_wheel(plan, erd_readings=getattr(erd, "readings", ()), warnings=said)
        if isinstance(plan, WheelPlan)
        else PlannedWheel(erd_definition=erd_definition(table.nipple.kind), warnings=said)
    )
    if table.rim.correction is not None:
        by = f"the ERD includes your correction of {table.rim.correction.value:+.2f} mm"
        wheel = wheel.model_copy(update={"notes": (*wheel.notes, by)})
    if len(good) == 1:
        only = "only one side is known: its tension is taken as that of a wheel with two like sides"
        wheel = wheel.model_copy(update={"notes": (*wheel.notes, only)})
    wheel = wheel.model_copy(update={"inches": table.wheel.inches})
    result = result.model_copy(update={"sides": sides, "wheel": wheel})
    return Planned(plan if isinstance(plan, WheelPlan) else None, result)


def _finished(
    side: MeasuredSide,
    lengths: SideLengths | Refusal,
    hand: HandFigures,
) -> MeasuredSide:
    """Return a side with its lengths, and with what its readings by hand give."""
    return side.model_copy(
        update={
            "spoke_lengths": lengths or None,
            "spoke_lengths_refusal": None if lengths else lengths,
            "arithmetic": tuple(_hand_result(side.name, redone) for redone in hand.redone),
        }
    )


def _with_length_by_hand(side: MeasuredSide, plan: WheelPlan, ready: ReadySide | None) -> MeasuredSide:
    """Put the spoke length that the readings by hand make beside that of the photos; both share the rim."""
    seen, geometry = side.spoke_lengths, None if ready is None else ready.by_hand
    other = None if geometry is None else side_length(geometry, plan.rim)
    if seen is None or not isinstance(other, LengthResult):
        return side
    value, photos = other.mean.value, seen.length.value
    u = math.hypot(*(i.u for length in (other.mean, seen.length) for i in length.budget if i.source != "ERD"))
    agrees = abs(value - photos) <= COVERAGE_FACTOR * u
    length = HandResult(
        side=side.name,
        quantity="spoke_length",
        value=value,
        u=u,
        stated=photos,
        agrees=agrees,
        slip=None,
        sentence=f"spoke length: {value:.2f} mm by the readings by hand alone, {photos:.2f} mm by the photos",
    )
    return side.model_copy(update={"arithmetic": (*side.arithmetic, length)})


def _plan(job: Job, table: JobFile, erd: Reading, sides: list[ReadySide]) -> WheelPlan | Refusal | None:
    """Return the plan of the sides that are ready; None if none is."""
    if not sides:
        return None
    wheel = job.sides[0].wheel
    spokes = wheel.spokes
    if spokes is None:
        own = sum(side.geometry.spokes for side in sides)
        spokes = own if len(sides) == 2 else 2 * own
    drilling = job.sides[0].drilling
    for side in sides:
        name = side.geometry.name
        drilling = drilling.with_holes(name, side.drilling.holes(name))
    rim = drilling.rim(erd, spokes, wheel.rim_offset)
    build = replace(build_of(table, rim), draws=job.draws)
    return plan_wheel([side.geometry for side in sides], rim, build)


def _lengths(side: PlannedSide, plan: WheelPlan, ready: ReadySide) -> SideLengths:
    """Return a side's lengths; those from photos with the photos' intervals, reasons and warnings."""
    seen, covariance = ready.measurement, ready.geometry.covariance

    def figure(length: SpokeLength) -> Figure:
        return plain_figure(length) if seen is None else length_figure(length, seen, covariance)

    lengths = side_lengths(side, plan, ready.origin, figure)
    return lengths.model_copy(
        update={"warnings": (*ready.warnings, *lengths.warnings), "doubts": ready.doubts}
    )


def build_of(table: JobFile, rim: RimGeometry) -> Build:
    """Return how the job file says that the wheel is to be built."""
    spokes, nipple, tension = table.spokes, table.nipple, table.wheel.tension
    modulus = MODULUS_PATENTED if spokes.patented else MODULUS_STAINLESS
    made = Nipple(nipple.length, nipple.kind)
    section = common_section(table.rim.material)
    if table.rim.mass is not None:
        section = section_from_mass(Reading(table.rim.mass, MASS_U_G), rim.erd.value, table.rim.material)
    drive, non_drive = (_wire(spokes, side, modulus) for side in (table.sides.drive, table.sides.non_drive))
    return Build(
        stock=Stock(step=spokes.step, lengths=tuple(sorted(spokes.stock_lengths))),
        nipple=made,
        window=_stated_window(made, nipple.window),
        spoke_thread=spokes.thread,
        wires=(drive, non_drive),
        tension=WORKING_TENSION_N if tension is None else Reading(tension, TENSION_SHARE * tension),
        section=section,
        spares=spokes.spares,
        drawer=tuple(Lot(lot.length, lot.count, lot.wire, lot.head) for lot in spokes.lots),
    )


def _stated_window(nipple: Nipple, window: tuple[float, ...]) -> Window | None:
    """Return the window that a job states, which says nothing of what happens outside of it."""
    return Window(window[0], window[1], "", "", nipple.zero, nipple.seat) if window else None


def with_drawer(planned: Planned, lots: tuple[Lot, ...]) -> OwnStock | None:
    """Return what a planned wheel takes from a drawer; None where there is nothing to order."""
    plan, wheel = planned.plan, planned.result.wheel
    if plan is None or wheel is None or not wheel.order or not plan.sides:
        return None
    return from_drawer(replace(plan, build=replace(plan.build, drawer=lots)))


def _wire(spokes: SpokesTable, side: SideTable | None, modulus: float) -> SpokeWire:
    """Return the wire of a side: its own, or that of all spokes."""
    stated = side if side is not None and (side.wire or side.blade) else spokes
    wire = stated.wire or (USUAL_WIRE_MM,)
    head, thread = stated.segments or (HEAD_BUTT_MM, THREAD_BUTT_MM)
    if stated.blade:
        return bladed(wire[-1], stated.blade[0], stated.blade[1], ends=head + thread, modulus=modulus)
    if len(wire) == 1:
        return plain(wire[0], modulus)
    return butted(wire[0], wire[1], wire[2], head_butt=head, thread_butt=thread, modulus=modulus)


def _hand_result(side: SideName, redone: Redone) -> HandResult:
    return HandResult(
        side=side,
        quantity=redone.quantity,
        value=redone.value.value,
        u=redone.value.u,
        stated=redone.stated,
        agrees=redone.agrees,
        slip=redone.slip,
        sentence=redone.sentence(),
    )


def _warnings(table: JobFile, erd: Reading) -> tuple[str, ...]:
    """Return what may be wrong with the rim."""
    seat = table.rim.bead_seat
    said = None if seat is None else bead_seat_warning(erd.value, seat)
    return (*getattr(erd, "warnings", ()), *([said] if said else []))
