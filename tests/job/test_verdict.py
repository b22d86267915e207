"""The verdict: what keeps from ordering, what is a note, and what is asked for once."""

import pytest

from hubsight.job import load_job
from hubsight.job.measure import measure_job
from hubsight.job.verdict import _unlike
from hubsight.model.figure import BudgetItem
from hubsight.model.hub import HubFigures
from hubsight.model.joint import Explained, JointTest
from hubsight.model.refusal import Refusal
from hubsight.model.result import HandResult, MeasuredSide
from hubsight.model.verdict import Reason
from made_up import make_figure, make_side

SURE_ERD = "erd = { value = [596, 596], u = 0.001 }"
CONFIRMED = {
    "length = 100.02": "length = [100.02, 100.02]",
    "bar_x = 119.5": "bar_x = [119.5, 119.5]",
    "bar_y = 119.4": "bar_y = [119.4, 119.4]",
    "erd = { value = 596, u = 0.001 }": SURE_ERD,
}
"""What the job states, read twice: each test is about something else than one reading alone."""


def figures(**more):
    usual = {
        "flange_diameter": make_figure(47.0),
        "spoke_offset": make_figure(2.6, 0.05),
        "protrusion": make_figure(93.2, 0.05),
        "boss_width": make_figure(8.4, 0.1),
        "flange_height": make_figure(90.0, 0.2),
        "over_locknut": make_figure(142.0, 0.1),
    }
    return {**usual, **more}


@pytest.fixture
def judge(job_folder, fake_measurement):
    """Return the result of the job with these figures of the drive side; the other side has no doubts."""

    def judged(change=("", ""), side=None, **more):
        text = (job_folder / "job.toml").read_text()
        for once, twice in CONFIRMED.items():
            text = text.replace(once, twice)
            assert twice in text
        assert change[0] in text
        (job_folder / "job.toml").write_text(text.replace(*change, 1))
        fake_measurement.answers["non_drive"] = make_side("non_drive", figures=figures())
        own = make_side("drive", figures=figures(**more)) if side is None else side
        fake_measurement.answers["drive"] = own
        return measure_job(load_job(job_folder), measure=fake_measurement)

    return judged


def sentences(verdict, *severities):
    return [reason.sentence for reason in verdict.reasons if reason.severity in severities]


def test_nothing_doubtful_is_an_order(judge):
    result = judge()
    assert [side.verdict.word for side in result.sides] == ["order", "order"]
    assert result.verdict.word == "order"
    assert len(result.order) == 2
    assert not result.verdict.reasons


def test_a_doubtful_offset_is_checked_and_the_order_stays(judge):
    result = judge(spoke_offset=make_figure(2.6, 0.05, warnings=("the gauge is bent",)))
    assert result.side("drive").verdict.word == "check"
    assert result.side("non_drive").verdict.word == "order"
    assert result.verdict.word == "check"
    assert sentences(result.verdict, "check") == ["drive side: spoke offset: the gauge is bent"]
    assert len(result.order) == 2


@pytest.mark.parametrize(("name", "severity"), [("over_locknut", "note"), ("boss_width", "note")])
def test_what_cannot_move_the_end_out_of_the_window_is_a_note(judge, name, severity):
    doubted = figures()[name].warned("perhaps another edge")
    result = judge(**{name: doubted})
    assert result.verdict.word == "order"
    (reason,) = result.side("drive").verdict.reasons
    assert reason.severity == severity
    assert "perhaps another edge" in reason.sentence


def test_a_sentence_that_several_figures_carry_counts_by_the_one_that_bears_most(judge):
    sure = figures()
    names = ("spoke_offset", "boss_width")
    result = judge(**{name: sure[name].warned("a head not seated") for name in names})
    (said,) = sentences(result.side("drive").verdict, "check")
    assert said == "spoke offset and boss width: a head not seated"


def test_a_doubt_from_measuring_reaches_every_verdict(judge):
    doubt = Reason(
        sentence="two photos show another end", remedy="Leave them out", about="drive.photos", severity="stop"
    )
    result = judge(side=make_side("drive", figures=figures(), doubts=(doubt,)))
    assert doubt in result.side("drive").verdict.reasons
    assert result.verdict.word == "stop"
    assert [line.side for line in result.order] == ["non_drive"]


