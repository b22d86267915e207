"""Built wheels on the page: where the spokes' ends came to lie against the prediction, over all jobs."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import cast

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from hubsight.job import JOB_FILE_NAME, Job, JobFileError
from hubsight.job.as_built import BuiltDocument, compare_built
from hubsight.job.note_ends import notes_ends
from hubsight.job.plan import Planned
from hubsight.page.bench import Bench
from hubsight.page.door import refused
from hubsight.page.handlers import Handler
from hubsight.page.jobs import job_folders
from hubsight.page.pages import render
from hubsight.page.planned import planned_here
from hubsight.show.built_picture import By, built_picture

GROUPS: dict[By, str] = {"rim": "rim", "nipple": "nipple", "hub": "hub"}
"""By what the built wheels can be grouped."""


def built_here(folders: Iterable[Path]) -> BuiltDocument:
    """Compare built wheels with their predictions; a job that cannot be planned says nothing."""
    return compare_built(_planned(folders))


def _planned(folders: Iterable[Path]) -> Iterator[tuple[Job, Planned]]:
    for folder in folders:
        try:
            yield planned_here(folder)
        except JobFileError:
            continue


class BuiltPages:
    """The addresses of the page about built wheels."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench

    def routes(self, inside: Callable[[Handler], Handler]) -> list[Route]:
        """Return the addresses, each let in by ``inside``."""
        return [Route("/built", inside(self._show)), Route("/built/{by}/picture.svg", inside(self._picture))]

    async def _document(self) -> BuiltDocument:
        folders = job_folders(self._bench.shelf).values()
        noted = [folder for folder in folders if notes_ends(folder / JOB_FILE_NAME)]
        return await asyncio.to_thread(built_here, noted)

    async def _show(self, request: Request) -> Response:
        asked = request.query_params.get("by", "rim")
        by = asked if asked in GROUPS else "rim"
        found = await self._document()
        drawn = any(side.result is not None for side in found.sides)
        return render("built.html.j2", found=found, by=by, groups=GROUPS, drawn=drawn)

    async def _picture(self, request: Request) -> Response:
        by, found = request.path_params["by"], await self._document()
        if by not in GROUPS or all(side.result is None for side in found.sides):
            return refused("There is no such picture.", 404)
        return Response(str(built_picture(found, cast(By, by))), media_type="image/svg+xml")
