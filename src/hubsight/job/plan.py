"""From a job, measured or read by hand, to the wheel's plan: what to order, and how sure that is."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from hubsight.job.by_hand import HandFigures
from hubsight.job.document import JobMeasurement
from hubsight.job.file.build_tables import SpokesTable
from hubsight.job.file.load import Job
from hubsight.job.file.model import JobFile, SideTable
from hubsight.job.file.problems import one_problem
from hubsight.job.lengths import length_figure
from hubsight.job.measure import with_caliper_checks
from hubsight.job.ready_side import ReadySide, ready_side, side_by_hand
from hubsight.model.cautions import CAUTIONS
from hubsight.model.figure import Figure
from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading, SideName
from hubsight.wheel.document import HandResult, LengthsDocument, Surrounding, lengths_document
from hubsight.wheel.elastic import RimSection, section_from_mass
from hubsight.wheel.geometry import RimGeometry
from hubsight.wheel.nipple import Nipple, Stock, Window
from hubsight.wheel.order import WORKING_TENSION_N, Build, WheelPlan, plan_wheel
from hubsight.wheel.rim import bead_seat_warning
from hubsight.wheel.wire import (
    HEAD_BUTT_MM,
    MODULUS_PATENTED,
    MODULUS_STAINLESS,
    THREAD_BUTT_MM,
    SpokeWire,
    bladed,
    butted,
    plain,
)

TENSION_SHARE = WORKING_TENSION_N.u / WORKING_TENSION_N.value
"""Relative standard uncertainty of a stated tension: spokes of a wheel differ, and meters do."""

MASS_U_G = 15.0
"""Standard uncertainty of a rim's mass, eyelets and sleeve in it (common practice, no source)."""

USUAL_WIRE_MM = 2.0


@dataclass(frozen=True)
class Planned:
    """A planned wheel, and its document.

    Attributes
    ----------
    plan
        The plan; None when no side's lengths could be computed.
    document
        Everything about the wheel, refusals included.
    """

    plan: WheelPlan | None
    document: LengthsDocument


def plan_job(job: Job, measured: JobMeasurement | None = None) -> Planned:
    """Plan the wheel of a job.

    Parameters
    ----------
    job
        As read by :func:`hubsight.job.load_job`, photos or not.
    measured
        Its measurement, if it has photos.

    Returns
    -------
    Planned
        A side without lengths is among the document's refusals.

    Raises
    ------
    JobFileError
        If the job is bare photos, or states no rim.
    """
    table, erd = job.table, job.sides[0].wheel.erd
    if table is None or erd is None:
        remedy = "State erd in [rim]: the diameter on which the spoke ends are to lie"
        raise one_problem(job.name, "without the rim there are no spoke lengths", remedy)
    sides = {} if measured is None else {side.name: side for side in with_caliper_checks(job, measured.sides)}
    by_hand = {side.stated.name: side_by_hand(side, sides.get(side.stated.name), table) for side in job.sides}
    ready = {
        side.stated.name: ready_side(side, sides.get(side.stated.name), table, by_hand[side.stated.name])
        for side in job.sides
    }
    refusals = {name: side for name, side in ready.items() if isinstance(side, Refusal)}
    good = {name: side for name, side in ready.items() if isinstance(side, ReadySide)}
    known = Surrounding(
        checks=[check for side in sides.values() for check in side.caliper_checks],
        origins={name: side.origin for name, side in good.items()},
        refusals=refusals,
        arithmetic=_arithmetic(by_hand),
        erd_readings=getattr(erd, "readings", ()),
        warnings=_warnings(table, erd, good, () if measured is None else measured.warnings),
        cautions=CAUTIONS,
    )
    plan = _plan(job, table, erd, list(good.values()))
    if isinstance(plan, Refusal):
        everywhere: dict[SideName, Refusal] = {**refusals, **dict.fromkeys(good, plan)}
        return Planned(None, _without_lengths(known, everywhere))
    if plan is None:
        return Planned(None, _without_lengths(known, refusals))
    figures = _length_figures(plan, good)
    return Planned(plan, lengths_document(plan, replace(known, length_figures=figures)))


