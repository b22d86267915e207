"""The page's parts by themselves: places in turned photos, what is typed, the child, and what is kept."""

from __future__ import annotations

import asyncio
import os
import shutil
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from hubsight import load_job, measure_job
from hubsight.job import JobFileError
from hubsight.job.file.corrections import JobCorrections, write_corrections
from hubsight.job.file.edit import new_job, with_side
from hubsight.measure.side import see_side
from hubsight.model.corrections import Corrections, PlacedEnd
from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading, StatedSide, StatedTarget, StatedWheel
from hubsight.page import pages
from hubsight.page.cache import PREFIX, Cache
from hubsight.page.child import Child, ChildFailed, Crew
from hubsight.page.form import read_typed, set_typed
from hubsight.page.jobs import create_job, folder_name, job_folders
from hubsight.page.looking import Looked
from hubsight.page.measuring import Measurer, measure
from hubsight.page.placing import Placed, PlacedMark, with_placed
from hubsight.page.view import as_stored, upright_size
from hubsight.photo import upright
from hubsight.show.turned import displayed

SAMPLE = Path(__file__).parents[2] / "sample_images"


# ---- turned photos


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_place_on_the_screen_is_the_pixel_that_is_shown_there(orientation):
    """Against the turning of the picture itself: a marked pixel is found where the upright picture has it."""
    stored = np.zeros((30, 40), np.uint8)
    stored[7, 11] = 255
    looked = Looked(readable=True, width=40, height=30, orientation=orientation)
    shown = upright(stored, orientation)
    row, column = np.argwhere(shown == 255)[0]
    assert upright_size(looked) == shown.shape[::-1]
    assert as_stored((float(column), float(row)), looked) == (11.0, 7.0)
    assert displayed((11.0, 7.0), orientation, 40, 30) == (column, row)


def placed(what, *points, scale=1.0, **more):
    mark = PlacedMark(what=what, points=points, scale=scale, **more)
    return Placed(photo="p", marks=(mark,))


def test_a_mark_takes_the_place_of_an_earlier_one_of_the_same_thing():
    looked = Looked(readable=True, width=4000, height=3000)
    all_of_them = Corrections()
    for x in (100.0, 200.0):
        for mark in (
            placed("end", (x, 50.0), scale=2.0),
            placed("face", (x, 50.0), boss=2, point=1),
            placed("centreline", (x, 50.0), boss=2),
            placed("axis", (x, 50.0), (x + 900, 60.0), scale=0.25),
        ):
            all_of_them = with_placed(all_of_them, mark, "a.jpg", looked)
    marks = (all_of_them.ends, all_of_them.faces, all_of_them.centrelines, all_of_them.axes)
    assert [len(m) for m in marks] == [1, 1, 1, 1]
    assert all_of_them.ends[0].pixel == (200.0, 50.0)
    # placed on a picture shrunk to a quarter, a mark is four times less exact than the hand
    assert all_of_them.axes[0].u_px == pytest.approx(6.0)
    assert all_of_them.ends[0].u_px == pytest.approx(1.0)


def test_marks_of_the_second_gauge_leave_those_of_the_first():
    looked = Looked(readable=True, width=4000, height=3000)
    both = with_placed(Corrections(), placed("end", (10.0, 20.0)), "a.jpg", looked)
    both = with_placed(both, placed("end", (500.0, 20.0), gauge=1), "a.jpg", looked)
    assert {m.gauge: m.pixel for m in both.ends} == {0: (10.0, 20.0), 1: (500.0, 20.0)}


