"""The command line: what it prints, and how it ends."""

import errno
import functools
import json
import platform
import subprocess
import sys
from importlib.metadata import version

import pytest
from typer.testing import CliRunner

from hubsight import read_record
from hubsight.cli import COMMANDS, PANELS, app
from hubsight.job.measure import measure_job
from hubsight.model.cautions import CAUTIONS
from hubsight.model.result import JobResult


@pytest.fixture
def run(monkeypatch, fake_measurement, tmp_path):
    """Run the command line with a fake in place of the measuring."""
    fake_job = functools.partial(measure_job, measure=fake_measurement)
    for command in ("measure", "demo"):
        monkeypatch.setattr(f"hubsight.cli.{command}.measure_job", fake_job)
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.chdir(tmp_path)
    return lambda *arguments: CliRunner().invoke(app, [str(argument) for argument in arguments])


def words(text):
    """The text without the line breaks of the screen."""
    return " ".join(text.split())


def test_a_job_is_printed_as_tables(run, job_folder):
    result = run("measure", job_folder)
    assert result.exit_code == 0
    assert "Drive side" in result.stdout
    assert "Non-drive side" in result.stdout
    row = next(line for line in result.stdout.splitlines() if "spoke offset" in line)
    assert "2.20" in row
    assert "0.05" in row
    assert "2.10 to 2.30" in row
    assert "spoke length, 2 crosses" in result.stdout
    assert "spoke offset: the head may not be seated" in words(result.stdout)


def test_cautions_are_said_once_a_job(run, job_folder):
    cautions = " ".join(CAUTIONS)
    assert words(run("measure", job_folder, "--no-record").stdout).endswith(cautions)
    assert words(run("measure", job_folder).stdout).endswith(cautions), "without a record it is new"
    assert CAUTIONS[0] not in words(run("measure", job_folder).stdout)
    photo = next((job_folder / "drive").iterdir())
    assert words(run("measure", photo, "--gauge-length", 100).stdout).endswith(cautions)


def test_json_is_one_document_and_nothing_else(run, job_folder, tmp_path):
    result = run("measure", job_folder / "job.toml", "--json", "--overlays", tmp_path / "seen")
    document = JobResult.model_validate_json(result.stdout)
    assert document.sides[0].measurement.figures["flange_diameter"].value == 47.0
    assert json.loads(result.stdout)["schema_version"] == 2
    assert len(list((tmp_path / "seen").iterdir())) == 4


def test_a_refused_side_is_told_and_ends_with_one(run, job_folder, fake_measurement, refusal):
    fake_measurement.answers["non_drive"] = refusal
    result = run("measure", job_folder)
    assert result.exit_code == 1
    assert refusal.sentence() in words(result.stdout)
    assert "Non-drive side: not measured" in result.stdout


def test_an_error_in_the_job_ends_with_two_and_a_sentence(run, job_folder):
    file = job_folder / "job.toml"
    file.write_text(file.read_text().replace("crosses", "croses"))
    result = run("measure", job_folder, "--json")
    said = 'job.toml, line 15, wheel.croses: this field is not known. Did you mean "crosses"?'
    assert result.exit_code == 2
    assert result.stderr == f"{said}\n"
    assert json.loads(result.stdout) == {"error": said}
    assert run("lengths", job_folder, "--json").stdout == result.stdout
    plain = run("measure", job_folder)
    assert plain.stdout == "", "the words that were asked for as JSON before are not remembered"
    assert plain.stderr == f"{said}\n"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["nothing.toml"], "there is no such file"),
        (["nothing.jpg", "--gauge-length", "100"], "there is no such file"),
        (["."], "there is no job.toml in this folder"),
        (["job", "job"], "Name one job folder"),
        (["job/drive/IMG_1.jpg"], "--gauge-length: this is missing"),
        (["job", "--gauge-length", "100"], "Write them into job.toml"),
        (["job/drive/IMG_1.jpg", "--gauge-length", "5"], "--gauge-length: 5 mm is not between"),
        (["job/drive/IMG_1.jpg", "--gauge-length", "100", "--bar-x", "132"], "--bar-x: "),
        (["job/drive/IMG_1.jpg", "--gauge-length", "100", "--crosses", "9"], "--crosses: 9 is out of range"),
        (["job/drive/IMG_1.jpg", "--gauge-length", "100", "--profile", "no.json"], "no.json: there is no"),
        (["job/drive/IMG_1.jpg", "text.md", "--gauge-length", "100"], "text.md: this is no photo"),
    ],
)
def test_bad_input_ends_with_two_and_a_sentence(run, job_folder, tmp_path, arguments, said):
    (tmp_path / "text.md").write_text("no photo")
    result = run("measure", *arguments)
    assert result.exit_code == 2
    assert said in result.stderr
    assert isinstance(result.exception, SystemExit)
    assert "Traceback" not in result.output


