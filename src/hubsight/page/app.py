"""The laptop's page: its addresses, and what each does. Whatever changes something is a POST."""

from __future__ import annotations

import secrets
from collections.abc import Awaitable, Callable
from typing import Any

from pydantic import ValidationError
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, JSONResponse, Response
from starlette.routing import Route

from hubsight.job import JobFileError
from hubsight.job.file.corrections import read_corrections
from hubsight.job.file.edit import typed_readings
from hubsight.job.file.problems import one_problem
from hubsight.model.catalogue import SIDE_WORDS
from hubsight.model.corrections import LEAST_BOSSES, MOST_BOSSES
from hubsight.model.stated import SideName
from hubsight.page.bench import Bench, JobState, PhotoState
from hubsight.page.card import CardDesk
from hubsight.page.content import page_sides
from hubsight.page.door import ERRORS, Gate, Lock, enter, refused, small_json
from hubsight.page.form import SHEET, SPOKES, WHEEL, gauge_fields, gauges_field, read_typed, set_typed
from hubsight.page.jobs import SIDES, create_job, folder_name, remove_photo
from hubsight.page.live import Live
from hubsight.page.looking import screen_files
from hubsight.page.network import LOOPBACK, own_addresses
from hubsight.page.pages import render, static_file
from hubsight.page.phone import PhoneDoor, qr_svg, upload
from hubsight.page.placing import Placed, with_placed
from hubsight.page.prepare_pages import PreparePages
from hubsight.page.view import first_drawing, measured_drawing
from hubsight.page.wall import Wall
from hubsight.page.words import without_place
from hubsight.show.prepare.pictures import guide
from hubsight.show.view import job_view

REPORT_SECURITY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'; sandbox"
)
"""The report has its style and its pictures inside, and no script."""
PARTS = frozenset(
    ("sheet", "gauges", "photos", "phone", "wall", "look", "figures", "plan", "spokes", "wheel", "report")
)
"""What follows the job while the page is open; each has a template."""