def test_a_refused_side_stops_and_leaves_the_other_its_order(judge):
    refusal = Refusal(reason="the gauge's end is outside the picture", remedy="Step back")
    result = judge(side=refusal)
    assert result.side("drive").verdict.word == "stop"
    assert sentences(result.side("drive").verdict, "stop") == [refusal.reason]  # once, not twice
    assert [line.side for line in result.order] == ["non_drive"]


def test_a_refusal_names_the_statement_to_blame_and_still_stops_its_side_alone(judge):
    refusal = Refusal(reason="the check bars contradict the photos", remedy="Measure", about="target.bars")
    result = judge(side=refusal)
    (stop,) = (r for r in result.side("drive").verdict.reasons if r.severity == "stop")
    assert stop.about == "target.bars"
    assert [line.side for line in result.order] == ["non_drive"]
    assert [r.about for r in result.verdict.reasons if r.severity == "stop"] == ["target.bars"]


@pytest.mark.parametrize(
    ("readings", "words"), [("[100.0, 100.0]", ["check"]), ("[100.0, 100.01]", ["order"])]
)
def test_a_gauge_of_exactly_a_whole_length_was_hardly_measured(judge, readings, words):
    result = judge(("length = [100.02, 100.02]", f"length = {readings}"))
    assert [result.verdict.word] == words
    assert [r.about.split(".")[0] for r in result.verdict.reasons] == ["gauges"] * (words == ["check"])


@pytest.mark.parametrize(
    ("stated", "wrong", "about"),
    [
        ("crosses = 2\n", "crosses = 5\n", "wheel.crosses"),
        ("crosses = 2\n", "crosses = 2\nspokes = 28\n", "wheel.spokes"),
    ],
)
def test_lengths_that_cannot_be_name_the_statement_to_blame(judge, stated, wrong, about):
    result = judge((stated, wrong))
    for side in result.sides:
        assert side.verdict.word == "stop"
        assert about in [reason.about for reason in side.verdict.reasons if reason.severity == "stop"]


CALIPER = "[sides.drive.caliper]\nprotrusion = {protrusion}\nboss_width = 8.4\n[hub]"


def test_readings_that_make_another_offset_contradict_the_photos(judge):
    # by hand 100.02 - 91.1 - 4.2 = 4.72, by the photos 2.6
    result = judge(("[hub]", CALIPER.format(protrusion=91.1)))
    verdict = result.side("drive").verdict
    assert verdict.word == "stop"
    assert any(
        "the readings by hand make the spoke offset 4.72 mm" in text for text in sentences(verdict, "stop")
    )
    assert not [line for line in result.order if line.side == "drive"]


def test_the_length_by_hand_is_compared_with_that_of_the_photos(judge):
    text = CALIPER.format(protrusion=91.1).replace("[hub]", "flange_diameter = 47.0\n[hub]")
    side = judge(("[hub]", text)).side("drive")
    (by_hand,) = [one for one in side.arithmetic if one.quantity == "spoke_length"]
    # only the offset differs, one to one: 100.02 - 91.1 - 4.2 = 4.72 against 2.6
    assert by_hand.value - side.spoke_lengths.length.value == pytest.approx(2.12, abs=0.02)
    assert not by_hand.agrees
    assert by_hand.sentence in sentences(side.verdict, "stop")


@pytest.mark.parametrize(("lopsided", "doubted"), [(0.15, True), (0.6, False)])
def test_an_offset_by_hand_goes_by_the_boss_middle_which_a_lopsided_boss_has_elsewhere(
    judge, lopsided, doubted
):
    """By hand 100.02 - 92.2 - 4.2 = 3.62 against 2.6: within twice 0.6 mm, beyond twice 0.15 and readings."""
    by_width = make_figure(2.6, 0.3, budget=(BudgetItem(source="lopsided bosses", u=lopsided),))
    text = CALIPER.format(protrusion=92.2).replace("[hub]", "flange_diameter = 47.0\n[hub]")
    side = judge(("[hub]", text), spoke_offset_by_width=by_width).side("drive")
    said = [r.severity for r in side.verdict.reasons if "by hand" in r.sentence]
    assert len(said) == 2 * doubted


