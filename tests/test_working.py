"""What somebody sees who waits."""

import functools
import logging
import sys

import pytest
from typer.testing import CliRunner

from hubsight.cli import app
from hubsight.cli.working import Share, working
from hubsight.job.measure import measure_job
from hubsight.model import progress
from hubsight.model.progress import PROGRESS


def told(*events):
    """The share after each event, taken as a handler does."""
    share, values = Share(), []

    class Takes(logging.Handler):
        def emit(self, record):
            share.take(record)
            values.append(share.value)

    handler = Takes()
    PROGRESS.addHandler(handler)
    PROGRESS.setLevel(logging.INFO)
    try:
        for event, *values_of in events:
            event(*values_of[:1], **dict(values_of[1:]))
    finally:
        PROGRESS.removeHandler(handler)
        PROGRESS.setLevel(logging.NOTSET)
    return values


def test_the_share_counts_photos_of_all_sets():
    doing = functools.partial
    values = told(
        (progress.announce, 8),
        (doing(progress.begin, photos=4), "drive"),
        (doing(progress.doing, done=0.5), "half"),
        (doing(progress.doing, done=0.2), "once more without one photo"),
        (doing(progress.begin, photos=4), "non-drive"),
        (doing(progress.doing, done=0.5), "half"),
    )
    assert values == [0.0, 0.0, 0.25, 0.25, 0.5, 0.75], "it never goes back"


def test_a_set_that_was_not_announced_still_ends_at_the_end():
    doing = functools.partial
    values = told((doing(progress.begin, photos=4), "rod"), (doing(progress.doing, done=0.5), "half"))
    assert values == [0.0, 0.5]
    values = told(
        (doing(progress.begin, photos=2), "ruler"),
        (progress.announce, 4),
        (doing(progress.begin, photos=4), "drive"),
    )
    assert values[-1] == pytest.approx(2 / 6)


@pytest.fixture
def run(monkeypatch, fake_measurement, tmp_path):
    fake = functools.partial(measure_job, measure=fake_measurement)
    for place in ("cli.measure", "record.planned"):
        monkeypatch.setattr(f"hubsight.{place}.measure_job", fake)
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.chdir(tmp_path)
    return lambda *arguments: CliRunner().invoke(app, [str(argument) for argument in arguments])


@pytest.mark.parametrize("command", ["measure", "lengths"])
def test_nothing_is_shown_meanwhile_where_nobody_looks(run, job_folder, command):
    assert run(command, job_folder).stderr == ""


@pytest.mark.parametrize("command", ["measure", "lengths"])
def test_verbose_says_each_step_with_its_time(run, job_folder, command):
    lines = run(command, job_folder, "--verbose").stderr.splitlines()
    assert [line.split(" s  ")[1] for line in lines] == [
        "measuring 4 photos",
        "drive side: beginning",
        "non-drive side: beginning",
    ]
    assert all(float(line.split(" s  ")[0]) >= 0 for line in lines)
    assert PROGRESS.level == logging.NOTSET


@pytest.mark.parametrize("command", ["measure", "lengths"])
def test_quiet_says_verdict_and_order_only(run, job_folder, command):
    said = run(command, job_folder, "--quiet").stdout
    whole = run(command, job_folder).stdout
    assert "The job: " in said
    assert "To order" in said
    assert "flange diameter" in whole
    assert "flange diameter" not in said
    assert said in whole


def test_a_terminal_sees_one_bar_that_vanishes(monkeypatch, capsys):
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    monkeypatch.setenv("FORCE_COLOR", "1")
    with working():
        progress.announce(4)
        progress.begin("drive side: beginning", 4)
        progress.doing("looking for the gauge", done=0.2)
    said = capsys.readouterr()
    assert said.out == ""
    assert "looking for the gauge" in said.err
    assert said.err.rstrip().endswith("\x1b[2K"), "the line is cleared at the end"
    with working(quiet=True):
        progress.announce(4)
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize("command", ["measure", "lengths"])
def test_tables_fit_a_narrow_window(run, job_folder, monkeypatch, command):
    monkeypatch.setenv("COLUMNS", "60")
    said = run(command, job_folder).stdout
    assert "spoke" in said
    assert max(len(line.rstrip()) for line in said.splitlines()) <= 60
    assert "…" not in said, "nothing is cut short"
