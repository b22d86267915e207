"""The status line: what is done, what blocks, what to do next, and where each sentence leads."""

from __future__ import annotations

import re
from dataclasses import dataclass

import pytest

from hubsight.job import JobFileError, Problem
from hubsight.job.file.edit import new_job, set_fields, with_side
from hubsight.measure.first_look import FirstLook
from hubsight.model.agreement import PhotosAgree, Question
from hubsight.model.refusal import Refusal
from hubsight.model.result import JobResult, MeasuredSide, Software
from hubsight.model.verdict import Reason, Verdict
from hubsight.page.form import read_typed, set_typed
from hubsight.page.jobs import PhotoFile
from hubsight.page.links import Link, link_of
from hubsight.page.looking import Looked
from hubsight.page.measuring import Outcome
from hubsight.page.state import JobState, PhotoState
from hubsight.page.status import status_of
from hubsight.page.words import in_page_words, plain
from made_up import make_side

SOFTWARE = Software(hubsight="1", python="3", numpy="2", opencv="5", scipy="1")
JOB_FILE_WORDS = re.compile(r"toml|\[\w+|_|sides\.|gauges\.|hubsight ", re.IGNORECASE)
"""What nobody reads who never opened a job file."""


@dataclass
class Bench:
    """A job without a server: photos that were looked at, a result, what is stated."""

    state: JobState

    def photos(self, side, count, tilts=(5, 20, 20, 20)):
        for number in range(count):
            path = self.state.folder / side / f"{side}-{number + 1}.jpg"
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(b"photo")
            look = FirstLook(
                width=4000,
                height=3000,
                orientation=1,
                corners=(),
                tilt_deg=tilts[number % 4],
                around_deg=120.0 * number,
            )
            file = PhotoFile(side, path)
            looked = Looked(readable=True, width=4000, height=3000, look=look)
            self.state.photos[file.id] = PhotoState(file, looked=looked)
        with_side(self.state.folder, side)

    def measured(self, *reasons, **of_drive):
        found = make_side("drive", photos=("drive-1.jpg",), **of_drive)
        side = MeasuredSide(name="drive", measurement=found)
        result = JobResult(job="hub", sides=(side,), software=SOFTWARE, verdict=Verdict.of(reasons))
        self.state.outcome = Outcome(result)

    @property
    def now(self):
        return status_of(self.state, read_typed(self.state.folder))


@pytest.fixture
def bench(tmp_path):
    new_job(tmp_path / "hub")
    return Bench(JobState("id", tmp_path / "hub"))


def reason(about, severity="check", sentence="the reading differs", remedy="Read it again"):
    return Reason(sentence=sentence, remedy=remedy, about=about, severity=severity)


def test_a_job_is_led_from_nothing_to_the_report(bench):
    """Each thing that is missing is asked for when it is needed, one at a time."""
    assert bench.now.next.link == Link("photos", "files-drive")
    assert bench.now.done == "Nothing done yet"
    bench.photos("drive", 4)
    assert bench.now.next.link == Link("photos", "p-gauges-a-length"), "the gauge only now"
    set_typed(bench.state.folder, {"gauges.a.length": "100.08"})
    assert "non-drive side has no photos" in bench.now.blocks
    assert bench.now.next.link == Link("photos", "files-non_drive")
    bench.photos("non_drive", 4)
    assert bench.now.blocks == ""
    assert bench.now.next.do == "measure"
    bench.measured()
    assert bench.now.next.link == Link("wheel", "f-rim-erd")
    set_typed(bench.state.folder, {"rim.erd": "600"})
    bench.measured(reason("rim.erd", "note"))
    bench.state.outcome = Outcome(bench.state.outcome.measured)
    assert bench.now.steps["photos"] == "done"


def test_what_is_being_done_has_no_button(bench):
    bench.photos("drive", 4)
    bench.state.doing = "Measuring"
    assert bench.now.next is None


def test_a_photo_that_is_looked_at_is_waited_for(bench):
    bench.photos("drive", 4)
    next(iter(bench.state.photos.values())).looked = None
    assert bench.now.blocks == "Photos are being looked at"
    assert bench.now.next is None


def test_a_change_asks_to_measure_again_and_is_no_order(bench):
    set_typed(bench.state.folder, {"gauges.a.length": "100.08"})
    bench.photos("drive", 4)
    bench.measured()
    assert bench.now.word == "order"
    bench.state.of_now = False
    assert bench.now.word == "check", "nobody orders by figures of before"
    assert "before the last change" in bench.now.heading
    assert bench.now.next.do == "measure"


def test_a_refused_side_leads_to_its_photos(bench):
    set_typed(bench.state.folder, {"gauges.a.length": "100.08"})
    bench.photos("drive", 4)
    refusal = Refusal(reason="no gauge spoke was found", remedy="Place it by hand")
    side = MeasuredSide(name="drive", refusal=refusal)
    bench.state.outcome = Outcome(JobResult(job="hub", sides=(side,), software=SOFTWARE))
    first = bench.state.side_photos("drive")[0].file.id
    assert bench.now.next.link == Link("look", photo=first)
    assert "no gauge spoke was found" in bench.now.blocks
    assert bench.now.steps["look"] == "doubtful"


def test_a_question_comes_before_the_rest(bench):
    set_typed(bench.state.folder, {"gauges.a.length": "100.08"})
    bench.photos("drive", 4)
    question = Question(
        photo="drive-1.jpg",
        mark="end",
        index=0,
        sigmas=8.0,
        figure="spoke_offset",
        by_mark=2.35,
        by_photos=3.26,
        photos=("drive-2.jpg", "drive-3.jpg", "drive-4.jpg"),
    )
    bench.measured(agreement=PhotosAgree(questions=(question,)))
    first = bench.state.side_photos("drive")[0].file.id
    assert bench.now.questions[0].photo == first
    assert bench.now.next.link == Link("look", "question-0", photo=first, at="end")


