"""What changed from one measurement of a job to the next, and why."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from hubsight.model.catalogue import SIDE_WORDS, figure_words
from hubsight.model.figure import Figure
from hubsight.model.stated import SideName
from hubsight.record.model import InputFile, Record, Statement

REPEATS_MM = 0.005
"""Figures that differ by no more are the same to the two decimals that are shown (half of the last one). The
same program on the same machine gives the same digits; other processors and libraries round otherwise."""


@dataclass(frozen=True)
class FigureChange:
    """A figure before and after; None where there was none.

    Attributes
    ----------
    name
        Side and figure in plain words.
    """

    name: str
    before: Figure | None
    after: Figure | None

    @property
    def difference(self) -> float | None:
        """After minus before, mm."""
        if self.before is None or self.after is None:
            return None
        return self.after.value - self.before.value

    def sentence(self) -> str:
        """Return the change in plain words."""
        if self.before is None or self.after is None:
            there = self.after or self.before
            value = "" if there is None else f" ({there.value:.2f} mm)"
            return f"{self.name}: {'new' if self.before is None else 'no longer measured'}{value}"
        difference = self.after.value - self.before.value
        return f"{self.name}: {self.before.value:.2f} to {self.after.value:.2f} mm ({difference:+.2f})"


@dataclass(frozen=True)
class RecordChange:
    """From one record to the next.

    Attributes
    ----------
    before, after
        The records; ``before`` is None for the first.
    reasons
        What was different beforehand: photos, statements, software.
    figures
        Those that came out differently.
    orders
        Stock lengths to order that are others than before.
    warnings
        That are new.
    """

    before: Record | None
    after: Record
    reasons: tuple[str, ...]
    figures: tuple[FigureChange, ...]
    orders: tuple[str, ...]
    warnings: tuple[str, ...]


def record_changes(records: Sequence[Record]) -> tuple[RecordChange, ...]:
    """Return what changed at every measurement, from the oldest to the newest.

    Parameters
    ----------
    records
        As `hubsight.record.read_history` returns them.
    """
    if not records:
        return ()
    first = RecordChange(None, records[0], (), (), (), ())
    return (first, *(_change(before, after) for before, after in itertools.pairwise(records)))


def _change(before: Record, after: Record) -> RecordChange:
    known = set(all_warnings(before))
    return RecordChange(
        before,
        after,
        reasons=(
            *_input_reasons(before.inputs, after.inputs),
            *statement_reasons(before.statements, after.statements),
            *software_reasons(before, after),
        ),
        figures=figure_changes(before, after, REPEATS_MM),
        orders=tuple(order_changes(before, after)),
        warnings=tuple(text for text in all_warnings(after) if text not in known),
    )


def _input_reasons(before: Sequence[InputFile], after: Sequence[InputFile]) -> Iterator[str]:
    old, new = ({file.path: file for file in files if file.kind != "job file"} for files in (before, after))
    for path in dict.fromkeys((*old, *new)):
        if path not in old:
            yield f"{new[path].kind} added: {path}"
        elif path not in new:
            yield f"{old[path].kind} taken out: {path}"
        elif old[path].sha256 != new[path].sha256:
            same = old[path].pixels_sha256 is not None and old[path].pixels_sha256 == new[path].pixels_sha256
            what = (
                "has other tags, the picture is the same" if same else "is another file under the same name"
            )
            yield f"{new[path].kind} {path} {what}"


def statement_reasons(before: Sequence[Statement], after: Sequence[Statement]) -> Iterator[str]:
    """Yield every statement that was added, taken back or corrected."""
    old, new = ({item.field: item for item in items} for items in (before, after))
    for field in dict.fromkeys((*old, *new)):
        if field not in old:
            yield f"{field} stated: {shown(new[field])}"
        elif field not in new:
            yield f"{field} no longer stated (was {shown(old[field])})"
        elif old[field] != new[field]:
            yield f"{field} corrected: {shown(old[field])} to {shown(new[field])}"


def shown(item: Statement) -> str:
    """Return a statement's value in plain words."""
    if isinstance(item.value, str):
        return f'"{item.value}"'
    number = f"{item.value:g}" if isinstance(item.value, int) else f"{item.value:.2f}"
    return number if item.u is None else f"{number} ± {item.u:.2f}"


def software_reasons(before: Record, after: Record) -> Iterator[str]:
    """Yield every program and library whose version is another."""
    old, new = _versions(before), _versions(after)
    for name in dict.fromkeys((*old, *new)):
        if old.get(name) != new.get(name):
            yield f"{name} {old.get(name, 'none')} to {new.get(name, 'none')}"


def _versions(record: Record) -> dict[str, str]:
    named = record.measurement.software.model_dump()
    return {
        **named,
        **{library.name: library.version for library in record.libraries},
        "system": record.system,
    }


def figures_of(record: Record) -> dict[str, Figure]:
    """Return every figure of a record, spoke lengths included, by side and name in plain words."""
    found: dict[str, Figure] = {}
    for side in record.measurement.sides:
        where = SIDE_WORDS[side.name].lower()
        if side.measurement is not None:
            for name, figure in side.measurement.figures.items():
                found[f"{where}, {figure_words(name)}"] = figure
        if side.spoke_lengths is not None:
            found[f"{where}, spoke length"] = side.spoke_lengths.length
    if record.measurement.hub is not None:
        for hub_name, figure in record.measurement.hub.figures.items():
            found[f"hub, {figure_words(hub_name)}"] = figure
    return found


def figure_changes(before: Record, after: Record, least: float) -> tuple[FigureChange, ...]:
    """Return the figures that differ by more than ``least`` mm, or that only one record has."""
    old, new = figures_of(before), figures_of(after)
    changes = (FigureChange(name, old.get(name), new.get(name)) for name in dict.fromkeys((*old, *new)))
    return tuple(change for change in changes if change.difference is None or abs(change.difference) > least)


def order_changes(before: Record, after: Record) -> Iterator[str]:
    """Yield the sides for which other stock lengths are to be ordered."""
    old, new = _orders(before), _orders(after)
    for side in dict.fromkeys((*old, *new)):
        if old.get(side) != new.get(side):
            yield f"{SIDE_WORDS[side].lower()}: {old.get(side, 'nothing')} to {new.get(side, 'nothing')}"


def _orders(record: Record) -> dict[SideName, str]:
    return {
        side.name: ", ".join(
            f"{choice.count} of {choice.proposed.length:g} mm" for choice in side.spoke_lengths.order.choices
        )
        for side in record.measurement.sides
        if side.spoke_lengths is not None and side.spoke_lengths.order is not None
    }


def all_warnings(record: Record) -> tuple[str, ...]:
    """Return every reason of a record's verdict."""
    return tuple(reason.sentence for reason in record.measurement.verdict.reasons)