Handler = Callable[[Request], Awaitable[Response]]
JobHandler = Callable[[Request, JobState], Awaitable[Response]]


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
        self.door: PhoneDoor | None = None
        self.cards = CardDesk(bench)
        inside, job = self._inside, self._job
        routes = [
            Route("/", self._shelf),
            Route("/enter", self._enter, methods=["POST"]),
            Route("/static/{name}", self._static),
            *PreparePages(bench).routes(inside),
            Route("/jobs", inside(self._new_job), methods=["POST"]),
            Route("/job/{job}", job(self._page)),
            Route("/job/{job}/state", job(self._state)),
            Route("/job/{job}/part/{part}", job(self._part)),
            Route("/job/{job}/fields", job(self._fields), methods=["POST"]),
            Route("/job/{job}/measure", job(self._measure), methods=["POST"]),
            Route("/job/{job}/report", job(self._write_report), methods=["POST"]),
            Route("/job/{job}/report.html", job(self._report)),
            Route("/job/{job}/order.html", job(self._order)),
            Route("/job/{job}/card.html", job(self.cards.show)),
            Route("/job/{job}/card", job(self.cards.note), methods=["POST"]),
            Route("/job/{job}/phone/open", job(self._open_phone), methods=["POST"]),
            Route("/job/{job}/phone/close", job(self._close_phone), methods=["POST"]),
            Route("/job/{job}/side/{side}/photos", job(self._upload), methods=["POST"]),
            Route("/job/{job}/side/{side}/place", job(self._place), methods=["POST"]),
            Route("/job/{job}/side/{side}/undo", job(self._undo), methods=["POST"]),
            Route("/job/{job}/side/{side}/clear", job(self._clear), methods=["POST"]),
            Route("/job/{job}/photo/{photo}/unusable", job(self._unusable), methods=["POST"]),
            Route("/job/{job}/photo/{photo}/remove", job(self._remove), methods=["POST"]),
            Route("/job/{job}/photo/{photo}/drawing", job(self._drawing)),
            Route("/job/{job}/photo/{photo}/{size}.jpg", job(self._picture)),
            Route("/job/{job}/cut/{cut}.jpg", job(self._cut)),
        ]
        self.asgi = Gate(Starlette(routes=routes, exception_handlers=ERRORS), hosts)

    async def close(self) -> None:
        """Close the phone's door."""
        if self.door is not None:
            await self.door.close()

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
        async def with_job(request: Request) -> Response:
            state = self.bench.job(request.path_params["job"])
            if state is None:
                return refused(
                    "This job is not here any more: its folder was renamed, moved or deleted.", 404
                )
            return await handler(request, state)

        return self._inside(with_job)

    async def _shelf(self, request: Request) -> Response:
        if self.lock.session(request) is None:
            return render("enter.html.j2")
        jobs = self.bench.jobs()
        return render("shelf.html.j2", jobs=jobs, shelf=self.bench.shelf.resolve().name)

    async def _enter(self, request: Request) -> Response:
        return await enter(request, self.lock)

    async def _static(self, request: Request) -> Response:
        return static_file(request.path_params["name"])

    async def _new_job(self, request: Request) -> Response:
        body = await small_json(request)
        name = folder_name(str(body.get("title", "")))
        try:
            length = typed_readings(str(body.get("length", "")))
            if not length:
                raise one_problem("length", "a gauge needs its length", "Type it in mm, such as 100.08")
            return JSONResponse({"job": create_job(self.bench.shelf, name, length)})
        except JobFileError as error:
            field = "title" if (self.bench.shelf / name).exists() else "length"
            return JSONResponse({"error": without_place(error), "field": field}, status_code=422)

    async def _page(self, request: Request, state: JobState) -> Response:  # noqa: ARG002
        return render("job.html.j2", job=state, **self._values(state))

    def _values(self, state: JobState) -> dict[str, Any]:
        typed = read_typed(state.folder)
        values, gauges = typed.values, typed.gauges
        door = self.door if self.door is not None and self.door.job is state and self.door.is_open else None
        problems = () if state.outcome is None else state.outcome.problems
        result = None if state.outcome is None else state.outcome.measured
        view = None if result is None else job_view(result)
        return {
            "state": state,
            "values": values,
            "sheet": SHEET,
            "gauges": {name: gauge_fields(name) for name in gauges},
            "more_gauge": gauge_fields(typed.more) if len(gauges) == 1 else (),
            "in_photos": {side: gauges_field(side, gauges) for side in SIDES} if len(gauges) > 1 else {},
            "wheel": WHEEL,
            "spokes": SPOKES,
            "result": result,
            "view": view,
            "sides": page_sides(state, () if view is None else view.sides, values),
            "problems": problems,
            "wall": Wall(state),
            "live": Live(state),
            "guide": guide(),
            "unusable": self._unusable_files(state),
            "door": door,
            "bosses": (LEAST_BOSSES, MOST_BOSSES),
            "addresses": own_addresses() or (LOOPBACK,),
        }

    @staticmethod
    def _unusable_files(state: JobState) -> dict[SideName, tuple[str, ...]]:
        try:
            corrections = read_corrections(state.folder)
        except JobFileError:
            return dict.fromkeys(SIDES, ())
        return {side: corrections.of(side).unusable for side in SIDES}

    async def _state(self, request: Request, state: JobState) -> Response:  # noqa: ARG002
        outcome = state.outcome
        return JSONResponse(
            {
                "version": state.version,
                "doing": state.doing,
                "measured": outcome is not None and outcome.measured is not None,
                "provisional": outcome is not None and outcome.provisional,
                "reported": state.reported,
                "photos": [
                    {"id": p.file.id, "side": side, "name": f"{SIDE_WORDS[side]}: {p.file.path.name}"}
                    for side in SIDES
                    for p in state.side_photos(side)
                    if p.looked is not None and p.looked.readable
                ],
            }
        )

    async def _part(self, request: Request, state: JobState) -> Response:
        part = request.path_params["part"]
        if part not in PARTS:
            return refused("Not found.", 404)
        return render(f"part_{part}.html.j2", job=state, **self._values(state))

    async def _fields(self, request: Request, state: JobState) -> Response:
        typed = {str(k): str(v) for k, v in (await small_json(request)).items()}
        set_typed(state.folder, typed)
        await self.bench.restated(state)
        values = read_typed(state.folder).values
        return JSONResponse({"values": {name: values.get(name, "") for name in typed}})

    async def _measure(self, request: Request, state: JobState) -> Response:  # noqa: ARG002
        self.bench.measure(state)
        return JSONResponse({"ok": True})

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

    async def _open_phone(self, request: Request, state: JobState) -> Response:
        body = await small_json(request)
        side, address = body.get("side"), body.get("address")
        if side not in SIDES or address not in (*own_addresses(), LOOPBACK):
            raise ValueError("no such side or address")
        await self.close()
        self.door = PhoneDoor(self.bench, state, side, str(address))
        try:
            link = await self.door.open()
        except OSError:
            self.door = None
            return refused("This address cannot be listened on. Choose another one.", 409)
        state.changed()
        return JSONResponse({"link": link, "svg": qr_svg(link).decode(), "side": SIDE_WORDS[side]})

    async def _close_phone(self, request: Request, state: JobState) -> Response:  # noqa: ARG002
        await self.close()
        state.changed()
        return JSONResponse({"ok": True})

    async def _upload(self, request: Request, state: JobState) -> Response:
        return await upload(self.bench, state, _side(request), request)

    async def _place(self, request: Request, state: JobState) -> Response:
        side, placed = _side(request), Placed.model_validate(await small_json(request))
        photo = self._known(state, placed.photo)
        if photo is None or photo.looked is None or photo.file.side != side:
            return refused("There is no such photo.", 404)
        now = read_corrections(state.folder).of(side)
        changed = with_placed(now, placed, photo.file.path.name, photo.looked)
        await self.bench.correct(state, side, changed, undoing=False)
        return self._draw(state, photo)

    async def _undo(self, request: Request, state: JobState) -> Response:
        return JSONResponse({"undone": await self.bench.undo(state, _side(request))})

    async def _clear(self, request: Request, state: JobState) -> Response:
        side = _side(request)
        photo = self._known(state, str((await small_json(request)).get("photo", "")))
        if photo is None or photo.file.side != side:
            return refused("There is no such photo.", 404)
        now = read_corrections(state.folder).of(side)
        await self.bench.correct(state, side, now.without_photo(photo.file.path.name), undoing=False)
        return self._draw(state, photo)

    async def _unusable(self, request: Request, state: JobState) -> Response:
        photo = self._known(state, request.path_params["photo"])
        if photo is None:
            return refused("There is no such photo.", 404)
        wanted, name, side = (
            bool((await small_json(request)).get("unusable")),
            photo.file.path.name,
            photo.file.side,
        )
        now = read_corrections(state.folder).of(side)
        others = tuple(n for n in now.unusable if n != name)
        changed = now.model_copy(update={"unusable": (*others, name) if wanted else others})
        await self.bench.correct(state, side, changed, undoing=False)
        return JSONResponse({"ok": True})

    async def _remove(self, request: Request, state: JobState) -> Response:
        photo = self._known(state, request.path_params["photo"])
        if photo is None:
            return refused("There is no such photo.", 404)
        remove_photo(state.folder, photo.file)
        self.bench.job(state.id)
        return JSONResponse({"ok": True})

    async def _drawing(self, request: Request, state: JobState) -> Response:
        photo = self._known(state, request.path_params["photo"])
        if photo is None or photo.looked is None or not photo.looked.readable:
            return refused("There is no such photo, or it is still being looked at.", 404)
        return self._draw(state, photo)

    def _draw(self, state: JobState, photo: PhotoState) -> Response:
        assert photo.looked is not None
        name, evidence = photo.file.path.name, state.evidence(photo)
        corrections = read_corrections(state.folder).of(photo.file.side)
        gauges = len(read_typed(state.folder).of_side(photo.file.side))
        if evidence is None:
            drawing = first_drawing(photo.looked, name, corrections, gauges)
        else:
            drawing = measured_drawing(evidence, photo.looked, corrections)
        return JSONResponse(
            {
                "drawing": drawing.model_dump(),
                "gauges": gauges,
                "measured": evidence is not None,
                "target": photo.looked.look is not None,
                "unusable": name in corrections.unusable,
                "placed": name in corrections.marked_photos(),
            }
        )

    async def _picture(self, request: Request, state: JobState) -> Response:
        photo, size = self._known(state, request.path_params["photo"]), request.path_params["size"]
        if photo is None or size not in ("full", "small"):
            return refused("Not found.", 404)
        full, small = screen_files(self.bench.cache, f"{state.id}-{photo.file.id}")
        file = full if size == "full" else small
        return (
            FileResponse(file, media_type="image/jpeg") if file.is_file() else refused("Not yet there.", 404)
        )

    async def _cut(self, request: Request, state: JobState) -> Response:
        file = await self.bench.cut(state, request.path_params["cut"])
        return refused("Not found.", 404) if file is None else FileResponse(file, media_type="image/jpeg")

    def _known(self, state: JobState, photo: str) -> PhotoState | None:
        return self.bench.find(state, photo)


def _side(request: Request) -> SideName:
    side = request.path_params["side"]
    for known in SIDES:
        if side == known:
            return known
    raise ValueError("no such side")