def _without_lengths(known: Surrounding, refusals: Mapping[SideName, Refusal]) -> LengthsDocument:
    return LengthsDocument(
        sides={},
        refusals=dict(refusals),
        checks=tuple(known.checks),
        arithmetic=tuple(known.arithmetic),
        warnings=tuple(known.warnings),
        cautions=tuple(known.cautions),
    )


def _plan(job: Job, table: JobFile, erd: Reading, sides: list[ReadySide]) -> WheelPlan | Refusal | None:
    """Return the plan of the sides that are ready; None if none is."""
    if not sides:
        return None
    spokes = table.wheel.spokes
    if spokes is None:
        own = sum(side.geometry.spokes for side in sides)
        spokes = own if len(sides) == 2 else 2 * own
    drilling = job.sides[0].drilling
    for side in sides:
        name = side.geometry.name
        drilling = drilling.with_holes(name, side.drilling.holes(name))
    rim = drilling.rim(erd, spokes, table.rim.offset)
    return plan_wheel([side.geometry for side in sides], rim, build_of(table, rim))


def _length_figures(plan: WheelPlan, sides: Mapping[SideName, ReadySide]) -> dict[SideName, Figure]:
    """Return the lengths that come from photos as figures with the photos' intervals, reasons, warnings."""
    out: dict[SideName, Figure] = {}
    for planned in plan.sides:
        name = planned.geometry.name
        seen = sides[name].measurement
        if seen is not None:
            out[name] = length_figure(planned.lengths.mean, seen, planned.geometry.covariance)
    return out


def build_of(table: JobFile, rim: RimGeometry) -> Build:
    """Return how the job file says that the wheel is to be built."""
    spokes, nipple, tension = table.spokes, table.nipple, table.wheel.tension
    modulus = MODULUS_PATENTED if spokes.patented else MODULUS_STAINLESS
    section = RimSection()
    if table.rim.mass is not None:
        section = section_from_mass(Reading(table.rim.mass, MASS_U_G), rim.erd.value)
    drive, non_drive = (_wire(spokes, side, modulus) for side in (table.sides.drive, table.sides.non_drive))
    return Build(
        stock=Stock(step=spokes.step, lengths=tuple(sorted(spokes.stock_lengths))),
        nipple=Nipple(nipple.length, nipple.kind),
        window=Window(nipple.window[0], nipple.window[1], "", "") if nipple.window else None,
        spoke_thread=spokes.thread,
        wires=(drive, non_drive),
        tension=WORKING_TENSION_N if tension is None else Reading(tension, TENSION_SHARE * tension),
        section=section,
        spares=spokes.spares,
    )


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


def _arithmetic(by_hand: Mapping[SideName, HandFigures]) -> list[HandResult]:
    return [
        HandResult(
            side=name,
            quantity=redone.quantity,
            value=redone.value.value,
            u=redone.value.u,
            stated=redone.stated,
            agrees=redone.agrees,
            slip=redone.slip,
            sentence=redone.sentence(),
        )
        for name, hand in by_hand.items()
        for redone in hand.redone
    ]


def _warnings(
    table: JobFile, erd: Reading, sides: Mapping[SideName, ReadySide], of_the_job: Sequence[str]
) -> list[str]:
    """Return what concerns the wheel as a whole, and where a side's figures come from."""
    words = {"drive": "drive side", "non_drive": "non-drive side"}
    said = [*of_the_job, *getattr(erd, "warnings", ())]
    if table.rim.bead_seat is not None:
        said += filter(None, [bead_seat_warning(erd.value, table.rim.bead_seat)])
    said += [f"{words[name]}: {text}" for name, side in sides.items() for text in side.warnings]
    if len(sides) == 1 and math.isfinite(erd.value):
        said.append("only one side is known: its tension is taken as that of a wheel with two like sides")
    return said
