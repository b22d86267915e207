"""Seeing a gauge spoke in drawn pictures of which the truth is known."""

from __future__ import annotations

import numpy as np
import pytest

from hub_pictures import SHADE, STEEL, TILT_DEG, Picture, rod, views
from hubsight.model.refusal import Refusal
from hubsight.model.stated import Reading, StatedGauge
from hubsight.see.gauge.axis import SeenLine, track_axis
from hubsight.see.gauge.end import see_ends
from hubsight.see.gauge.end_odds import SAME_END_MM, STATED_ODDS, SURE, end_odds, likeliest
from hubsight.see.gauge.find import RoughLine, find_lines, segments
from hubsight.see.gauge.placed import NO_AXIS
from hubsight.see.gauge.sighting import each_once, see_gauges
from hubsight.see.ribbon import STEP_MM, Ribbon

END = np.array([46.0, 6.0, 82.0])
DIRECTION = np.array([0.99, 0.11, -0.045]) / np.linalg.norm([0.99, 0.11, -0.045])
OTHER_END = np.array([-95.0, 90.0, 84.0])
OTHER_DIRECTION = np.array([-0.55, 0.83, -0.04]) / np.linalg.norm([-0.55, 0.83, -0.04])
LENGTH, DIAMETER = 95.0, 2.0
NIPPLE_LENGTH, NIPPLE_DIAMETER = 12.0, 3.9
ANCHORS = np.array([[-50.0, 0.0]])

ROUGH_MM, ROUGH_RAD = 1.5, 0.02
ROUGH_HEIGHT_MM = DIAMETER / np.tan(np.radians(TILT_DEG))
"""The left edge in one photo and the right edge in another meet so far above or below the wire."""
AXIS_BIAS_MM, AXIS_ANGLE_RAD = 0.03, 0.0005
WIDTH_MM = 0.11
"""Widths are tried in steps of 0.1 mm."""
END_BIAS_MM, END_SCATTER_MM = 0.03, 0.02
PHOTO_END_MM = 0.12
"""One photo's end along the axis, at half the pixels of a phone."""
DARK_BENCH, DARK_NIPPLE = 0.03, 0.06
SEEDS = range(5)


def draw(view, *, seed=0, nipple=False, wire=True, end=END):
    picture = Picture(view)
    if wire:
        shadow = np.array([[1, 0, 0], [0, 1, 0], [0, 0, 0.0]])
        picture.fill(rod(end, DIRECTION, LENGTH, DIAMETER) @ shadow + [18.0, -22.0, 0.0], SHADE)
        picture.fill(rod(end, DIRECTION, LENGTH, DIAMETER), STEEL)
    if nipple:
        picture.fill(rod(end, DIRECTION, NIPPLE_LENGTH, NIPPLE_DIAMETER), STEEL)
    return picture.developed(seed=seed)


@pytest.fixture(scope="module")
def shots():
    own = views()
    return [draw(v, seed=k) for k, v in enumerate(own)], own


def off_axis(point, direction):
    """Distance (mm) of the true end from a line, and the angle between the line and the truth."""
    miss = END - point
    return np.linalg.norm(miss - (miss @ direction) * direction), np.arccos(min(1.0, direction @ DIRECTION))


def tracked(pictures, own):
    start = END + np.array([0.3, 0.4, -0.3])
    tilted = DIRECTION + np.array([0.0, 0.004, 0.004])
    return track_axis(pictures, own, start, tilted / np.linalg.norm(tilted), LENGTH - 3)


def test_the_rough_line_is_the_wire_and_not_its_shadow(shots):
    pictures, own = shots
    line = find_lines([segments(p) for p in pictures], own, ANCHORS)[0]
    _, angle = off_axis(line.point, line.direction)
    assert angle < ROUGH_RAD
    miss = END - line.point - ((END - line.point) @ DIRECTION) * DIRECTION
    assert np.hypot(*miss[:2]) < ROUGH_MM
    assert abs(miss[2]) < ROUGH_HEIGHT_MM


@pytest.mark.parametrize("slope_deg", [-13.0, -16.0])
def test_a_steep_line_of_three_photos_is_no_gauge(slope_deg):
    """Edges of wire, shadow and sheet meet in steep lines too, and some are longer than the wire is seen."""
    own = views()
    slope = np.radians(slope_deg)
    steep = np.array([np.cos(slope), 0.0, np.sin(slope)])

    def segment(view, end, direction, length):
        return view.project(np.array([end, end - length * direction])).reshape(4)

    found = [
        np.array(
            [
                segment(view, END, DIRECTION, 68.0),
                *([segment(view, END + np.array([4.0, 3.0, 4.0]), steep, 118.0)] if k < 3 else []),
            ]
        )
        for k, view in enumerate(own)
    ]
    line = find_lines(found, own, ANCHORS)[0]
    _, angle = off_axis(line.point, line.direction)
    assert angle < np.radians(-slope_deg) / 3


