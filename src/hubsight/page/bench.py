"""What the page knows while it is open: jobs, their photos, what is being done, and what came out."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TypeVar

from hubsight.job.file.corrections import read_corrections, write_corrections
from hubsight.model.corrections import Corrections
from hubsight.model.stated import SetName
from hubsight.page.child import Child, ChildFailed
from hubsight.page.history import Change, History
from hubsight.page.jobs import job_folders
from hubsight.page.kept import (
    HISTORY,
    inputs_of,
    keep,
    keep_result,
    read_history,
    remembered,
)
from hubsight.page.measuring import (
    MEASURE_MEMORY,
    MEASURE_S,
    Outcome,
    measure,
    order_page,
    ready,
    record,
    report_page,
)
from hubsight.page.photo_desk import PhotoDesk
from hubsight.page.state import JobState
from hubsight.page.tasks import Tasks

Work = TypeVar("Work")

SETTLE_S = 2.0
"""Looking anew takes seconds, in which no correction is answered: it waits until somebody pauses."""


def _recalled(state: JobState) -> JobState:
    """Put what is kept of a job's last measuring on the page."""
    last = remembered(state.folder)
    if last.result is not None:
        state.outcome = state.exact = Outcome(last.result, refused_photos=last.refused_photos)
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
        self._tasks = Tasks()
        self.photos = PhotoDesk(self._tasks)
        self._jobs: dict[str, JobState] = {}
        self._measurer = Child(MEASURE_MEMORY)

    def start(self) -> None:
        """Start the children, so that the first photo does not wait for them."""
        self.photos.start()
        self._measurer.start()

    def stop(self) -> None:
        """End all work; the pictures made for the screen are thrown away."""
        self._tasks.cancel()
        self.photos.stop()
        self._measurer.stop()

    def job(self, job: str) -> JobState | None:
        """Look a job up; its photos are brought up to date, and new ones looked at."""
        folder = job_folders(self.shelf).get(job)
        if folder is None:
            return None
        state = self._state(job, folder)
        self.photos.bring_up_to_date(state)
        return state

    def resting(self, job: str) -> JobState | None:
        """Look a job up without looking at its photos."""
        folder = job_folders(self.shelf).get(job)
        return None if folder is None else self._state(job, folder)

    def _state(self, job: str, folder: Path) -> JobState:
        if job not in self._jobs or self._jobs[job].folder != folder:
            self._jobs[job] = _recalled(JobState(job, folder, history=read_history(folder)))
        return self._jobs[job]

    def measure(self, state: JobState) -> None:
        """Begin to measure a job; one that is being measured is measured once more after that."""
        if state.doing:
            state.restated = True
            return
        state.doing = "Waiting for the photos"
        state.changed()
        self._tasks.spawn(self._measure(state))

    async def _measure(self, state: JobState) -> None:
        state.exact = None
        outcome = await self._run(state, exact=True)
        state.outcome, state.before = outcome, None
        self._done(state)

    def prepare(self, state: JobState) -> None:
        """Make corrections of a job opened from what is kept answer at once."""
        if state.recalled and not state.doing:
            state.recalled = False
            self._tasks.spawn(self._prepare(state))

    async def _prepare(self, state: JobState) -> None:
        """Take up what is kept of the photos; look at them where that is not enough."""
        known = state.exact
        if known is not None and known.measured is not None and state.of_now:
            with suppress(ChildFailed):
                if await self._measurer.call(ready, state.folder, known.measured, timeout=MEASURE_S):
                    return
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
            asked = (state.folder, exact, state.exact)
            outcome = await self._measurer.call(measure, *asked, timeout=MEASURE_S, tell=tell)
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
            state.exact = outcome
            kept = (state.folder, inputs, outcome.measured, outcome.refused_photos)
            self._tasks.spawn(asyncio.to_thread(keep_result, *kept))

    async def restated(self, state: JobState) -> None:
        """Bring the figures up to date after something else was stated."""
        state.reported = False
        state.changed()
        if state.outcome is not None or state.doing:
            self.measure(state)

    async def correct(self, state: JobState, side: SetName, corrections: Corrections) -> None:
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

    async def take_back(self, state: JobState) -> SetName | None:
        """Take the last change back; return its side, None if there is nothing to take back."""
        async with state.turn:
            change = state.history.last(read_corrections(state.folder))
            if change is None:
                return None
            await self._turn_to(state, change.side, change.before, state.history.taken_back())
            return change.side

    async def do_again(self, state: JobState) -> SetName | None:
        """Do the change again that was taken back last; return its side, None if there is none."""
        async with state.turn:
            change = state.history.next(read_corrections(state.folder))
            if change is None:
                return None
            await self._turn_to(state, change.side, change.after, state.history.done_again())
            return change.side

    async def _turn_to(
        self, state: JobState, side: SetName, corrections: Corrections, history: History
    ) -> None:
        write_corrections(state.folder, read_corrections(state.folder).having(side, corrections))
        state.history = history
        self._tasks.spawn(asyncio.to_thread(keep, state.folder, HISTORY, history))
        if state.settling is not None:
            state.settling.cancel()
        before = state.outcome
        state.outcome = await self._run(state, exact=False)
        state.before = before
        state.reported = False
        self._done(state)
        if state.outcome.provisional:
            state.settling = self._tasks.spawn(self._settle(state))

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