def test_a_pattern_begun_anew_in_a_photo_keeps_what_was_placed_in_others():
    looked = Looked(readable=True, width=4000, height=3000)
    marks = tuple(
        PlacedMark(what="face", boss=k // 2, point=k % 2, points=((100.0 * k, 50.0),), scale=1.0)
        for k in range(6)
    )
    pattern = Corrections()
    for file in ("a.jpg", "b.jpg", "a.jpg"):
        pattern = with_placed(pattern, Placed(photo="p", marks=marks, bosses=6), file, looked)
    assert pattern.bosses == 6
    assert [m.photo for m in pattern.faces] == ["b.jpg"] * 6 + ["a.jpg"] * 6
    assert "the pattern of 6 bosses was placed by hand" in pattern.sentences(("a.jpg",))
    pattern = pattern.without_photo("a.jpg")
    assert pattern.bosses == 6
    assert pattern.without_photo("b.jpg").bosses is None, "a pattern goes with its last mark"


@pytest.mark.parametrize("point", [(-5.0, 10.0), (10.0, 3001.0)])
def test_a_mark_outside_the_photo_is_refused(point):
    looked = Looked(readable=True, width=4000, height=3000)
    with pytest.raises(ValueError, match="outside"):
        with_placed(Corrections(), placed("end", point), "a.jpg", looked)


def test_an_axis_of_two_points_at_one_place_is_refused():
    looked = Looked(readable=True, width=4000, height=3000)
    with pytest.raises(ValueError, match="apart"):
        with_placed(Corrections(), placed("axis", (10.0, 10.0), (14.0, 10.0)), "a.jpg", looked)


# ---- what is typed


def test_fields_are_written_as_the_job_file_wants_them(tmp_path):
    new_job(tmp_path / "hub", [100.08])
    typed = {
        "target.bar_x": "119,27 119,31",
        "target.paper": "letter",
        "wheel.spokes": "24",
        "spokes.stock_step": "",
        "nipple.length": "14",
    }
    set_typed(tmp_path / "hub", typed)
    values = read_typed(tmp_path / "hub").values
    assert values["target.bar_x"] == "119.27  119.31"
    assert values["target.paper"] == "letter"
    assert values["wheel.spokes"] == "24"
    assert values["nipple.length"] == "14"
    assert values["gauges.a.length"] == "100.08"


@pytest.mark.parametrize(
    ("field", "text"),
    [
        ("target.bar_x", "12"),
        ("target.paper", "a7"),
        ("wheel.spokes", "24.5"),
        ("wheel.spokes", "24 28"),
        ("rim.erd", "6OO"),
        ("spokes.spares", "-1"),
        ("rim.erd", "nan"),
        ("rim.erd", "1e400"),
        ("gauges.a.length", ""),
        ("gauges.b.tip", "nipple"),
        ("sides.drive.gauges", "z"),
    ],
)
def test_a_slip_in_a_field_is_refused(tmp_path, field, text):
    new_job(tmp_path / "hub", [100.08])
    before = (tmp_path / "hub" / "job.toml").read_text()
    with pytest.raises(JobFileError):
        set_typed(tmp_path / "hub", {field: text})
    assert (tmp_path / "hub" / "job.toml").read_text() == before


def test_a_second_gauge_is_added_named_per_side_and_taken_out_again(tmp_path):
    folder = tmp_path / "hub"
    new_job(folder, [100.08])
    for side in ("drive", "non_drive"):
        with_side(folder, side)
    assert read_typed(folder).gauges == ("a",)
    set_typed(folder, {"gauges.b.length": "100.2"})
    stated = read_typed(folder)
    assert stated.gauges == ("a", "b")
    assert stated.of_side("drive") == ("a",), "what was measured with the first gauge still is"
    set_typed(folder, {"sides.non_drive.gauges": "b a"})
    assert read_typed(folder).of_side("non_drive") == ("b", "a")
    for wrong in ("c", "a b a"):
        with pytest.raises(JobFileError):
            set_typed(folder, {"sides.drive.gauges": wrong})
    set_typed(folder, {"gauges.b.length": ""})
    stated = read_typed(folder)
    assert stated.gauges == ("a",)
    assert stated.of_side("non_drive") == ("a",)


def test_what_is_wrong_is_said_in_the_pages_words(tmp_path, small_photo):
    """Nobody here sees a job file: without photos, and with two gauges of which none is chosen."""
    folder = tmp_path / "hub"
    new_job(folder, [100.08])
    (said,) = measure(folder, True).problems
    assert said == "There are no photos yet. Add photos of one side, or of both."
    set_typed(folder, {"gauges.b.length": "100.2"})
    with_side(folder, "drive")
    (folder / "drive" / "a.jpg").write_bytes(small_photo)
    (said,) = measure(folder, True).problems
    assert said.startswith("Drive side, gauges in these photos: it is not said which gauge")
    assert said.endswith("Choose them beside these photos.")
    for path in (folder / "drive").iterdir():
        path.unlink()
    for sentence in measure(folder, True).problems:
        assert sentence.startswith("Drive side")
        assert "toml" not in sentence


def test_what_only_a_text_editor_makes_is_said_with_its_place(tmp_path, small_photo):
    folder = tmp_path / "hub"
    new_job(folder, [100.08])
    with_side(folder, "drive")
    (folder / "drive" / "a.jpg").write_bytes(small_photo)
    file = folder / "job.toml"
    text = file.read_text()
    file.write_text(text.replace("bar_x = []", "bar_x = 132"))
    (said,) = measure(folder, True).problems
    assert said.startswith("Check bar along the long side: check bar x: 132 mm is +10 % off")
    file.write_text(text.replace("\n[rim]\n", "\n[rim]\nwidth = 3\n"))
    (said,) = measure(folder, True).problems
    assert said.startswith("Rim, width: ")
    line = 1 + file.read_text().splitlines().index("width = 3")
    assert f"line {line}: mend it there" in said
    assert "toml" not in said


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Rear hub, Anna", "Rear-hub-Anna"),
        ("../../etc", "etc"),
        ("  Nabe für Jörg ", "Nabe-für-Jörg"),
        ("a" * 200, "a" * 60),
        ("..hidden", "hidden"),
    ],
)
def test_a_title_becomes_a_harmless_folder_name(title, name):
    assert folder_name(title) == name


