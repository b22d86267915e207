"""What somebody sees who waits: one bar with the time left, or every step with its time."""

from __future__ import annotations

import logging
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Annotated

import typer
from rich.console import Console
from rich.progress import BarColumn, Progress, ProgressColumn, Task, TextColumn
from rich.text import Text

from hubsight.model.progress import PROGRESS

Quiet = Annotated[
    bool, typer.Option("--quiet", "-q", help="Say the verdict and the order only, and nothing meanwhile.")
]
Verbose = Annotated[bool, typer.Option("--verbose", "-v", help="Say each step as it begins, with the time.")]

LEAST_TOLD_S = 2.0
"""Time after which the time left is told, s; raising it tells later and better."""


class Share:
    """Which share of all photos is done, by the messages of those who work on them.

    Attributes
    ----------
    total
        Photos that are going to be measured, as far as announced.
    """

    def __init__(self) -> None:
        self.total = 0
        self._before = 0
        self._set = 0
        self._done = 0.0

    def take(self, record: logging.LogRecord) -> None:
        """Take what one message says; a share never goes back within a set."""
        if hasattr(record, "total"):
            self.total = record.total + self._before + self._set
        if hasattr(record, "photos"):
            self._before, self._set, self._done = self._before + self._set, record.photos, 0.0
            self.total = max(self.total, self._before + self._set)
        self._done = max(self._done, getattr(record, "done", 0.0))

    @property
    def value(self) -> float:
        """From 0 to 1."""
        return (self._before + self._set * self._done) / self.total if self.total else 0.0


class _TimeLeft(ProgressColumn):
    def render(self, task: Task) -> Text:
        elapsed, share = task.elapsed or 0.0, task.percentage / 100.0
        if elapsed < LEAST_TOLD_S or share <= 0.0:
            return Text("")
        left = elapsed * (1.0 - share) / share
        return Text(f"about {left:.0f} s left" if left < 90 else f"about {left / 60:.0f} min left")


class _OnBar(logging.Handler):
    def __init__(self, bar: Progress) -> None:
        super().__init__()
        self._bar = bar
        self._share = Share()
        self._task = bar.add_task("beginning", total=1.0)

    def emit(self, record: logging.LogRecord) -> None:
        self._share.take(record)
        self._bar.update(self._task, completed=self._share.value, description=record.getMessage())


class _AsLines(logging.Handler):
    def __init__(self) -> None:
        super().__init__()
        self._begun = time.perf_counter()

    def emit(self, record: logging.LogRecord) -> None:
        typer.echo(f"{time.perf_counter() - self._begun:6.1f} s  {record.getMessage()}", err=True)


@contextmanager
def working(*, quiet: bool = False, verbose: bool = False) -> Iterator[None]:
    """Show on the error stream how work gets on: a bar in a terminal, lines if asked for, else nothing."""
    if verbose:
        with _listening(_AsLines()):
            yield
    elif quiet or not sys.stderr.isatty():
        yield
    else:
        with progress_bar() as bar, _listening(_OnBar(bar)):
            yield


def progress_bar() -> Progress:
    """Return a bar that vanishes when the work is done; in a narrow window the words are cut short."""
    words = TextColumn("{task.description}", table_column=None, markup=False)
    words.get_table_column().no_wrap = True
    words.get_table_column().overflow = "ellipsis"
    return Progress(words, BarColumn(bar_width=20), _TimeLeft(), console=Console(stderr=True), transient=True)


@contextmanager
def _listening(handler: logging.Handler) -> Iterator[None]:
    before = PROGRESS.level
    PROGRESS.addHandler(handler)
    PROGRESS.setLevel(logging.INFO)
    try:
        yield
    finally:
        PROGRESS.removeHandler(handler)
        PROGRESS.setLevel(before)
