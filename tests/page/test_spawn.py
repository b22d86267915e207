"""The program's helpers start in the way that every system knows."""

import asyncio
import multiprocessing
import os
import pickle

import pytest

from hubsight.page import looking, measuring
from hubsight.page.child import Child
from hubsight.page.looking import LOOK_MEMORY


def test_helpers_are_spawned_on_every_system(monkeypatch):
    """Windows and macOS know no fork that is safe: what is sent must be importable and picklable."""
    asked = []
    real = multiprocessing.get_context
    monkeypatch.setattr(multiprocessing, "get_context", lambda how=None: asked.append(how) or real(how))

    async def run():
        child = Child(LOOK_MEMORY)
        try:
            return await child.call(os.getpid, timeout=60)
        finally:
            child.stop()

    assert asyncio.run(run()) != os.getpid()
    assert asked == ["spawn"]


def test_what_the_helpers_are_asked_can_be_sent_to_another_process():
    for function in (looking.look, measuring.measure, measuring.record, measuring.report_page):
        assert pickle.loads(pickle.dumps(function)) is function
    with pytest.raises((pickle.PicklingError, AttributeError)):
        pickle.dumps(lambda: None)
