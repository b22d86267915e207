"""The index shows what the records say, whatever became of them since."""

import shutil
import sqlite3

import pytest

from hubsight.job import JobFileError
from hubsight.shelf import Query, Shelf, parse_query
from hubsight.shelf.index import INDEX_FILE
from shelved import settle


@pytest.fixture
def found(shelf_folder):
    """Jobs that a search finds, as folders from the shelf's top."""

    def found(text="", **options):
        with Shelf(shelf_folder, **options) as shelf:
            shelf.refresh()
            sides = shelf.find(parse_query(text))
            assert shelf.count(parse_query(text)) == len(sides)
            return sorted({side.record.removesuffix("/record.json") for side in sides})

    return found


def test_jobs_are_found_at_any_depth(put, found):
    put("a")
    put("2026/spring/b")
    assert found() == ["2026/spring/b", "a"]


def test_a_side_carries_its_figures_and_words(put, shelf_folder):
    put("a", d=44.1, u=0.07, hub="Model A", customer="Anna", notes="loose bearing")
    with Shelf(shelf_folder) as shelf:
        shelf.refresh()
        drive, other = shelf.find(Query())
    assert (drive.side, other.side) == ("drive", "non_drive")
    assert drive.figures["flange_diameter"] == (44.1, 0.07)
    assert (drive.hub, drive.customer, drive.bosses, drive.crosses) == ("Model A", "Anna", 6, 2)
    assert drive.over_locknut == 142


@pytest.mark.parametrize(
    ("text", "jobs"),
    [
        ("anna", ["a"]),
        ("ANNA loose", ["a"]),
        ("anna bert", []),
        ("d about 44, six bosses", ["a"]),
        ("diameter 44 to 48", ["a", "b"]),
        ("offset about 2.2", ["a", "b"]),
        ("eight bosses", ["c"]),
        ("3 crosses", ["c"]),
        ("old 142", ["a", "b", "c"]),
        ("50%", ["b"]),
        ("_", []),
        ("model", ["a", "b"]),
    ],
)
def test_words_and_dimensions_find(put, found, text, jobs):
    put("a", d=44.4, hub="Model A", customer="Anna", notes="loose")
    put("b", d=47.0, hub="Model B", customer="Bert", notes="50% off")
    put("c", d=52.0, o=3.5, bosses=8, crosses=3)
    assert found(text) == jobs


@pytest.mark.parametrize("settled", [True, False])
def test_what_came_changed_and_went_is_noticed(put, found, shelf_folder, settled):
    def later():
        if settled:
            settle(shelf_folder)
            found()

    put("a")
    put("box/b")
    (shelf_folder / "started" / "drive").mkdir(parents=True)
    found()
    later()
    put("box/c")
    assert found() == ["a", "box/b", "box/c"]
    later()
    put("started")
    put("a", d=33.0)
    assert found() == ["a", "box/b", "box/c", "started"]
    assert found("d about 33") == ["a"]
    later()
    shutil.rmtree(shelf_folder / "box")
    (shelf_folder / "a" / "record.json").unlink()
    assert found() == ["started"]


def test_a_shelf_that_is_moved_or_copied_speaks_for_itself(put, found, shelf_folder, tmp_path):
    put("a")
    put("b")
    settle(shelf_folder)
    assert found() == ["a", "b"]
    copy = tmp_path / "copy"
    shutil.copytree(shelf_folder, copy)
    shutil.rmtree(copy / "a")
    with Shelf(copy) as shelf:
        shelf.refresh()
        assert {side.job for side in shelf.find(Query())} == {"b"}


def test_rebuilding_gives_the_same(put, found):
    put("a", d=44.0)
    put("b", d=48.0)
    before = found("d about 44")
    assert found("d about 44", rebuild=True) == before == ["a"]


@pytest.mark.parametrize("content", [b"no database", b"SQLite format 3\x00" + b"\xff" * 500, b""])
def test_a_damaged_index_is_made_again(put, found, shelf_folder, content):
    put("a")
    assert found() == ["a"]
    (shelf_folder / INDEX_FILE).write_bytes(content)
    assert found() == ["a"]


def test_an_index_of_another_version_is_made_again(put, found, shelf_folder):
    put("a")
    index = sqlite3.connect(shelf_folder / INDEX_FILE)
    index.execute("CREATE TABLE sides (something)")
    index.execute("PRAGMA user_version = 99")
    index.commit()
    index.close()
    assert found() == ["a"]


def test_a_folder_that_cannot_be_written_is_searched_all_the_same(put, found, shelf_folder):
    put("a")
    (shelf_folder / INDEX_FILE).mkdir()  # in the way, as write protection would be
    assert found() == ["a"]


def test_a_record_that_cannot_be_read_is_told_and_the_others_found(put, found, shelf_folder):
    put("a")
    put("b").write_text("{")
    assert found() == ["a"]
    with Shelf(shelf_folder) as shelf:
        shelf.refresh()
        (problem,) = shelf.problems()
    assert problem.startswith("b/record.json: this is no complete JSON document")


def test_links_are_not_followed(put, found, shelf_folder, tmp_path):
    put("a")
    (shelf_folder / "again").symlink_to(shelf_folder)
    (shelf_folder / "linked").mkdir()
    (shelf_folder / "linked" / "record.json").symlink_to(shelf_folder / "a" / "record.json")
    assert found() == ["a"]


def test_hostile_words_are_only_words(put, found):
    put("a", hub="'; DROP TABLE sides; --")
    assert found("'; drop") == ["a"]
    assert found("table") == ["a"]
    assert found("' OR '1'='1") == []


def test_a_folder_that_is_not_there_is_told(tmp_path):
    with pytest.raises(JobFileError, match="no such folder"):
        Shelf(tmp_path / "nowhere")
