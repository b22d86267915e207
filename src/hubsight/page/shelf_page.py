"""The first page: the list of jobs, its search, jobs side by side, and a new job."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from hubsight.job import JobFileError
from hubsight.job.file.edit import typed_readings
from hubsight.page.bench import Bench
from hubsight.page.compare import compare
from hubsight.page.door import Lock, refused, small_json
from hubsight.page.handlers import Handler
from hubsight.page.jobs import create_job, folder_name, job_folders
from hubsight.page.pages import render
from hubsight.page.summaries import MOST_SHOWN, Summaries
from hubsight.page.words import without_place
from hubsight.shelf import parse_query

MOST_COMPARED = 8
"""Jobs side by side: more columns than can be read."""
LONGEST_QUERY = 300
"""Letters of what is looked for."""


class ShelfPages:
    """The addresses of the first page."""

    def __init__(self, bench: Bench, lock: Lock) -> None:
        self._bench = bench
        self._lock = lock
        self._summaries = Summaries(bench.shelf)

    def routes(self, inside: Callable[[Handler], Handler]) -> list[Route]:
        """Return the routes; ``inside`` lets only the laptop's own session through."""
        return [
            Route("/", self._list),
            Route("/compare", inside(self._compare)),
            Route("/jobs", inside(self._new), methods=["POST"]),
        ]

    async def _list(self, request: Request) -> Response:
        if self._lock.session(request) is None:
            return render("enter.html.j2")
        asked = request.query_params.get("q", "")[:LONGEST_QUERY]
        found = await asyncio.to_thread(self._summaries.find, parse_query(asked))
        return render(
            "shelf.html.j2",
            jobs=found[:MOST_SHOWN],
            more=max(0, len(found) - MOST_SHOWN),
            asked=asked,
            any=bool(found) or bool(job_folders(self._bench.shelf)),
            shelf=self._bench.shelf.resolve().name,
        )

    async def _compare(self, request: Request) -> Response:
        folders = job_folders(self._bench.shelf)
        wanted = [job for job in dict.fromkeys(request.query_params.getlist("job")) if job in folders]
        if not 2 <= len(wanted) <= MOST_COMPARED:
            return refused(f"Choose two to {MOST_COMPARED} jobs in the list to see them side by side.", 404)
        places = [folders[job] for job in wanted]
        jobs = [self._summaries.one(job, folders[job]) for job in wanted]
        return render("compare.html.j2", compared=await asyncio.to_thread(compare, jobs, places))

    async def _new(self, request: Request) -> Response:
        body = await small_json(request)
        name = ""
        try:
            name = folder_name(str(body.get("title", "")))
            length = typed_readings(str(body.get("length", "")))
            return JSONResponse({"job": create_job(self._bench.shelf, name, length or None)})
        except JobFileError as error:
            taken = bool(name) and (self._bench.shelf / name).exists()
            field = "title" if taken or not name else "length"
            return JSONResponse({"error": without_place(error), "field": field}, status_code=422)
