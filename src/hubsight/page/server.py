"""A server on one address and port, started and stopped within a running event loop."""

from __future__ import annotations

import asyncio
import socket

import uvicorn
from starlette.types import ASGIApp
from uvicorn.protocols.http.h11_impl import H11Protocol

from hubsight.page.certificate import Certificate

CLOSE_S = 2
"""Time for which open connections are waited for at the end, s."""
HEAD_S = 10.0
"""A connection on which no request begins for so long is closed: held ones would lock everybody out."""
MOST_AT_ONCE = 64
"""Connections that are answered at once."""


class _Impatient(H11Protocol):
    """Closes a connection that has begun no request for `HEAD_S`, be it that half of its head has come."""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        self.loop.call_later(HEAD_S, self._look, None)

    def _look(self, before: object) -> None:
        if self.transport.is_closing():
            return
        answered = self.cycle is None or self.cycle.response_complete
        if answered and self.cycle is before:
            self.transport.close()
        else:
            self.loop.call_later(HEAD_S, self._look, self.cycle)


class Listener:
    """One listening socket with an application behind it.

    Parameters
    ----------
    app
        The application.
    address, port
        Where to listen; port 0 takes a free one.
    certificate
        By which it is encrypted; plain HTTP without one.

    Raises
    ------
    OSError
        If the port is taken or the address is not this computer's.
    """

    def __init__(self, app: ASGIApp, address: str, port: int, certificate: Certificate | None = None) -> None:
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        try:
            self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            self._socket.bind((address, port))
        except OSError:
            self._socket.close()
            raise
        self.host = f"{address}:{self._socket.getsockname()[1]}"
        self._certificate = certificate
        config = uvicorn.Config(
            app,
            http=_Impatient,
            log_level="critical",
            access_log=False,
            lifespan="off",
            ws="none",
            server_header=False,
            timeout_graceful_shutdown=CLOSE_S,
            timeout_keep_alive=10,
            limit_concurrency=MOST_AT_ONCE,
            h11_max_incomplete_event_size=32_768,
        )
        self._server = uvicorn.Server(config)
        self._task: asyncio.Task[None] | None = None

    async def start(self) -> None:
        """Begin to answer."""
        config = self._server.config
        if not config.loaded:
            self._load(config)
        self._server.lifespan = config.lifespan_class(config)
        await self._server.startup(sockets=[self._socket])
        self._task = asyncio.create_task(self._server.main_loop())

    def _load(self, config: uvicorn.Config) -> None:
        if self._certificate is None:
            config.load()
            return
        with self._certificate.files() as (config.ssl_certfile, config.ssl_keyfile):
            config.load()

    async def stop(self) -> None:
        """Stop answering and close the socket."""
        self._server.should_exit = True
        if self._task is not None:
            await self._task
        await self._server.shutdown(sockets=[self._socket])
        self._socket.close()