@pytest.mark.parametrize(
    ("names", "word"), [(("protrusion", "boss_width"), "order"), (("protrusion", "reach"), "check")]
)
def test_a_protrusion_is_doubted_for_its_face_unless_the_reach_is_too(judge, names, word):
    vague = figures(reach=make_figure(97.4, 0.5), protrusion=make_figure(93.2, 0.5))
    result = judge(**{name: vague[name].warned("something is misread") for name in names})
    assert result.side("drive").verdict.word == word


@pytest.mark.parametrize(("sigmas", "said"), [(2.75, 0), (2.85, 1)])
def test_results_by_hand_are_unlike_beyond_what_one_side_in_a_hundred_shows(sigmas, said):
    """Two are compared: Bonferroni's limit for one in a hundred is 2.81 (scipy: norm.isf(0.01 / 4))."""
    one = HandResult(
        side="drive",
        quantity="spoke_offset",
        value=2.0,
        u=0.1,
        stated=None,
        agrees=True,
        slip=None,
        sentence="unlike",
    )
    side = MeasuredSide(name="drive")
    assert len(list(_unlike(one, side, sigmas / 1.96, moves=True))) == said


def test_a_photo_that_was_left_out_and_moves_nothing_is_a_note(judge):
    left = "IMG_3.jpg was left out: the hub stands about 0.7 mm from where the other photos show it"
    reason = Reason(sentence=left, remedy="Look at it", about="drive.photos", severity="note")
    assert judge(side=make_side("drive", figures=figures(), doubts=(reason,))).verdict.word == "order"
    assert judge(side=make_side("drive", figures=figures(), warnings=(left,))).verdict.word == "check"


def test_a_slip_that_is_known_explains_the_other_offset(judge):
    # half of the boss width was given: by hand 100.02 - 93.2 - 2.1 = 4.72
    half = CALIPER.format(protrusion=93.2).replace("8.4", "4.2")
    result = judge(("[hub]", half))
    assert result.verdict.word == "order"
    said = sentences(result.side("drive").verdict, "note")
    assert any("half of the boss width" in text for text in said)
    assert any("the readings by hand make the spoke offset 4.72 mm" in text for text in said)


def test_one_slip_that_all_readings_name_explains_the_other_offset(judge, monkeypatch):
    best = Explained(
        about="target.bars",
        sentence="both check bars seem to be stated too long",
        remedy="Measure both check bars",
        odds=1e6,
        probability=0.99,
        lengths={"drive": 2.1},
    )

    def say(one):
        test = JointTest(right=0.01, explanations=(one,))
        monkeypatch.setattr("hubsight.job.plan.joint_test", lambda *_: test)
        return judge(readings.pop()).side("drive").verdict

    readings = [("", ""), ("", ""), ("[hub]", CALIPER.format(protrusion=91.1))]
    about_offset = {r.severity for r in say(best).reasons if "by hand" in r.sentence}
    assert about_offset == {"note"}
    of_other_side = best.model_copy(update={"lengths": {"non_drive": 2.1}})
    assert say(of_other_side).word == "stop"
    assert say(best.model_copy(update={"probability": 0.5})).word == "stop"


def test_readings_by_hand_that_make_the_same_offset_bound_what_a_warning_may_mean(judge):
    warned = make_figure(2.6, 0.05, warnings=("the bosses are not mirror images",))
    result = judge(("[hub]", CALIPER.format(protrusion=93.2)), spoke_offset=warned)
    assert any("mirror images" in text for text in sentences(result.side("drive").verdict, "note"))
    assert result.verdict.word == "order"


@pytest.mark.parametrize(("u", "severity"), [(0.2, "note"), (0.8, "check")])
def test_a_doubt_that_leaves_the_end_in_the_window_is_a_note_and_said_once(judge, u, severity):
    doubt = Reason(
        sentence="two photos show another end", remedy="Look", about="drive.spoke_offset", severity="check"
    )
    held = {"spoke_offset": make_figure(2.6, u, warnings=(doubt.sentence,))}
    verdict = judge(side=make_side("drive", figures=figures(**held), doubts=(doubt,))).side("drive").verdict
    said = [one for one in verdict.reasons if "another end" in one.sentence]
    assert [one.severity for one in said] == [severity]


