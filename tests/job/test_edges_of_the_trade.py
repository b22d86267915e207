"""Edges of the trade in `hubsight lengths`: internal nipples, blades and bores, carbon rims, names."""

import json
import math

import numpy as np
import pytest
from typer.testing import CliRunner

from hubsight.cli import app
from hubsight.wheel.nipple import SIZES

BED = 570.0
"""Diameter of the bed on which nipples sit, mm."""
WHEEL = """\
[sides.drive]
{side}
[sides.drive.caliper]
flange_diameter = 47.1
spoke_offset = 1.9
centre_to_flange = 18.9
[sides.non_drive.caliper]
flange_diameter = 43.4
spoke_offset = 2.4
centre_to_flange = 33.5
[rim]
{rim}
[wheel]
spokes = 24
crosses = 2
[spokes]
stock_step = 1
{spokes}
[nipple]
{nipple}
"""


@pytest.fixture
def lengths(monkeypatch, tmp_path):
    monkeypatch.setenv("COLUMNS", "200")

    def run(
        *options, side="", rim=f"seat_diameter = {BED}\nseat_to_slot = 2.0", spokes="", nipple="length = 12"
    ):
        (tmp_path / "job.toml").write_text(WHEEL.format(side=side, rim=rim, spokes=spokes, nipple=nipple))
        result = CliRunner().invoke(app, ["lengths", str(tmp_path), "--no-record", *options])
        assert result.exit_code in (0, 1), result.output
        return " ".join(result.stdout.split()) if not options else json.loads(result.stdout)

    return run


INTERNAL = 'length = 12\nkind = "internal"'
FROM_BED = f"seat_diameter = {BED}\nseat_to_slot = 12.0"


def test_internal_nipples_hold_enough_thread_and_not_too_much(lengths):
    """Built in three dimensions from the bed: there the spoke enters the nipple, its thread ends in it."""
    result = lengths("--json", rim=FROM_BED, nipple=INTERNAL)
    for side, r, w, offset in zip(result["sides"], (23.55, 21.7), (18.9, 33.5), (1.9, 2.4), strict=True):
        order = side["spoke_lengths"]["order"]
        ordered = order["proposed"]
        angle = math.radians(75.0)  # six bosses, two crosses: half a hole and two, of thirty degrees
        crossing = np.array([r, 0.0, w])
        hole = np.array([BED / 2 * math.cos(angle), BED / 2 * math.sin(angle), 0.0])
        to_bed = float(np.linalg.norm(hole - crossing)) + offset
        outwards = (
            12.0 * (hole @ (hole - crossing)) / (np.linalg.norm(hole) * np.linalg.norm(hole - crossing))
        )
        inside = ordered + order["sits"] - to_bed
        assert SIZES.engaged < inside < 9.5  # thread of the spoke: all of it would be in the nipple
        end = order["choices"][0]["proposed"]["end"]
        assert inside - outwards == pytest.approx(end, abs=0.02)
        assert order["zero"] == "the nipple's outer end"
        assert order["window"] == pytest.approx([-7.0, -2.5])
    assert "twice their length" in result["wheel"]["erd_definition"]


def test_internal_nipples_are_told_from_where_their_ends_count(lengths):
    said = lengths(rim=FROM_BED, nipple=INTERNAL)
    assert "from -7.0 to -2.5 mm of the nipple's outer end" in said
    assert "too little thread is in the nipple" in said
    assert "slot" not in said
    assert "of the slot's bottom" in lengths()


def verdict(result):
    return [(r["severity"], r["sentence"]) for r in result["sides"][0]["verdict"]["reasons"]]


@pytest.mark.parametrize(
    ("side", "spokes", "severity", "says"),
    [
        ("bore = 2.3", "blade = [2.2, 1.0]", None, ""),
        (
            "bore = 2.3",
            "blade = [2.4, 0.9]",
            "check",
            "a blade 2.4 mm wide does not pass through a bore of 2.3 mm",
        ),
        ("bore = 2.3\nslot = 3.0", "blade = [2.4, 0.9]", None, ""),
        ("bore = 2.3\nslot = 2.35", "blade = [2.4, 0.9]", "check", "with a slot of 2.35 mm"),
        ("", "blade = [2.4, 0.9]", "note", "its diameter is not stated"),
        ("", "", None, ""),
        ("bore = 1.9", "wire = 2.0", "check", "a wire of 2 mm does not go into a bore of 1.9 mm"),
        ("bore = 2.3\nwire = 2.0\nblade = [2.6, 0.9]", "wire = 2.0", "check", "a blade 2.6 mm wide"),
    ],
)
def test_blades_and_wires_against_bores(lengths, side, spokes, severity, says):
    found = [
        (s, sentence)
        for s, sentence in verdict(lengths("--json", side=side, spokes=spokes))
        if "blade" in sentence or "a wire of" in sentence
    ]
    if severity is None:
        assert found == []
    else:
        assert [s for s, _ in found] == [severity]
        assert says in found[0][1]


def shrink(result):
    return result["wheel"]["rim_shrink"]


def test_a_carbon_rim_is_never_taken_for_aluminium_by_its_mass(lengths):
    rim = f"seat_diameter = {BED}\nseat_to_slot = 2.0\nmass = 400\n"
    aluminium, carbon, steel, unknown = (
        shrink(lengths("--json", rim=rim + more))
        for more in ('material = "aluminium"', 'material = "carbon"', 'material = "steel"', "")
    )
    assert carbon < 0.8 * aluminium
    assert aluminium * 25.9 / 26.2 == pytest.approx(steel, rel=0.02)  # E / rho of both are nearly alike
    assert carbon < unknown < aluminium


def test_the_order_names_wire_steel_thread_and_make(lengths):
    said = lengths(spokes="wire = [2.0, 1.8, 2.0]")
    assert (
        "double butted, wire 2.0/1.8/2.0 mm, stainless 1.4310 (EN 10270-3), thread FG 2.3 (DIN 79012)" in said
    )
    assert "28 nipples, 12 mm, slotted, thread FG 2.3" in said
    assert "plain gauge, wire 2.0 mm, patented EN 10270-1 SM" in lengths(spokes="patented = true")
    assert "triple butted" in lengths(spokes="wire = [2.3, 1.8, 2.0]")
    assert "single butted" in lengths(spokes="wire = [2.3, 2.0, 2.0]")


def test_no_crosses_on_paired_bosses_are_not_radial(lengths, tmp_path):
    text = WHEEL.format(side='kind = "paired"', rim="erd = 596.2", spokes="", nipple="length = 12")
    text = text.replace("crosses = 2", "crosses = 0").replace(
        "[sides.non_drive.caliper]", '[sides.non_drive]\nkind = "paired"\n[sides.non_drive.caliper]'
    )
    (tmp_path / "job.toml").write_text(text)
    for command in (["lengths", "--no-record"], ["card", "--screen"]):
        said = CliRunner().invoke(app, [command[0], str(tmp_path), command[1]])
        assert said.exit_code == 0, said.output
        assert "no crosses" in said.stdout
        assert "radial" not in said.stdout