def test_overlays_that_cannot_be_written_are_told(run, job_folder, tmp_path):
    (tmp_path / "file").write_text("in the way")
    result = run("measure", job_folder, "--overlays", tmp_path / "file")
    assert result.exit_code == 2
    assert "the overlays cannot be written there" in result.stderr


def test_bare_photos_are_measured_with_the_options(run, job_folder, fake_measurement):
    photos = sorted((job_folder / "drive").iterdir())
    options = ["--gauge-length", 100.02, "--gauge-length", 100.04, "--bar-x", 119.5, "--tip", "nipple"]
    options += ["--flange-height", 90, "--side", "non_drive", "--block-thickness", 10]
    result = run("measure", *photos, *options)
    assert result.exit_code == 0
    side, target, wheel, _ = fake_measurement.asked[0]
    assert side.name == "non_drive"
    assert side.photos == tuple(photos)
    assert side.gauges[0].length.value == pytest.approx(100.03)
    assert side.gauges[0].tip == "nipple"
    assert side.flange_height.value == 90
    assert side.block_thickness == 10
    assert target.bar_x.value == 119.5
    assert wheel.erd is None
    assert "Non-drive side" in result.stdout


def test_overlays_of_bare_photos_find_their_photos(run, job_folder, tmp_path):
    photos = [job_folder / "drive" / "IMG_1.jpg", job_folder / "non_drive" / "IMG_2.jpg"]
    result = run("measure", *photos, "--gauge-length", 100, "--overlays", tmp_path / "seen")
    assert result.exit_code == 0
    assert len(list((tmp_path / "seen").iterdir())) == 2


@pytest.mark.parametrize("typed", ["100.08", "100,08", "100.08 mm", "100,08mm"])
def test_lengths_on_the_command_line_take_commas_and_units(run, job_folder, fake_measurement, typed):
    photo = next((job_folder / "drive").iterdir())
    assert run("measure", photo, "--gauge-length", typed, "--paper", "Letter").exit_code == 0
    side, target, _, _ = fake_measurement.asked[0]
    assert side.gauges[0].length.value == 100.08
    assert target.paper == "letter"


def test_a_length_that_is_none_is_told(run, job_folder):
    result = run("measure", next((job_folder / "drive").iterdir()), "--gauge-length", "about a hundred")
    assert result.exit_code == 2
    assert "is not a number of millimetres" in words(result.stderr)


def test_start_writes_a_job_once(run, tmp_path):
    first = run("start", tmp_path / "new")
    assert first.exit_code == 0
    assert (tmp_path / "new" / "job.toml").is_file()
    second = run("start", tmp_path / "new")
    assert second.exit_code == 2
    assert "already" in second.stderr


def test_target_is_written_and_its_print_checked(run, tmp_path):
    result = run("target", tmp_path / "sheet.pdf", "--paper", "LETTER")
    assert result.exit_code == 0
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF")
    assert "100 %" in result.stdout
    checked = run("target", "--check", 119.5, 119.2)
    assert checked.exit_code == 0
    assert "Along the long side (bar x) the print is 0.42 % too small" in checked.stdout
    assert "The print is fine: state both readings in your job, and carry on." in checked.stdout
    assert run("target", "--check", "119,5 mm", "119,2").stdout == checked.stdout


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "nothing to do"),
        (["sheet.docx"], "cannot be written"),
        (["no/such/folder/sheet.pdf"], "cannot be written"),
        (["--check", "4.7", "119"], "inches"),
    ],
)
def test_a_target_that_cannot_be_ends_with_two(run, arguments, said):
    result = run("target", *arguments)
    assert result.exit_code == 2
    assert said in result.stderr


def test_version_is_told_with_those_that_matter(run):
    result = run("--version")
    assert result.exit_code == 0
    assert result.stdout.startswith(f"hubsight {version('hubsight')}\nPython {platform.python_version()} on ")
    for name in ("numpy", "opencv-python-headless", "pillow"):
        assert f"{name} {version(name)}" in result.stdout


