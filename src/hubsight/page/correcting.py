"""The addresses by which somebody corrects what was seen in the photos, and answers questions."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from hubsight.job.file.corrections import read_corrections
from hubsight.model.catalogue import SET_WORDS
from hubsight.model.corrections import Corrections, Mark, MarkKind, index_of, kind_of
from hubsight.page.bench import Bench
from hubsight.page.door import refused, small_json
from hubsight.page.form import read_typed
from hubsight.page.handlers import Handler, JobHandler, set_of
from hubsight.page.places import places_in
from hubsight.page.placing import Placed, with_placed
from hubsight.page.state import JobState, PhotoState
from hubsight.page.view import first_drawing, measured_drawing


class Answered(BaseModel):
    """What somebody answered to the question whether a mark or the photos are right; None takes it back."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    photo: str = Field(max_length=64)
    mark: MarkKind
    index: int = Field(0, ge=0, le=99)
    believe: Literal["mark", "photos"] | None


class Correcting:
    """The addresses that change or show what is drawn over a photo."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench

    def routes(self, job: Callable[[JobHandler], Handler]) -> list[Route]:
        """Return the routes; ``job`` lets only the laptop's own session through."""
        one = "/job/{job}"
        return [
            Route(f"{one}/ready", job(self._ready), methods=["POST"]),
            Route(f"{one}/undo", job(self._undo), methods=["POST"]),
            Route(f"{one}/redo", job(self._redo), methods=["POST"]),
            Route(f"{one}/side/{{side}}/place", job(self._place), methods=["POST"]),
            Route(f"{one}/side/{{side}}/answer", job(self._answer), methods=["POST"]),
            Route(f"{one}/side/{{side}}/clear", job(self._clear), methods=["POST"]),
            Route(f"{one}/photo/{{photo}}/unusable", job(self._unusable), methods=["POST"]),
            Route(f"{one}/photo/{{photo}}/drawing", job(self._drawing)),
        ]

    async def _ready(self, request: Request, state: JobState) -> Response:  # noqa: ARG002
        self._bench.prepare(state)
        return JSONResponse({"ok": True})

    async def _place(self, request: Request, state: JobState) -> Response:
        side, placed = set_of(request), Placed.model_validate(await small_json(request))
        photo = self._bench.photos.find(state, placed.photo)
        if photo is None or photo.looked is None or photo.file.side != side:
            return refused("There is no such photo.", 404)
        now = read_corrections(state.folder).of(side)
        changed = with_placed(now, placed, photo.file.path.name, photo.looked)
        await self._bench.correct(state, side, changed)
        return self._draw(state, photo)

    async def _answer(self, request: Request, state: JobState) -> Response:
        side, answer = set_of(request), Answered.model_validate(await small_json(request))
        photo = self._bench.photos.find(state, answer.photo)
        if photo is None or photo.file.side != side:
            return refused("There is no such photo.", 404)
        now = read_corrections(state.folder).of(side)
        mark = _mark(now, photo.file.path.name, answer)
        if mark is None:
            return refused("This mark is not there any more.", 409)
        changed = _unanswered(now, mark)
        if answer.believe is not None:
            changed = changed.answered(mark, answer.believe)
        await self._bench.correct(state, side, changed)
        return JSONResponse({"ok": True})

    async def _undo(self, request: Request, state: JobState) -> Response:  # noqa: ARG002
        side = await self._bench.take_back(state)
        return JSONResponse({"side": None if side is None else SET_WORDS[side]})

    async def _redo(self, request: Request, state: JobState) -> Response:  # noqa: ARG002
        side = await self._bench.do_again(state)
        return JSONResponse({"side": None if side is None else SET_WORDS[side]})

    async def _clear(self, request: Request, state: JobState) -> Response:
        side = set_of(request)
        photo = self._bench.photos.find(state, str((await small_json(request)).get("photo", "")))
        if photo is None or photo.file.side != side:
            return refused("There is no such photo.", 404)
        now = read_corrections(state.folder).of(side)
        await self._bench.correct(state, side, now.without_photo(photo.file.path.name))
        return self._draw(state, photo)

    async def _unusable(self, request: Request, state: JobState) -> Response:
        photo = self._bench.photos.find(state, request.path_params["photo"])
        if photo is None:
            return refused("There is no such photo.", 404)
        wanted = bool((await small_json(request)).get("unusable"))
        name, side = photo.file.path.name, photo.file.side
        now = read_corrections(state.folder).of(side)
        others = tuple(n for n in now.unusable if n != name)
        changed = now.model_copy(update={"unusable": (*others, name) if wanted else others})
        await self._bench.correct(state, side, changed)
        return JSONResponse({"ok": True})

    async def _drawing(self, request: Request, state: JobState) -> Response:
        photo = self._bench.photos.find(state, request.path_params["photo"])
        if photo is None or photo.shown is None or not photo.shown.readable:
            return refused("There is no such photo, or it is still being looked at.", 404)
        return self._draw(state, photo)

    @staticmethod
    def _draw(state: JobState, photo: PhotoState) -> Response:
        looked = photo.shown
        if looked is None:
            return refused("This photo is still being looked at.", 404)
        name, evidence = photo.file.path.name, state.evidence(photo)
        corrections = read_corrections(state.folder).of(photo.file.side)
        side = photo.file.side
        gauges = 0 if side == "lying" else len(read_typed(state.folder).of_side(side))
        if evidence is None:
            drawing = first_drawing(looked, name, corrections, gauges)
        else:
            drawing = measured_drawing(evidence, looked, corrections)
        return JSONResponse(
            {
                "drawing": drawing.model_dump(),
                "gauges": gauges,
                "places": [place.model_dump() for place in places_in(state, photo)],
                "measured": evidence is not None,
                "target": looked.look is not None or evidence is not None,
                "unusable": name in corrections.unusable,
                "placed": name in corrections.marked_photos(),
            }
        )


def _mark(corrections: Corrections, file: str, answer: Answered) -> Mark | None:
    own = (file, answer.mark, answer.index)
    marks = (m for m in corrections.marks() if (m.photo, kind_of(m), index_of(m)) == own)
    return next(marks, None)


def _unanswered(corrections: Corrections, mark: Mark) -> Corrections:
    own = (mark.photo, kind_of(mark), index_of(mark))
    answers = tuple(a for a in corrections.answers if (a.photo, a.mark, a.index) != own)
    return corrections.model_copy(update={"answers": answers})
