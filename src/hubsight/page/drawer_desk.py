"""What a job takes from the drawer of spokes, and taking it out, on the page."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from hubsight.job import JobFileError
from hubsight.job.file.from_drawer import lots_of
from hubsight.job.plan import with_drawer
from hubsight.kit import Kit, KitError
from hubsight.kit.drawer import Booked, drawers, load_drawer, save_drawer
from hubsight.model.result import JobResult
from hubsight.page.bench import Bench
from hubsight.page.child import ChildFailed
from hubsight.page.door import refused
from hubsight.page.handlers import Handler, JobHandler
from hubsight.page.measuring import MEASURE_S
from hubsight.page.planned import planned_here
from hubsight.page.state import JobState
from hubsight.page.stated import read_stated
from hubsight.page.words import in_page_words

FIELD = "spokes.drawer"
"""Field of a job that names its drawer."""


@dataclass(frozen=True)
class JobDrawer:
    """The drawer of a job: whether there are drawers, its name, and what the job took out of it before."""

    known: bool
    name: str = ""
    booked: Booked | None = None


class DrawerDesk:
    """Takes spokes out of the drawer for the jobs on the page."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench

    def routes(self, job: Callable[[JobHandler], Handler]) -> list[Route]:
        """Return the address, let in by ``job``."""
        return [Route("/job/{job}/drawer", job(self._book), methods=["POST"])]

    @staticmethod
    def of(state: JobState) -> JobDrawer:
        """Return a job's drawer."""
        kit = Kit.beside(state.folder)
        name, known = read_stated(state.folder, (FIELD,))[FIELD], drawers(kit)
        if name not in known:
            return JobDrawer(bool(known))
        try:
            held, _ = load_drawer(kit, name)
        except KitError:
            return JobDrawer(known=True)
        job = state.folder.resolve().name
        return JobDrawer(True, name, next((one for one in held.booked if one.job == job), None))

    async def _book(self, request: Request, state: JobState) -> Response:  # noqa: ARG002
        name = self.of(state).name
        measured = None if state.outcome is None else state.outcome.measured
        if not name or measured is None:
            return refused("Choose a drawer, and measure the photos first.", 409)
        try:
            wrong = await self._bench.work(take_out, state.folder, measured, name, timeout=MEASURE_S)
        except ChildFailed as error:
            wrong = f"This failed: {error}."
        if wrong:
            return refused(wrong, 422)
        await self._bench.restated(state)
        return JSONResponse({"ok": True})


def take_out(folder: Path, measured: JobResult, name: str) -> str:
    """Take a wheel's spokes out of a drawer; return what is wrong, empty if nothing is."""
    try:
        job, planned = planned_here(folder, measured)
        held, file = load_drawer(Kit.beside(folder), name)
        own = None if planned.plan is None else with_drawer(planned, lots_of(held))
        taken = () if own is None else held.taken_by(own)
        if not taken:
            return "The drawer has no spokes that fit this wheel."
        less = held.for_wheel(job.name, taken, datetime.date.today())
        save_drawer(less, name, file.parent.parent)
    except JobFileError as error:
        return " ".join(in_page_words(error))
    except KitError as error:
        return f"{error.what[:1].upper()}{error.what[1:]}."
    return ""
