"""From a planned wheel to its bench card; lengths in mm, angles in degrees."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import fmean

from hubsight.job.file.build_tables import BuiltSideTable
from hubsight.job.file.load import Job
from hubsight.job.file.model import JobFile, LabelTable
from hubsight.job.plan import Planned
from hubsight.model.card import Card, CardSide, CardSpoke
from hubsight.model.cautions import CAUTIONS
from hubsight.model.own_stock import OwnStock, StockLine
from hubsight.model.refusal import Refusal
from hubsight.model.stated import SIDES, SideName
from hubsight.wheel.laced import LacedSpoke, LacedWheel, crossings, laced_wheel
from hubsight.wheel.order import PlannedSide, WheelPlan, order_notes


@dataclass(frozen=True)
class _Made:
    """What the card is made from."""

    plan: WheelPlan
    laced: LacedWheel
    table: JobFile
    own: OwnStock | None

    def built(self, side: PlannedSide) -> BuiltSideTable:
        """Return what the job notes of a side as built."""
        return built_of(self.table, side.geometry.name)

    def from_stock(self, side: PlannedSide) -> tuple[StockLine, ...]:
        """Return where spokes from the drawer go on a side; nothing once others are built in."""
        if self.own is None or self.built(side).length is not None:
            return ()
        return tuple(line for line in self.own.lines if line.side == side.geometry.name)


def card_of(job: Job, planned: Planned) -> Card | Refusal:
    """Return the bench card of a planned wheel, or why there is none.

    Parameters
    ----------
    job
        As stated; ends noted in ``[built]`` are on the card.
    planned
        Its plan.
    """
    plan, wheel = planned.plan, planned.result.wheel
    if plan is None or not plan.sides or wheel is None:
        refusals = (side.spoke_lengths_refusal or side.refusal for side in planned.result.sides)
        known = next((refusal for refusal in refusals if refusal is not None), None)
        return known or Refusal(reason="there are no spoke lengths", remedy="See hubsight lengths")
    verdict = planned.result.verdict
    if verdict.word == "stop":
        why = next(reason for reason in verdict.reasons if reason.severity == "stop")
        return Refusal(reason=f"the verdict is to stop: {why.sentence}", remedy=why.remedy)
    table = job.table or JobFile()
    made = _Made(plan, laced_wheel([side.geometry for side in plan.sides], plan.rim), table, wheel.own_stock)
    ends = {side.geometry.name: _ends(side, made) for side in plan.sides}
    window = plan.build.nipple_window
    return Card(
        job=job.name,
        title=table.label.hub or job.name,
        facts=tuple(_facts(job, table.label, plan)),
        check=tuple(r.sentence for r in verdict.reasons if r.severity == "check"),
        sides=tuple(_side(side, made, fmean(ends[side.geometry.name].values())) for side in plan.sides),
        spokes=tuple(_spoke(spoke, ends[spoke.side], table) for spoke in made.laced.spokes),
        holes=made.laced.holes,
        numbered_together=made.laced.numbered_together,
        window=(window.low, window.high),
        window_reasons=(window.low_reason, window.high_reason),
        zero=window.zero,
        tension_ratio=wheel.tension_ratio,
        tension_stated=table.wheel.tension is not None,
        nipples=f"{sum(side.geometry.spokes for side in plan.sides)} nipples, {plan.build.nipple.name}",
        hub_notes=tuple(_hub_notes(made)),
        cautions=(*order_notes(plan), *wheel.warnings, *CAUTIONS),
        software=planned.result.software.hubsight,
        inches=wheel.inches,
    )


def _facts(job: Job, label: LabelTable, plan: WheelPlan) -> Iterable[tuple[str, str]]:
    yield "Job", job.name
    yield from ((name, text) for name, text in (("Customer", label.customer), ("Wheel", label.wheel)) if text)
    yield "Rim", f"{plan.rim.spokes} holes, ERD {plan.rim.erd.value:.1f} mm"


def built_of(table: JobFile, side: SideName) -> BuiltSideTable:
    """Return what a job notes of a side as built."""
    noted = table.built.drive if side == "drive" else table.built.non_drive
    return noted or BuiltSideTable()


def _ends(side: PlannedSide, made: _Made) -> dict[float, float]:
    """Return where the ends are to lie, by the angle to the rim hole: with the spokes that are built in."""
    out: dict[float, list[float]] = {}
    built, sits = made.built(side).length, side.tension.sits.value
    for order in side.orders:
        for spoke in order.spokes:
            end = (built or order.choice.proposed.length) + sits - spoke.value
            out.setdefault(round(spoke.alpha, 6), []).append(end)
    stock: dict[float, list[float]] = {}
    for line in made.from_stock(side):
        stock.setdefault(round(line.alpha, 6), []).extend([line.end] * line.count)
    return {alpha: fmean(ends) for alpha, ends in (out | stock).items()}


def _spoke(spoke: LacedSpoke, ends: dict[float, float], table: JobFile) -> CardSpoke:
    built = built_of(table, spoke.side)
    noted = dict(zip(built.holes, built.ends, strict=False))
    return CardSpoke(
        side=spoke.side,
        place=spoke.place,
        way=spoke.way,
        hole=spoke.hole,
        hub=spoke.hub,
        rim=spoke.rim,
        end=ends[min(ends, key=lambda alpha: abs(alpha - spoke.alpha))],
        noted=noted.get(spoke.hole),
    )


def _side(side: PlannedSide, made: _Made, end: float) -> CardSide:
    geometry = side.geometry
    return CardSide(
        side=geometry.name,
        kind=geometry.kind,
        places=geometry.count,
        crosses=geometry.crosses,
        lacing=lacing_of(side),
        spokes=tuple(_lengths(side, made)),
        tension=side.tension.tension.value,
        end=end,
        u_end=max(order.choice.u_end for order in side.orders),
        crossing=tuple(_crossing(side, made)),
        length=made.built(side).length,
        proposed=_one_length(side, made),
    )


def _one_length(side: PlannedSide, made: _Made) -> float | None:
    """Return the length that all spokes of a side are to have; None where they have several."""
    lengths = {line.length for line in made.from_stock(side)}
    lengths = lengths or {order.choice.proposed.length for order in side.orders}
    return lengths.pop() if len(lengths) == 1 else None


def lacing_of(side: PlannedSide) -> str:
    """Say how a side is laced, in the trade's words."""
    geometry = side.geometry
    what = {"paired": "bosses", "radial": "radial bores", "j_bend": "flange holes"}[geometry.kind]
    if geometry.kind != "paired" and geometry.crosses == 0:
        how = "radial"
    else:
        how = (
            "no crosses"
            if not geometry.crosses
            else f"{geometry.crosses} cross{'es' * (geometry.crosses > 1)}"
        )
    return f"{geometry.spokes} spokes, {geometry.count} {what}, {how}"