def test_a_job_of_the_same_name_is_not_overwritten(tmp_path):
    create_job(tmp_path, "hub", [100.0])
    with pytest.raises(JobFileError, match="already"):
        create_job(tmp_path, "hub", [101.0])
    assert len(job_folders(tmp_path)) == 1


def test_a_job_folder_is_its_own_shelf(tmp_path):
    new_job(tmp_path / "hub", [100.0])
    assert list(job_folders(tmp_path / "hub").values()) == [tmp_path / "hub"]


def test_every_script_and_style_is_served_and_nothing_else():
    static = Path(pages.__file__).parent / "static"
    printed = {"card.css"}  # the printed card's own style
    assert set(pages.STATIC) == {p.name for p in static.iterdir()} | printed


# ---- the child


def hungry(size):
    return len(bytearray(size))


def run(work):
    async def with_child():
        child = Child(1_500_000_000)
        try:
            return await work(child)
        finally:
            child.stop()

    return asyncio.run(with_child())


def test_the_child_answers_fails_and_answers_again():
    async def work(child):
        first = await child.call(hungry, 10, timeout=120)
        with pytest.raises(ChildFailed, match="more memory"):
            await child.call(hungry, 8_000_000_000, timeout=120)
        with pytest.raises(ChildFailed, match="unexpectedly"):
            await child.call(hungry, "no size", timeout=120)
        return first, await child.call(hungry, 20, timeout=120)

    assert run(work) == (10, 20)


def test_a_child_that_hangs_or_dies_is_replaced():
    async def work(child):
        await child.call(hungry, 1, timeout=120)
        with pytest.raises(ChildFailed, match="longer than"):
            await child.call(time.sleep, 30, timeout=0.5)
        with pytest.raises(ChildFailed, match="ended"):
            await child.call(os._exit, 1, timeout=120)
        return await child.call(hungry, 3, timeout=120)

    assert run(work) == 3


def wait_until_there(file):
    while not file.exists():
        time.sleep(0.01)
    return file.name


def test_the_loop_goes_on_while_the_child_works(tmp_path):
    """The child waits for what only the loop can do: if the loop stood still meanwhile, neither would end."""
    sign = tmp_path / "sign"

    async def work(child):
        slow = asyncio.ensure_future(child.call(wait_until_there, sign, timeout=60))
        for _ in range(20):
            await asyncio.sleep(0.01)
        assert not slow.done()
        sign.touch()
        return await slow

    assert run(work) == "sign"


def test_a_picture_that_takes_long_does_not_hold_up_the_next(tmp_path):
    """The first look waits for what only the second one does: one after the other they would never end."""
    sign = tmp_path / "sign"

    async def work(_):
        crew = Crew(2, 1_500_000_000)
        try:
            slow = asyncio.ensure_future(crew.call(wait_until_there, sign, timeout=60))
            await crew.call(Path.touch, sign, timeout=60)
            third = [crew.call(hungry, size, timeout=60) for size in (3, 4, 5)]
            return await slow, await asyncio.gather(*third)
        finally:
            crew.stop()

    assert run(work) == ("sign", [3, 4, 5])


