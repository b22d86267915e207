"""Several pieces of work at a time: numpy and OpenCV let other threads run while they compute."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

In = TypeVar("In")
Out = TypeVar("Out")

AT_ONCE = 2
"""Photos that are worked on at a time; raising it takes about 100 MB each. A small laptop has as many
cores."""


def at_once(work: Callable[[In], Out], things: Iterable[In]) -> Iterator[Out]:
    """Yield the same work's results on some things, two at a time, in their order.

    What the work raises is raised where its result is taken.
    """
    with ThreadPoolExecutor(AT_ONCE) as pool:
        yield from pool.map(work, things)
