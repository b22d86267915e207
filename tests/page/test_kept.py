"""Jobs that remember: what is kept of a job, when it holds, what is taken back, and what the list shows."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from hubsight import load_job
from hubsight.job.file.corrections import JobCorrections, write_corrections
from hubsight.job.file.edit import new_job, set_fields, with_side
from hubsight.model.corrections import Corrections, PlacedEnd
from hubsight.page import jobs
from hubsight.page.history import MOST, Change, History
from hubsight.page.jobs import NoRoom, PhotoFile, identifier, photos_of, remove_photo, take_upload
from hubsight.page.kept import (
    KEPT,
    LOOKS,
    RESULT,
    KeptResult,
    inputs_of,
    keep,
    keep_result,
    read_kept,
    remembered,
)
from hubsight.page.summaries import Summaries
from hubsight.record import make_record, read_inputs, write_record
from hubsight.record.migrate import parse_record
from hubsight.shelf import Shelf, holds, parse_query
from hubsight.shelf.model import shelved_sides

from .conftest import run_bench, wait_for

RECORDS = Path(__file__).parents[1] / "record" / "data"
SAMPLE = Path(__file__).parents[2] / "sample_images"


def mark(x):
    return Corrections(ends=(PlacedEnd(photo="a.jpg", pixel=(x, 5.0), u_px=1.0),))


# ---- history


def test_what_was_taken_back_can_be_done_again():
    history, now = History(), JobCorrections()
    for x in (1.0, 2.0):
        change = Change(side="drive", before=now.drive, after=mark(x))
        history, now = history.with_change(change), now.having("drive", mark(x))
    last = history.last(now)
    assert last.before == mark(1.0)
    now, history = now.having("drive", last.before), history.taken_back()
    assert history.next(now).after == mark(2.0)
    now, history = now.having("drive", history.next(now).after), history.done_again()
    assert (len(history.done), len(history.undone)) == (2, 0)


def test_a_new_change_ends_what_could_be_done_again():
    change = Change(side="drive", before=Corrections(), after=mark(1.0))
    history = History().with_change(change).taken_back().with_change(change)
    assert history.undone == ()


def test_marks_that_somebody_else_changed_are_not_overwritten():
    history = History().with_change(Change(side="drive", before=Corrections(), after=mark(1.0)))
    assert history.last(JobCorrections(drive=mark(3.0))) is None
    assert history.taken_back().next(JobCorrections(drive=mark(3.0))) is None


def test_a_history_ends_somewhere():
    history = History()
    for x in range(MOST + 5):
        history = history.with_change(Change(side="drive", before=mark(float(x)), after=mark(x + 1.0)))
    assert len(history.done) == MOST
    assert history.done[-1].after == mark(MOST + 5.0)


def test_a_photo_taken_out_goes_from_the_history():
    other = mark(1.0).model_copy(update={"unusable": ("b.jpg",)})
    history = History().with_change(Change(side="drive", before=Corrections(), after=mark(1.0)))
    history = history.with_change(Change(side="drive", before=mark(1.0), after=other))
    kept = history.without_photo("drive", "a.jpg")
    assert [c.after for c in kept.done] == [Corrections(unusable=("b.jpg",))]


# ---- what is kept


@pytest.fixture
def job(tmp_path, small_photo):
    """A job with one photo that shows nothing."""
    folder = tmp_path / "shelf" / "hub"
    new_job(folder, [100.08])
    with_side(folder, "drive")
    (folder / "drive").mkdir(exist_ok=True)
    (folder / "drive" / "a.jpg").write_bytes(small_photo)
    return folder


@pytest.fixture(scope="session")
def result():
    """A result as older and newer records have them."""
    file = sorted(RECORDS.glob("*.json"))[-1]
    return parse_record(file.read_bytes(), file.name).measurement


def test_a_result_is_kept_and_found_again(job, result):
    keep_result(job, inputs_of(job), result, {})
    last = remembered(job)
    assert last.result == result
    assert last.of_now
    assert not last.recorded


@pytest.mark.parametrize(
    "change",
    [
        lambda job: set_fields(job, {"rim.erd": [600.0]}),
        lambda job: write_corrections(job, JobCorrections(drive=mark(1.0))),
        lambda job: (job / "drive" / "b.jpg").write_bytes(b"another photo"),
        lambda job: (job / "drive" / "a.jpg").write_bytes(b"other"),
        lambda job: (job / "drive" / "a.jpg").unlink(),
    ],
)
def test_a_change_of_anything_that_it_rests_on_is_noticed(job, result, change):
    keep_result(job, inputs_of(job), result, {})
    change(job)
    last = remembered(job)
    assert last.result == result, "it is still shown"
    assert not last.of_now, "and said to be of before"


def test_a_job_measured_by_a_command_is_opened_from_its_record(job, result):
    loaded = load_job(job)
    write_record(job, make_record(loaded, result, read_inputs(loaded)))
    last = remembered(job)
    assert last.result.sides == result.sides
    assert last.of_now
    assert last.recorded
    set_fields(job, {"rim.erd": [600.0]})
    assert not remembered(job).of_now


def test_a_newer_record_comes_before_what_the_page_kept(job, result):
    keep_result(job, "something else", result.model_copy(update={"job": "older"}), {})
    loaded = load_job(job)
    write_record(job, make_record(loaded, result, read_inputs(loaded)))
    assert remembered(job).result.job == result.job


@pytest.mark.parametrize("content", [b"", b"{", b'{"schema_version": 9}', b"\xff\xfe", b"[" * 100_000])
def test_what_cannot_be_read_is_as_if_it_were_not_there(job, content):
    keep(job, RESULT, content)
    assert read_kept(job, RESULT, KeptResult) is None
    assert remembered(job).result is None


def test_nothing_is_kept_outside_of_the_job(job, tmp_path, result):
    outside = tmp_path / "outside"
    outside.mkdir()
    (job / KEPT).symlink_to(outside)
    keep_result(job, inputs_of(job), result, {})
    assert list(outside.iterdir()) == []


# ---- photos that the job file names otherwise


def test_photos_that_a_job_names_one_by_one_are_found_sent_and_taken_out(job, small_photo):
    (job / "IMG_1.jpg").write_bytes(small_photo)
    set_fields(job, {"sides.drive.photos": ["IMG_1.jpg", "drive/a.jpg"]})
    assert [p.path.name for p in photos_of(job, "drive")] == ["IMG_1.jpg", "a.jpg"]

    async def once():
        yield small_photo

    import asyncio  # noqa: PLC0415

    sent = asyncio.run(take_upload(job, "drive", once()))
    assert sent in photos_of(job, "drive")
    remove_photo(job, PhotoFile("drive", job / "drive" / "a.jpg"))
    assert [p.path.name for p in photos_of(job, "drive")] == ["IMG_1.jpg", sent.path.name]
    load_job(job)


def test_a_full_disk_takes_no_photo(job, small_photo, monkeypatch):
    monkeypatch.setattr(jobs, "SPARE_ROOM", 10**18)

    async def once():
        yield small_photo

    import asyncio  # noqa: PLC0415

    with pytest.raises(NoRoom, match="almost full"):
        asyncio.run(take_upload(job, "drive", once()))
    assert [p.path.name for p in photos_of(job, "drive")] == ["a.jpg"]


# ---- the list


@pytest.fixture(scope="module")
def many(tmp_path_factory):
    """A shelf of jobs from records of every version that is read."""
    shelf = tmp_path_factory.mktemp("many")
    for number, file in enumerate(sorted(RECORDS.glob("*.json"))):
        folder = shelf / f"hub-{number}"
        new_job(folder, [100.0])
        shutil.copy(file, folder / "record.json")
    return shelf


@pytest.mark.parametrize(
    "asked", ["", "hub-0", "d about 44", "six bosses", "offset 1 to 3", "nothing like it", "2 crosses"]
)
def test_the_search_finds_what_the_command_finds(many, asked):
    """Against the shelf's own index, which asks a data base."""
    query = parse_query(asked)
    with Shelf(many) as shelf:
        shelf.refresh()
        wanted = {Path(side.record).parent.as_posix() for side in shelf.find(query)}
    by_hand = set()
    for folder in many.iterdir():
        if (folder / "record.json").is_file():
            record = parse_record((folder / "record.json").read_bytes(), "record.json")
            sides = shelved_sides(record, f"{folder.name}/record.json")
            by_hand |= {folder.name for side in sides if holds(query, side)}
    assert by_hand == wanted
    found = {summary.name for summary in Summaries(many).find(query)}
    assert found >= wanted
    if query.spans or query.bosses or query.crosses:
        assert found == wanted