def test_a_misplaced_face_does_not_keep_from_ordering(judge):
    # the photos' face lies 2 mm too far in: width 4 too small, protrusion 2 too large; by hand the offset is
    # 100.02 - 93.2 - 4.2 = 2.62, as by the reach
    face = {"protrusion": make_figure(95.2, 0.05), "boss_width": make_figure(4.4, 0.1)}
    result = judge(("[hub]", CALIPER.format(protrusion=93.2)), **face)
    assert result.verdict.word == "order"
    said = sentences(result.side("drive").verdict, "note")
    assert any("misplaced a face" in text for text in said)


def test_readings_that_agree_say_nothing(judge):
    assert judge(("[hub]", CALIPER.format(protrusion=93.2))).verdict.word == "order"


def test_a_reading_whose_slip_is_known_is_to_be_read_again(judge):
    result = judge(("[hub]", "[sides.drive.caliper]\nflange_diameter = 23.5\n[hub]"))
    (said,) = sentences(result.side("drive").verdict, "check")
    assert "the radius was given" in said


def test_a_stated_centre_that_the_photos_contradict_never_sets_the_order_silently(judge):
    near = judge(("[hub]", "[sides.drive]\n[hub]"[len("[sides.drive]\n") :]))
    assert near.verdict.word == "order"
    result = judge(('photos = "drive/*"', 'photos = "drive/*"\ncentre_to_flange = 49'))
    verdict = result.side("drive").verdict
    assert verdict.word == "stop"
    assert any(
        "the stated centre to flange of 49.00 mm, the photos show 19.00" in r.sentence
        for r in verdict.reasons
    )


def test_close_calls_are_asked_for_once_with_the_erd(judge):
    result = judge((SURE_ERD, "erd = { value = 596, u = 1.5 }"))
    close = [side for side in result.sides if side.spoke_lengths.order.close_call]
    assert len(close) == 2
    (reason,) = [reason for reason in result.verdict.reasons if "close call" in reason.sentence]
    assert reason.about == "rim.erd"
    assert reason.remedy.startswith("Read the ERD more often")
    asking = [one for one in result.verdict.reasons if "ERD" in one.remedy or "ERD" in one.sentence]
    assert asking == [reason]  # it was read once, and nothing confirms that: the same reading settles both
    for side in close:
        assert reason in side.verdict.reasons
        assert side.verdict.word == "check"
    assert len(result.order) == 2


def test_what_is_said_of_the_hub_counts_by_its_bearing(judge, monkeypatch):
    def say(*warnings):
        hub = HubFigures(figures={"over_locknut": make_figure(142.0)}, warnings=warnings)
        monkeypatch.setattr("hubsight.job.measure.whole_hub", lambda *_: hub)
        return judge().verdict

    assert say("over-locknut: the photo sets contradict each other").word == "order"
    assert say("are drive and non-drive side swapped?").word == "check"


@pytest.mark.parametrize(("readings", "word"), [([594.4, 595.6], "order"), ([593.6, 596.4], "check")])
def test_a_rim_out_of_round_matters_if_a_spoke_leaves_the_window(judge, readings, word):
    # single spokes end a quarter of the spread from where they should: 0.3 and 0.7 mm
    result = judge((SURE_ERD, f"erd = {{ value = {readings}, u = 0.001 }}"))
    (reason,) = [one for one in result.verdict.reasons if "round the rim" in one.sentence]
    assert result.verdict.word == word
    assert reason.severity == ("note" if word == "order" else "check")


def test_without_a_rim_there_is_nothing_to_order(judge):
    result = judge((SURE_ERD, ""))
    assert result.verdict.word == "check"
    assert any("no rim is stated" in text for text in sentences(result.verdict, "check"))


def test_every_warning_of_a_measurement_is_among_the_reasons(judge):
    side = make_side(
        "drive",
        figures={name: figure.warned(f"of {name}") for name, figure in figures().items()},
        warnings=("of the side",),
        repeats=(),
    )
    said = " ".join(reason.sentence for reason in judge(side=side).verdict.reasons)
    for text in (*(f"of {name}" for name in figures()), "of the side"):
        assert text in said


def test_what_nothing_confirms_is_asked_for(judge):
    (said,) = sentences(judge((CONFIRMED["length = 100.02"], "length = 100.02")).verdict, "check")
    assert (
        said == "the order hangs on one reading of the gauge's length (100.02 mm), and nothing confirms that"
    )
