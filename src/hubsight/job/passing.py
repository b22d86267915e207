"""Whether a side's spokes pass through its bores: thread and blade against bore and slot; mm."""

from __future__ import annotations

from collections.abc import Iterable

from hubsight.job.file.model import JobFile, SideTable
from hubsight.model.stated import SideName
from hubsight.model.verdict import Reason, Severity
from hubsight.wheel.wire import USUAL_WIRE_MM


def passing_doubts(table: JobFile, side: SideName) -> tuple[Reason, ...]:
    """Return reasons where a side's wire does not go through its bores, or a blade might not.

    A straight-pull spoke is pushed through its bore with the thread first, and its blade follows; a slot
    beside the bore lets a wider one pass. J-bend spokes go through their flange's hole in the same way.
    """
    own = (table.sides.drive if side == "drive" else table.sides.non_drive) or SideTable()
    return tuple(_doubts(table, own, side))


def _doubts(table: JobFile, own: SideTable, side: SideName) -> Iterable[Reason]:
    stated = own if own.wire or own.blade else table.spokes
    end = stated.wire[-1] if stated.wire else USUAL_WIRE_MM
    bore, hole = own.bore, "bore"
    if own.j_bend is not None:
        bore, hole = own.j_bend.hole_diameter.value, "flange hole"
    if bore is not None and end > bore:
        yield _reason(
            side, f"a wire of {end:g} mm does not go into a {hole} of {bore:g} mm", "Check both for a slip"
        )
    if not stated.blade:
        return
    width = stated.blade[0]
    if bore is None:
        yield _reason(
            side,
            f"a blade {width:g} mm wide has to pass through the {hole}, and its diameter is not stated",
            f"Measure it, and state bore in [sides.{side}]; with a slot, its width as slot",
            "note",
        )
    elif width > max(bore, own.slot or 0.0):
        slot = f" with a slot of {own.slot:g} mm" if own.slot else ""
        yield _reason(
            side,
            f"a blade {width:g} mm wide does not pass through a {hole} of {bore:g} mm{slot}",
            "Take a narrower blade or round spokes; where a slot lets it pass, state its width as slot",
        )


def _reason(side: SideName, sentence: str, remedy: str, severity: Severity = "check") -> Reason:
    return Reason(sentence=sentence, remedy=remedy, about=f"sides.{side}.bore", severity=severity)
