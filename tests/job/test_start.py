"""A new job file: asked for question by question, and what the file itself takes."""

import re
import tomllib

import pytest
from typer.testing import CliRunner

from hubsight.cli import app
from hubsight.job import load_job
from hubsight.job.file.model import JobFile
from hubsight.job.file.questions import QUESTIONS
from hubsight.job.file.starter import STARTER_TEXT

ANSWERS = {
    "target.paper": "Letter",
    "target.bar_x": "119,52 119,48 119.50",
    "target.bar_y": "119.4 mm",
    "gauges.a.length": "100.02 100.04",
    "gauges.a.tip": "nip",
    "gauges.a.diameter": "2.0",
    "sides": "both",
    "block_thickness": "12",
    "hub.over_locknut": "5 19/32 in",
    "rim.erd": "596.2 596.5 596.0",
    "wheel.spokes": "24",
    "wheel.crosses": "2",
    "spokes.stock_step": "290 292 296",
    "label.hub": "rear, spare wheel",
}


@pytest.fixture
def start(monkeypatch, tmp_path):
    """Run ``start`` as in a terminal, with a list of what is typed."""
    monkeypatch.setattr("hubsight.cli.start.somebody_answers", lambda: True)

    def run(typed, *options):
        text = "".join(f"{line}\n" for line in typed)
        return CliRunner().invoke(app, ["start", str(tmp_path / "my hub"), *options], input=text)

    return run


def test_every_answer_stands_in_the_file_with_its_explanation(start, tmp_path):
    result = start(ANSWERS[question.field] for question in QUESTIONS)
    assert result.exit_code == 0, result.output
    text = (tmp_path / "my hub" / "job.toml").read_text()
    raw = tomllib.loads(text)
    assert raw["target"]["paper"] == "letter"
    assert raw["target"]["bar_x"] == [119.52, 119.48, 119.50]
    assert raw["gauges"]["a"] == {"length": [100.02, 100.04], "tip": "nipple", "diameter": [2.0]}
    assert [raw["sides"][side]["block_thickness"] for side in ("drive", "non_drive")] == [12, 12]
    assert raw["spokes"]["stock_lengths"] == [290, 292, 296]
    job = load_job(tmp_path / "my hub", need_photos=False)
    assert job.table.hub.over_locknut.value == pytest.approx((5 + 19 / 32) * 25.4)
    assert (job.table.wheel.spokes, job.table.wheel.crosses) == (24, 2)
    kept = [line.partition("#")[2] for line in STARTER_TEXT.splitlines() if "stock_step" not in line]
    assert all(words in text for words in kept)
    assert 'hubsight measure "' in result.stdout
    assert "Still open" not in result.stdout


def test_enter_leaves_all_open_and_the_file_as_it_is_without_asking(start, tmp_path):
    result = start([""] * len(QUESTIONS))
    assert result.exit_code == 0
    assert (tmp_path / "my hub" / "job.toml").read_text() == STARTER_TEXT


@pytest.mark.parametrize("options", [["--no-ask"], []])
def test_nobody_is_asked_without_a_terminal_or_with_no_ask(start, tmp_path, monkeypatch, options):
    if not options:
        monkeypatch.setattr("hubsight.cli.start.somebody_answers", lambda: False)
    result = start([], *options)
    assert result.exit_code == 0
    assert "Enter leaves" not in result.stdout
    assert (tmp_path / "my hub" / "job.toml").read_text() == STARTER_TEXT


def test_a_slip_is_told_and_asked_again(start, tmp_path):
    typed = ["a5", "a4", "132", "119.5", "105", "119.4", "about 100", "5", "100", *[""] * 10]
    result = start(typed)
    assert result.exit_code == 0
    assert '"a5" is none of the answers. Type one of: a4, letter, a3.' in result.stdout
    assert '"about" is not a number. Type a number such as' in result.stdout
    assert "5 mm is not between 30 and 310" in result.stdout
    raw = tomllib.loads((tmp_path / "my hub" / "job.toml").read_text())
    assert (raw["target"]["bar_x"], raw["target"]["bar_y"]) == ([119.5], [119.4])
    assert raw["gauges"]["a"]["length"] == [100]
    assert "Still open: over-locknut, ERD of the rim, spokes of the whole wheel, crosses." in result.stdout


def test_lists_as_people_type_them_and_what_is_wrong_as_it_was_typed(start, tmp_path):
    typed = ["", "119,52,119,48", "119.5,119.6", "119,4, 119,5 ,119,45", "100", "", "", "", "no", *[""] * 6]
    result = start(typed)
    assert result.exit_code == 0, result.output
    assert '"119,52,119,48" is not a number' in result.stdout
    raw = tomllib.loads((tmp_path / "my hub" / "job.toml").read_text())
    assert raw["target"]["bar_x"] == [119.5, 119.6]
    assert raw["target"]["bar_y"] == [119.4, 119.5, 119.45]
    assert raw["sides"]["drive"]["block_thickness"] == 0


def test_a_slip_that_both_sides_share_is_told_once(start):
    result = start([*[""] * 7, "142", *[""] * 7])
    assert result.stdout.count("142.0 is out of range") == 1


