"""The phones' doors of the page: opened and closed from the laptop, one for each job and address."""

from __future__ import annotations

from collections.abc import Callable

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from hubsight.model.catalogue import SIDE_WORDS
from hubsight.model.stated import SIDES
from hubsight.page.bench import Bench
from hubsight.page.door import refused, small_json
from hubsight.page.handlers import Handler, JobHandler
from hubsight.page.network import LOOPBACK, own_addresses
from hubsight.page.phone import PhoneDoor, qr_svg
from hubsight.page.state import JobState


class Doors:
    """The doors that are open. A new code for the same job and address throws nobody out."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._doors: dict[tuple[str, str, bool], PhoneDoor] = {}

    def routes(self, job: Callable[[JobHandler], Handler]) -> list[Route]:
        """Return the routes; ``job`` lets only the laptop's own session through."""
        return [
            Route("/job/{job}/phone/open", job(self._open), methods=["POST"]),
            Route("/job/{job}/phone/close", job(self._close), methods=["POST"]),
        ]

    def of(self, state: JobState) -> PhoneDoor | None:
        """Return the open door of a job, the newest if there are several."""
        own = [door for door in self._doors.values() if door.job is state and door.is_open]
        return own[-1] if own else None

    async def close(self, state: JobState | None = None) -> None:
        """Close the doors of a job, or all of them."""
        for key, door in list(self._doors.items()):
            if state is None or door.job is state:
                del self._doors[key]
                await door.close()

    async def _open(self, request: Request, state: JobState) -> Response:
        body = await small_json(request)
        side, address = body.get("side"), str(body.get("address"))
        if side not in SIDES or address not in (*own_addresses(), LOOPBACK):
            raise ValueError("no such side or address")
        secure = body.get("secure") is True
        key = (state.id, address, secure)
        door = self._doors.get(key)
        if door is not None and door.is_open and door.job is state:
            door.side = side
            link = door.new_link()
        else:
            door = PhoneDoor(self._bench, state, side, address, secure)
            try:
                link = await door.open()
            except OSError:
                return refused("This address cannot be listened on. Choose another one.", 409)
        self._doors.pop(key, None)
        self._doors[key] = door
        state.changed()
        told = {"link": link, "svg": qr_svg(link).decode(), "side": SIDE_WORDS[door.side]}
        return JSONResponse(told | {"fingerprint": door.fingerprint})

    async def _close(self, request: Request, state: JobState) -> Response:  # noqa: ARG002
        await self.close(state)
        state.changed()
        return JSONResponse({"ok": True})
