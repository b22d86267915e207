"""What the page knows while it is open: jobs, their photos, what is being done, and what came out."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Coroutine
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal, TypeVar

from hubsight.job.file.corrections import read_corrections, write_corrections
from hubsight.model.corrections import Corrections
from hubsight.model.stated import SIDES, SideName
from hubsight.page.cache import Cache
from hubsight.page.child import Child, ChildFailed, Crew
from hubsight.page.cutting import cut
from hubsight.page.form import paper_and_tip
from hubsight.page.history import Change, History
from hubsight.page.jobs import PhotoFile, find_photo, job_folders, photos_of, remove_photo
from hubsight.page.kept import (
    HISTORY,
    LOOKS,
    KeptLook,
    KeptLooks,
    inputs_of,
    keep,
    keep_result,
    kept_file,
    read_history,
    read_looks,
    remembered,
    still_holds,
)
from hubsight.page.looking import (
    LOOK_MEMORY,
    LOOK_S,
    LOOKERS,
    SHOWN_AS_STORED,
    glance,
    look,
    screen_files,
    show,
)
from hubsight.page.measuring import (
    MEASURE_MEMORY,
    MEASURE_S,
    Outcome,
    measure,
    order_page,
    record,
    report_page,
)
from hubsight.page.state import JobState, PhotoState

Work = TypeVar("Work")

SETTLE_S = 2.0
"""Looking anew takes seconds, in which no correction is answered: it waits until somebody pauses."""


def small_name(photo: str) -> str:
    """Return the name under which a photo's small picture is kept."""
    return f"{photo}.jpg"


