"""The phone's door: a second, small server that opens on request, for one job, and closes itself.

It is the only thing that listens on the network. A phone comes in with the QR code's key, once; it can send
photos, and see what it sent itself and what was seen in it. Nothing else can be reached through it.
"""

from __future__ import annotations

import asyncio
import io
import time
from dataclasses import dataclass, field

import segno
from starlette.applications import Starlette
from starlette.requests import ClientDisconnect, Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Route

from hubsight.model.stated import SIDES, SideName
from hubsight.page.bench import Bench
from hubsight.page.certificate import Certificate, make_certificate
from hubsight.page.child import ChildFailed
from hubsight.page.coach import coached
from hubsight.page.door import ERRORS, Gate, Lock, enter, read_body, refused
from hubsight.page.jobs import LARGEST_UPLOAD, NoRoom, UploadRefused, take_upload
from hubsight.page.looking import screen_files
from hubsight.page.pages import render, static_file
from hubsight.page.preview import LARGEST_PREVIEW
from hubsight.page.server import Listener
from hubsight.page.state import JobState, PhotoState

OPEN_S, IDLE_S = 45 * 60.0, 15 * 60.0
"""Time after which the door closes, and time without a request after which it does, s."""
PHONE_STATIC = frozenset({"bench.css", "wall.css", "icon.svg", "phone.js", "plan.js", "live.js", "common.js"})
"""Files that the phone's page loads."""
SCAN_AGAIN = "Scan the code on the computer's screen again."
"""Remedy for a key that is used up or wrong."""
UPLOADS, UPLOADS_S = 40, 60.0
"""A session may begin so many uploads in so many seconds."""


