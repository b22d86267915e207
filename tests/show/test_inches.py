"""Lengths in inches: against whole 64ths, back again as typed, and wherever a job asks for them."""

import json
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from hubsight.cli import app
from hubsight.job.file.units import typed_length
from hubsight.show.inches import decimal_inches, fraction_inches

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


@given(st.floats(0.0, 700.0))
def test_what_is_shown_is_read_back_to_half_a_division(mm):
    read = typed_length(fraction_inches(mm).replace(" in", '"')) if mm > 25.4 / 128 else None
    if read is not None:
        assert abs(read.mm - mm) <= 25.4 / 128 + 1e-9
    assert typed_length(decimal_inches(mm)).mm == pytest.approx(mm, abs=0.0128)


@given(st.integers(0, 64 * 25))
def test_whole_64ths_are_shown_exactly_and_in_lowest_terms(parts):
    whole, part = divmod(Fraction(parts, 64), 1)
    words = " ".join(str(one) for one in (whole, part) if one) or "0"
    assert fraction_inches(float(Fraction(parts, 64) * Fraction(254, 10))) == f"{words} in"


def test_negative_lengths_keep_their_sign():
    assert fraction_inches(-3.175) == "-1/8 in"
    assert fraction_inches(-0.01) == "0 in"
    assert decimal_inches(-2.54) == "-0.100 in"


@pytest.fixture
def run(monkeypatch, tmp_path):
    monkeypatch.setenv("COLUMNS", "80")

    def run(*arguments, inches=False):
        (tmp_path / "job.toml").write_text(BY_HAND + "inches = true\n" * inches)
        return CliRunner().invoke(app, [arguments[0], str(tmp_path), *arguments[1:]])

    return run


def test_lengths_show_inches_where_they_are_asked_for(run, tmp_path):
    asked = run("lengths", "--inches", "--no-record").stdout
    assert "11 21/32 in" in asked  # 296 mm
    assert max(map(len, asked.splitlines())) <= 80
    assert "In inches" not in run("lengths", "--no-record").stdout
    assert "11 21/32 in" in run("lengths", inches=True).stdout
    assert json.loads(run("lengths", "--json", inches=True).stdout)["wheel"]["inches"]
    assert run("report", inches=True).exit_code == 0
    assert "11 21/32 in" in (tmp_path / "report.html").read_text()
    assert "11 21/32 in" in run("card", "--screen", inches=True).stdout
    assert run("card", inches=True).exit_code == 0
    assert "11 21/32 in" in (tmp_path / "card.html").read_text()
