"""The page that shows how to prepare, the target to print, and the sample job, opened by one click."""

from __future__ import annotations

import asyncio
import shutil
import tempfile
from collections.abc import Awaitable, Callable
from pathlib import Path

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from hubsight.job import JOB_FILE_NAME
from hubsight.job.file.problems import one_problem
from hubsight.job.sample import find_sample_job
from hubsight.model.stated import SIDES
from hubsight.page.bench import Bench
from hubsight.page.door import refused
from hubsight.page.jobs import identifier, job_folders
from hubsight.page.pages import render
from hubsight.show.prepare.card import STEPS, draw_card
from hubsight.show.prepare.pictures import guide
from hubsight.target.draw import write_target
from hubsight.target.geometry import PAPER_TITLE

SAMPLE_NAME = "sample-hub"
"""Name of the sample job on the page."""

Handler = Callable[[Request], Awaitable[Response]]


class PreparePages:
    """Addresses that need no job.

    Parameters
    ----------
    bench
        Where the sample job is put and measured.
    """

    def __init__(self, bench: Bench) -> None:
        self._bench = bench

    def routes(self, inside: Callable[[Handler], Handler]) -> list[Route]:
        """Return the addresses, each let in by ``inside``."""
        return [
            Route("/prepare", inside(self._prepare)),
            Route("/sample", inside(self._sample), methods=["POST"]),
            Route("/target/{paper}.pdf", inside(self._target)),
        ]

    async def _prepare(self, request: Request) -> Response:  # noqa: ARG002
        return render("prepare.html.j2", steps=tuple(zip(guide(), STEPS, strict=True)))

    async def _sample(self, request: Request) -> Response:  # noqa: ARG002
        job = await asyncio.to_thread(put_sample, self._bench.shelf)
        state = self._bench.job(job)
        if state is None:
            return refused("The sample job could not be put here.", 409)
        if state.outcome is None:
            self._bench.measure(state)
        return JSONResponse({"job": job})

    async def _target(self, request: Request) -> Response:
        paper = request.path_params["paper"]
        if paper not in PAPER_TITLE:
            return refused("There is no such paper.", 404)
        with tempfile.TemporaryDirectory() as folder:
            file = Path(folder) / f"target-{paper}.pdf"
            await asyncio.to_thread(write_target, file, paper, draw_card)
            content = file.read_bytes()
        name = f'attachment; filename="target-{paper}.pdf"'
        return Response(content, media_type="application/pdf", headers={"Content-Disposition": name})


def put_sample(shelf: Path) -> str:
    """Copy the sample job onto the shelf, if it is not there yet; return its identifier.

    Raises
    ------
    JobFileError
        If the sample is not installed, the shelf is itself a job, or something else has the sample's place.
    """
    if (shelf / JOB_FILE_NAME).is_file():
        raise one_problem("sample", "this page shows one job only", "Open the bench on an empty folder")
    job, folder = identifier(SAMPLE_NAME), shelf / SAMPLE_NAME
    if job in job_folders(shelf):
        return job
    if folder.exists():
        raise one_problem("sample", f'there is a folder "{SAMPLE_NAME}" already', "Rename it")
    sample = find_sample_job()
    unfinished = Path(tempfile.mkdtemp(dir=shelf, prefix=".sample-"))
    try:
        for side in SIDES:
            shutil.copytree(sample / side, unfinished / side)
        shutil.copy(sample / JOB_FILE_NAME, unfinished)
        unfinished.chmod(0o755)
        unfinished.replace(folder)
    finally:
        shutil.rmtree(unfinished, ignore_errors=True)
    return job
