"""Opening the bench from the command line, and how it ends."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import webbrowser
from pathlib import Path
from threading import Event

import pytest
from typer.testing import CliRunner

from hubsight.cli import app

from .conftest import Visitor

pytestmark = pytest.mark.skipif(os.name != "posix", reason="ended by signals as only these systems have")


def host_and_key(address):
    return address.removeprefix("http://").partition("/#")[::2]


def test_the_browser_gets_a_key_that_opens_once_and_does_not_hold_up_the_page(tmp_path, monkeypatch):
    """Some browsers come back only when they are closed; others' users read with what they were started."""
    came_in, stopped = [], Event()

    def browser(address):
        host, key = host_and_key(address)
        try:
            came_in.extend(Visitor(host).enter(key).status for _ in range(2))
            came_in.append(key)
        finally:
            os.kill(os.getpid(), signal.SIGINT)
        stopped.wait(60)

    monkeypatch.setattr(webbrowser, "open", browser)
    result = CliRunner().invoke(app, ["bench", str(tmp_path / "jobs")])
    stopped.set()
    assert result.exit_code == 0, result.output
    assert came_in[:2] == [200, 403]
    lasting = re.search(r"http://\S+/#(\S+)", result.output).group(1)
    assert came_in[2] != lasting
    assert came_in[2] not in result.output


@pytest.mark.parametrize("sign", [signal.SIGHUP, signal.SIGTERM])
def test_a_closed_terminal_leaves_no_pictures(tmp_path, sign):
    (tmp_path / "temporary").mkdir()
    command = [sys.executable, "-m", "hubsight", "bench", str(tmp_path / "jobs"), "--no-browser"]
    more = {"TMPDIR": str(tmp_path / "temporary"), "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=os.environ | more) as page:
        address = next(line for line in page.stdout if "http://" in line).strip()
        host, key = host_and_key(address)
        assert [Visitor(host).enter(key).status for _ in range(2)] == [200, 200], (
            "the terminal's own key lasts"
        )
        assert list((tmp_path / "temporary").glob("hubsight-bench-*"))
        page.send_signal(sign)
        assert page.wait(60) == 0
    assert list(Path(tmp_path / "temporary").glob("hubsight-bench-*")) == []