# ---- the folder of the pictures for the screen


CACHE = """
import os, sys, tempfile
from hubsight.page.cache import Cache
tempfile.tempdir = sys.argv[1]
cache = Cache()
print(cache.folder, flush=True)
sys.stdin.readline()
os.kill(os.getpid(), 9)
"""


@pytest.mark.skipif(os.name != "posix", reason="kills as only these systems do")
def test_a_killed_page_leaves_no_pictures_for_good(tmp_path, monkeypatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    strange = tmp_path / f"{PREFIX}of-something-else"
    strange.mkdir()
    outside = tmp_path / "outside"
    outside.mkdir()
    (tmp_path / f"{PREFIX}link").symlink_to(outside)
    with subprocess.Popen(
        [sys.executable, "-c", CACHE, str(tmp_path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as other:
        theirs = Path(other.stdout.readline().strip())
        (theirs / "a-full.jpg").write_bytes(b"picture")
        own = Cache()
        assert (theirs / "a-full.jpg").is_file(), "a page that runs keeps its own"
        own.close()
        assert not own.folder.exists()
        other.stdin.write("\n")
        other.stdin.flush()
        other.wait(60)
    assert (theirs / "a-full.jpg").is_file()
    last = Cache()
    assert not theirs.exists()
    assert strange.is_dir(), "what is no page's is left alone"
    assert outside.is_dir()
    last.close()


# ---- what is kept


def test_the_page_measures_what_the_command_measures(tmp_path, monkeypatch):
    """With corrections or without, from what was kept or anew: the same figures to the last digit shown."""
    looks = []

    def look(*arguments, **more):
        looks.append(arguments)
        return see_side(*arguments, **more)

    monkeypatch.setattr("hubsight.page.measuring.see_side", look)
    job = tmp_path / "job"
    (job / "drive").mkdir(parents=True)
    for number in (7508, 7510, 7511):
        shutil.copy(SAMPLE / "drive" / f"IMG_{number}.jpg", job / "drive")
    text = (SAMPLE / "job.toml").read_text()
    start, end = text.index("[sides.non_drive]"), text.index("[hub]")
    (job / "job.toml").write_text(text[:start] + text[end:])
    measurer = Measurer()
    first = measure_job(load_job(job), measure=measurer).sides[0].measurement
    outline = first.photos[0].gauge_end_outlines[0]
    mark = PlacedEnd(photo="IMG_7508.jpg", pixel=(outline[0] - 12.0, outline[1] - 1.0), u_px=1.0)
    write_corrections(job, JobCorrections().having("drive", Corrections(ends=(mark,))))
    kept = measure_job(load_job(job), measure=measurer).sides[0].measurement
    assert len(looks) == 1, "nothing was looked at again"
    anew = measure_job(load_job(job)).sides[0].measurement
    for name, figure in anew.figures.items():
        assert kept.figures[name].value == pytest.approx(figure.value, abs=1e-3), name
        assert kept.figures[name].u == pytest.approx(figure.u, rel=0.01), name
    assert kept.placed_by_hand == anew.placed_by_hand != ()
    before, after = (found.figures["spoke_offset"] for found in (first, kept))
    assert after.u > before.u + 0.1, "a mark that contradicts the photos widens the figure"


@pytest.mark.parametrize(
    ("changed", "looks"),
    [({}, 1), ({"erd": Reading(602.0, 0.5)}, 1), ({"spokes": 28}, 2), ({"crosses": 1}, 2)],
)
def test_what_is_sought_by_the_wheel_is_looked_for_anew_when_the_wheel_changes(monkeypatch, changed, looks):
    sought = []

    def look(side, target, wheel, **more):
        sought.append(wheel)
        return Refusal(reason="nothing", remedy="nothing")

    monkeypatch.setattr("hubsight.page.measuring.see_side", look)
    side = StatedSide(name="drive", photos=(), gauges=())
    target, wheel = StatedTarget(), StatedWheel(spokes=24, crosses=2)
    measurer = Measurer()
    measurer(side, target, wheel)
    measurer(side, target, replace(wheel, **changed))
    assert len(sought) == looks
