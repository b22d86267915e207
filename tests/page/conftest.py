"""A running bench on the loopback address, and somebody who talks to it without a browser."""

from __future__ import annotations

import asyncio
import http.client
import json
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path
from queue import Queue

import pytest
from PIL import Image

from hubsight.job.file.edit import new_job
from hubsight.page.jobs import identifier
from hubsight.page.serve import serve_bench


@dataclass
class Answer:
    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def json(self):
        return json.loads(self.body)

    @property
    def cookie(self):
        return self.headers.get("set-cookie", "")


@dataclass
class Visitor:
    """Talks to one host, as a browser would, or not."""

    host: str
    cookie: str = ""
    own: dict[str, str] = field(default_factory=dict)

    def ask(self, method, path, body=None, **headers):
        """Send one request; a header given as None is left out."""
        connection = http.client.HTTPConnection(self.host, timeout=20)
        usual = {"Host": self.host, "Cookie": self.cookie}
        if method == "POST":
            usual["Origin"] = f"http://{self.host}"
        if isinstance(body, dict):
            body = json.dumps(body).encode()
        sent = usual | {k.replace("_", "-").title(): v for k, v in headers.items()}
        try:
            connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
            for name, value in sent.items():
                if value is not None:
                    connection.putheader(name, value)
            if body is not None:
                connection.putheader("Content-Length", str(len(body)))
            connection.endheaders(body)
            answer = connection.getresponse()
            try:
                said = answer.read()
            except ConnectionResetError:  # refused before the body of the request was read
                said = b""
            return Answer(answer.status, {k.lower(): v for k, v in answer.getheaders()}, said)
        finally:
            connection.close()

    def get(self, path, **headers):
        return self.ask("GET", path, **headers)

    def post(self, path, body=None, **headers):
        return self.ask("POST", path, {} if body is None else body, **headers)

    def enter(self, key):
        answer = self.post("/enter", {"key": key})
        if answer.status == 200:
            self.cookie = answer.cookie.partition(";")[0]
        return answer


@dataclass
class Running:
    """A bench that runs in a thread of its own."""

    shelf: Path
    address: str

    @property
    def host(self):
        return self.address.removeprefix("http://").partition("/")[0]

    @property
    def key(self):
        return self.address.partition("#")[2]

    def stranger(self):
        return Visitor(self.host)

    def owner(self):
        visitor = Visitor(self.host)
        assert visitor.enter(self.key).status == 200
        return visitor


def run_bench(shelf):
    """Start a bench; returns it and what ends it."""
    told: Queue[str] = Queue()
    ready: Queue[tuple[asyncio.AbstractEventLoop, asyncio.Event]] = Queue()

    async def serve():
        stop = asyncio.Event()
        ready.put((asyncio.get_running_loop(), stop))
        await serve_bench(shelf, 0, told.put, stop=stop)

    thread = threading.Thread(target=lambda: asyncio.run(serve()))
    thread.start()
    loop, stop = ready.get(timeout=60)
    bench = Running(shelf, told.get(timeout=120))

    def end():
        loop.call_soon_threadsafe(stop.set)
        thread.join(timeout=60)

    return bench, end


def wait_for(condition, seconds=120.0):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if found := condition():
            return found
        time.sleep(0.1)
    pytest.fail("this did not happen in time")


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    """A bench with one job, which has no photos."""
    shelf = tmp_path_factory.mktemp("shelf")
    new_job(shelf / "first", [100.08])
    running, end = run_bench(shelf)
    yield running
    end()


@pytest.fixture
def owner(bench):
    return bench.owner()


@pytest.fixture(scope="session")
def job():
    return f"/job/{identifier('first')}"


@pytest.fixture(scope="session")
def small_photo(tmp_path_factory):
    """The bytes of a picture that shows no target."""
    file = tmp_path_factory.mktemp("photo") / "a.jpg"
    Image.new("RGB", (400, 300), (90, 120, 60)).save(file)
    return file.read_bytes()


@pytest.fixture(scope="session")
def open_bench(tmp_path_factory):
    """A bench on an empty folder, for the browser."""
    running, end = run_bench(tmp_path_factory.mktemp("empty"))
    yield running
    end()


@pytest.fixture(scope="session")
def page(open_bench):
    """Somebody with the page before him."""
    from browser import open_browser, set_width  # noqa: PLC0415 - without selenium these tests are skipped

    from .person import Page  # noqa: PLC0415

    with open_browser() as driver:
        page = Page(driver)
        page.home = f"http://{open_bench.host}/"
        set_width(driver, 1280)
        driver.get(open_bench.address)
        page.wait(lambda: page.one("#new-job"))
        assert "#" not in driver.current_url, "the key is no longer in the address"
        yield page


@pytest.fixture(scope="session")
def measured(page):
    """A job from the empty folder to its figures, by clicks alone."""
    page.measure("rear hub", page.photos)


@pytest.fixture
def at_the_job(page, measured):
    """The measured job, opened."""
    page.open_job("rear-hub")
