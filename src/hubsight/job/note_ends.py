"""Noting in the job file where a spoke's end came to lie, by its rim hole on the bench card; mm."""

from __future__ import annotations

import math
from pathlib import Path

from hubsight.job.card import built_of
from hubsight.job.file.edit import Value, set_fields
from hubsight.job.file.load import load_job
from hubsight.job.file.problems import JobFileError, one_problem
from hubsight.job.file.text import parse_job, read_job_text
from hubsight.model.card import Card, CardSpoke
from hubsight.model.stated import Reading, SideName
from hubsight.wheel.built import AsBuilt, as_built

FARTHEST_MM = 20.0
"""Farthest that an end may be noted from the nipple's zero: beyond, it is a slip."""


def noted_end(card: Card, side: SideName, hole: int, end: float | None) -> Card:
    """Return a card with one end noted, or with None its note taken away.

    Raises
    ------
    JobFileError
        If the card has no such spoke, or the end is a slip.
    """
    if not any((spoke.side, spoke.hole) == (side, hole) for spoke in card.spokes):
        raise one_problem("the card", f"there is no spoke at rim hole {hole}", "Reload the page")
    if end is not None and not (math.isfinite(end) and abs(end) <= FARTHEST_MM):
        what = f"an end at {end:g} mm cannot be right"
        raise one_problem("the card", what, "Note how far it lies from the nipple's zero, mm")

    def as_noted(spoke: CardSpoke) -> CardSpoke:
        mine = (spoke.side, spoke.hole) == (side, hole)
        return spoke.model_copy(update={"noted": end}) if mine else spoke

    return card.model_copy(update={"spokes": tuple(map(as_noted, card.spokes))})


def write_ends(folder: Path, card: Card, side: SideName) -> None:
    """Write a side's noted ends into the job file, with the length of its spokes if that is not noted yet.

    Raises
    ------
    JobFileError
        If the file holds ends without their rim holes, which would be lost, or cannot be written.
    """
    job = load_job(folder, need_photos=False)
    before = None if job.table is None else built_of(job.table, side)
    if before is not None and before.ends and not before.holes:
        what = f"{len(before.ends)} ends are noted without their rim holes"
        raise one_problem("job.toml", what, f"Add holes to [built.{side}], or delete its ends")
    noted = [(spoke.hole, spoke.noted) for spoke in card.of(side) if spoke.noted is not None]
    ends: list[float] = [round(end, 2) for _, end in noted]
    holes: list[float] = [hole for hole, _ in noted]
    values: dict[str, Value] = {f"built.{side}.ends": ends, f"built.{side}.holes": holes}
    of_side = next(one for one in card.sides if one.side == side)
    if of_side.length is None and of_side.proposed is not None and noted:
        values[f"built.{side}.length"] = of_side.proposed
    set_fields(folder, values)


def side_as_built(card: Card, side: SideName) -> AsBuilt | None:
    """Return what the noted ends of a side say of its prediction; None where none are noted."""
    of_side = next(one for one in card.sides if one.side == side)
    noted = [spoke.noted for spoke in card.of(side) if spoke.noted is not None]
    found = as_built(Reading(of_side.end, of_side.u_end), noted, zero=card.zero)
    return found if isinstance(found, AsBuilt) else None


def notes_ends(file: Path) -> bool:
    """Tell a job file that notes ends; one that cannot be read is left for its own command to complain of."""
    try:
        built = parse_job(read_job_text(file), file.name).get("built")
    except JobFileError:
        return False
    sides = built.values() if isinstance(built, dict) else ()
    return any(isinstance(side, dict) and side.get("ends") not in (None, []) for side in sides)
