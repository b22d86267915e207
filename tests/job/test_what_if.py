"""``hubsight lengths --what-if``: several wheels from one measured hub."""

import datetime
import functools
import json
import re
from pathlib import Path

import pytest
from typer.testing import CliRunner

from hubsight.cli import app
from hubsight.job import load_job
from hubsight.job.measure import measure_job
from hubsight.job.plan import plan_job
from hubsight.job.what_if import AS_STATED, WhatIf
from hubsight.kit import KitRim, save_item
from hubsight.record import measure_and_record

HUB = """\
[sides.drive.caliper]
flange_diameter = 47.1
spoke_offset = 1.9
centre_to_flange = 18.9
[sides.non_drive.caliper]
flange_diameter = 43.4
spoke_offset = 2.4
centre_to_flange = 33.5
"""
RIM = "[rim]\nerd = [596.2, 596.0, 596.4]\noffset = 1.0\nmass = 420\n"
WHEEL = "[wheel]\nspokes = 24\ncrosses = 2\n"
SPOKES = "[spokes]\nwire = 2.0\nstock_step = 2\n"
NIPPLE = "[nipple]\nlength = 12\n"

SAME = [
    ('rim = "light"', {"rim": '[rim]\nkit = "light"\n'}),
    ('rim = "light"\nwasher = 0.6', {"rim": '[rim]\nkit = "light"\nwasher = 0.6\n'}),
    ("rim.erd = [560.2, 560.4]", {"rim": "[rim]\nerd = [560.2, 560.4]\n"}),
    ("rim = { rods = [300.0, 200.0], gaps = 96.3 }", {"rim": "[rim]\nrods = [300.0, 200.0]\ngaps = 96.3\n"}),
    ("erd = 597", {"rim": "[rim]\nerd = 597\noffset = 1.0\nmass = 420\n"}),
    ("offset = -2.5", {"rim": RIM.replace("offset = 1.0", "offset = -2.5")}),
    ("washer = 1.0", {"rim": RIM + "washer = 1.0\n"}),
    ("crosses = 1\ntension = 1150", {"wheel": "[wheel]\nspokes = 24\ncrosses = 1\ntension = 1150\n"}),
    ("drive.crosses = 1", {"hub": "[sides.drive]\ncrosses = 1\n" + HUB}),
    ("wire = [2.0, 1.5, 2.0]", {"spokes": "[spokes]\nwire = [2.0, 1.5, 2.0]\nstock_step = 2\n"}),
    ("wire = 2.0\nblade = [2.2, 0.9]", {"spokes": SPOKES + "blade = [2.2, 0.9]\n"}),
    (
        "stock_lengths = [290, 295, 298]",
        {"spokes": "[spokes]\nwire = 2.0\nstock_lengths = [290, 295, 298]\n"},
    ),
    ("cut_to_order = true", {"spokes": "[spokes]\nwire = 2.0\ncut_to_order = true\n"}),
    (
        'nipple = { length = 14, kind = "tall_head" }',
        {"nipple": '[nipple]\nlength = 14\nkind = "tall_head"\n'},
    ),
]


def job_text(**parts):
    parts = {"hub": HUB, "rim": RIM, "wheel": WHEEL, "spokes": SPOKES, "nipple": NIPPLE, **parts}
    return "".join(parts.values())


@pytest.fixture
def kit(no_kit_of_the_user):
    rim = KitRim(
        date=datetime.date(2026, 3, 1), holes=24, erd=(580.1, 579.7), offset=(-2.5,), washer=(0.2,), mass=380
    )
    save_item(rim, "rim", "light", no_kit_of_the_user)


@pytest.fixture
def folder(tmp_path, kit):
    (tmp_path / "hub").mkdir()
    (tmp_path / "hub" / "job.toml").write_text(job_text())
    return tmp_path / "hub"


