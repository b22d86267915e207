"""What answers a request: the shapes of handlers, and what of an address several of them read."""

from __future__ import annotations

from collections.abc import Awaitable, Callable

from starlette.requests import Request
from starlette.responses import Response

from hubsight.model.stated import SETS, SIDES, SetName, SideName
from hubsight.page.state import JobState

Handler = Callable[[Request], Awaitable[Response]]
JobHandler = Callable[[Request, JobState], Awaitable[Response]]


def set_of(request: Request) -> SetName:
    """Return the photo set that an address names.

    Raises
    ------
    ValueError
        If there is none of that name.
    """
    named = request.path_params["side"]
    for known in SETS:
        if named == known:
            return known
    raise ValueError("no such photos")


def side_of(request: Request) -> SideName:
    """Return the side that an address names.

    Raises
    ------
    ValueError
        If there is none of that name.
    """
    side = request.path_params["side"]
    for known in SIDES:
        if side == known:
            return known
    raise ValueError("no such side")