def _lengths(side: PlannedSide, made: _Made) -> Iterable[str]:
    wire, built = f"wire {made.plan.build.wire(side.geometry.name).name} mm", made.built(side).length
    if built is not None:
        yield f"{side.geometry.spokes} of {built:g} mm, {wire}, as built"
        return
    lines = made.from_stock(side)
    counts: dict[str, int] = {}
    for line in lines:  # whether a spoke was in the drawer or is ordered is the same at the work stand
        spokes = f"{line.length:g} mm{_where(line.bore, line.alpha, side)}"
        counts[spokes] = counts.get(spokes, 0) + line.count
    yield from (f"{count} of {spokes}, {wire}" for spokes, count in counts.items())
    for order in () if lines else side.orders:
        where = _where(order.spokes[0].bore, order.spokes[0].alpha, side) if len(side.orders) > 1 else ""
        yield f"{order.count} of {order.choice.proposed.length:g} mm{where}, {wire}"


def _where(bore: str, alpha: float, side: PlannedSide) -> str:
    """Name the places of some of a side's spokes: by bore, and by their ways where the rim's row differs."""
    words = {"mean": "", "outer": " in outer bores (outbound)", "inner": " in inner bores (inbound)"}[bore]
    if len({round(s.alpha, 6) for order in side.orders for s in order.spokes}) > 1:
        words += f", to rim holes {alpha:.1f}° from their boss"
    return words


def _crossing(side: PlannedSide, made: _Made) -> Iterable[str]:
    geometry, plan = side.geometry, made.plan
    spokes = made.laced.of(geometry.name)
    leading = [spoke for spoke in spokes if spoke.way == "leading"]
    met = [crossings(spoke, spokes, geometry, plan.rim) for spoke in leading]
    what = {"paired": "boss", "radial": "bore", "j_bend": "flange hole"}[geometry.kind]
    for row in dict.fromkeys(tuple(crossing.places for crossing in one) for one in met):
        if row:
            yield f"A leading spoke crosses, from the hub out, the trailing one of {_places(row, what)}"
    if geometry.kind == "j_bend":
        yield (
            "Every second flange hole is outbound; which of leading and trailing ones are is your habit, for "
            "all"
        )
    elif geometry.kind == "paired":
        yield "The bore nearer to the hub's end is the outbound spoke's, the other one the inbound spoke's"
    gaps = [crossing.apart for one in met for crossing in one if crossing.apart is not None]
    wire = plan.build.wire(geometry.name).end_diameter
    if gaps and min(gaps) >= wire:
        yield f"Their middles pass {min(gaps):.1f} mm apart or more: they do not touch, and are not woven"
    elif any(met):
        yield (
            "Where spokes cross, the outbound one is laced under the last that it crosses, if they reach "
            "each other "
            "(common practice)"
        )


def _places(row: Sequence[int], what: str) -> str:
    """Say which bosses on, such as "the next boss and the 2nd"."""
    ordinal = {2: "nd", 3: "rd"}
    named = ["next" if n == 1 else f"{n}{ordinal.get(n, 'th')}" for n in row]
    return f"the {' and the '.join(named)} {what} on, clockwise"


def _hub_notes(made: _Made) -> Iterable[str]:
    if not made.laced.numbered_together:
        yield "The sides' rim holes are stated apart: each side counts its own, and the valve is not known"
        return
    if any(made.plan.rim.pattern(side.geometry.name) is not None for side in made.plan.sides):
        yield "If your rim's sides do not match at the valve, turn the drawing until they do"
        return
    yield "If the first hole clockwise from your valve is the other side's, begin one hole on"
    sides = {side.geometry.name: side.geometry for side in made.plan.sides}
    kinds = {(side.kind, side.count) for side in sides.values()}
    if len(sides) < 2 or len(kinds) > 1:
        return
    ((kind, count),) = kinds
    drive, other = (min(spoke.hub for spoke in made.laced.of(name)) for name in SIDES)
    step = 360.0 / count
    on = (other - drive + step / 2.0) % step - step / 2.0
    way, back = ("clockwise", "anticlockwise") if on > 0.0 else ("anticlockwise", "clockwise")
    if kind == "paired":
        yield (
            f"The non-drive side's bosses stand {abs(on):.0f}° {way} of the drive side's. On a hub where they"
            f" stand as far {back}, move every non-drive spoke two holes {back}"
        )
