"""The examples run, and what they print is what they promise."""

import re
import runpy
from pathlib import Path

import pytest

import hubsight
from hubsight.job.measure import measure_job
from hubsight.job.sample import load_truth
from made_up import make_figure, make_side

EXAMPLES = Path(__file__).parents[1] / "docs" / "examples"
BUDGET = (hubsight.BudgetItem(source="seating", u=0.03), hubsight.BudgetItem(source="print scale", u=0.04))


@pytest.fixture
def run(monkeypatch, tmp_path, capsys):
    """Run an example in an empty folder, without a window; return what it prints."""

    def run(name):
        monkeypatch.chdir(tmp_path)
        monkeypatch.setenv("MPLBACKEND", "agg")
        runpy.run_path(str(EXAMPLES / f"{name}.py"), run_name="__main__")
        return capsys.readouterr().out

    return run


@pytest.fixture
def small_sample(monkeypatch, fake_measurement, job_folder):
    """Put a job of small photos in place of the sample, and figures that are made up: it takes no time."""

    def measured(job):
        for side in job.sides:
            figures = {
                "flange_diameter": make_figure(47.0, budget=BUDGET),
                "spoke_offset": make_figure(2.2, 0.05, budget=BUDGET),
                "flange_height": make_figure(90.0, 0.2),
            }
            fake_measurement.answers[side.stated.name] = make_side(
                side.stated.name, side.stated.photos, figures=figures
            )
        return measure_job(job, measure=fake_measurement)

    monkeypatch.setattr(hubsight, "measure_job", measured)
    monkeypatch.setattr(hubsight, "find_sample_job", lambda: job_folder)


def test_the_index_names_every_example():
    named = re.findall(r"\]\((\w+)\.py\)", (EXAMPLES / "README.md").read_text(encoding="utf-8"))
    assert sorted(named) == sorted(path.stem for path in EXAMPLES.glob("*.py"))


def test_the_sample_job_is_measured(run, small_sample):
    said = run("measure_the_sample_job")
    assert "drive" in said
    assert "non_drive" in said
    assert re.search(r"spoke_offset +2\.20 ± 0\.05 mm +good", said)


def test_bare_photos_are_measured_right(run):
    """Measured in earnest, from arrays: the sample is ray traced, so that the truth is known."""
    truth = load_truth(hubsight.find_sample_job()).sides["drive"]
    said = run("measure_bare_photos")
    for name in ("flange_diameter", "spoke_offset", "boss_width"):
        low, high = re.search(rf"{name} .* between (\S+) and (\S+)", said).groups()
        assert float(low) < truth.figures[name] < float(high), name
    assert f"{truth.boss_count} bosses, drilled for {truth.crosses} crosses" in said


def test_a_wheel_from_readings_by_hand(run):
    said = run("wheel_from_readings_by_hand")
    # By hand: o = 100.08 - 93.90 - 8.42 / 2, d = 37.0 + 2 * 5.1, w = 141.95 / 2 - 52.0
    assert "drive: spoke offset: 1.97 mm" in said
    assert "drive: flange diameter: 47.20 mm" in said
    assert "drive: centre to flange: 18.97 mm" in said
    # sqrt(298^2 + 23.6^2 + 18.975^2 - 2 * 298 * 23.6 * cos 75) + 1.97, alpha = 2.5 * 360 / 12
    assert re.search(r"^drive: 295\.36 ± ", said, re.MULTILINE)
    assert "drive: 12 + 2 spokes of 296 mm, nipples 12 mm, slotted" in said


@pytest.mark.parametrize("name", ["uncertainty_budget", "what_a_photo_shows"])
def test_examples_with_plots_write_what_they_say(run, small_sample, tmp_path, name):
    plt = pytest.importorskip("matplotlib.pyplot")
    said = run(name)
    plt.close("all")
    picture = tmp_path / f"{name}.png"
    assert picture.name in said
    assert picture.stat().st_size > 20_000
    if name == "what_a_photo_shows":
        assert "4 pictures in the folder seen" in said
        assert len(list((tmp_path / "seen").iterdir())) == 4
