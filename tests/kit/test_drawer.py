"""The drawer of spokes: CSV in and out, what is put in and taken out, and what a wheel takes."""

import datetime
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from hubsight.cli import app
from hubsight.kit import Kit, KitError
from hubsight.kit.drawer import DrawerLot, KitDrawer, from_csv, load_drawer, to_csv

DAY = datetime.date(2026, 3, 1)
BY_HAND = """\
[sides.drive.caliper]
flange_diameter = 47.1
spoke_offset = 1.9
centre_to_flange = 18.9
[sides.non_drive.caliper]
flange_diameter = 43.4
spoke_offset = 2.4
centre_to_flange = 33.5
[rim]
erd = { value = 596.2, u = 0.2 }
[wheel]
spokes = 24
crosses = 2
"""


@pytest.fixture
def run(monkeypatch, tmp_path, no_kit_of_the_user):
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.chdir(tmp_path)
    return lambda *arguments: CliRunner().invoke(app, [str(argument) for argument in arguments])


@pytest.fixture
def job(tmp_path):
    def write(more=""):
        folder = tmp_path / "wheel"
        folder.mkdir(exist_ok=True)
        (folder / "job.toml").write_text(BY_HAND + more)
        return folder

    return write


def words(text):
    return " ".join(text.split())


lots = st.builds(
    DrawerLot,
    length=st.integers(2000, 3200).map(lambda tenths: tenths / 10.0),
    count=st.integers(1, 500),
    wire=st.sampled_from(["", "2.0", "2.0/1.8/2.0", "2.0/2.2x1.0/2.0"]),
    head=st.sampled_from(["straight-pull", "J-bend"]),
)


@given(st.lists(lots, max_size=8))
def test_a_drawer_survives_its_csv(some):
    drawer = KitDrawer(date=DAY)
    for lot in some:
        drawer = drawer.with_more(lot)
    assert from_csv(to_csv(drawer)) == drawer.lots
    assert drawer.spokes == sum(lot.count for lot in some)


def test_csv_as_other_programs_write_it():
    european = "\ufeffCount;Length_mm;Wire;Shop\n12;294,5;2,0/1,8/2,0;corner\n;;;\n3;294,5 mm;2.0/1.8/2.0;\n"
    assert from_csv(european) == (DrawerLot(length=294.5, count=15, wire="2.0/1.8/2.0"),)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "line 1 does not name"),
        ("294,12\n", "line 1 does not name"),
        ("length_mm,count\n294,twelve\n", "line 2 has no length and count"),
        ("length_mm,count\n294,12\n2940,3\n", "line 3: length 2940.0 cannot be right"),
        ("length_mm,count,wire\n294,12,thick\n", "line 2: wire thick cannot be right"),
    ],
)
def test_a_csv_that_is_none_is_refused_with_its_line(text, says):
    with pytest.raises(KitError, match=says):
        from_csv(text)


def test_spokes_go_in_and_out(run):
    assert "no drawer yet" in run("drawer").stdout
    assert run("drawer", "put", "294", "12", "--wire", "2,0/1,8/2,0").exit_code == 0
    assert run("drawer", "put", "294", "6", "--wire", "2.0/1.8/2.0").exit_code == 0
    assert run("drawer", "put", "296", "4").exit_code == 0
    assert "18 of 294 mm, wire 2.0/1.8/2.0 mm, straight-pull" in run("drawer").stdout
    assert run("drawer", "take", "294", "17", "--wire", "2.0/1.8/2.0").exit_code == 0
    csv = run("drawer", "write").stdout
    assert csv == "length_mm,count,wire,head\n296,4,,straight-pull\n294,1,2.0/1.8/2.0,straight-pull\n"
    too_many = run("drawer", "take", "296", "5")
    assert too_many.exit_code == 2
    assert "there are 4 of 296 mm in the drawer, not 5" in words(too_many.stderr)


def test_a_counted_drawer_takes_the_place_of_the_old(run, tmp_path):
    run("drawer", "put", "300", "9")
    (tmp_path / "count.csv").write_text("length_mm,count\n294,12\n")
    assert run("drawer", "read", "count.csv").exit_code == 0
    assert load_drawer(Kit.beside(None), "drawer")[0].spokes == 12
    assert run("drawer", "read", "count.csv", "--add").exit_code == 0
    assert load_drawer(Kit.beside(None), "drawer")[0].spokes == 24
    assert run("drawer", "write", "out.csv").exit_code == 0
    assert (tmp_path / "out.csv").read_text().splitlines()[1] == "294,24,,straight-pull"


def test_a_wheel_takes_its_spokes_once(run, job):
    for length, count in ((295, 20), (298, 9), (310, 50)):
        run("drawer", "put", length, count, "--wire", "2.0")
    said = words(run("drawer", "use", job(), "--book").stdout)
    assert "Take 12 of 295 mm for the drive side" in said
    assert "Take 9 of 298 mm for the non-drive side" in said
    assert "Order 3 of 298 mm for the non-drive side, and 2 spare" in said
    assert "Left over for spares: 8 of 295 mm" in said
    drawer = load_drawer(Kit.beside(None), "drawer")[0]
    assert [(lot.length, lot.count) for lot in drawer.lots if lot.length == 310] == [(310.0, 50)]
    assert drawer.booked[0].job == "wheel"
    again = run("drawer", "use", job(), "--book")
    assert again.exit_code == 2
    assert "wheel took its spokes on" in words(again.stderr)


def test_a_job_that_names_its_drawer_shows_it_with_the_lengths(run, job):
    run("drawer", "put", 295, 30, "--wire", "2.0")
    folder = job('[spokes]\ndrawer = "drawer"\n')
    said = run("lengths", folder)
    assert said.exit_code == 0, said.output
    assert "From your drawer" in said.stdout
    assert max(map(len, said.stdout.splitlines())) <= 80
    document = json.loads(run("lengths", folder, "--json").stdout)
    own = document["wheel"]["own_stock"]
    assert own["lines"][0]["source"] == "drawer"
    assert document["kit"][0]["kind"] == "drawer"
    direct = json.loads(run("drawer", "use", folder, "--json").stdout)
    assert direct == own
    assert "From the drawer" in words(report_of(run, folder))


def report_of(run, folder):
    assert run("report", folder).exit_code == 0
    return (folder / "report.html").read_text()


def test_a_drawer_that_is_not_there_is_told(run, job):
    missing = run("lengths", job('[spokes]\ndrawer = "cellar"\n'))
    assert missing.exit_code == 2
    assert 'there is no drawer "cellar"' in words(missing.stderr)
