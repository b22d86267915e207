"""The slips bench counts what it is meant to count."""

import math
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from bench.careful import Case
from bench.marks import moved
from bench.seen_once import SeenOnce
from bench.slip_list import SLIPS
from bench.spoil import end_outline, pixels_of, with_tags_of
from bench.verdicts import NO_SLIP, Outcome, of_side, proposal, rows

from hubsight.measure.sightings import Stated
from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading, StatedSide, StatedTarget, StatedWheel
from hubsight.model.verdict import Reason, Verdict

SIDE = SimpleNamespace(hub="h", side="ds", photos=[Path("a.jpg"), Path("b.jpg")])


@dataclass(frozen=True)
class Sighted:
    """What was seen of a side, as far as the cache asks."""

    stated: Stated


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


def test_a_mark_is_named_by_its_own_photo_alone():
    slip = next(slip for slip in SLIPS if slip.name.startswith("mark on the gauge end"))
    assert slip.names("drive.photos.b.jpg", SIDE)
    assert not slip.names("drive.photos.a.jpg", SIDE)
    assert not slip.names("drive.spoke_offset", SIDE)


def test_marks_that_move_nothing_are_counted_apart():
    slip = next(slip.name for slip in SLIPS if slip.kind == "hand")
    found = [
        Outcome(slip, "h", "ds", "check", named=True, nameable=True, moves=1.2),
        Outcome(slip, "h", "ds", "order", named=False, nameable=True, moves=4.0),
        Outcome(slip, "h", "ds", "order", named=True, moves=0.9),
        Outcome(slip, "h", "ds", "order", named=False, moves=0.0),
        Outcome(slip, "h", "ds", "order", named=False, moves=0.1),
    ]
    (row,) = rows(found)
    assert (row.named, row.nameable, row.noticed, row.idle) == (1, 2, 1, 3)


def figures(**values):
    return SimpleNamespace(figures={n: SimpleNamespace(value=v, u=0.1) for n, v in values.items()})


def test_a_mark_moves_as_far_as_the_figure_that_it_moves_most():
    before = figures(reach=90.0, boss_width=8.0)
    assert moved(before, figures(reach=90.02, boss_width=7.7)) == pytest.approx(3.0)
    assert moved(before, figures(reach=90.02)) == math.inf
    assert moved(before, Refusal(reason="nothing is seen", remedy="Look")) == math.inf


@pytest.mark.parametrize(("tilt", "reach"), [(0, 0.0), (30, 1.0 * math.sin(math.radians(30)))])
@pytest.mark.parametrize("roll", [0.0, 0.7])
def test_an_ends_outline_lies_beyond_its_tip_by_what_its_rim_shows(tilt, reach, roll):
    """A lens a long way off, tilted along a level gauge of 2 mm: its end is a disc seen from the edge."""
    a = math.radians(tilt)
    down = np.diag([1.0, -1.0, -1.0])
    turned = down @ np.array([[math.cos(a), 0, -math.sin(a)], [0, 1, 0], [math.sin(a), 0, math.cos(a)]])
    turned = (
        np.array([[math.cos(roll), -math.sin(roll), 0], [math.sin(roll), math.cos(roll), 0], [0, 0, 1]])
        @ turned
    )
    far, per_mm = 1e5, 10.0
    camera = {"fx": far * per_mm, "fy": far * per_mm, "cx": 0.0, "cy": 0.0, "dist": [0.0] * 5}
    camera |= {"R": turned.tolist(), "t": [0.0, 0.0, far]}
    gauge = {"tip_target": [5.0, 2.0, 0.0], "u_target": [1.0, 0.0, 0.0], "dia": 2.0}
    (tip,) = pixels_of(camera, [gauge["tip_target"]])
    outline = end_outline(camera, gauge)
    assert np.linalg.norm(outline - tip) == pytest.approx(per_mm * reach, abs=0.02)
    if reach:
        (before,) = pixels_of(camera, [[0.0, 2.0, 0.0]])
        assert (outline - tip) @ (tip - before) > 0


def test_photos_in_another_folder_are_not_looked_at_again(monkeypatch, tmp_path):
    """Statements change, the pictures stay: what was seen is adjusted anew."""
    photo = tmp_path / "one" / "a.jpg"
    other = tmp_path / "two" / "a.jpg"
    for path in (photo, other):
        path.parent.mkdir()
        path.write_bytes(b"a picture")
    looked, adjusted = [], []

    def look(side, target, wheel):
        looked.append(side.photos)
        return Sighted(Stated(side, target, wheel, None))

    def adjust(seen, stated):
        adjusted.append((seen.stated.side.photos, stated.side.photos))
        return seen

    monkeypatch.setattr("bench.seen_once.see_side", look)
    monkeypatch.setattr("bench.seen_once.restated", adjust)
    monkeypatch.setattr("bench.seen_once.measurement_of", lambda _seen: "measured")
    target, wheel = StatedTarget(bar_x=Reading(120.0, 0.1), bar_y=Reading(120.0, 0.1)), StatedWheel()
    for where, thickness in ((photo, 0.0), (other, 1.0)):
        side = StatedSide("drive", photos=(where,), gauges=(), block_thickness=thickness)
        assert SeenOnce(tmp_path / "kept")(side, target, wheel) == "measured"
    assert looked == [(photo,)]
    assert adjusted[1] == ((other,), (other,)), "else they would be other photos"


def test_there_are_slips_enough_and_each_has_a_name_of_its_own():
    names = [slip.name for slip in SLIPS]
    assert len(set(names)) == len(names) >= 25


def case():
    table = {
        "target": {"bar_x": [119.2, 119.4], "bar_y": [120.0]},
        "gauges": {"ds0": {"length": [100.08, 100.1], "tip": "flat"}},
        "sides": {"drive": {"block_thickness": 10.0}},
    }
    return Case(None, table, {"drive": {"a.jpg": Path("a.jpg")}})


@pytest.mark.parametrize(
    ("name", "path", "value"),
    [
        ("both bars 1.5% too large", ("target", "bar_x"), [120.99, 121.19]),
        ("bar along y 1.0% too large", ("target", "bar_x"), [119.2, 119.4]),
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
