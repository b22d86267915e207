"""One measured side as it stands on the shelf."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

from hubsight.model.catalogue import ON_SHELF
from hubsight.model.figure import Figure
from hubsight.model.lengths import UsedFigure
from hubsight.model.result import MeasuredSide
from hubsight.model.stated import SideName
from hubsight.record.model import Record

TEXTS = ("record", "job", "hub", "customer", "wheel", "notes", "measured_at", "side", "kind")
"""Words of a `ShelvedSide` that are shown."""
NUMBERS = ("bosses", "crosses", "over_locknut")
"""Numbers of it that are no figures."""


class Measured(NamedTuple):
    """A figure's value and standard uncertainty, mm."""

    value: float
    u: float


@dataclass(frozen=True)
class ShelvedSide:
    """One measured side of one job.

    Attributes
    ----------
    record
        The record's file, from the shelf's folder, with forward slashes.
    job, hub, customer, wheel, notes
        The job folder's name, and the user's own words.
    measured_at
        UTC, ISO 8601.
    side, kind, bosses, crosses
        What was found.
    over_locknut
        As stated, else as measured; mm.
    photos
        One word for the side's set of photos: the same photos measured twice are no repeat measurement.
    figures
        By name, as the catalogue has them on the shelf.
    """

    record: str
    job: str
    hub: str
    customer: str
    wheel: str
    notes: str
    measured_at: str
    side: SideName
    kind: str
    bosses: int
    crosses: int | None
    over_locknut: float | None
    photos: str
    figures: dict[str, Measured]

    @property
    def words(self) -> str:
        """All that can be found by a word, in small letters."""
        kind = "radial" if self.kind == "radial" else ""
        parts = (self.hub, self.job, self.customer, self.wheel, self.notes, self.record, kind)
        return " ".join(parts).casefold()


def shelved_sides(record: Record, name: str) -> Iterator[ShelvedSide]:
    """Yield every measured side of a record; ``name`` is the record's file."""
    stated = {item.field: item.value for item in record.statements}
    old = stated.get("hub.over_locknut") or _measured_over_locknut(record)
    for side in record.measurement.sides:
        if side.measurement is None:
            continue
        yield ShelvedSide(
            record=name,
            job=record.job,
            hub=record.label.hub,
            customer=record.label.customer,
            wheel=record.label.wheel,
            notes=record.label.notes,
            measured_at=f"{record.begun:%Y-%m-%dT%H:%M:%SZ}",
            side=side.name,
            kind=side.measurement.kind,
            bosses=side.measurement.boss_count,
            crosses=side.measurement.crosses,
            over_locknut=float(old) if isinstance(old, float | int) else None,
            photos=_photos(record, side),
            figures=shelf_figures(side),
        )


def _measured_over_locknut(record: Record) -> float | None:
    hub = record.measurement.hub
    figure = None if hub is None else hub.figures.get("over_locknut")
    return None if figure is None else figure.value


def shelf_figures(side: MeasuredSide) -> dict[str, Measured]:
    """Return the figures of a side that the shelf keeps, with the spoke length, by name."""
    found: dict[str, Figure | UsedFigure] = {}
    if side.measurement is not None:
        found |= {str(name): figure for name, figure in side.measurement.figures.items()}
    if side.spoke_lengths is not None:
        used = side.spoke_lengths.origin.figure("centre_to_flange")
        if used is not None:
            found["centre_to_flange"] = used
        found["spoke_length"] = side.spoke_lengths.length
    return {name: Measured(found[name].value, found[name].u) for name in ON_SHELF if name in found}


def _photos(record: Record, side: MeasuredSide) -> str:
    own = {file.path: file.pixels_sha256 or file.sha256 for file in record.inputs if file.kind == "photo"}
    digests = sorted(own[path] for path in side.photos if path in own)
    return hashlib.sha256(" ".join(digests).encode()).hexdigest()[:16]