@dataclass
class PhoneDoor:
    """The door while it is open.

    Attributes
    ----------
    bench, job, side
        What it leads to; the side with which a phone begins.
    address
        On which it listens.
    secure
        Whether encrypted, by a certificate of its own: only then browsers let a page use the camera.
    phones
        How many came in; the template `part_phone` says it.
    """

    bench: Bench
    job: JobState
    side: SideName
    address: str
    secure: bool = False
    lock: Lock = field(default_factory=lambda: Lock("hubsight-phone"))
    listener: Listener | None = None
    opened: float = field(default_factory=time.monotonic)
    used: float = field(default_factory=time.monotonic)
    phones: int = 0
    _uploads: dict[str, list[float]] = field(default_factory=dict)
    _watch: asyncio.Task[None] | None = None
    _certificate: Certificate | None = None
    _previewing: set[str] = field(default_factory=set)

    async def open(self) -> str:
        """Begin to listen; return the address for the phone, with its key."""
        self._certificate = make_certificate(self.address) if self.secure else None
        self.listener = Listener(self._app(), self.address, 0, self._certificate)
        await self.listener.start()
        self._watch = asyncio.create_task(self._close_in_time())
        return self.new_link()

    def new_link(self) -> str:
        """Return an address with a key that lets one phone in; earlier unused ones are void."""
        assert self.listener is not None
        self.lock.keys.clear()
        return f"{self._scheme}://{self.listener.host}/#{self.lock.new_key()}"

    @property
    def _scheme(self) -> str:
        return "https" if self.secure else "http"

    @property
    def fingerprint(self) -> str:
        """Of the certificate; empty on plain HTTP."""
        return "" if self._certificate is None else self._certificate.fingerprint

    @property
    def is_open(self) -> bool:
        """Whether it listens."""
        return self.listener is not None

    async def close(self) -> None:
        """Stop listening, and forget all who were in."""
        listener, self.listener = self.listener, None
        self.lock.shut()
        if self._watch is not None and self._watch is not asyncio.current_task():
            self._watch.cancel()
        if listener is not None:
            await listener.stop()
        self.job.changed()

    async def _close_in_time(self) -> None:
        while time.monotonic() - self.opened < OPEN_S and time.monotonic() - self.used < IDLE_S:
            await asyncio.sleep(1.0)
        await self.close()

    def _app(self) -> Gate:
        routes = [
            Route("/", self._page),
            Route("/static/{name}", self._static),
            Route("/enter", self._enter, methods=["POST"]),
            Route("/mine", self._mine),
            Route("/mine/{photo}", self._picture),
            Route("/mine/{photo}/remove", self._remove, methods=["POST"]),
            Route("/preview", self._preview, methods=["POST"]),
            Route("/upload", self._upload, methods=["POST"]),
            Route("/upload/{side}", self._upload, methods=["POST"]),
        ]
        return Gate(
            Starlette(routes=routes, exception_handlers=ERRORS),
            self._hosts,
            on_network=True,
            scheme=self._scheme,
        )

    def _hosts(self) -> frozenset[str]:
        return frozenset() if self.listener is None else frozenset({self.listener.host})

    async def _page(self, request: Request) -> Response:  # noqa: ARG002 - a route's signature
        return render("phone.html.j2", side=self.side, fingerprint=self.fingerprint)

    async def _static(self, request: Request) -> Response:
        name = request.path_params["name"]
        return static_file(name) if name in PHONE_STATIC else refused("Not found.", 404)

    async def _enter(self, request: Request) -> Response:
        answer = await enter(request, self.lock)
        if answer.status_code == 200:
            self.used = time.monotonic()
            self.phones += 1
            self.job.changed()
        return answer

    def _session(self, request: Request) -> str | None:
        session = self.lock.session(request)
        if session is not None:
            self.used = time.monotonic()
        return session

    async def _mine(self, request: Request) -> Response:
        session = self._session(request)
        if session is None:
            return refused(SCAN_AGAIN, 401)
        return JSONResponse(coached(self.job, self._asked(request), session))

    def _asked(self, request: Request) -> SideName:
        """Return the side that a request is about; the one that the code was made for if it names none."""
        named = request.path_params.get("side") or request.query_params.get("side")
        return next((side for side in SIDES if side == named), self.side)

    def _own(self, request: Request, session: str) -> PhotoState | None:
        photo = self.job.photos.get(request.path_params["photo"])
        return None if photo is None or photo.owner != session else photo

    async def _remove(self, request: Request) -> Response:
        session = self._session(request)
        if session is None:
            return refused(SCAN_AGAIN, 401)
        photo = self._own(request, session)
        if photo is None:
            return refused("This photo is not there any more.", 404)
        self.bench.photos.remove(self.job, photo)
        return JSONResponse({"ok": True})

    async def _picture(self, request: Request) -> Response:
        session = self._session(request)
        if session is None:
            return refused(SCAN_AGAIN, 401)
        photo = self._own(request, session)
        if photo is None or photo.looked is None:
            return refused("Not found.", 404)
        small = screen_files(self.bench.photos.folder, f"{self.job.id}-{photo.file.id}")[1]
        return FileResponse(small, media_type="image/jpeg") if small.is_file() else refused("Not found.", 404)

    async def _upload(self, request: Request) -> Response:
        session = self._session(request)
        if session is None:
            return refused(SCAN_AGAIN, 401)
        if not self._may_upload(session):
            return refused("Too many at once. Wait a minute.", 429)
        return await upload(self.bench, self.job, self._asked(request), request, session)

    async def _preview(self, request: Request) -> Response:
        """Say how much of the sheet a picture from the phone's camera shows; one at a time."""
        session = self._session(request)
        if session is None:
            return refused(SCAN_AGAIN, 401)
        if session in self._previewing:
            return refused("One after the other.", 429)
        self._previewing.add(session)
        try:
            data = await read_body(request, LARGEST_PREVIEW)
            seen = await self.bench.photos.preview(self.job, data)
        except (ValueError, ClientDisconnect):
            return refused("This preview is too large, or came too slowly.", 413)
        except ChildFailed:
            return refused("The preview could not be read.", 422)
        finally:
            self._previewing.discard(session)
        return JSONResponse(seen.model_dump())

    def _may_upload(self, session: str) -> bool:
        now = time.monotonic()
        recent = [t for t in self._uploads.get(session, []) if now - t < UPLOADS_S]
        self._uploads[session] = [*recent, now][-UPLOADS:]
        return len(recent) < UPLOADS


async def upload(bench: Bench, job: JobState, side: SideName, request: Request, owner: str = "") -> Response:
    """Take one photo, the body of a POST."""
    try:
        file = await take_upload(job.folder, side, request.stream(), _size(request))
    except NoRoom as error:
        return refused(str(error), 507)
    except UploadRefused as error:
        return refused(str(error), 415)
    except ClientDisconnect:
        return refused("The connection broke off.", 400)
    except OSError as error:
        return refused(f"The photo cannot be stored ({error.strerror}).", 507)
    known = bench.photos.add(job, file, owner)
    return JSONResponse({"photo": known.file.id})


def _size(request: Request) -> int:
    """Return how many bytes an upload will have, as far as it says so."""
    said = request.headers.get("content-length", "")
    return int(said) if said.isdecimal() and len(said) <= len(str(LARGEST_UPLOAD)) else LARGEST_UPLOAD


def qr_svg(link: str) -> bytes:
    """Draw a link as a QR code, SVG."""
    out = io.BytesIO()
    segno.make(link, error="m", micro=False).save(
        out, kind="svg", scale=6, border=4, dark="#000", light="#fff"
    )
    return out.getvalue()