def test_an_edge_that_runs_on_behind_the_hub_does_not_turn_the_gauge_round():
    """The gauge's edge, and one on the same line 60 to 160 mm behind the gauge's start."""
    own = views()
    far = END - (LENGTH + 60.0) * DIRECTION
    found = [
        np.array(
            [
                view.project(np.array([END, END - LENGTH * DIRECTION])).reshape(4),
                view.project(np.array([far, far - 100.0 * DIRECTION])).reshape(4),
            ]
        )
        for view in own
    ]
    line = find_lines(found, own, ANCHORS)[0]
    assert line.direction @ DIRECTION > 0.99
    assert line.point + line.high * line.direction == pytest.approx(END, abs=3.0)


def test_a_wire_that_was_found_twice_counts_once():
    own = views()
    rough = RoughLine(END, DIRECTION, -LENGTH, 0.0, 100.0)
    longer = RoughLine(END + 8.0 * DIRECTION, DIRECTION, -LENGTH - 8.0, 0.0, 90.0)
    beside = RoughLine(END + np.array([0.0, 30.0, 0.0]), DIRECTION, -LENGTH, 0.0, 80.0)
    seen = [
        (line, SeenLine(line.point, line.direction, DIAMETER, (NO_AXIS,) * len(own)))
        for line in (rough, longer, beside)
    ]
    assert [line for line, _ in each_once(seen)] == [rough, beside]


def test_the_axis_is_found_to_hundredths(shots):
    line = tracked(*shots)
    distance, angle = off_axis(line.end, line.direction)
    assert distance < AXIS_BIAS_MM
    assert angle < AXIS_ANGLE_RAD
    assert line.width == pytest.approx(DIAMETER, abs=WIDTH_MM)


def test_the_end_is_found_to_hundredths():
    own = views()
    errors = []
    for seed in SEEDS:
        pictures = [draw(v, seed=10 * seed + k) for k, v in enumerate(own)]
        found = see_ends(pictures, own, END - 1.3 * DIRECTION, DIRECTION, width=DIAMETER, tip="flat")
        shift, ends = found.shift, found.ends
        assert abs(shift - 1.3) < PHOTO_END_MM
        assert all(e is not None and abs(e.beyond - 1.3) < PHOTO_END_MM for e in ends)
        errors.append(np.mean([e.beyond for e in ends]) - 1.3)
    assert abs(np.mean(errors)) < END_BIAS_MM
    assert np.std(errors, ddof=1) < END_SCATTER_MM


@pytest.mark.parametrize("shorter", [1, 2, 3])
def test_photos_that_show_another_end_say_so_each_for_itself(shorter):
    """The last three millimetres are painted away in some of four photos, whichever end is taken then."""
    own = views()
    pictures = []
    for k, view in enumerate(own):
        picture, cut = Picture(view), 3.0 if k < shorter else 0.0
        picture.fill(rod(END - cut * DIRECTION, DIRECTION, LENGTH - cut, DIAMETER), STEEL)
        pictures.append(picture.developed(seed=k))
    found = see_ends(pictures, own, END - 1.3 * DIRECTION, DIRECTION, width=DIAMETER, tip="flat")
    expected = np.where(np.arange(len(own)) < shorter, -1.7, 1.3)
    odds = found.odds
    assert np.abs(odds.own - expected).max() < 2 * PHOTO_END_MM
    taken = np.abs(expected - found.shift) < SAME_END_MM
    against = odds.by_photo.max(1) - odds.at(found.shift)
    assert np.all(against[taken] < 1.0)
    assert np.all(against[~taken] > SURE)
    assert taken[:shorter].any() != taken[shorter:].any() or shorter == 2


def test_a_nipple_over_a_dark_bench_ends_where_it_ends():
    """The wire over paper shows much more; the nipple's edges are as clear by the ratio of light alone."""
    own = views()
    inside = END - NIPPLE_LENGTH * DIRECTION
    pictures = []
    for k, view in enumerate(own):
        picture = Picture(view)
        picture.fill(rod(END, DIRECTION, LENGTH, DIAMETER), STEEL)
        picture.fill(rod(END + 40.0 * DIRECTION, DIRECTION, 40.0 + NIPPLE_LENGTH, 60.0), DARK_BENCH)
        picture.fill(rod(END, DIRECTION, NIPPLE_LENGTH, NIPPLE_DIAMETER), DARK_NIPPLE)
        pictures.append(picture.developed(seed=k))
    shift = see_ends(pictures, own, inside, DIRECTION, width=DIAMETER, tip="nipple").shift
    assert abs(shift - NIPPLE_LENGTH) < 2 * PHOTO_END_MM


@pytest.mark.parametrize("stated", ["flat", "nipple"])
@pytest.mark.parametrize("nipple", [False, True])
def test_what_is_on_the_end_is_seen_whatever_is_stated(nipple, stated):
    """The end is the same one, too: that of the nipple, and not where the bare wire stops showing."""
    own = views()
    pictures = [draw(v, nipple=nipple) for v in own]
    other = "flat" if stated == "nipple" else "nipple"
    rough = END - (NIPPLE_LENGTH if nipple else 0.0) * DIRECTION
    found = see_ends(pictures, own, rough, DIRECTION, width=DIAMETER, tip=stated, kinds=(other,))
    assert found.odds.kind == ("nipple" if nipple else "flat")
    assert np.all(found.odds.for_kind(found.odds.kind) > 0), "each photo says so by itself"
    assert np.linalg.norm(rough + found.shift * DIRECTION - END) < PHOTO_END_MM