@pytest.fixture
def ask(tmp_path, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")

    def run(folder, text, *arguments):
        (tmp_path / "wheels.toml").write_text(text)
        asked = ["lengths", folder, "--what-if", tmp_path / "wheels.toml", *arguments]
        return CliRunner().invoke(app, [str(one) for one in asked])

    return run


def found(result):
    return {one.name: one for one in WhatIf.model_validate_json(result.stdout).wheels}


@pytest.mark.parametrize(("says", "parts"), SAME)
def test_a_row_is_what_a_job_with_these_keys_gives(ask, folder, tmp_path, says, parts):
    row = found(ask(folder, f"[other]\n{says}\n", "--json"))["other"]
    (tmp_path / "job.toml").write_text(job_text(**parts))
    job = load_job(tmp_path, need_photos=False)
    result = measure_job(job)
    assert row.p_wrong == result.wheel.p_wrong
    assert row.tension_ratio == result.wheel.tension_ratio
    assert (row.erd, row.verdict, row.reasons) == (
        result.wheel.erd,
        result.verdict.word,
        result.verdict.reasons,
    )
    for side in row.sides:
        lengths = result.side(side.side).spoke_lengths
        order = lengths.order
        assert (side.length, side.u) == (lengths.length.value, lengths.length.u)
        assert (side.bracing_angle, side.tension, side.stretch) == (
            order.bracing_angle,
            order.tension,
            order.stretch,
        )
        ordered = [(choice.count, choice.proposed.length) for choice in order.choices]
        assert [(one.count, one.length) for one in side.orders] == ordered
        assert side.orders[0].p_too_short == order.choices[0].proposed.p_too_short


def test_every_change_changes_something(ask, folder):
    text = "".join(f"[case{k}]\n{says}\n" for k, (says, _) in enumerate(SAME))
    wheels = found(ask(folder, text, "--json"))
    own = wheels.pop(AS_STATED)
    assert len(wheels) == len(SAME)
    for wheel in wheels.values():
        assert wheel.sides != own.sides, wheel.name


def test_what_a_side_states_for_itself_gives_way_to_the_whole_wheel(ask, folder):
    own = "[sides.drive]\ncrosses = 1\nwire = 1.8\n"
    (folder / "job.toml").write_text(job_text(hub=own + HUB))
    wheels = found(ask(folder, "[a]\ncrosses = 2\n[b]\nwire = 2.0\n[c]\ntension = 900\n", "--json"))
    assert [side.crosses for side in wheels["a"].sides] == [2, 2]
    assert [side.crosses for side in wheels["b"].sides] == [1, 2]
    assert [side.crosses for side in wheels["c"].sides] == [1, 2]
    assert wheels["b"].sides[0].stretch < wheels[AS_STATED].sides[0].stretch


def test_a_measured_hub_is_not_measured_again(ask, job_folder, fake_measurement, monkeypatch, kit):
    monkeypatch.setattr("hubsight.record.planned.measure_job", lambda *_: pytest.fail("measured"))
    text = '[a]\nrim = "light"\n[b]\nerd = 597\n'
    unknown = ask(job_folder, text)
    assert unknown.exit_code == 2
    assert "this hub is not measured yet. Measure it first: hubsight measure" in unknown.stderr
    record = measure_and_record(
        load_job(job_folder), measure=functools.partial(measure_job, measure=fake_measurement)
    )
    wheels = found(ask(job_folder, text, "--json"))
    changes = {"rim": "light"}
    own = plan_job(load_job(job_folder, changes=changes), record.measurement).result
    lengths = own.side("drive").spoke_lengths.length
    assert wheels["a"].sides[0].length == lengths.value
    assert wheels["a"].sides[0].length < wheels["b"].sides[0].length


def test_a_hub_without_a_rim_takes_the_alternatives_alone(ask, folder):
    (folder / "job.toml").write_text(job_text(rim=""))
    assert list(found(ask(folder, '[a]\nrim = "light"\n', "--json"))) == ["a"]
    refused = ask(folder, "[a]\ncrosses = 1\n")
    assert refused.exit_code == 2
    assert "wheels.toml, line 1, a: it has no rim, so there are no spoke lengths" in refused.stderr


def test_a_rim_with_other_holes_is_doubted_where_photos_were_read(ask, job_folder, fake_measurement):
    file = job_folder / "job.toml"
    file.write_text(file.read_text().replace("crosses = 2", "crosses = 2\nspokes = 24"))
    measure_and_record(load_job(job_folder), measure=functools.partial(measure_job, measure=fake_measurement))
    wheels = found(ask(job_folder, '[a]\nrim = { erd = 596, holes = "DN" }\n[b]\nerd = 590\n', "--json"))
    assert any("drilled in another way" in reason.sentence for reason in wheels["a"].reasons)
    assert not any("drilled in another way" in reason.sentence for reason in wheels["b"].reasons)


def test_the_table_reads_at_80_columns(ask, folder):
    text = '[light, with washers]\nrim = "light"\nwasher = 0.6\n[one cross]\ncrosses = 1\n'
    text += '[tall]\nnipple.kind = "tall_head"\n'
    result = ask(folder, text)
    assert result.exit_code == 0, result.output
    lines = result.stdout.splitlines()
    assert max(map(len, lines)) <= 80
    said = " ".join(result.stdout.split())
    assert "light, with washers: rim light; washer 0.6" in said
    assert "the job's own D 2x" in said
    assert "one cross D 1x" in said
    assert "evenest tension" in said


def test_a_wheel_that_cannot_be_laced_stops_alone(ask, folder):
    result = ask(folder, "[bad]\ncrosses = 5\n[good]\ncrosses = 1\n", "--json")
    assert result.exit_code == 1
    wheels = found(result)
    assert wheels["bad"].verdict == "stop"
    assert wheels["bad"].sides[0].refusal is not None
    assert wheels["bad"].best == ()
    assert wheels["good"].verdict != "stop"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "there is no alternative in it"),
        (
            "crosses = 1\n",
            "line 1, crosses: this belongs to no alternative. Write the alternative's name above",
        ),
        ("[a]\n", "line 1, a: nothing is different here"),
        ("[a]\ncroses = 1\n", 'line 2, a.croses: this field is not known. Did you mean "crosses"?'),
        ("[a]\ncrosses = 1.5\n", "line 2, a.crosses: 1.5 crosses: a spoke crosses another one or does not"),
        ("[a]\nerd = 59.6\n", "line 2, a.erd: 59.6 mm is not between 150 and 750"),
        ("[a]\ntension = 1\n[b]\nerd = 5\n", "line 4, b.erd: 5 mm"),
        ("[a]\ntension = 1\n[b]\nerd = 5\n", "line 2, a.tension: 1 is out of range"),
        ('[a]\nrim = "deep"\n', 'line 2, a.rim: there is no rim "deep" in the kit. There are: light'),
        ("[a]\nrim.erd = 596\nrim.rods = [300, 200]\n", "a.rim: the ERD is stated in more than one way"),
        ("[a]\nrim.edr = 596\n", "a.rim.edr: this field is not known. Did you mean"),
        ("[a]\nnipple = 14\n", "line 2, a.nipple: this must be a table"),
        ("[a]\nhub.over_locknut = 130\n", "a.hub: an alternative changes the wheel, not the hub"),
        ("[a]\ndrive.photos = 1\n", "a.drive.photos: an alternative changes the wheel, not the hub"),
        ("[a]\nspokes = 28\n", "line 2, a.spokes: that takes 7 bosses on the drive side, the hub has 6"),
        ("[a]\nerd = 596,2\n", "line 2: this is not valid TOML"),
        (f"[{'x' * 41}]\ncrosses = 1\n", "this cannot be a name. Use up to 40"),
        ("".join(f"[a{k}]\ncrosses = 1\n" for k in range(41)), "41 alternatives are too many"),
    ],
)
def test_what_is_no_alternative_is_told_with_its_line(ask, folder, text, words):
    result = ask(folder, text)
    assert result.exit_code in (1, 2)
    assert words in " ".join((result.stderr + result.stdout).split())


