"""Opening the bench: the server on the loopback address, and its address with the session's key."""

from __future__ import annotations

import asyncio
import contextlib
import signal
from collections.abc import Callable
from pathlib import Path

from hubsight.page.app import BenchApp
from hubsight.page.bench import Bench
from hubsight.page.network import LOOPBACK
from hubsight.page.server import Listener


async def serve_bench(
    shelf: Path, port: int, tell: Callable[[str], None], *, stop: asyncio.Event | None = None
) -> None:
    """Serve the bench page until it is interrupted.

    Parameters
    ----------
    shelf
        Folder of job folders (made if it is not there), or one job folder.
    port
        On the loopback address; 0 takes a free one.
    tell
        Is given the address to open, key included.
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
    for sign in (signal.SIGINT, signal.SIGTERM):
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
        tell(f"http://{listener.host}/#{app.lock.lasting}")
        await ended.wait()
        await app.close()
        await listener.stop()
    finally:
        bench.stop()
