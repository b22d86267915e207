"""Whether the command that runs was asked for JSON: then what is wrong is JSON too.

It imports nothing of the program, so that the list of commands is there at once.
"""

from __future__ import annotations

from contextvars import ContextVar

_WANTED = ContextVar("json_wanted", default=False)
"""Whether the command that runs was asked for JSON."""


def wants_json(wanted: bool) -> None:
    """Note what the command line asks for."""
    _WANTED.set(wanted)


def json_is_wanted() -> bool:
    """Tell what the command line asked for."""
    return _WANTED.get()
