"""The addresses of a job's photos: sending, taking out, and their pictures."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, cast

from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Route

from hubsight.model.stated import SIDES
from hubsight.page.bench import Bench
from hubsight.page.door import refused
from hubsight.page.handlers import Handler, JobHandler, side_of
from hubsight.page.jobs import photos_of
from hubsight.page.phone import upload
from hubsight.page.state import JobState


class PhotoPages:
    """The addresses of a job's photos."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench

    def routes(
        self, job: Callable[[JobHandler], Handler], resting: Callable[[JobHandler], Handler]
    ) -> list[Route]:
        """Return the routes; both guards let only the laptop's own session through."""
        one = "/job/{job}"
        return [
            Route(f"{one}/thumb.jpg", resting(self._thumb)),
            Route(f"{one}/side/{{side}}/photos", job(self._upload), methods=["POST"]),
            Route(f"{one}/photo/{{photo}}/remove", job(self._remove), methods=["POST"]),
            Route(f"{one}/photo/{{photo}}/{{size}}.jpg", job(self._picture)),
            Route(f"{one}/cut/{{cut}}.jpg", job(self._cut)),
        ]

    async def _upload(self, request: Request, state: JobState) -> Response:
        return await upload(self._bench, state, side_of(request), request)

    async def _remove(self, request: Request, state: JobState) -> Response:
        photo = self._bench.photos.find(state, request.path_params["photo"])
        if photo is None:
            return refused("There is no such photo.", 404)
        self._bench.photos.remove(state, photo)
        return JSONResponse({"ok": True})

    async def _picture(self, request: Request, state: JobState) -> Response:
        photo, size = (
            self._bench.photos.find(state, request.path_params["photo"]),
            request.path_params["size"],
        )
        if photo is None or size not in ("full", "small"):
            return refused("Not found.", 404)
        file = await self._bench.photos.picture(state, photo.file, cast(Literal["full", "small"], size))
        return refused("Not yet there.", 404) if file is None else FileResponse(file, media_type="image/jpeg")

    async def _thumb(self, request: Request, state: JobState) -> Response:  # noqa: ARG002
        first = next((photo for side in SIDES for photo in photos_of(state.folder, side)), None)
        file = None if first is None else await self._bench.photos.picture(state, first, "small")
        return refused("Not found.", 404) if file is None else FileResponse(file, media_type="image/jpeg")

    async def _cut(self, request: Request, state: JobState) -> Response:
        file = await self._bench.photos.cut(state, request.path_params["cut"])
        return refused("Not found.", 404) if file is None else FileResponse(file, media_type="image/jpeg")
