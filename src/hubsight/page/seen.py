"""What was seen in a job's photos, kept in the page's own folder: a job opened again is corrected at once."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from pydantic import ConfigDict
from pydantic_core import to_json

from hubsight.job.recall import program
from hubsight.measure.kept_sightings import KeptSightings, kept_of, sightings_of
from hubsight.measure.lying import LyingSeen
from hubsight.measure.sightings import Sightings, Stated
from hubsight.model.corrections import Corrections
from hubsight.model.files import sha256_of
from hubsight.model.frozen import Frozen
from hubsight.model.refusal import Refusal
from hubsight.model.stated import SideName, StatedSide
from hubsight.page.kept import keep, read_kept

MOST_SETS = 4
"""Photo sets of a side whose sightings are kept, the last ones; raising it lets the file grow."""


class SeenSet(Frozen):
    """What was seen of one photo set with the corrections of that time, or why nothing can be measured.

    Attributes
    ----------
    rests_on
        Fingerprint of photos, statements that decide what is looked for, and program.
    corrections
        Of that time.
    seen, refusal
        Exactly one of them is given.
    """

    rests_on: str
    corrections: Corrections
    seen: KeptSightings | None = None
    refusal: Refusal | None = None


class SeenSide(Frozen):
    """What was seen of a side's photo sets, the last one first."""

    model_config = ConfigDict(ser_json_inf_nan="constants")

    sets: tuple[SeenSet, ...] = ()


class SeenLying(Frozen):
    """What was seen of a lying hub, or why nothing can be measured; exactly one of them is given."""

    model_config = ConfigDict(ser_json_inf_nan="constants")

    rests_on: str
    seen: LyingSeen | None = None
    refusal: Refusal | None = None


LYING = "seen-lying.json"
"""Name under which a lying hub's sightings are kept."""


def keep_lying(folder: Path, fingerprint: str, seen: LyingSeen | Refusal) -> None:
    """Keep what was seen of a lying hub."""
    found = {"refusal": seen} if isinstance(seen, Refusal) else {"seen": seen}
    keep(folder, LYING, SeenLying.model_validate({"rests_on": fingerprint, **found}))


def lying_before(folder: Path, fingerprint: str) -> LyingSeen | Refusal | None:
    """Return what was seen of a lying hub before; None where it is not kept."""
    kept = read_kept(folder, LYING, SeenLying)
    return None if kept is None or kept.rests_on != fingerprint else kept.seen or kept.refusal


def file_name(side: SideName) -> str:
    """Return the name under which a side's sightings are kept."""
    return f"seen-{side}.json"


def rests_on(photos: Sequence[Path], looked_for: Any) -> str:
    """Return the fingerprint of photos, of statements that decide what is looked for, and of the program.

    Raises
    ------
    OSError
        If a photo cannot be read.
    """
    files = [(photo.name, sha256_of(photo)) for photo in photos]
    return hashlib.sha256(to_json([program(), files, looked_for], inf_nan_mode="constants")).hexdigest()


def keep_seen(
    folder: Path, side: SideName, fingerprint: str, seen: Sightings | Refusal, corrections: Corrections
) -> None:
    """Keep what was seen of a side's photos, in place of what was seen of the same ones before."""
    new = SeenSet(
        rests_on=fingerprint,
        corrections=corrections,
        seen=None if isinstance(seen, Refusal) else kept_of(seen),
        refusal=seen if isinstance(seen, Refusal) else None,
    )
    before = read_kept(folder, file_name(side), SeenSide) or SeenSide()
    others = [one for one in before.sets if one.rests_on != fingerprint]
    keep(folder, file_name(side), SeenSide(sets=(new, *others)[:MOST_SETS]))


def seen_before(
    folder: Path, fingerprint: str, stated: Stated
) -> tuple[Sightings | Refusal, Corrections] | None:
    """Return what was seen of a side's photos, with the corrections then; None where it is not kept."""
    side: StatedSide = stated.side
    kept = read_kept(folder, file_name(side.name), SeenSide)
    own = next((one for one in kept.sets if one.rests_on == fingerprint), None) if kept else None
    if own is None:
        return None
    if own.seen is None:
        return None if own.refusal is None else (own.refusal, own.corrections)
    then = own.corrections
    seen = sightings_of(own.seen, stated.with_corrections(then))
    return None if isinstance(seen, Refusal) else (seen, then)