def test_a_list_of_jobs_says_how_each_stands(job, result):
    keep_result(job, inputs_of(job), result, {})
    set_fields(job, {"label.hub": "Blue", "label.customer": "Anna"})
    new_job(job.parent / "empty")
    by_name = {s.name: s for s in Summaries(job.parent).find(parse_query(""))}
    assert by_name["empty"].state == "no photos yet"
    assert by_name["empty"].word is None
    assert by_name["hub"].state == "changed since it was measured"
    assert by_name["hub"].word == result.verdict.word
    assert by_name["hub"].labels["customer"] == "Anna"
    assert [s.name for s in Summaries(job.parent).find(parse_query("anna"))] == ["hub"]


def test_a_list_follows_what_changes(job, result):
    summaries = Summaries(job.parent)
    assert summaries.find(parse_query(""))[0].state == "not measured"
    keep_result(job, inputs_of(job), result, {})
    assert summaries.find(parse_query(""))[0].state == "measured"


# ---- a bench that is closed and opened again


def test_a_bench_opened_again_shows_all_it_knew_without_measuring(tmp_path):
    """From the keeping of the last one, and from the record of a command: nothing is measured for it."""
    shelf = tmp_path / "shelf"
    shutil.copytree(SAMPLE, shelf / "sample")
    for side in ("drive", "non_drive"):
        for photo in sorted((shelf / "sample" / side).iterdir())[3:]:
            photo.unlink()
    address = f"/job/{identifier('sample')}"
    running, end = run_bench(shelf)
    try:
        owner = running.owner()
        assert owner.get(address).status == 200

        owner.post(f"{address}/measure")
        wait_for(lambda: (s := owner.get(f"{address}/state").json)["measured"] and not s["doing"])
        before = owner.get(f"{address}/part/figures").body
        photos = [p["id"] for p in owner.get(f"{address}/state").json["photos"]]
        wait_for(lambda: all((shelf / "sample" / KEPT / name).is_file() for name in (LOOKS, RESULT)))
        drawn = owner.get(f"{address}/photo/{photos[0]}/drawing").json
    finally:
        end()
    running, end = run_bench(shelf)
    try:
        owner = running.owner()
        assert owner.get(address).status == 200
        state = owner.get(f"{address}/state").json
        assert state["measured"]
        assert not state["doing"]
        assert owner.get(f"{address}/part/figures").body == before
        assert owner.get(f"{address}/photo/{photos[0]}/drawing").json == drawn
        for size in ("small", "full"):
            assert owner.get(f"{address}/photo/{photos[0]}/{size}.jpg").status == 200
        assert "Being looked at" not in owner.get(f"{address}/part/photos").body.decode()
    finally:
        end()
