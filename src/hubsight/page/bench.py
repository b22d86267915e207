"""What the page knows while it is open: jobs, their photos, what is being done, and what came out."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable, Coroutine
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, TypeVar

from hubsight.job.file.corrections import read_corrections, write_corrections
from hubsight.model.corrections import Corrections
from hubsight.model.result import MeasuredSide
from hubsight.model.side import PhotoEvidence
from hubsight.model.stated import SideName
from hubsight.page.cache import Cache
from hubsight.page.child import Child, ChildFailed, Crew
from hubsight.page.cutting import cut
from hubsight.page.form import paper_and_tip
from hubsight.page.jobs import SIDES, PhotoFile, find_photo, job_folders, photos_of
from hubsight.page.looking import LOOK_MEMORY, LOOK_S, LOOKERS, Looked, look
from hubsight.page.measuring import (
    MEASURE_MEMORY,
    MEASURE_S,
    Outcome,
    measure,
    order_page,
    record,
    report_page,
)
from hubsight.show.canvas import Window

Work = TypeVar("Work")

MOST_UNDO = 200
SETTLE_S = 2.0
"""Looking anew takes seconds, in which no correction is answered: it waits until somebody pauses."""


@dataclass
class PhotoState:
    """One photo on the page.

    Attributes
    ----------
    file
        Where it is.
    owner
        Session of the phone that sent it; empty for the laptop's own.
    looked
        None while it is being looked at.
    trouble
        Why it could not be looked at.
    """

    file: PhotoFile
    owner: str = ""
    looked: Looked | None = None
    trouble: str = ""


@dataclass
class JobState:
    """One job on the page.

    Attributes
    ----------
    id, folder
        Its identifier and place.
    version
        Rises with every change that the page should show.
    photos
        By identifier.
    outcome, before
        Of the last measuring, and of the one before the last correction, to show how the figures move.
    doing
        What is being done, in words; empty when nothing is.
    undo
        Per side the corrections before each change.
    reported
        Whether the report belongs to the outcome.
    restated
        Whether something else was stated while this was being measured.
    turn
        Corrections are taken one after the other.
    settling
        The exact look that follows provisional figures.
    cuts
        Close-ups on the wall: by name the photo and the window of it.
    """

    id: str
    folder: Path
    version: int = 1
    photos: dict[str, PhotoState] = field(default_factory=dict)
    outcome: Outcome | None = None
    before: Outcome | None = None
    doing: str = ""
    undo: dict[SideName, list[Corrections]] = field(default_factory=lambda: {side: [] for side in SIDES})
    reported: bool = False
    restated: bool = False
    turn: asyncio.Lock = field(default_factory=asyncio.Lock)
    settling: asyncio.Task[None] | None = None
    cuts: dict[str, tuple[Path, Window]] = field(default_factory=dict)

    def changed(self) -> None:
        """Say that there is something new to show."""
        self.version += 1

    def side_photos(self, side: SideName) -> list[PhotoState]:
        """Return a side's photos in the order of their names."""
        own = [p for p in self.photos.values() if p.file.side == side]
        return sorted(own, key=lambda p: p.file.path.name)

    def evidence(self, photo: PhotoState) -> PhotoEvidence | None:
        """Return what the last measuring saw in a photo; None where it was left out."""
        side = photo.file.side
        measured = self.measured_side(side)
        found = None if measured is None else measured.measurement
        refused = () if self.outcome is None else self.outcome.refused_photos.get(side, ())
        photos = refused if found is None else found.photos
        return next((e for e in photos if e.file == photo.file.path.name), None)

    def measured_side(self, side: SideName, *, before: bool = False) -> MeasuredSide | None:
        """Return a side's outcome."""
        outcome = self.before if before else self.outcome
        if outcome is None or outcome.measured is None:
            return None
        return next((s for s in outcome.measured.sides if s.name == side), None)