def test_who_names_no_command_is_told_how_to_begin(run, monkeypatch, tmp_path):
    result = run()
    assert result.exit_code == 0
    for command in ("bench", "bench --shortcut", "demo", "start my-hub", "--help"):
        assert f"hubsight {command}" in result.stdout
    assert len(result.stdout.splitlines()) < 12
    assert max(map(len, result.stdout.splitlines())) <= 88
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr("sys.argv", [".venv/bin/hubsight"])
    assert "  .venv/bin/hubsight bench " in run().stdout, "as it was typed, where no other way leads to it"


def test_commands_are_listed_by_the_way_of_a_job(run):
    listed = run("--help").stdout
    places = [listed.index(f"─ {panel} ─") for panel in PANELS]
    assert places == sorted(places)
    assert sorted(name for names in PANELS.values() for name in names) == sorted(COMMANDS)
    for place, names in zip(places, PANELS.values(), strict=True):
        for name in names:
            assert listed.index(f"│ {name} ") > place


@pytest.mark.parametrize(
    ("typed", "offered"), [("hubsight mea", "measure"), ("hubsight measure --gauge-l", "--gauge-length")]
)
def test_the_shell_completes_commands_and_their_options(run, monkeypatch, typed, offered):
    monkeypatch.setenv("_HUBSIGHT_COMPLETE", "complete_bash")
    monkeypatch.setenv("COMP_WORDS", typed)
    monkeypatch.setenv("COMP_CWORD", str(typed.count(" ")))
    said = CliRunner().invoke(app, [], prog_name="hubsight")
    assert offered in said.output.split()


@pytest.mark.parametrize("module", ["typer", "hubsight.job"])
def test_ctrl_c_while_loading_shows_no_traceback(module):
    """An interrupt that comes while a library is being imported, early and when a command is loaded."""
    program = f"""
import sys
class Interrupts:
    def find_spec(self, name, *more):
        if name == {module!r}:
            raise KeyboardInterrupt
sys.meta_path.insert(0, Interrupts())
sys.argv = ["hubsight", "measure", "."]
from hubsight.__main__ import main
main()
"""
    ended = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert ended.returncode not in (0, 2)
    assert "Traceback" not in ended.stderr
    assert "KeyboardInterrupt" not in ended.stderr


def test_demo_shows_figures_beside_the_truth(run, job_folder, tmp_path, monkeypatch):
    truth = {
        "rendered": True,
        "sides": {
            side: {"boss_count": 6, "crosses": 2, "figures": {"flange_diameter": 46.9, "spoke_offset": 2.5}}
            for side in ("drive", "non_drive")
        },
    }
    (job_folder / "truth.json").write_text(json.dumps(truth))
    monkeypatch.setattr("hubsight.job.sample._PLACES", (tmp_path / "nowhere", job_folder))
    result = run("demo", "--overlays", tmp_path / "seen")
    assert result.exit_code == 0
    table = result.stdout[result.stdout.index("beside the truth") :]
    diameter = next(line for line in table.splitlines() if "flange diameter" in line)
    assert "46.90" in diameter
    assert "+0.10" in diameter
    assert "yes" in diameter
    assert "no" in next(line for line in table.splitlines() if "spoke offset" in line)
    assert "ray traced" in table
    assert len(list((tmp_path / "seen").iterdir())) == 4


def test_demo_without_its_sample_says_so(run, tmp_path, monkeypatch):
    monkeypatch.setattr("hubsight.job.sample._PLACES", (tmp_path / "nowhere",))
    result = run("demo")
    assert result.exit_code == 2
    assert "the sample job is not here" in result.stderr


def test_a_measured_job_has_its_record(run, job_folder):
    assert run("measure", job_folder).exit_code == 0
    record = read_record(job_folder)
    assert record.measurement.sides[0].measurement.figures["flange_diameter"].value == 47.0
    assert record.measurement.wheel is not None


def test_no_record_where_none_is_wanted_and_none_of_bare_photos(run, job_folder):
    assert run("measure", job_folder, "--no-record").exit_code == 0
    assert run("measure", job_folder / "drive" / "IMG_1.jpg", "--gauge-length", 100).exit_code == 0
    assert not list(job_folder.rglob("record*"))


def test_figures_are_shown_even_if_their_record_cannot_be_written(run, job_folder, monkeypatch):
    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("hubsight.record.store.write_atomically", full)
    result = run("measure", job_folder)
    assert result.exit_code == 2
    assert "spoke offset" in result.stdout
    assert "the record cannot be written (No space left on device)" in words(result.stderr)
