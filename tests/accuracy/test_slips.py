"""The slips bench counts what it is meant to count."""

from pathlib import Path
from types import SimpleNamespace

import pytest
from bench.careful import Case
from bench.slip_list import SLIPS
from bench.spoil import with_tags_of
from bench.verdicts import NO_SLIP, Outcome, of_side, proposal, rows

from hubsight.model.verdict import Reason, Verdict

SIDE = SimpleNamespace(hub="h", side="ds")


def lengths(end, value, window=(-1.0, 1.0), proposed=294.0):
    choice = SimpleNamespace(proposed=SimpleNamespace(end=end))
    order = SimpleNamespace(window=window, choices=(choice,), proposed=proposed)
    return SimpleNamespace(spoke_lengths=SimpleNamespace(order=order, length=SimpleNamespace(value=value)))


@pytest.mark.parametrize(
    ("value", "outside"),
    [(295.0, -1.0), (296.5, 0.5), (293.5, 0.5), (296.0, 0.0)],
)
def test_an_end_lies_farther_out_by_as_much_as_the_length_is_too_large(value, outside):
    assert proposal(lengths(0.0, value), 295.0) == (294.0, pytest.approx(outside))


def test_a_wrong_length_under_order_is_counted():
    wrong = Outcome(NO_SLIP, "h", "ds", "order", 294.0, 0.3)
    right = Outcome(NO_SLIP, "h", "ds", "order", 294.0, 0.2)
    warned = Outcome(NO_SLIP, "h", "ds", "check", 294.0, 0.3)
    (row,) = rows([wrong, right, warned])
    assert (row.sides, row.wrong, row.wrong_under_order) == (3, 2, 1)
    assert row.words == {"order": 2, "check": 1}


def test_a_reason_about_the_other_side_does_not_count_for_this_one():
    def reason(about):
        return Reason(sentence=about, remedy="Measure", about=about, severity="check")

    result = SimpleNamespace(
        verdict=Verdict.of([reason("non_drive.reach"), reason("sides.non_drive.crosses")]),
        sides=[SimpleNamespace(name="drive", verdict=Verdict.of([]))],
    )
    assert of_side(result, "drive").word == "order"
    assert of_side(result, "non_drive").word == "check"


def test_a_slip_is_named_by_the_path_of_its_own_side():
    slip = next(slip for slip in SLIPS if slip.name == "block forgotten")
    assert slip.names("sides.drive.block_thickness", SIDE)
    assert not slip.names("sides.non_drive.block_thickness", SIDE)


def test_there_are_slips_enough_and_each_has_a_name_of_its_own():
    names = [slip.name for slip in SLIPS]
    assert len(set(names)) == len(names) >= 25


def case():
    table = {
        "target": {"bar_x": [119.0, 119.2], "bar_y": [120.0]},
        "gauges": {"ds0": {"length": [100.08, 100.1], "tip": "flat"}},
        "sides": {"drive": {"block_thickness": 10.0}},
    }
    return Case(None, table, {"drive": {"a.jpg": Path("a.jpg")}})


@pytest.mark.parametrize(
    ("name", "path", "value"),
    [
        ("both bars 1.5% too large", ("target", "bar_x"), [120.78, 120.99]),
        ("bar along y 1.0% too large", ("target", "bar_x"), [119.0, 119.2]),
        ("gauge length -1.0", ("gauges", "ds0", "length"), [99.08, 99.1]),
        ("gauge length transposed", ("gauges", "ds0", "length"), [100.08, 101.0]),
        ("wrong tip kind", ("gauges", "ds0", "tip"), "nipple"),
        ("block forgotten", ("sides", "drive", "block_thickness"), 0.0),
    ],
)
def test_a_slip_changes_what_it_says_and_leaves_the_case_alone(name, path, value):
    right = case()
    spoilt = next(slip for slip in SLIPS if slip.name == name).plant(right, SIDE)
    assert (
        spoilt.at(*path) == pytest.approx(value) if not isinstance(value, str) else spoilt.at(*path) == value
    )
    assert right.table == case().table


def test_a_painted_photo_keeps_its_tags():
    tags = b"\xff\xe1" + (6).to_bytes(2, "big") + b"Exif"
    original = b"\xff\xd8\xff\xe0\x00\x02" + tags + b"\xff\xda"
    assert with_tags_of(original, b"\xff\xd8rest") == b"\xff\xd8" + tags + b"rest"
