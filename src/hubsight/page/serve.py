"""Opening the bench: the server on the loopback address, and its address with the session's key."""

from __future__ import annotations

import asyncio
import contextlib
import signal
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from hubsight.page.app import BenchApp
from hubsight.page.bench import Bench
from hubsight.page.door import Lock
from hubsight.page.network import LOOPBACK
from hubsight.page.server import Listener

_ENDS = tuple(getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))
"""Signals that end the page: Ctrl-C, a polite kill, and the terminal's window closed."""


@dataclass(frozen=True)
class Entrance:
    """Ways into the page that was opened."""

    host: str
    lock: Lock

    @property
    def lasting(self) -> str:
        """Address with the key that holds while the page is open: for the screen, and its owner's eyes."""
        return f"http://{self.host}/#{self.lock.lasting}"

    def once(self) -> str:
        """Return an address that lets in one time: others can read with what a browser is started."""
        return f"http://{self.host}/#{self.lock.new_key()}"


async def serve_bench(
    shelf: Path, port: int, tell: Callable[[Entrance], None], *, stop: asyncio.Event | None = None
) -> None:
    """Serve the bench page until it is interrupted.

    Parameters
    ----------
    shelf
        Folder of job folders (made if it is not there), or one job folder.
    port
        On the loopback address; 0 takes a free one.
    tell
        Is given the addresses to open, once the page answers; what takes long there holds the page up.
    stop
        Ends it when set; Ctrl-C does too.

    Raises
    ------
    OSError
        If the port is taken or the folder cannot be made.
    """
    shelf.mkdir(parents=True, exist_ok=True)
    ended = stop or asyncio.Event()
    loop = asyncio.get_running_loop()
    for sign in _ENDS:
        with contextlib.suppress(NotImplementedError, RuntimeError, ValueError):
            loop.add_signal_handler(sign, ended.set)
    bench = Bench(shelf)
    hosts: set[str] = set()
    app = BenchApp(bench, lambda: frozenset(hosts))
    try:
        listener = Listener(app.asgi, LOOPBACK, port)
        hosts.add(listener.host)
        bench.start()
        await listener.start()
        tell(Entrance(listener.host, app.lock))
        await ended.wait()
        await app.close()
        await listener.stop()
    finally:
        bench.stop()