def test_a_statement_decides_only_where_the_photos_do_not_tell():
    told = np.log(STATED_ODDS)
    for against, kind in ((0.9 * told, "nipple"), (1.1 * told, "flat")):
        kinds = {"nipple": np.array([0.0, 0.0]), "flat": np.array([against, 0.0])}
        assert likeliest(kinds, "nipple") == kind


def test_printed_squares_beyond_a_nipple_are_not_its_end():
    """In two of three photos something of a wire's width runs on beyond the nipple, at its height."""
    own = views(3)
    pictures = []
    for k, view in enumerate(own):
        picture = Picture(view)
        if k:
            picture.fill(rod(END + 7.0 * DIRECTION, DIRECTION, 7.0, 1.6), SHADE)
        picture.fill(rod(END, DIRECTION, LENGTH, DIAMETER), STEEL)
        picture.fill(rod(END, DIRECTION, NIPPLE_LENGTH, NIPPLE_DIAMETER), STEEL)
        pictures.append(picture.developed(seed=k))
    inside = END - NIPPLE_LENGTH * DIRECTION
    found = see_ends(pictures, own, inside, DIRECTION, width=DIAMETER, tip="nipple", kinds=("flat",))
    assert found.odds.kind == "nipple"
    assert abs(found.shift - NIPPLE_LENGTH) < 2 * PHOTO_END_MM


def test_a_halo_beside_the_end_is_not_the_end():
    """Where phones sharpen, light overshoots beyond an edge, and falls back within half a millimetre."""
    back, across = np.arange(26.0, -22.0, -STEP_MM), np.arange(-3.6, 3.61, 0.06)
    wire = (back[:, None] > 0.0) & (np.abs(across) < DIAMETER / 2)
    halo = (back[:, None] > -0.5) & ~wire & (np.abs(across) < DIAMETER / 2)
    light = 0.6 - 0.4 * wire + 0.15 * halo
    nowhere = np.zeros((len(back), 2))
    ribbon = Ribbon(back, across, light, nowhere, nowhere, np.ones(len(back)))
    assert abs(end_odds([ribbon], DIAMETER, {"flat": [0.0]}, "flat").chosen) < PHOTO_END_MM


def test_the_whole_gauge_is_seen_from_nothing(shots):
    pictures, own = shots
    found = see_gauges(pictures, own, [StatedGauge(Reading(100.0, 0.03))])
    assert not isinstance(found, Refusal)
    sightings, warnings = found
    assert not warnings
    assert np.linalg.norm(sightings[0].end - END) < 2 * END_BIAS_MM
    assert sightings[0].tip == "flat"


def test_without_a_gauge_there_is_a_refusal():
    own = views(3)
    found = see_gauges([draw(v, wire=False) for v in own], own, [StatedGauge(Reading(100.0, 0.03))])
    assert isinstance(found, Refusal)
    assert "no gauge" in found.reason


def test_an_end_out_of_every_picture_is_named():
    own = views(roll=0.0)
    pictures = [draw(v)[:, : int(v.project((END - 12.0 * DIRECTION)[None])[0, 0])] for v in own]
    found = see_gauges(pictures, own, [StatedGauge(Reading(100.0, 0.03))])
    assert isinstance(found, Refusal)
    assert "outside the picture in every photo" in found.reason


def test_a_second_gauge_that_is_not_stated_is_noticed():
    own = views()
    pictures = []
    for k, view in enumerate(own):
        picture = Picture(view)
        shown = 0.8 * LENGTH if k == 0 else LENGTH  # the first photo shows less of the second one
        picture.fill(rod(END, DIRECTION, LENGTH, DIAMETER), STEEL)
        picture.fill(rod(OTHER_END, OTHER_DIRECTION, shown, DIAMETER), STEEL)
        pictures.append(picture.developed())
    names = [f"IMG_{k}.jpg" for k in range(len(own))]
    (one,), warnings = see_gauges(pictures, own, [StatedGauge(Reading(100.0, 0.03))], files=names)
    assert any("more gauges" in warning and "most clearly in IMG_1.jpg" in warning for warning in warnings)
    sightings, warnings = see_gauges(pictures, own, [StatedGauge(Reading(100.0, 0.03))] * 2)
    assert len(sightings) == 2
    (beside,) = one.beside
    other = max(sightings, key=lambda gauge: np.linalg.norm(gauge.end - one.end))
    assert beside[1] == pytest.approx(other.end, abs=6.0)
    along = (beside[1] - beside[0]) / np.linalg.norm(beside[1] - beside[0])
    assert along @ other.line.direction == pytest.approx(1.0, abs=1e-4)
    assert all(gauge.beside == () for gauge in sightings)
    assert not warnings