def test_a_side_that_the_job_has_not_is_told(ask, folder):
    (folder / "job.toml").write_text(job_text(hub=HUB.partition("[sides.non_drive")[0]))
    result = ask(folder, "[a]\nnon_drive.crosses = 1\n")
    assert "line 2, a.non_drive: the job has no such side. Known are: drive" in result.stderr


def test_a_missing_file_is_told_and_json_says_so(folder, tmp_path):
    result = CliRunner().invoke(
        app, ["lengths", str(folder), "--what-if", str(tmp_path / "none.toml"), "--json"]
    )
    assert result.exit_code == 2
    assert "there is no such file" in json.loads(result.stdout)["error"]


def test_the_alternatives_of_the_documentation_are_read(ask, folder):
    page = Path(__file__).parents[2] / "docs" / "order.md"
    text, *_ = re.findall(r"```toml\n(.*?)```", page.read_text(encoding="utf-8"), re.DOTALL)
    wheels = found(ask(folder, text, "--json"))
    assert list(wheels) == [AS_STATED, "light", "light, with washers", "one cross", "thin wire"]


@pytest.mark.parametrize(
    ("old", "new", "field"),
    [
        ("length = 100.02", "length = 101.02", "gauges.a.length"),
        ("bar_x = 119.5", "bar_x = 119.9", "target.bar_x"),
        ("[sides.drive]\n", "[sides.drive]\nblock_thickness = 20\n", "sides.drive.block_thickness"),
        ("crosses = 2", "crosses = 1", None),
        ("[hub]", "[sides.drive.caliper]\nflange_diameter = 47\n[hub]", None),
    ],
)
def test_figures_of_other_statements_are_not_used(ask, job_folder, fake_measurement, *, old, new, field):
    measure_and_record(load_job(job_folder), measure=functools.partial(measure_job, measure=fake_measurement))
    file = job_folder / "job.toml"
    file.write_text(file.read_text().replace(old, new))
    result = ask(job_folder, "[a]\nerd = 597\n")
    if field is None:
        assert "erd 597" in result.stdout
    else:
        assert result.exit_code == 2
        assert f"{field} changed since the hub was measured. Measure it again" in result.stderr
