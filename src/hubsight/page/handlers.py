"""What answers a request: the shapes of handlers, and what of an address several of them read."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Iterable
from typing import TypeVar

from starlette.requests import Request
from starlette.responses import Response

from hubsight.model.stated import SETS, SIDES, SetName, SideName
from hubsight.page.state import JobState

Handler = Callable[[Request], Awaitable[Response]]
JobHandler = Callable[[Request, JobState], Awaitable[Response]]
Name = TypeVar("Name", bound=str)


def set_of(request: Request) -> SetName:
    """Return the photo set that an address names.

    Raises
    ------
    ValueError
        If there is none of that name.
    """
    return _named(request, SETS, "photos")


def side_of(request: Request) -> SideName:
    """Return the side that an address names.

    Raises
    ------
    ValueError
        If there is none of that name.
    """
    return _named(request, SIDES, "side")


def _named(request: Request, names: Iterable[Name], what: str) -> Name:
    for name in names:
        if name == request.path_params["side"]:
            return name
    raise ValueError(f"no such {what}")