# ---- where a sentence leads


@pytest.mark.parametrize(
    ("about", "wanted"),
    [
        ("target.bar_x", Link("sheet", "f-target-bar_x")),
        ("target", Link("sheet", "f-target-bar_x")),
        ("rim.erd", Link("wheel", "f-rim-erd")),
        ("hub.over_locknut", Link("wheel", "f-hub-over_locknut")),
        ("gauges.a.length", Link("sheet", "f-gauges-a-length")),
        ("drive.flange_diameter", Link("figures", "c-sides-drive-caliper-flange_diameter")),
        ("drive.caliper.protrusion", Link("figures", "c-sides-drive-caliper-protrusion")),
        ("drive.centre_to_flange", Link("photos", "p-sides-drive-centre_to_flange")),
        ("sides.drive.block_thickness", Link("photos", "p-sides-drive-block_thickness")),
        ("sides.drive.crosses", Link("wheel", "f-wheel-crosses")),
        ("drive.gauges", Link("photos", "p-sides-drive-gauges")),
        ("drive.spoke_length", Link("wheel")),
        ("hub", Link("figures")),
        ("job", Link("figures")),
    ],
)
def test_a_reason_leads_to_its_field(bench, about, wanted):
    bench.photos("drive", 2)
    assert link_of(reason(about), bench.state) == wanted


def test_a_reason_leads_to_its_place_in_the_photo(bench):
    bench.photos("drive", 3)
    second = bench.state.side_photos("drive")[1].file.id
    about_end = reason("drive.spoke_offset", sentence="drive-2.jpg shows another end of the gauge")
    assert link_of(about_end, bench.state) == Link("look", photo=second, at="end")
    assert link_of(reason("drive.photos.drive-2.jpg"), bench.state) == Link("look", photo=second)
    first = bench.state.side_photos("drive")[0].file.id
    assert link_of(reason("drive.spoke_offset"), bench.state) == Link("look", photo=first, at="end")
    assert link_of(reason("drive.photos"), bench.state) == Link("look", photo=first)


# ---- words


@pytest.mark.parametrize(
    "remedy",
    [
        "State crosses in [wheel], not counting the crossing inside the boss",
        'State kind = "radial" or kind = "paired" in [sides.drive]',
        "State spokes in [wheel], or bosses in [sides.non_drive]",
        "State erd in [rim]: the diameter on which the spoke ends are to lie",
        'State the row of rim holes, as holes = "DND" in [rim]',
        "Look at the rim, and state first_hole in [sides.drive]",
        "Add a table [sides.drive] to the job file",
        "State longer stock_lengths in [spokes], or have the spokes cut to order",
        "There are none. Add it with: hubsight kit add-gauge",
        "Add a table [gauges.NAME]; `hubsight start` shows every field",
    ],
)
def test_remedies_are_said_without_words_of_the_job_file(remedy):
    said = plain(remedy)
    assert not JOB_FILE_WORDS.search(said), said
    assert len(said) > 10


def test_what_a_text_editor_broke_is_said_in_words():
    problem = Problem("job.toml", 7, "rim.hole_stagger", "this is too large", "Give it in mm in [rim]")
    (said,) = in_page_words(JobFileError([problem]))
    assert not JOB_FILE_WORDS.search(said), said
    assert said.startswith("Rim, hole stagger: this is too large")


# ---- kit


def test_kit_is_chosen_by_name_and_what_was_typed_gives_way(tmp_path, monkeypatch):
    monkeypatch.setenv("HUBSIGHT_KIT", str(tmp_path / "kit"))
    folder = tmp_path / "hub"
    new_job(folder)
    assert "gauges.a.kit" not in read_typed(folder).values, "no kit, no choice"
    from datetime import date  # noqa: PLC0415

    from hubsight.kit.model import KitGauge, KitTarget  # noqa: PLC0415
    from hubsight.kit.store import save_item  # noqa: PLC0415

    gauge = KitGauge(date=date(2026, 1, 2), length=(99.91,), tip="nipple")
    save_item(gauge, "gauge", "blue", tmp_path / "kit")
    sheet = KitTarget(date=date(2026, 1, 2), paper="letter", bar_x=(119.5,), bar_y=(119.6,))
    save_item(sheet, "target", "board", tmp_path / "kit")
    set_typed(folder, {"gauges.a.length": "100.08", "target.bar_x": "119.9"})
    set_typed(folder, {"gauges.a.kit": "blue", "target.kit": "board"})
    values = read_typed(folder).values
    assert (values["gauges.a.length"], values["gauges.a.tip"]) == ("", "nipple")
    assert (values["target.bar_x"], values["target.paper"]) == ("", "letter")
    assert read_typed(folder).without_length() is None
    with pytest.raises(JobFileError):
        set_typed(folder, {"gauges.a.kit": "of nobody"})
    set_typed(folder, {"gauges.a.length": "100.08"})
    assert read_typed(folder).values["gauges.a.kit"] == "", "what is typed later counts"


def test_a_job_begins_without_a_gauge(tmp_path):
    new_job(tmp_path / "hub")
    typed = read_typed(tmp_path / "hub")
    assert typed.without_length() == "a"
    set_fields(tmp_path / "hub", {"gauges.a.length": [100.08]})
    assert read_typed(tmp_path / "hub").without_length() is None
