"""What the first page shows of every job: its words, state, verdict, lengths and date, without opening it."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from hubsight.job import JOB_FILE_NAME, JobFileError
from hubsight.job.file.corrections import CORRECTIONS_FILE_NAME
from hubsight.job.file.text import read_job_text
from hubsight.model.catalogue import SIDE_WORDS
from hubsight.model.result import JobResult, MeasuredSide
from hubsight.model.stated import SIDES
from hubsight.model.verdict import VerdictWord
from hubsight.page.jobs import job_folders, photos_of
from hubsight.page.kept import KEPT, RESULT, Remembered, remembered
from hubsight.page.stated import hub_of
from hubsight.record.store import RECORD_FILE
from hubsight.shelf import Query, ShelvedSide, holds, shelf_figures
from hubsight.show.view import VERDICT_WORDS

MOST_SHOWN = 60
"""Jobs in the list; raising it makes the first page slower to open."""


@dataclass(frozen=True)
class Summary:
    """One job in the list.

    Attributes
    ----------
    id, name
        Its identifier, and its folder's name.
    labels
        The user's own words: hub, customer, wheel, notes.
    photos
        How many there are.
    state
        What was done with it, in a word or two.
    word, heading
        Of the verdict; None where nothing was measured.
    lengths
        To order, in words; else spoke lengths; empty without either.
    when
        Of the last measuring; else of the last change.
    sides
        As the shelf knows them, to be searched and compared.
    """

    id: str
    name: str
    labels: dict[str, str]
    photos: int
    state: str
    word: VerdictWord | None
    heading: str
    lengths: str
    when: datetime
    sides: tuple[ShelvedSide, ...]

    @property
    def words(self) -> str:
        """All that can be found by a word, in small letters."""
        return " ".join((self.name, *self.labels.values())).casefold()


class Summaries:
    """The jobs of a shelf; each is read again only when one of its files changed."""

    def __init__(self, shelf: Path) -> None:
        self._shelf = shelf
        self._known: dict[str, tuple[object, Summary]] = {}

    def find(self, query: Query) -> list[Summary]:
        """Return the jobs for which everything in a query holds, the newest first."""
        folders = job_folders(self._shelf)
        every = [self.one(job, folder) for job, folder in folders.items()]
        found = [summary for summary in every if _found(query, summary)]
        return sorted(found, key=lambda summary: summary.when, reverse=True)

    def one(self, job: str, folder: Path) -> Summary:
        """Return one job."""
        stamp = tuple(_stamp(folder / name) for name in _WATCHED)
        known = self._known.get(job)
        if known is None or known[0] != stamp:
            known = self._known[job] = (stamp, _summary(job, folder, stamp))
        return known[1]


_WATCHED = (JOB_FILE_NAME, RECORD_FILE, CORRECTIONS_FILE_NAME, f"{KEPT}/{RESULT}", *SIDES)
"""Files and folders of a job; when one of them changes, so may what is shown."""


def _stamp(file: Path) -> int:
    with suppress(OSError):
        return file.stat().st_mtime_ns
    return 0


def _found(query: Query, summary: Summary) -> bool:
    if any(holds(query, side) for side in summary.sides):
        return True
    only_words = not query.spans and query.bosses is None and query.crosses is None
    return only_words and all(word in summary.words for word in query.words)


def _summary(job: str, folder: Path, stamp: Iterable[int]) -> Summary:
    name, labels, last = folder.resolve().name, _labels(folder), remembered(folder)
    photos = sum(len(photos_of(folder, side)) for side in SIDES)
    changed = datetime.fromtimestamp(max(stamp) / 1e9, UTC)
    result = last.result
    return Summary(
        id=job,
        name=name,
        labels=labels,
        photos=photos,
        state=_state(last, photos, hub_of(folder)),
        word=None if result is None else result.verdict.word,
        heading="" if result is None else VERDICT_WORDS[result.verdict.word],
        lengths="" if result is None else _lengths(result),
        when=last.measured_at or changed,
        sides=() if result is None else tuple(_sides(name, labels, last, result)),
    )


def _labels(folder: Path) -> dict[str, str]:
    try:
        table = tomllib.loads(read_job_text(folder / JOB_FILE_NAME)).get("label")
    except (JobFileError, tomllib.TOMLDecodeError):
        table = None
    stated = table if isinstance(table, dict) else {}
    return {
        name: stated[name] if isinstance(stated.get(name), str) else ""
        for name in ("hub", "customer", "wheel", "notes")
    }


def _state(last: Remembered, photos: int, hub: str) -> str:
    if hub:
        return f"wheel on the hub of {Path(hub).name}"
    if last.result is None:
        return "no photos yet" if not photos else "not measured"
    if not last.of_now:
        return "changed since it was measured"
    return "measured, report written" if last.recorded else "measured"


def _lengths(result: JobResult) -> str:
    if result.order:
        return ", ".join(
            f"{SIDE_WORDS[line.side].lower()} {line.count} × {line.length:g}" for line in result.order
        )
    known = [
        (side.name, side.spoke_lengths.length) for side in result.sides if side.spoke_lengths is not None
    ]
    return ", ".join(f"{SIDE_WORDS[side].lower()} {length.value:.1f}" for side, length in known)


def _sides(name: str, labels: dict[str, str], last: Remembered, result: JobResult) -> Iterable[ShelvedSide]:
    hub = None if result.hub is None else result.hub.figures.get("over_locknut")
    when = datetime.now(UTC) if last.measured_at is None else last.measured_at
    for side in result.sides:
        found = side.measurement
        if found is not None:
            yield ShelvedSide(
                record=name,
                job=name,
                **labels,
                measured_at=f"{when:%Y-%m-%dT%H:%M:%SZ}",
                side=side.name,
                kind=found.kind,
                bosses=found.boss_count,
                crosses=found.crosses,
                over_locknut=None if hub is None else hub.value,
                photos=_photos_word(name, side),
                figures=shelf_figures(side),
            )


def _photos_word(name: str, side: MeasuredSide) -> str:
    """Return a word for a side's photos: two jobs never share theirs."""
    return " ".join((name, *side.photos))