@pytest.mark.parametrize(
    ("sides", "said"),
    [
        ("both", "Photograph both sides, then run: hubsight add"),
        ("drive", "Photograph the drive side, then run: hubsight add"),
        ("non", "Photograph the non-drive side, then run: hubsight add"),
        ("none", "Write your readings into the tables [sides...caliper]"),
    ],
)
def test_the_next_steps_are_those_of_the_answers(start, sides, said):
    answers = {**dict.fromkeys(ANSWERS, ""), "sides": "non_drive" if sides == "non" else sides}
    result = start(answers[question.field] for question in QUESTIONS)
    assert said in result.stdout
    assert ("hubsight lengths" in result.stdout) == (sides == "none")
    assert ("hubsight measure" in result.stdout) == (sides != "none")
    assert 'hubsight bench "' in result.stdout


@pytest.mark.parametrize("typed", [[""] * k for k in range(len(QUESTIONS))])
def test_every_question_can_be_ended_and_says_so(start, tmp_path, typed):
    result = start(typed)
    assert result.exit_code == 1
    assert result.stderr.endswith("Nothing was written.\n")
    assert not (tmp_path / "my hub").exists()


def test_one_can_go_back_and_ask_what_is_meant(start, tmp_path):
    result = start(["<", "a3", "119.5", "<", "?", "119.6", *[""] * 12])
    assert result.exit_code == 0
    assert "From tick to tick with the caliper, 120 on a perfect print" in result.stdout
    raw = tomllib.loads((tmp_path / "my hub" / "job.toml").read_text())
    assert raw["target"] == {"paper": "a3", "bar_x": [119.6], "bar_y": []}


@pytest.mark.parametrize(
    ("typed", "sides"), [("drive", ["drive"]), ("non-drive", ["non_drive"]), ("none", ["drive", "non_drive"])]
)
def test_only_sides_that_are_wanted_are_in_the_file(start, tmp_path, typed, sides):
    answers = {**dict.fromkeys(ANSWERS, ""), "sides": typed, "block_thickness": "10"}
    assert start(answers[question.field] for question in QUESTIONS).exit_code == 0
    raw = tomllib.loads((tmp_path / "my hub" / "job.toml").read_text())
    assert list(raw["sides"]) == sides
    assert all(raw["sides"][side]["block_thickness"] == 10 for side in sides)


def test_who_ends_the_questions_has_written_nothing(start, tmp_path):
    result = start(["a4", "119.5"])
    assert result.exit_code == 1
    assert "Nothing was written." in result.stderr
    assert not (tmp_path / "my hub").exists()


def test_a_job_that_is_there_is_told_before_anything_is_asked(start, tmp_path):
    (tmp_path / "my hub").mkdir()
    (tmp_path / "my hub" / "job.toml").write_text("mine")
    result = start([])
    assert result.exit_code == 2
    assert "there is such a file already" in result.stderr
    assert (tmp_path / "my hub" / "job.toml").read_text() == "mine"


def test_a_gauge_of_the_kit_may_be_named(start, tmp_path):
    kept = CliRunner().invoke(app, ["kit", "add-gauge", "blue", "--length", "100.02", "--tip", "nipple"])
    assert kept.exit_code == 0, kept.output
    answers = {**dict.fromkeys(ANSWERS, ""), "gauges.a.length": "blue"}
    result = start(answers[question.field] for question in QUESTIONS)
    assert "or of your kit: blue" in result.stdout
    job = load_job(tmp_path / "my hub", need_photos=False)
    gauge = job.table.gauges["a"]
    assert (gauge.length.value, gauge.tip) == (pytest.approx(100.02), "nipple")


FILLED = {
    **dict.fromkeys(("bar_x", "bar_y"), 120.1),
    **{"diameter": 2, "wire": 2, "stock_step": 2, "offset": 2, "spoke_offset": 2, "boss_depth": 2},
    **{"boss_width": 8, "boss_width_across": 8, "flange_diameter": 45, "reference_diameter": 40},
    **{"over_locknut": 142, "erd": 596, "tension": 1000, "spokes": 24, "crosses": 2, "length": 100},
    **{"block_thickness": 10, "spares": 3},
}
"""A good value of each field; 60 of the others."""

LINE = re.compile(r"(\w+) = (\[\]|\d+)(\s+#.*)?")


@pytest.mark.parametrize("form", ["[{}]", "{}", '"{} mm"', '["{} mm"]', '"{},0"', "[{}.0]"])
def test_the_file_takes_every_field_in_each_form(form):
    """The starter's own brackets filled in, a bare number, and millimetres as a person writes them."""
    lines = STARTER_TEXT.splitlines()
    asked = 0
    for number, line in enumerate(lines):
        match = LINE.fullmatch(line)
        if match is None or match[1] in ("schema_version", "blade"):
            continue
        value = 12 if lines[number - 1] == "[nipple]" else FILLED.get(match[1], 60)
        filled = form.format(value)
        if isinstance(value, float):
            filled = filled.replace(",0", "").replace(".0]", "]")
        changed = [*lines[:number], f"{match[1]} = {filled}", *lines[number + 1 :]]
        text = "\n".join(changed).replace("length = []  ", "length = [100]  ", 1)
        JobFile.model_validate(tomllib.loads(text))
        asked += 1
    assert asked > 25


@pytest.mark.parametrize("written", ["[]", '["{}"]', '"{}"'])
@pytest.mark.parametrize(("field", "usual"), [("paper", "a4"), ("tip", "flat"), ("kind", "slotted")])
def test_words_may_stand_in_brackets_too(field, usual, written):
    text = STARTER_TEXT.replace("length = []  ", "length = [100]  ", 1)
    changed = re.sub(rf'^{field} = "\w+"', f"{field} = {written.format(usual.upper())}", text, flags=re.M)
    assert changed != text or written == '"{}"'
    assert JobFile.model_validate(tomllib.loads(changed)) == JobFile.model_validate(tomllib.loads(text))
