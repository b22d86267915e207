"""Work that goes on while nobody waits for it."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from typing import Any


class Tasks:
    """Tasks of the running event loop, all ended together."""

    def __init__(self) -> None:
        self._tasks: set[asyncio.Task[None]] = set()

    def spawn(self, work: Coroutine[Any, Any, Any]) -> asyncio.Task[None]:
        """Begin some work."""
        task = asyncio.get_running_loop().create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        return task

    def cancel(self) -> None:
        """End all that goes on."""
        for task in self._tasks:
            task.cancel()
