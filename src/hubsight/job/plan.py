"""From a job, measured or read by hand, to the wheel's plan: what to order, and how sure that is."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from hubsight.figures import Figure
from hubsight.job.build_tables import SpokesTable
from hubsight.job.by_hand import BY_HAND, HandFigures, hand_figures, used
from hubsight.job.document import JobMeasurement, MeasuredSide
from hubsight.job.lengths import crosses_warning, length_figure, photo_geometry
from hubsight.job.load import Job, JobSide
from hubsight.job.measure import with_caliper_checks
from hubsight.job.model import JobFile, SideTable
from hubsight.job.problems import one_problem
from hubsight.job.screen import CAUTIONS
from hubsight.measurement import Refusal, SideMeasurement
from hubsight.stated import Reading, SideName
from hubsight.wheel import SideGeometry, j_bend_side
from hubsight.wheel.document import (
    HandResult,
    LengthsDocument,
    Origin,
    Surrounding,
    UsedFigure,
    lengths_document,
)
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


@dataclass(frozen=True)
class _Side:
    """One side, ready to be planned: geometry, where it comes from, and warnings about that."""

    geometry: SideGeometry
    origin: Origin
    warnings: tuple[str, ...] = ()
    measurement: SideMeasurement | None = None


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
    by_hand = {side.stated.name: _by_hand(side, sides.get(side.stated.name), table) for side in job.sides}
    ready = {
        side.stated.name: _ready(side, sides.get(side.stated.name), table, by_hand[side.stated.name])
        for side in job.sides
    }
    refusals = {name: side for name, side in ready.items() if isinstance(side, Refusal)}
    good = {name: side for name, side in ready.items() if isinstance(side, _Side)}
    known = Surrounding(
        checks=[check for side in sides.values() for check in side.caliper_checks],
        origins={name: side.origin for name, side in good.items()},
        refusals=refusals,
        arithmetic=_arithmetic(by_hand),
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
    return Planned(plan, lengths_document(plan, _with_figures(known, figures)))


def _without_lengths(known: Surrounding, refusals: Mapping[SideName, Refusal]) -> LengthsDocument:
    return LengthsDocument(
        sides={},
        refusals=dict(refusals),
        checks=tuple(known.checks),
        arithmetic=tuple(known.arithmetic),
        warnings=tuple(known.warnings),
        cautions=tuple(known.cautions),
    )


def _with_figures(known: Surrounding, figures: Mapping[SideName, Figure]) -> Surrounding:
    return Surrounding(
        known.checks, figures, known.origins, known.refusals, known.arithmetic, known.warnings, known.cautions
    )


def _plan(job: Job, table: JobFile, erd: Reading, sides: list[_Side]) -> WheelPlan | Refusal | None:
    """Return the plan of the sides that are ready; None if none is."""
    if not sides:
        return None
    spokes = table.wheel.spokes
    if spokes is None:
        own = sum(side.geometry.spokes for side in sides)
        spokes = own if len(sides) == 2 else 2 * own
    rim = job.sides[0].drilling.rim(erd, spokes, table.rim.offset)
    return plan_wheel([side.geometry for side in sides], rim, build_of(table, rim))


def _length_figures(plan: WheelPlan, sides: Mapping[SideName, _Side]) -> dict[SideName, Figure]:
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
        window=Window(nipple.window[0], nipple.window[1]) if nipple.window else None,
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


def _table_of(side: JobSide, table: JobFile) -> SideTable:
    stated = table.sides.drive if side.stated.name == "drive" else table.sides.non_drive
    return stated or SideTable()


def _by_hand(side: JobSide, seen: MeasuredSide | None, table: JobFile) -> HandFigures:
    kind = _table_of(side, table).kind
    if kind is None and seen is not None and seen.measurement is not None:
        kind = seen.measurement.kind
    return hand_figures(side, radial=kind == "radial")


def _ready(side: JobSide, seen: MeasuredSide | None, table: JobFile, hand: HandFigures) -> _Side | Refusal:
    """Return a side's geometry: by the photos where they give it, else by hand.

    Flange diameter and offset are never mixed: what is wrong in one is wrong in the other.
    """
    own = _table_of(side, table)
    if own.j_bend is not None:
        return _j_bend(side, own)
    if seen is None:
        return _from_hand(side, own, hand)
    photos = _NOT_MEASURED if seen.refusal is None else seen.refusal
    if seen.measurement is not None:
        geometry = photo_geometry(seen.measurement, side.stated, side.wheel, side.drilling)
        if isinstance(geometry, SideGeometry):
            return _from_photos(side, seen.measurement, geometry)
        photos = next(iter(seen.measurement.refusals), geometry)
    by_hand = _from_hand(side, own, hand, seen.measurement)
    if isinstance(by_hand, Refusal):
        return photos
    said = f"the photos gave no lengths ({photos.reason}): these are from readings by hand alone"
    return _Side(by_hand.geometry, by_hand.origin, (said, *by_hand.warnings))


_NOT_MEASURED = Refusal(reason="the photos were not measured", remedy="Measure the job again")


def _from_photos(side: JobSide, seen: SideMeasurement, geometry: SideGeometry) -> _Side:
    stated = side.stated.centre_to_flange is not None
    figures = (
        used("spoke_offset", geometry.spoke_offset, "photos"),
        used("flange_diameter", geometry.flange_diameter, "photos"),
        used("centre_to_flange", geometry.centre_to_flange, BY_HAND if stated else "photos"),
    )
    origin = _origin(geometry, figures, side)
    return _Side(geometry, origin, crosses_warning(seen.crosses, side.wheel.crosses), seen)


def _from_hand(
    side: JobSide, own: SideTable, hand: HandFigures, seen: SideMeasurement | None = None
) -> _Side | Refusal:
    """Return a side by its readings by hand; ``seen`` may know the bosses and crosses."""
    if hand.offset is None or hand.diameter is None or hand.centre is None:
        return hand.missing()
    name = side.stated.name
    crosses = side.wheel.crosses if side.wheel.crosses is not None or seen is None else seen.crosses
    if crosses is None:
        remedy = "State crosses in [wheel], not counting the crossing inside the boss"
        return Refusal(reason="the crosses are not stated", remedy=remedy)
    kind = own.kind or (seen.kind if seen is not None else None) or ("paired" if crosses else None)
    if kind is None:
        remedy = f'State kind = "radial" or kind = "paired" in [sides.{name}]'
        return Refusal(reason="0 crosses go with radial bores and with pairs in a boss", remedy=remedy)
    count = own.bosses or (seen.boss_count if seen is not None else None)
    if count is None:
        per_boss = 4 if kind == "paired" else 2
        if side.wheel.spokes is None or side.wheel.spokes % per_boss:
            remedy = f"State spokes in [wheel], or bosses in [sides.{name}]"
            return Refusal(reason="the number of bosses on this side is not known", remedy=remedy)
        count = side.wheel.spokes // per_boss
    geometry = SideGeometry(
        name=name,
        kind=kind,
        count=count,
        crosses=crosses,
        flange_diameter=Reading(hand.diameter.value, hand.diameter.u),
        centre_to_flange=Reading(hand.centre.value, hand.centre.u),
        spoke_offset=Reading(hand.offset.value, hand.offset.u),
        stagger=side.drilling.stagger,
        boss_half_height=side.drilling.boss_half_height,
    )
    return _Side(geometry, _origin(geometry, (hand.offset, hand.diameter, hand.centre), side))


def _j_bend(side: JobSide, own: SideTable) -> _Side | Refusal:
    flange, crosses = own.j_bend, side.wheel.crosses
    centre = None if flange is None else flange.centre_to_flange or own.centre_to_flange
    if flange is None or centre is None or crosses is None:
        missing = "crosses" if crosses is None else "centre_to_flange"
        remedy = f"State {missing} in [sides.{side.stated.name}]"
        what = f"the {missing.replace('_', ' ')} of the J-bend flange"
        return Refusal(reason=f"{what}: nothing is stated", remedy=remedy)
    half = None
    if flange.thickness is not None:
        half = Reading(flange.thickness.value / 2.0, flange.thickness.u / 2.0)
    geometry = j_bend_side(
        side.stated.name,
        holes=flange.holes,
        crosses=crosses,
        hole_circle=flange.hole_circle,
        hole_diameter=flange.hole_diameter,
        centre_to_flange=centre,
        flange_half_thickness=half,
    )
    figures = (
        used("hole_circle", flange.hole_circle, BY_HAND),
        used("hole_diameter", flange.hole_diameter, BY_HAND),
        used("centre_to_flange", centre, BY_HAND),
    )
    return _Side(geometry, _origin(geometry, figures, side))


def _origin(geometry: SideGeometry, figures: tuple[UsedFigure, ...], side: JobSide) -> Origin:
    return Origin(
        kind=geometry.kind,
        bosses=geometry.count,
        crosses=geometry.crosses,
        crosses_stated=side.wheel.crosses is not None,
        figures=figures,
    )


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
    table: JobFile, erd: Reading, sides: Mapping[SideName, _Side], of_the_job: Sequence[str]
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
