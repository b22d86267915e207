"""The laptop's page: its addresses, and what each does. Whatever changes something is a POST."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from pathlib import Path
from typing import Any

from pydantic import ValidationError
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Route

from hubsight.job import JobFileError
from hubsight.job.file.corrections import read_corrections
from hubsight.model.catalogue import SET_WORDS
from hubsight.model.corrections import LEAST_BORES, LEAST_BOSSES, MOST_BORES, MOST_BOSSES
from hubsight.model.stated import SETS, SIDES, SideName
from hubsight.page.bench import Bench
from hubsight.page.built_pages import BuiltPages
from hubsight.page.card import CardDesk
from hubsight.page.content import answered, page_sides
from hubsight.page.correcting import Correcting
from hubsight.page.door import ERRORS, Gate, Lock, enter, refused, small_json
from hubsight.page.doors import Doors
from hubsight.page.drawer_desk import DrawerDesk
from hubsight.page.fields import (
    WHEEL_MORE,
    gauge_fields,
    gauges_field,
    label_fields,
    sheet_fields,
    spoke_fields,
    wheel_fields,
)
from hubsight.page.form import read_typed, set_typed
from hubsight.page.handlers import Handler, JobHandler
from hubsight.page.jobs import create_wheel, job_folders
from hubsight.page.kit_pages import KitPages
from hubsight.page.live import Live
from hubsight.page.network import LOOPBACK, own_addresses
from hubsight.page.pages import fill, render, static_file
from hubsight.page.photo_pages import PhotoPages
from hubsight.page.prepare_pages import PreparePages
from hubsight.page.shelf_page import ShelfPages
from hubsight.page.state import JobState
from hubsight.page.status import STATE_WORDS, status_of
from hubsight.page.wall import Wall
from hubsight.page.what_if import PREFIX, WhatIfDesk
from hubsight.page.words import without_place
from hubsight.show.prepare.pictures import guide
from hubsight.show.view import job_view

REPORT_SECURITY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'; sandbox"
)
"""The report has its style and its pictures inside, and no script."""
PARTS = frozenset(
    (
        "status",
        "label",
        "sheet",
        "gauges",
        "photos",
        "needed",
        "phone",
        "questions",
        "wall",
        "look",
        "figures",
        "plan",
        "spokes",
        "more_wheel",
        "wheel",
        "drawer",
        "what_if",
        "report",
    )
)
"""What follows the job while the page is open; each has a template."""


class BenchApp:
    """The application for the loopback address.

    Parameters
    ----------
    bench
        The jobs.
    hosts
        Returns the only allowed values of ``Host``.
    """

    def __init__(self, bench: Bench, hosts: Callable[[], frozenset[str]]) -> None:
        self.bench = bench
        self.lock = Lock(f"hubsight-{secrets.token_hex(4)}", lasting=secrets.token_urlsafe(32))
        self.doors = Doors(bench)
        self.cards = CardDesk(bench)
        self.what_ifs = WhatIfDesk(bench)
        self.drawers = DrawerDesk(bench)
        inside, job = self._inside, self._job
        routes = [
            Route("/enter", self._enter, methods=["POST"]),
            Route("/static/{name}", self._static),
            *PreparePages(bench).routes(inside),
            Route("/job/{job}", job(self._page)),
            Route("/job/{job}/state", job(self._state)),
            Route("/job/{job}/part/{part}", job(self._part)),
            Route("/job/{job}/now", job(self._now)),
            Route("/job/{job}/fields", job(self._fields), methods=["POST"]),
            Route("/job/{job}/measure", job(self._measure), methods=["POST"]),
            Route("/job/{job}/another", job(self._another), methods=["POST"]),
            Route("/job/{job}/report", job(self._write_report), methods=["POST"]),
            Route("/job/{job}/report.html", job(self._report)),
            Route("/job/{job}/order.html", job(self._order)),
            Route("/job/{job}/card.html", job(self.cards.show)),
            Route("/job/{job}/card", job(self.cards.note), methods=["POST"]),
            *ShelfPages(bench, self.lock).routes(inside),
            *KitPages().routes(inside),
            *BuiltPages(bench).routes(inside),
            *self.what_ifs.routes(job),
            *self.drawers.routes(job),
            *self.doors.routes(job),
            *PhotoPages(bench).routes(job, self._resting),
            *Correcting(bench).routes(job),
        ]
        self.asgi = Gate(Starlette(routes=routes, exception_handlers=ERRORS), hosts)

    async def close(self) -> None:
        """Close the phones' doors."""
        await self.doors.close()

    def _inside(self, handler: Handler) -> Handler:
        """Let only the laptop's own session through; bad input becomes its sentence."""

        async def guarded(request: Request) -> Response:
            if self.lock.session(request) is None:
                return refused("Open the page again from the terminal's address.", 401)
            try:
                return await handler(request)
            except JobFileError as error:
                problem = error.problems[0]
                return JSONResponse({"error": without_place(error), "field": problem.field}, status_code=422)
            except (ValueError, ValidationError):
                return refused("This request was not understood. Reload the page.", 400)

        return guarded

    def _job(self, handler: JobHandler) -> Handler:
        """Look the job up, its photos included."""
        return self._with(self.bench.job, handler)

    def _resting(self, handler: JobHandler) -> Handler:
        """Look the job up, without looking at its photos."""
        return self._with(self.bench.resting, handler)

    def _with(self, look_up: Callable[[str], JobState | None], handler: JobHandler) -> Handler:
        async def with_job(request: Request) -> Response:
            state = look_up(request.path_params["job"])
            if state is None:
                return refused(
                    "This job is not here any more: its folder was renamed, moved or deleted.", 404
                )
            return await handler(request, state)

        return self._inside(with_job)

    async def _enter(self, request: Request) -> Response:
        return await enter(request, self.lock)

    async def _static(self, request: Request) -> Response:
        return static_file(request.path_params["name"])

    async def _page(self, request: Request, state: JobState) -> Response:  # noqa: ARG002
        if state.hub:
            self.bench.measure(state)  # which only plans: the hub's job may have changed
        return render("job.html.j2", job=state, **self._values(state))

    def _values(self, state: JobState) -> dict[str, Any]:
        typed = read_typed(state.folder)
        values, gauges = typed.values, typed.gauges
        problems = () if state.outcome is None else state.outcome.problems
        result = None if state.outcome is None else state.outcome.measured
        view = None if result is None else job_view(result)
        return {
            "state": state,
            "hub_name": Path(state.hub).name,
            "hub_job": self._hub_job(state),
            "values": values,
            "sheet": sheet_fields(state.folder),
            "gauges": {name: gauge_fields(name, state.folder) for name in gauges},
            "without_length": typed.without_length(),
            "more_gauge": gauge_fields(typed.more, state.folder) if len(gauges) == 1 else (),
            "in_photos": {side: gauges_field(side, gauges) for side in SIDES} if len(gauges) > 1 else {},
            "wheel": wheel_fields(state.folder),
            "more_wheel": WHEEL_MORE,
            "spokes": spoke_fields(state.folder),
            "what_if": self.what_ifs.fold(state),
            "drawer": self.drawers.of(state),
            "result": result,
            "view": view,
            "sides": page_sides(state, () if view is None else view.sides, values),
            "problems": problems,
            "wall": Wall(state),
            "live": Live(state),
            "guide": guide(),
            "unusable": self._unusable_files(state),
            "door": self.doors.of(state),
            "status": status_of(state, typed),
            "answers": answered(state),
            "label": label_fields(),
            "bosses": (LEAST_BOSSES, MOST_BOSSES),
            "bores": (LEAST_BORES, MOST_BORES),
            "addresses": own_addresses() or (LOOPBACK,),
        }

    def _hub_job(self, state: JobState) -> str:
        """Return the identifier of the job that a wheel's hub is of; empty where it is not on this shelf."""
        folder = (state.folder / state.hub).resolve()
        jobs = job_folders(self.bench.shelf) if state.hub else {}
        return next((job for job, place in jobs.items() if place.resolve() == folder), "")

    @staticmethod
    def _unusable_files(state: JobState) -> dict[SideName, tuple[str, ...]]:
        try:
            corrections = read_corrections(state.folder)
        except JobFileError:
            return dict.fromkeys(SIDES, ())
        return {side: corrections.of(side).unusable for side in SIDES}

    async def _state(self, request: Request, state: JobState) -> Response:  # noqa: ARG002
        return JSONResponse(self._standing(state))

    @staticmethod
    def _standing(state: JobState) -> dict[str, Any]:
        outcome = state.outcome
        steps = status_of(state, read_typed(state.folder)).steps
        return {
            "version": state.version,
            "doing": state.doing,
            "steps": {name: [now, STATE_WORDS[now]] for name, now in steps.items()},
            "recalled": state.recalled,
            "undo": bool(state.history.done),
            "redo": bool(state.history.undone),
            "measured": outcome is not None and outcome.measured is not None,
            "provisional": outcome is not None and outcome.provisional,
            "reported": state.reported,
            "photos": [
                {"id": p.file.id, "side": side, "name": f"{SET_WORDS[side]}: {p.file.path.name}"}
                for side in SETS
                for p in state.side_photos(side)
                if p.shown is not None and p.shown.readable
            ],
        }

    async def _part(self, request: Request, state: JobState) -> Response:
        part = request.path_params["part"]
        if part not in PARTS:
            return refused("Not found.", 404)
        return render(f"part_{part}.html.j2", job=state, **self._values(state))

    async def _now(self, request: Request, state: JobState) -> Response:
        """Answer with the state, and with the parts that are shown if they are not of this version."""
        asked = request.query_params
        standing = self._standing(state)
        if asked.get("version") == str(state.version):
            return JSONResponse({"state": standing, "parts": {}})
        names = [part for part in asked.get("parts", "").split(",") if part in PARTS]
        values = self._values(state) if names else {}
        parts = {part: fill(f"part_{part}.html.j2", job=state, **values) for part in names}
        return JSONResponse({"state": standing, "parts": parts})

    async def _fields(self, request: Request, state: JobState) -> Response:
        typed = {str(k): str(v) for k, v in (await small_json(request)).items()}
        chosen = {name: typed.pop(name) for name in list(typed) if name.startswith(PREFIX)}
        kept = {name: self.what_ifs.choose(state, name, text) for name, text in chosen.items()}
        if typed:
            set_typed(state.folder, typed)
            await self.bench.restated(state)
        values = read_typed(state.folder).values
        return JSONResponse({"values": {name: values.get(name, "") for name in typed} | kept})

    async def _measure(self, request: Request, state: JobState) -> Response:  # noqa: ARG002
        self.bench.measure(state)
        return JSONResponse({"ok": True})

    async def _another(self, request: Request, state: JobState) -> Response:
        """Begin a job for another wheel on a hub that is measured."""
        title = str((await small_json(request)).get("title", ""))
        if state.outcome is None or state.outcome.measured is None:
            return refused("Measure the photos first.", 409)
        return JSONResponse({"job": create_wheel(self.bench.shelf, title, state.folder)})

    async def _write_report(self, request: Request, state: JobState) -> Response:  # noqa: ARG002
        problems = await self.bench.report(state)
        if problems:
            return refused(" ".join(problems), 422)
        return JSONResponse({"report": f"/job/{state.id}/report.html"})

    async def _report(self, request: Request, state: JobState) -> Response:  # noqa: ARG002
        page, problems = await self.bench.report_page(state)
        if problems:
            return refused(" ".join(problems), 422)
        return HTMLResponse(page, headers={"Content-Security-Policy": REPORT_SECURITY})

    async def _order(self, request: Request, state: JobState) -> Response:  # noqa: ARG002
        page, problems = await self.bench.order_page(state)
        if problems:
            return refused(" ".join(problems), 422)
        return HTMLResponse(page, headers={"Content-Security-Policy": REPORT_SECURITY})