class Bench:
    """All jobs of one shelf, and the children that work for them.

    Parameters
    ----------
    shelf
        Folder of job folders, or one job folder.
    """

    def __init__(self, shelf: Path) -> None:
        self.shelf = shelf
        self._cache = Cache()
        self.cache = self._cache.folder
        self._jobs: dict[str, JobState] = {}
        self._lookers = Crew(LOOKERS, LOOK_MEMORY)
        self._measurer = Child(MEASURE_MEMORY)
        self._tasks: set[asyncio.Task[None]] = set()
        self._cutting: dict[Path, asyncio.Lock] = {}

    def start(self) -> None:
        """Start the children, so that the first photo does not wait for them."""
        self._lookers.start()
        self._measurer.start()

    def stop(self) -> None:
        """End all work; the pictures made for the screen are thrown away."""
        for task in self._tasks:
            task.cancel()
        self._lookers.stop()
        self._measurer.stop()
        self._cache.close()

    def jobs(self) -> list[JobState]:
        """Return the jobs that are on the shelf now."""
        folders = job_folders(self.shelf)
        return [self._state(job, folder) for job, folder in folders.items()]

    def job(self, job: str) -> JobState | None:
        """Look a job up; its photos are brought up to date, and new ones looked at."""
        folder = job_folders(self.shelf).get(job)
        if folder is None:
            return None
        state = self._state(job, folder)
        self._see_photos(state)
        return state

    def _state(self, job: str, folder: Path) -> JobState:
        if job not in self._jobs or self._jobs[job].folder != folder:
            self._jobs[job] = JobState(job, folder)
        return self._jobs[job]

    def _see_photos(self, state: JobState) -> None:
        """Notice photos that came into the folder, or went, without the page."""
        there = {photo.id: photo for side in SIDES for photo in photos_of(state.folder, side)}
        for gone in set(state.photos) - set(there):
            del state.photos[gone]
            state.changed()
        for photo in there.values():
            if photo.id not in state.photos:
                self.add_photo(state, photo)

    def add_photo(self, state: JobState, photo: PhotoFile, owner: str = "") -> PhotoState:
        """Put a new photo on the page and look at it."""
        known = PhotoState(photo, owner)
        state.photos[photo.id] = known
        state.reported = False
        state.changed()
        self._spawn(self._look(state, known))
        return known

    def find(self, state: JobState, photo: str) -> PhotoState | None:
        """Look a photo up."""
        return state.photos.get(photo) if find_photo(state.folder, photo) is not None else None

    async def _look(self, state: JobState, photo: PhotoState) -> None:
        file = photo.file
        paper, tip = paper_and_tip(state.folder)
        try:
            photo.looked = await self._lookers.call(
                look, file.path, f"{state.id}-{file.id}", self.cache, paper, tip, timeout=LOOK_S
            )
        except ChildFailed as error:
            photo.trouble = f"This picture cannot be used: {error}."
        else:
            refusal = photo.looked.refusal
            if refusal is not None:
                photo.trouble = refusal.model_copy(update={"photo": None}).sentence()
        state.changed()

    async def cut(self, state: JobState, name: str) -> Path | None:
        """Return the picture of a close-up on a job's wall; all of one photo are cut at once."""
        if name not in state.cuts:
            return None
        photo, file = state.cuts[name][0], self.cache / f"{name}.jpg"
        async with self._cutting.setdefault(photo, asyncio.Lock()):
            own = tuple((n, window) for n, (path, window) in state.cuts.items() if path == photo)
            if not file.is_file():
                with contextlib.suppress(ChildFailed):
                    await self._lookers.call(cut, photo, own, self.cache, timeout=LOOK_S)
        return file if file.is_file() else None

    def measure(self, state: JobState) -> None:
        """Begin to measure a job; one that is being measured is measured once more after that."""
        if state.doing:
            state.restated = True
            return
        state.doing = "Waiting for the photos"
        state.changed()
        self._spawn(self._measure(state))

    async def _measure(self, state: JobState) -> None:
        outcome = await self._run(state, exact=True)
        state.outcome, state.before = outcome, None
        self._done(state)

    def _done(self, state: JobState) -> None:
        """Say that nothing is being done any more, unless there is something to do at once."""
        state.doing = ""
        state.changed()
        if state.restated:
            state.restated = False
            self.measure(state)

    async def _run(self, state: JobState, *, exact: bool) -> Outcome:
        def tell(words: str) -> None:
            state.doing = f"{words[:1].upper()}{words[1:]}"
            state.changed()

        try:
            return await self._measurer.call(measure, state.folder, exact, timeout=MEASURE_S, tell=tell)
        except ChildFailed as error:
            return Outcome(None, (f"Measuring failed: {error}.",))

    async def restated(self, state: JobState) -> None:
        """Bring the figures up to date after something else was stated."""
        state.reported = False
        state.changed()
        if state.outcome is not None or state.doing:
            self.measure(state)

    async def correct(
        self, state: JobState, side: SideName, corrections: Corrections, *, undoing: bool
    ) -> None:
        """Take other corrections of a side, adjust, and show how the figures move.

        Raises
        ------
        JobFileError
            If they cannot be written.
        """
        async with state.turn:
            all_sides = read_corrections(state.folder)
            now = all_sides.of(side)
            if now == corrections:
                return
            write_corrections(state.folder, all_sides.having(side, corrections))
            if not undoing:
                state.undo[side] = [*state.undo[side], now][-MOST_UNDO:]
            if state.settling is not None:
                state.settling.cancel()
            before = state.outcome
            state.outcome = await self._run(state, exact=False)
            state.before = before
            state.reported = False
            self._done(state)
            if state.outcome.provisional:
                state.settling = self._spawn(self._settle(state))

    async def undo(self, state: JobState, side: SideName) -> bool:
        """Take the last change back; False if there is none."""
        if not state.undo[side]:
            return False
        await self.correct(state, side, state.undo[side][-1], undoing=True)
        state.undo[side].pop()
        return True

    async def _settle(self, state: JobState) -> None:
        """Look anew while provisional figures are shown, once nobody has corrected anything for a while."""
        await asyncio.sleep(SETTLE_S)
        state.settling = None
        outcome = await self._run(state, exact=True)
        state.outcome = outcome
        self._done(state)

    async def report(self, state: JobState) -> tuple[str, ...]:
        """Measure exactly, write record and report; return what is wrong, if anything."""
        state.doing = "Writing the report"
        state.changed()
        try:
            outcome = await self._measurer.call(record, state.folder, timeout=MEASURE_S)
        except ChildFailed as error:
            outcome = Outcome(None, (f"The report failed: {error}.",))
        if outcome.measured is not None:
            state.outcome = replace(outcome, provisional=False)
            state.reported = True
        self._done(state)
        return outcome.problems

    async def work(self, function: Callable[..., Work], *arguments: object, timeout: float) -> Work:
        """Let the measuring child do something for a job; raises `ChildFailed` if it cannot."""
        return await self._measurer.call(function, *arguments, timeout=timeout)

    async def report_page(self, state: JobState) -> tuple[str, tuple[str, ...]]:
        """Return the report of the last record, or what is wrong with it."""
        try:
            return await self._measurer.call(report_page, state.folder, timeout=MEASURE_S)
        except ChildFailed as error:
            return "", (f"The report failed: {error}.",)

    async def order_page(self, state: JobState) -> tuple[str, tuple[str, ...]]:
        """Return the order sheet of the last record, or what is wrong with it."""
        try:
            return await self._measurer.call(order_page, state.folder, timeout=MEASURE_S)
        except ChildFailed as error:
            return "", (f"The order sheet failed: {error}.",)

    def _spawn(self, work: Coroutine[Any, Any, None]) -> asyncio.Task[None]:
        task = asyncio.get_running_loop().create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        return task
