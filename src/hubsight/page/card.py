"""The bench card on the page: shown with its scales, on which ends are noted by tapping."""

from __future__ import annotations

import asyncio
import datetime
from pathlib import Path

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from hubsight.job import JobFileError, load_job
from hubsight.job.card import card_of
from hubsight.job.file.load import photo_sets
from hubsight.job.measure import measure_job
from hubsight.job.note_ends import noted_end, side_as_built, write_ends
from hubsight.job.plan import plan_job, require_rim
from hubsight.model.card import Card
from hubsight.model.catalogue import SIDE_WORDS
from hubsight.model.refusal import Refusal
from hubsight.model.result import JobResult
from hubsight.model.stated import SIDES, SideName
from hubsight.page.bench import Bench
from hubsight.page.child import ChildFailed
from hubsight.page.door import refused, small_json
from hubsight.page.measuring import MEASURE_S
from hubsight.page.pages import render
from hubsight.page.state import JobState
from hubsight.page.words import in_page_words
from hubsight.report.card import card_sheet
from hubsight.show.lacing_drawing import end_scale, scale_limits


def make_card(folder: Path, measured: JobResult | None) -> tuple[Card | None, tuple[str, ...]]:
    """Return a job's bench card, by what was measured or by its readings alone; or say why there is none."""
    try:
        job = load_job(folder, need_photos=False)
        require_rim(job)
        if measured is None and any(photo_sets(job)):
            return None, ("Measure the photos first: the card is made from the figures.",)
        card = card_of(job, plan_job(job, measured or measure_job(job)))
    except JobFileError as error:
        return None, in_page_words(error)
    return (None, (card.sentence(),)) if isinstance(card, Refusal) else (card, ())


class CardDesk:
    """The cards that the page shows, one for each job, and what is noted on them."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._cards: dict[str, Card] = {}

    async def show(self, request: Request, state: JobState) -> Response:  # noqa: ARG002
        """Show a job's card as it follows from the job now."""
        measured = None if state.outcome is None else state.outcome.measured
        try:
            card, problems = await self._bench.work(make_card, state.folder, measured, timeout=MEASURE_S)
        except ChildFailed as error:
            card, problems = None, (f"The card failed: {error}.",)
        if card is None:
            return refused(" ".join(problems), 422)
        self._cards[state.id] = card
        said = {side.side: said_of(card, side.side) for side in card.sides}
        low, high = scale_limits(card)
        sheet = card_sheet(card, datetime.date.today())
        return render("card.html.j2", job=state, card=card, sheet=sheet, said=said, low=low, high=high)

    async def note(self, request: Request, state: JobState) -> Response:
        """Note one end, or take its note away, in the job file."""
        body = await small_json(request)
        side, hole, end = body.get("side"), body.get("hole"), body.get("end")
        card = self._cards.get(state.id)
        number = end is None or (isinstance(end, int | float) and not isinstance(end, bool))
        if side not in SIDES or not isinstance(hole, int) or not number:
            raise ValueError("no such spoke")
        if card is None:
            return refused("Reload the card.", 409)
        named: SideName = "drive" if side == "drive" else "non_drive"
        async with state.turn:
            fresh = noted_end(self._cards[state.id], named, hole, None if end is None else float(str(end)))
            await asyncio.to_thread(write_ends, state.folder, fresh, named)
            self._cards[state.id] = fresh
        spoke = next(one for one in fresh.of(named) if one.hole == hole)
        return JSONResponse({"scale": str(end_scale(fresh, spoke)), "said": said_of(fresh, named)})


def said_of(card: Card, side: SideName) -> str:
    """Say how many ends of a side are noted, and what they say of the prediction."""
    spokes = card.of(side)
    noted = sum(spoke.noted is not None for spoke in spokes)
    built = side_as_built(card, side)
    many = f"{SIDE_WORDS[side]}: {noted} of {len(spokes)} ends noted"
    return many if built is None else f"{many}; {built.sentence()}"