def _recalled(state: JobState) -> JobState:
    """Put what is kept of a job's last measuring on the page."""
    last = remembered(state.folder)
    if last.result is not None:
        state.outcome = Outcome(last.result, refused_photos=last.refused_photos)
        state.measured_at, state.of_now, state.reported = last.measured_at, last.of_now, last.recorded
        state.recalled = True
    return state


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

    def job(self, job: str) -> JobState | None:
        """Look a job up; its photos are brought up to date, and new ones looked at."""
        folder = job_folders(self.shelf).get(job)
        if folder is None:
            return None
        state = self._state(job, folder)
        self._see_photos(state)
        return state

    def resting(self, job: str) -> JobState | None:
        """Look a job up without looking at its photos."""
        folder = job_folders(self.shelf).get(job)
        return None if folder is None else self._state(job, folder)

    def _state(self, job: str, folder: Path) -> JobState:
        if job not in self._jobs or self._jobs[job].folder != folder:
            self._jobs[job] = _recalled(JobState(job, folder, history=read_history(folder)))
        return self._jobs[job]

    def _see_photos(self, state: JobState) -> None:
        """Notice photos that came into the folder, or went, without the page."""
        there = {photo.id: photo for side in SIDES for photo in photos_of(state.folder, side)}
        for gone in set(state.photos) - set(there):
            del state.photos[gone]
            state.changed()
        new = [photo for photo in there.values() if photo.id not in state.photos]
        if not new:
            return
        looks, (paper, tip) = read_looks(state.folder), paper_and_tip(state.folder)
        unseen = []
        for photo in new:
            look = looks.get(photo.id)
            known = state.photos[photo.id] = PhotoState(photo)
            if look is not None and still_holds(look, photo, paper, tip):
                known.looked = look.looked
            else:
                unseen.append(known)
        state.changed()
        self._spawn(self._look_at(state, unseen))

    async def _look_at(self, state: JobState, photos: list[PhotoState]) -> None:
        """Look at photos that came without the page; what is known of them already is shown before that."""
        if state.recalled and photos:
            paths = [photo.file.path for photo in photos]
            with suppress(ChildFailed):
                glances = await self._lookers.call(glance, paths, timeout=LOOK_S)
                for photo, found in zip(photos, glances, strict=True):
                    photo.glanced = found if found.readable else None
                state.changed()
        await asyncio.gather(*(self._look(state, photo) for photo in photos))

    def add_photo(self, state: JobState, photo: PhotoFile, owner: str = "") -> PhotoState:
        """Put a new photo on the page and look at it."""
        state.reported = state.of_now = False
        known = state.photos[photo.id] = PhotoState(photo, owner)
        state.changed()
        self._spawn(self._look(state, known))
        return known

    def remove_photo(self, state: JobState, photo: PhotoState) -> None:
        """Take a photo out of the job, and its marks out of the history.

        Raises
        ------
        JobFileError
            If the folder cannot be written.
        """
        remove_photo(state.folder, photo.file)
        state.history = state.history.without_photo(photo.file.side, photo.file.path.name)
        keep(state.folder, HISTORY, state.history)
        state.reported = state.of_now = False
        state.photos.pop(photo.file.id, None)
        state.changed()

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
            photo.failed = f"This picture cannot be used: {error}."
        state.changed()
        self._keep_looks(state)

    def _keep_looks(self, state: JobState) -> None:
        """Keep the first looks, and the small pictures, once nobody waits for one any more."""
        if any(p.looked is None and not p.trouble for p in state.photos.values()):
            return
        paper, tip = paper_and_tip(state.folder)
        looks: dict[str, KeptLook] = {}
        for photo in state.photos.values():
            if photo.looked is None or not photo.looked.readable or not photo.file.path.is_file():
                continue
            size = photo.file.path.stat().st_size
            looks[photo.file.id] = KeptLook(size=size, paper=paper, tip=tip, looked=photo.looked)
            small = screen_files(self.cache, f"{state.id}-{photo.file.id}")[1]
            if small.is_file() and kept_file(state.folder, small_name(photo.file.id)) is None:
                keep(state.folder, small_name(photo.file.id), small.read_bytes())
        keep(state.folder, LOOKS, KeptLooks(looks=looks))

    async def picture(self, state: JobState, photo: PhotoFile, size: Literal["full", "small"]) -> Path | None:
        """Return a photo's picture for the screen; it is made where it is not there any more.

        A JPEG is shown as it is: browsers turn it as its tags say.
        """
        known = state.photos.get(photo.id)
        if known is not None and (known.shown is None or not known.shown.readable):
            return None
        if size == "full" and photo.path.suffix.lower() in SHOWN_AS_STORED:
            return photo.path
        kept = kept_file(state.folder, small_name(photo.id)) if size == "small" else None
        files = screen_files(self.cache, f"{state.id}-{photo.id}")
        file = kept or files[0 if size == "full" else 1]
        if file.is_file():
            return file
        try:
            await self._lookers.call(show, photo.path, f"{state.id}-{photo.id}", self.cache, timeout=LOOK_S)
        except ChildFailed:
            return None
        return file if file.is_file() else None

    async def cut(self, state: JobState, name: str) -> Path | None:
        """Return the picture of a close-up on a job's wall; all of one photo are cut at once."""
        if name not in state.cuts:
            return None
        photo, file = state.cuts[name][0], self.cache / f"{name}.jpg"
        async with self._cutting.setdefault(photo, asyncio.Lock()):
            own = tuple((n, window) for n, (path, window) in state.cuts.items() if path == photo)
            if not file.is_file():
                with suppress(ChildFailed):
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

    def prepare(self, state: JobState) -> None:
        """Look at the photos of a job opened from what is kept, so that corrections answer at once."""
        if state.recalled and not state.doing:
            state.recalled = False
            self.measure(state)

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

        inputs = inputs_of(state.folder)
        try:
            outcome = await self._measurer.call(measure, state.folder, exact, timeout=MEASURE_S, tell=tell)
        except ChildFailed as error:
            return Outcome(None, (f"Measuring failed: {error}.",))
        self._measured(state, outcome, inputs)
        return outcome

    def _measured(self, state: JobState, outcome: Outcome, inputs: str) -> None:
        """Keep what was measured, unless looking once more will follow."""
        state.recalled, state.of_now = False, True
        if outcome.measured is None:
            return
        state.measured_at = datetime.now(UTC)
        if not outcome.provisional:
            kept = (state.folder, inputs, outcome.measured, outcome.refused_photos)
            self._spawn(asyncio.to_thread(keep_result, *kept))

    async def restated(self, state: JobState) -> None:
        """Bring the figures up to date after something else was stated."""
        state.reported = False
        state.changed()
        if state.outcome is not None or state.doing:
            self.measure(state)

    async def correct(self, state: JobState, side: SideName, corrections: Corrections) -> None:
        """Take other corrections of a side, adjust, and show how the figures move.

        Raises
        ------
        JobFileError
            If they cannot be written.
        """
        async with state.turn:
            now = read_corrections(state.folder).of(side)
            if now == corrections:
                return
            change = Change(side=side, before=now, after=corrections)
            await self._turn_to(state, side, corrections, state.history.with_change(change))

    async def take_back(self, state: JobState) -> SideName | None:
        """Take the last change back; return its side, None if there is nothing to take back."""
        async with state.turn:
            change = state.history.last(read_corrections(state.folder))
            if change is None:
                return None
            await self._turn_to(state, change.side, change.before, state.history.taken_back())
            return change.side

    async def do_again(self, state: JobState) -> SideName | None:
        """Do the change again that was taken back last; return its side, None if there is none."""
        async with state.turn:
            change = state.history.next(read_corrections(state.folder))
            if change is None:
                return None
            await self._turn_to(state, change.side, change.after, state.history.done_again())
            return change.side

    async def _turn_to(
        self, state: JobState, side: SideName, corrections: Corrections, history: History
    ) -> None:
        write_corrections(state.folder, read_corrections(state.folder).having(side, corrections))
        state.history = history
        self._spawn(asyncio.to_thread(keep, state.folder, HISTORY, history))
        if state.settling is not None:
            state.settling.cancel()
        before = state.outcome
        state.outcome = await self._run(state, exact=False)
        state.before = before
        state.reported = False
        self._done(state)
        if state.outcome.provisional:
            state.settling = self._spawn(self._settle(state))

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
        inputs = inputs_of(state.folder)
        try:
            outcome = await self._measurer.call(record, state.folder, timeout=MEASURE_S)
        except ChildFailed as error:
            outcome = Outcome(None, (f"The report failed: {error}.",))
        if outcome.measured is not None:
            state.outcome = replace(outcome, provisional=False)
            self._measured(state, state.outcome, inputs)
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

    def _spawn(self, work: Coroutine[Any, Any, Any]) -> asyncio.Task[None]:
        task = asyncio.get_running_loop().create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        return task
