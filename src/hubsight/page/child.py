"""A child process for the heavy and the dangerous work: decoding pictures and measuring.

It has a limit on its memory, is killed when it takes too long, and is started anew when it dies; the page
that asked it gets an error that it can show, and never waits for it in its event loop.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import multiprocessing
import os
from collections.abc import Callable
from multiprocessing.connection import Connection
from typing import Any, TypeVar

from hubsight.model.progress import PROGRESS

try:
    import resource
except ImportError:  # not on Windows
    resource = None  # type: ignore[assignment]

T = TypeVar("T")
"""What a function in the child returns."""

THREADS = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}
"""Two children on two cores; more threads only wait for each other."""
STOP_S = 2.0
"""Time for which a killed child is waited for, s."""


class ChildFailed(Exception):  # noqa: N818 - it is shown, not handled
    """The child died, took too long, or failed; the text is for the user."""


def _limit_memory(limit: int) -> None:
    if resource is not None:
        with contextlib.suppress(OSError, ValueError):  # macOS knows no such limit
            resource.setrlimit(resource.RLIMIT_AS, (limit, limit))


class _Telling(logging.Handler):
    """Passes progress messages on to the parent."""

    def __init__(self, pipe: Connection) -> None:
        super().__init__()
        self._pipe = pipe

    def emit(self, record: logging.LogRecord) -> None:
        self._pipe.send(("progress", record.getMessage()))


def _serve(pipe: Connection, limit: int) -> None:
    """Answer calls until the parent goes away."""
    _limit_memory(limit)
    PROGRESS.addHandler(_Telling(pipe))
    PROGRESS.setLevel(logging.INFO)
    while True:
        try:
            function, arguments = pipe.recv()
        except (EOFError, KeyboardInterrupt):
            return
        try:
            answer = ("done", function(*arguments))
        except MemoryError:
            answer = ("failed", "this needs more memory than is allowed for one picture")
        except KeyboardInterrupt:
            return
        except Exception as error:
            answer = ("failed", f"this failed unexpectedly ({type(error).__name__}: {error})")
        pipe.send(answer)


class Child:
    """One child process; calls wait for each other.

    Parameters
    ----------
    limit
        Of its memory, bytes.
    """

    def __init__(self, limit: int) -> None:
        self._limit = limit
        self._process: Any = None
        self._pipe: Connection | None = None
        self._turn = asyncio.Lock()

    def start(self) -> None:
        """Start it before it is needed: loading takes a second."""
        if self._process is not None and self._process.is_alive():
            return
        context = multiprocessing.get_context("spawn")
        self._pipe, theirs = context.Pipe()
        self._process = context.Process(target=_serve, args=(theirs, self._limit), daemon=True)
        before = {name: os.environ.get(name) for name in THREADS}
        os.environ.update(THREADS)
        try:
            self._process.start()
        finally:
            for name, value in before.items():
                if value is None:
                    os.environ.pop(name, None)
                else:
                    os.environ[name] = value
        theirs.close()

    def stop(self) -> None:
        """Kill it."""
        if self._process is not None:
            self._process.kill()
            self._process.join(STOP_S)
            self._process = None
        if self._pipe is not None:
            self._pipe.close()
            self._pipe = None

    async def call(
        self,
        function: Callable[..., T],
        *arguments: Any,
        timeout: float,
        tell: Callable[[str], None] | None = None,
    ) -> T:
        """Run a function of some module in the child.

        Raises
        ------
        ChildFailed
            If it raises, dies or takes longer than ``timeout`` seconds.
        """
        async with self._turn:
            self.start()
            pipe = self._pipe
            assert pipe is not None
            try:
                await asyncio.to_thread(pipe.send, (function, arguments))
                answer = await asyncio.wait_for(self._answer(pipe, tell), timeout)
            except TimeoutError:
                self.stop()
                raise ChildFailed(f"this took longer than {timeout:.0f} seconds and was stopped") from None
            except (EOFError, OSError):
                self.stop()
                raise ChildFailed(
                    "the measuring process ended unexpectedly, probably for want of memory"
                ) from None
            except asyncio.CancelledError:
                self.stop()
                raise
        return answer  # type: ignore[no-any-return]

    @property
    def busy(self) -> bool:
        """Whether it has something to do."""
        return self._turn.locked()

    @staticmethod
    async def _answer(pipe: Connection, tell: Callable[[str], None] | None) -> Any:
        while True:
            while not await asyncio.to_thread(pipe.poll, 0.2):
                pass
            kind, value = pipe.recv()
            if kind == "done":
                return value
            if kind == "failed":
                raise ChildFailed(value)
            if tell is not None:
                tell(value)


class Crew:
    """Children that share calls: one that takes long does not hold up the others' work.

    Parameters
    ----------
    count
        Of the children; all but the first are started when they are needed.
    limit
        Of each one's memory, bytes.
    """

    def __init__(self, count: int, limit: int) -> None:
        self._children = [Child(limit) for _ in range(count)]
        self._free = asyncio.Semaphore(count)

    def start(self) -> None:
        """Start the first child before it is needed."""
        self._children[0].start()

    def stop(self) -> None:
        """Kill them."""
        for child in self._children:
            child.stop()

    async def call(self, function: Callable[..., T], *arguments: Any, timeout: float) -> T:
        """Run a function in the first child that is free; arguments and errors as `Child.call`."""
        async with self._free:
            child = next(child for child in self._children if not child.busy)
            return await child.call(function, *arguments, timeout=timeout)
