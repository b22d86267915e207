"""One side of the hub, ready to be planned: by the photos, by readings by hand, or with a J-bend flange.

Lengths in mm.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from hubsight.job.by_hand import BY_HAND, HandFigures, hand_figures, used
from hubsight.job.file.load import JobSide
from hubsight.job.file.model import JobFile, SideTable
from hubsight.job.first_hole import drilled
from hubsight.job.lengths import crosses_doubt, photo_geometry
from hubsight.model.lengths import Origin, UsedFigure
from hubsight.model.refusal import Refusal
from hubsight.model.result import MeasuredSide
from hubsight.model.side import SideMeasurement
from hubsight.model.stated import Reading
from hubsight.model.verdict import Reason
from hubsight.wheel import SideGeometry, j_bend_side
from hubsight.wheel.geometry import Drilling


@dataclass(frozen=True)
class ReadySide:
    """One side, ready to be planned.

    Attributes
    ----------
    geometry, origin
        What the lengths are computed from, and where that comes from.
    drilling
        Of rim and flange, with the first hole that the photos tell where it is not stated.
    warnings
        About that, sentences for the user.
    measurement
        By the photos, where the geometry is theirs.
    by_hand
        What the readings by hand make of the side, where the geometry is the photos'.
    doubts
        What has to be checked before an order.
    """

    geometry: SideGeometry
    origin: Origin
    drilling: Drilling
    warnings: tuple[str, ...] = ()
    measurement: SideMeasurement | None = None
    by_hand: SideGeometry | None = None
    doubts: tuple[Reason, ...] = ()


def _table_of(side: JobSide, table: JobFile) -> SideTable:
    stated = table.sides.drive if side.stated.name == "drive" else table.sides.non_drive
    return stated or SideTable()


def side_by_hand(side: JobSide, seen: MeasuredSide, table: JobFile) -> HandFigures:
    """Return what the readings by hand of a side give; ``seen`` may know what kind of bores it has."""
    kind = _table_of(side, table).kind
    if kind is None and seen.measurement is not None:
        kind = seen.measurement.kind
    return hand_figures(side, radial=kind == "radial")


def ready_side(side: JobSide, seen: MeasuredSide, table: JobFile, hand: HandFigures) -> ReadySide | Refusal:
    """Return a side's geometry: by the photos where they give it, else by hand.

    Flange diameter and offset are never mixed: what is wrong in one is wrong in the other.
    """
    own = _table_of(side, table)
    if own.j_bend is not None:
        return _j_bend(side, own)
    refused = seen.refusal
    if seen.measurement is not None:
        geometry = photo_geometry(seen.measurement, side.stated, side.wheel, side.drilling)
        if isinstance(geometry, SideGeometry):
            centre = hand.centre or used("centre_to_flange", geometry.centre_to_flange, "photos")
            other = _from_hand(side, own, replace(hand, centre=centre), seen.measurement)
            ready = _from_photos(side, seen.measurement, geometry)
            return replace(ready, by_hand=other.geometry) if other else ready
        refused = next(iter(seen.measurement.refusals), geometry)
    by_hand = _from_hand(side, own, hand, seen.measurement)
    if refused is None:
        return by_hand
    if isinstance(by_hand, Refusal):
        return refused
    said = f"the photos gave no lengths ({refused.reason}): these are from readings by hand alone"
    return replace(by_hand, warnings=(said, *by_hand.warnings))


def _from_photos(side: JobSide, seen: SideMeasurement, geometry: SideGeometry) -> ReadySide:
    stated = side.stated.centre_to_flange is not None
    figures = (
        used("spoke_offset", geometry.spoke_offset, "photos"),
        used("flange_diameter", geometry.flange_diameter, "photos"),
        used("centre_to_flange", geometry.centre_to_flange, BY_HAND if stated else "photos"),
    )
    origin = _origin(geometry, figures, side)
    ready = _with_drilling(side, geometry, origin, (), seen)
    doubts = (*ready.doubts, *crosses_doubt(side.stated.name, seen.crosses, side.wheel.crosses))
    return replace(ready, measurement=seen, doubts=doubts)


def _with_drilling(
    side: JobSide,
    geometry: SideGeometry,
    origin: Origin,
    warnings: tuple[str, ...],
    seen: SideMeasurement | None,
) -> ReadySide:
    """Return a side with the first hole that the photos tell, or the question which it is."""
    first = drilled(geometry, side.wheel, side.drilling, seen)
    doubts = () if first.doubt is None else (first.doubt,)
    return ReadySide(geometry, origin, first.drilling, warnings, doubts=doubts)


def _from_hand(
    side: JobSide, own: SideTable, hand: HandFigures, seen: SideMeasurement | None = None
) -> ReadySide | Refusal:
    """Return a side by its readings by hand; ``seen`` may know the bosses and crosses."""
    if hand.offset is None or hand.diameter is None or hand.centre is None:
        return hand.missing()
    impossible = hand.impossible()
    if impossible is not None:
        return impossible
    name = side.stated.name
    crosses = side.wheel.crosses if side.wheel.crosses is not None or seen is None else seen.crosses
    if crosses is None:
        remedy = "State crosses in [wheel], not counting the crossing inside the boss"
        return Refusal(reason="the crosses are not stated", remedy=remedy)
    kind = own.kind or (seen.kind if seen is not None else None) or ("paired" if crosses else None)
    if kind is None:
        remedy = f'State kind = "radial" or kind = "paired" in [sides.{name}]'
        return Refusal(reason="0 crosses go with radial bores and with pairs in a boss", remedy=remedy)
    count = own.bosses or (seen.boss_count if seen is not None else _count_by_rim(side, kind))
    if count is None:
        remedy = f"State spokes in [wheel], or bosses in [sides.{name}]"
        return Refusal(reason="the number of bosses on this side is not known", remedy=remedy)
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
    origin = _origin(geometry, (hand.offset, hand.diameter, hand.centre), side)
    return _with_drilling(side, geometry, origin, hand.warnings(), seen)


def _count_by_rim(side: JobSide, kind: str) -> int | None:
    """Return how many bosses (radial: bores) the rim's holes on this side are for; None if not known."""
    pattern, per_boss = side.drilling.holes(side.stated.name), 2 if kind == "paired" else 1
    if pattern is not None:
        holes: float | None = len(pattern.all_angles())
    else:
        holes = None if side.wheel.spokes is None else side.wheel.spokes / 2
    if holes is None or holes % per_boss:
        return None
    return int(holes / per_boss)


def _j_bend(side: JobSide, own: SideTable) -> ReadySide | Refusal:
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
    return ReadySide(geometry, _origin(geometry, figures, side), side.drilling)


def _origin(geometry: SideGeometry, figures: tuple[UsedFigure, ...], side: JobSide) -> Origin:
    return Origin(
        kind=geometry.kind,
        bosses=geometry.count,
        crosses=geometry.crosses,
        crosses_stated=side.wheel.crosses is not None,
        figures=figures,
    )
