"""The locked door: who may come in, from where, and how often somebody may try.

Every request is checked before anything else sees it: its Host (a name that an attacker makes point here is
refused), for whatever changes something its Origin, and its session cookie. A key is handed over in a POST,
never in an address that a GET asks for, so that neither logs nor link previews learn it or use it up.
"""

from __future__ import annotations

import asyncio
import hmac
import json
import secrets
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from hubsight.page.pages import render

SECRET_BYTES = 32
"""Random bytes of a key and of a session."""
TRIES, TRIES_S = 5, 60.0
"""Wrong keys in so many seconds that are answered as wrong; further ones are told to wait. A right key always
opens: who guesses must not lock the owner out, and no number of guesses finds a key of `SECRET_BYTES`."""
LARGEST_BODY, BODY_S = 65_536, 10.0
"""Bytes of anything but a photo, and for how long it is waited for."""
SAFE_METHODS = frozenset({"GET", "HEAD"})
"""Methods that change nothing."""

HEADERS = {
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
    "connect-src 'self'; "
    "form-action 'none'; base-uri 'none'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}
"""Of every answer: nothing of another origin is loaded, framed or kept."""
LOOPBACK_ONLY = frozenset({"Cross-Origin-Opener-Policy"})
"""Headers that mean nothing on plain HTTP in a network, and are complained of."""


class Failures:
    """Counts wrong keys, and says when to wait."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._times: deque[float] = deque(maxlen=TRIES)

    def add(self) -> None:
        """Count one."""
        self._times.append(self._clock())

    @property
    def must_wait(self) -> bool:
        """Whether there were too many of late."""
        return len(self._times) == TRIES and self._clock() - self._times[0] < TRIES_S


@dataclass
class Lock:
    """Keys that open the door, and the sessions that are in.

    Attributes
    ----------
    cookie
        Name of the session's cookie.
    keys
        Not yet used; of a key that may be used again ``lasting`` holds the value.
    sessions
        By their secret, with a name for what each may see.
    """

    cookie: str
    lasting: str | None = None
    keys: set[str] = field(default_factory=set)
    sessions: dict[str, str] = field(default_factory=dict)
    failures: Failures = field(default_factory=Failures)

    def new_key(self) -> str:
        """Make a key that opens once."""
        key = secrets.token_urlsafe(SECRET_BYTES)
        self.keys.add(key)
        return key

    def enter(self, key: str) -> str | None:
        """Exchange a key for a session's secret; None if it is wrong or used up."""
        known = [*self.keys, *([self.lasting] if self.lasting else [])]
        # Every key is compared, so that the time taken says nothing.
        fits = [k for k in known if hmac.compare_digest(k.encode(), key.encode())]
        if not fits:
            self.failures.add()
            return None
        self.keys.discard(fits[0])
        secret = secrets.token_urlsafe(SECRET_BYTES)
        self.sessions[secret] = secrets.token_hex(8)
        return secret

    def session(self, request: Request) -> str | None:
        """Return the session's name, or None for a stranger."""
        given = request.cookies.get(self.cookie, "")
        found = [n for s, n in self.sessions.items() if hmac.compare_digest(s.encode(), given.encode())]
        return found[0] if found else None

    def shut(self) -> None:
        """Forget all keys and sessions."""
        self.keys.clear()
        self.sessions.clear()


async def read_body(request: Request, largest: int) -> bytes:
    """Read a request's body.

    Raises
    ------
    ValueError
        It is not read on once it is too large, nor waited for once it is too slow.
    """
    body = b""
    try:
        async with asyncio.timeout(BODY_S):
            async for chunk in request.stream():
                body += chunk
                if len(body) > largest:
                    raise ValueError("too large")
    except TimeoutError:
        raise ValueError("too slow") from None
    return body


async def small_json(request: Request, largest: int = LARGEST_BODY) -> dict[str, Any]:
    """Read a small JSON object; raises ValueError for anything else, and as `read_body`."""
    body = await read_body(request, largest)
    try:
        read = json.loads(body)
        json.dumps(read, ensure_ascii=False).encode()  # half a surrogate pair is no text
    except RecursionError:
        raise ValueError("too deep") from None
    if not isinstance(read, dict):
        raise ValueError("no object")
    return read


async def enter(request: Request, lock: Lock) -> Response:
    """Let somebody in who brings a key as JSON."""
    try:
        key = (await small_json(request)).get("key")
    except ValueError:
        key = None
    many = lock.failures.must_wait
    secret = lock.enter(key if isinstance(key, str) else "")
    if secret is None:
        if many:
            return refused("Too many wrong keys. Wait a minute and try again.", 429)
        return refused("This key is wrong or was used already.", 403)
    answer = JSONResponse({"ok": True})
    encrypted = request.url.scheme == "https"
    answer.set_cookie(lock.cookie, secret, httponly=True, samesite="strict", path="/", secure=encrypted)
    return answer


class _Refused(JSONResponse):
    """One sentence for the user: JSON for a script, a page for somebody who opened the address."""

    def __init__(self, sentence: str, status: int) -> None:
        super().__init__({"error": sentence}, status)
        self._sentence = sentence

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["method"] in SAFE_METHODS and "text/html" in Headers(scope=scope).get("accept", ""):
            page = render("refused.html.j2", sentence=self._sentence)
            page.status_code = self.status_code
            await page(scope, receive, send)
        else:
            await super().__call__(scope, receive, send)


def refused(sentence: str, status: int) -> Response:
    """Answer with one sentence for the user."""
    return _Refused(sentence, status)


async def _no_page(request: Request, error: Exception) -> Response:  # noqa: ARG001 - a handler's signature
    return refused("There is no such page.", 404)


async def _not_allowed(request: Request, error: Exception) -> Response:  # noqa: ARG001
    return refused("Not allowed.", 405)


async def _failed(request: Request, error: Exception) -> Response:  # noqa: ARG001
    return refused("Something went wrong here. Reload the page.", 500)


ERRORS = {404: _no_page, 405: _not_allowed, 500: _failed}
"""What answers in place of the server's own bare texts."""


class Gate:
    """Checks every request's Host, method and Origin, and adds the headers that browsers obey.

    Parameters
    ----------
    app
        What is behind it.
    hosts
        Returns the allowed values of ``Host``, as ``127.0.0.1:8000``.
    on_network
        Not on the loopback address: browsers do not obey all headers there.
    scheme
        Of the page's own addresses.
    """

    def __init__(
        self,
        app: ASGIApp,
        hosts: Callable[[], frozenset[str]],
        *,
        on_network: bool = False,
        scheme: str = "http",
    ) -> None:
        self._app = app
        self._hosts = hosts
        self._scheme = scheme
        self._headers = {k: v for k, v in HEADERS.items() if not (on_network and k in LOOPBACK_ONLY)}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """See the class."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":  # no web sockets here
            return
        why = self._wrong(scope)
        app: ASGIApp = self._app if why is None else refused(*why)

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in self._headers.items():
                    headers.setdefault(name, value)
            await send(message)

        await app(scope, receive, send_with_headers)

    def _wrong(self, scope: Scope) -> tuple[str, int] | None:
        headers, hosts = Headers(scope=scope), self._hosts()
        if headers.get("host", "") not in hosts or len(headers.getlist("host")) != 1:
            return "This address is not the page's own.", 421
        if scope["method"] not in {*SAFE_METHODS, "POST"}:
            return "Not allowed.", 405
        if scope["method"] in SAFE_METHODS:
            return None
        origins = {f"{self._scheme}://{host}" for host in hosts}
        if (
            headers.get("origin") not in origins
            or headers.get("sec-fetch-site", "same-origin") != "same-origin"
        ):
            return "This came from another page.", 403
        return None
