"""What is looked for, repeat measurements, and the table for other programs."""

import csv
import io
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from typer.testing import CliRunner

from hubsight.cli import app
from hubsight.shelf import Query, Shelf, parse_query, repeats, shelf_csv
from hubsight.shelf.query import ABOUT_MM, Span
from hubsight.shelf.table import harmless


def about(name, value):
    return Span(name, value - ABOUT_MM[name], value + ABOUT_MM[name])


@pytest.mark.parametrize(
    ("text", "query"),
    [
        ("", Query()),
        ("d about 44, six bosses", Query(spans=(about("flange_diameter", 44.0),), bosses=6)),
        ("Flange diameter = 44,5 mm", Query(spans=(about("flange_diameter", 44.5),))),
        ("offset 2.4 to 2.0", Query(spans=(Span("spoke_offset", 2.0, 2.4),))),
        ("2 crosses and 12 bosses", Query(bosses=12, crosses=2)),
        ("Three-cross Anna", Query(words=("anna",), crosses=3)),
        ("w 33, old 142", Query(spans=(about("centre_to_flange", 33.0), about("over_locknut", 142.0)))),
        ("model d", Query(words=("model", "d"))),
        ("offset -0.5", Query(spans=(about("spoke_offset", -0.5),))),
    ],
)
def test_words_and_dimensions_are_told_apart(text, query):
    assert parse_query(text) == query


@given(st.text())
def test_anything_can_be_looked_for(text):
    parse_query(text)


@pytest.fixture
def sides(shelf_folder):
    def sides(text=""):
        with Shelf(shelf_folder) as shelf:
            shelf.refresh()
            return shelf.find(parse_query(text))

    return sides


def test_repeats_of_a_model_stand_side_by_side(put, sides):
    put("a", d=47.00, u=0.05, hub="Model A")
    put("b", d=47.10, u=0.05, hub="model  a ")
    put("c", d=47.05, u=0.10, hub="Model A")
    put("other", d=50.0, hub="Model B")
    put("nameless")
    put("nameless 2")
    drive, non_drive = repeats(sides())
    assert (drive.side, non_drive.side) == ("drive", "non_drive")
    assert len(drive.sides) == 3
    item = next(item for item in drive.figures if item.name == "flange_diameter")
    assert item.mean == pytest.approx(47.05)
    assert item.scatter == pytest.approx(0.05)
    assert item.stated == pytest.approx(math.sqrt((0.05**2 * 2 + 0.1**2) / 3))
    # Weights 400, 400, 100: the mean is 47.05, chi squared 1 + 1 + 0.
    assert item.birge == pytest.approx(1.0)
    assert item.explained


@pytest.mark.parametrize(("apart", "explained"), [(0.13, True), (0.15, False)])
def test_scatter_beyond_the_stated_uncertainties_is_told(put, sides, apart, explained):
    put("a", d=47.0, u=0.05, hub="A")
    put("b", d=47.0 + apart, u=0.05, hub="A")
    item = next(one for one in repeats(sides())[0].figures if one.name == "flange_diameter")
    # Two values differ by more than 1.96 * sqrt(2) * u = 0.139 in one case of twenty.
    assert item.explained is explained
    assert item.birge**2 == pytest.approx((apart / 0.05) ** 2 / 2)
    assert stats.chi2.ppf(0.95, 1) == pytest.approx(3.841, abs=1e-3)  # tables of chi squared


def test_the_same_photos_measured_twice_are_no_repeat(put, sides):
    put("a", hub="A", photos="same")
    put("copy of a", hub="A", photos="same")
    assert repeats(sides()) == []


def test_the_table_can_be_read_by_others(put, sides):
    put("a", d=44.1234, u=0.07, hub='Model "A", new', o=-0.25)
    rows = list(csv.DictReader(io.StringIO(shelf_csv(sides()))))
    assert [row["side"] for row in rows] == ["drive", "non_drive"]
    assert rows[0]["hub"] == 'Model "A", new'
    assert float(rows[0]["flange_diameter_mm"]) == 44.1234
    assert float(rows[0]["spoke_offset_mm"]) == -0.25  # a number, not a formula
    assert rows[0]["boss_width_mm"] == ""


FORMULAS = [
    "=1+1",
    "+1",
    "-1",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    " =1",
    "＝1",
    "=cmd|' /C calc'!A0",
    "\n@x",
    "\0=1",
]


@pytest.mark.parametrize("text", FORMULAS)
def test_no_cell_starts_a_formula(put, sides, text):
    put("a", hub=text, customer=text, wheel=text, notes=text)
    rows = list(csv.reader(io.StringIO(shelf_csv(sides()), newline="")))
    for row in rows[1:]:
        for cell in row[:9]:
            assert not cell.strip().startswith(tuple("=+-@＝＋－＠"))


@given(st.text())
def test_harmless_text_never_starts_a_formula_and_keeps_its_words(text):
    cell = harmless(text)
    assert not cell.strip().startswith(tuple("=+-@＝＋－＠"))
    assert cell.removeprefix("'") == text.replace("\0", "").removeprefix("'")


def test_the_list_can_be_read_in_80_columns(put, shelf_folder):
    put("workshop/2026/rear-wheel", d=44.0, o=2.2, u=0.1, hub="Model A [bold]")
    put("plain", d=45.0)
    result = CliRunner().invoke(app, ["hubs", str(shelf_folder)], env={"COLUMNS": "80"})
    assert result.exit_code == 0, result.output
    lines = result.output.splitlines()
    assert max(map(len, lines)) <= 80
    for whole in ("Model A [bold], drive side", "plain, non-drive side", "44.00 ± 0.10", "2.20 ± 0.10"):
        assert any(whole in line for line in lines), whole
    assert any("workshop/2026/rear-wheel, 20" in line and "6 bosses, 2 crosses" in line for line in lines)
    assert any("flange diameter" in line and "44.00 ± 0.10" in line for line in lines)


def test_the_command_lists_finds_and_exports(put, shelf_folder, tmp_path):
    for number in range(4):
        put(f"job-{number}", d=44.0 + number, hub="Model A [bold]", photos=f"p{number}")

    def run(*arguments):
        result = CliRunner().invoke(app, ["hubs", str(shelf_folder), *arguments], env={"COLUMNS": "160"})
        assert result.exit_code == 0, result.output
        return result.output

    assert "Model A [bold]" in run()
    assert run("d about 44").count("job-") == 4  # two jobs, two sides
    assert "and 5 more" in run("--most", "3")
    assert "Nothing found" in run("zebra")
    assert "scatter" in run("--repeats")
    file = tmp_path / "hubs.csv"
    run("--csv", str(file))
    assert file.read_bytes().startswith("\ufeff".encode())
    assert len(file.read_text(encoding="utf-8-sig").splitlines()) == 9
