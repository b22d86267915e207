"""Photos, print and hub that do not belong together, simulated as observations with known truth."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from hubsight.measure.adjust.motion import gauge_bow, hub_motions
from hubsight.measure.consistency import LIMITS, odd_photos, unexpected_height, unusual_offset, zoomed_photos
from hubsight.measure.gauge_consistency import (
    bent_gauge,
    gauge_length_trouble,
    gauge_warnings,
    gauges_disagree,
    without_end,
    wrong_tip,
)
from hubsight.measure.sheet import (
    BADLY_CURLED,
    NOT_FLAT,
    UNSETTLED,
    seen_scale_ratio,
    sheet_trouble,
)
from hubsight.model.agreement import FIGURES_ON
from hubsight.model.figure import Figure
from hubsight.model.stated import Reading, StatedGauge, StatedSide, StatedTarget, StatedWheel
from hubsight.scene.bosses import PatternBlock, boss_points
from hubsight.scene.gauge import GaugeAxisBlock, GaugeEndBlock
from hubsight.target.sheet import FOCAL_DEPARTURE, sheet_problem, uncalibrated
from scenes import CAMERA, SIZE, scene

COUNT = 6
PATTERN = np.array([-48.0, 2.0, 92.0, 0.0, 0.0, 23.5, 0.3])
DIRECTION = np.array([0.99, 0.12, -0.04]) / np.linalg.norm([0.99, 0.12, -0.04])
END = np.array([47.0, 30.0, 86.0])
BACK = np.arange(1.5, 93.0, 3.0)
AXIS_PX, END_PX, MATCH_PX, SADDLE_PX = 0.25, 0.3, 0.4, 0.05
PHOTOS, ODD = 4, 2
FILES = [f"{k}.jpg" for k in range(PHOTOS)]

MOTION_SHARE, TURN_RAD, BOW_MM = 0.35, 0.001, 0.03
"""Limits of a motion's size, its turn, and a bow. The cameras, adjusted to a hub that did not move, give way
to the motion, so that it comes out smaller than it was."""


def make_figure(value, u=0.1):
    return Figure(value=value, u=u, low=value - 2 * u, high=value + 2 * u)


def turned(points, shift, turn):
    """Move points with the hub: a turn about its axis and a shift."""
    c, s = np.cos(turn), np.sin(turn)
    flat = (points[:, :2] - PATTERN[:2]) @ np.array([[c, s], [-s, c]]) + PATTERN[:2] + shift
    return np.column_stack([flat, points[:, 2]])


def hub_blocks(views, *, moved=None, bow=(0.0, 0.0), seed=0, elsewhere=()):
    """Observations of gauge and bosses; ``moved`` is photo, shift and turn, ``bow`` sideways and upwards."""
    random = np.random.default_rng(seed)
    t = BACK / BACK.max()
    side = np.array([-DIRECTION[1], DIRECTION[0], 0.0]) / np.hypot(*DIRECTION[:2])
    rise = bow[0] * side + bow[1] * np.cross(DIRECTION, side)
    wire = END - BACK[:, None] * DIRECTION + (4 * t * (1 - t))[:, None] * rise
    bosses = np.arange(COUNT)
    points, _ = boss_points(PATTERN, bosses, COUNT)
    out = []
    for k, view in enumerate(views):
        shift, turn = moved[1:] if moved is not None and k == moved[0] else (np.zeros(2), 0.0)
        px = view.project(turned(wire, shift, turn))
        tangent = (px[0] - px[-1]) / np.linalg.norm(px[0] - px[-1])
        normals = np.tile([-tangent[1], tangent[0]], (len(px), 1))
        px = px + AXIS_PX * random.standard_normal((len(px), 1)) * normals
        end = view.project(turned(END[None], shift, turn))[0] + END_PX * random.standard_normal() * tangent
        places = view.project(turned(points, shift, turn)) + MATCH_PX * random.standard_normal((COUNT, 2))
        if k in elsewhere:
            places += 40.0
        else:
            args = (k, "gauge0", DIRECTION)
            out.append(GaugeAxisBlock(*args, BACK, px, normals, np.full(len(px), AXIS_PX)))
            out.append(GaugeEndBlock(*args, end, tangent, np.zeros(3), END_PX))
        out.append(PatternBlock(k, bosses, COUNT, places, np.full(COUNT, MATCH_PX)))
    return out


def sheet(own, *, bars=(1.0, 1.0), u=1e-3):
    """The sheet's problem, with readings of the print's scales."""
    board_set = own.board_set(SADDLE_PX, seed=5)
    prior = uncalibrated(*SIZE, Reading(CAMERA[0], 0.03 * CAMERA[0]))
    scales = (Reading(bars[0], u), Reading(bars[1], u))
    return sheet_problem(board_set.sightings, prior, scales, max(SIZE))


def adjusted(*, zoom=0.0, **observed):
    own = scene(count=PHOTOS, seed=3, distance=400.0)
    own.views[ODD].own[0] += zoom
    problem = sheet(own)
    blocks = hub_blocks(own.views, **observed)
    problem.add("gauge0", np.concatenate([END, np.zeros(2)]))
    where = problem.add("pattern", PATTERN)
    for tilt in (3, 4):
        problem.prior("upright hub", where.start + tilt, 0.0, 0.005)
    problem.blocks.extend(blocks)
    return problem.solve(), blocks


def test_a_hub_that_stood_still_raises_no_alarm():
    solution, blocks = adjusted()
    assert odd_photos(solution, blocks, [DIRECTION], PHOTOS) is None
    for motion in hub_motions(solution, blocks, [DIRECTION], PHOTOS):
        assert motion.size < LIMITS.moved_mm / 2
        assert motion.gain < LIMITS.moved_gain / 2


@pytest.mark.parametrize(
    ("shift", "turn"), [((1.0, 0.0), 0.0), ((0.0, 1.2), 0.0), ((0.0, 0.0), 0.02), ((0.5, -0.4), -0.012)]
)
def test_a_moved_hub_is_found_and_its_motion_measured(shift, turn):
    solution, blocks = adjusted(moved=(ODD, np.array(shift), turn))
    odd = odd_photos(solution, blocks, [DIRECTION], PHOTOS)
    assert odd is not None
    assert odd.photos == (ODD,)
    motion = hub_motions(solution, blocks, [DIRECTION], PHOTOS)[ODD]
    true_size = max(
        np.linalg.norm(turned(p, np.array(shift), turn) - p) for p in (END[None], PATTERN[None, :3])
    )
    assert motion.size == pytest.approx(true_size, rel=MOTION_SHARE)
    assert motion.turn == pytest.approx(turn, abs=TURN_RAD)
    assert FILES[ODD] in odd.note(FILES)
    assert odd.refusal(FILES).photo == FILES[ODD]


def test_a_turned_shell_is_called_so():
    solution, blocks = adjusted(moved=(ODD, np.zeros(2), 0.02))
    assert "shell is turned" in odd_photos(solution, blocks, [DIRECTION], PHOTOS).why


def test_photos_of_something_else_are_named():
    solution, blocks = adjusted(elsewhere=(1, 3))
    odd = odd_photos(solution, blocks, [DIRECTION], PHOTOS)
    assert odd.photos == (1, 3)
    assert "1.jpg and 3.jpg" in odd.refusal(FILES).reason


@pytest.mark.parametrize("bow", [(0.0, 0.0), (0.3, 0.0), (-0.2, 0.0)])
def test_a_bow_is_measured(bow):
    solution, blocks = adjusted(bow=bow)
    found = gauge_bow(solution, blocks, [DIRECTION], 0)
    assert found.sideways == pytest.approx(bow[0], abs=BOW_MM)
    assert abs(found.upwards - bow[1]) < 4 * found.u_upwards


def sighting(tip="flat", points=31):
    """As much of a gauge's sighting as the checks look at."""
    axis = SimpleNamespace(back=np.zeros(points))
    line = SimpleNamespace(axes=(axis,) * PHOTOS)
    return SimpleNamespace(line=line, end=END, start=END - 93.0 * DIRECTION, tip=tip)


@pytest.mark.parametrize(
    ("bow", "warned", "refused"), [(0.0, False, False), (0.3, True, False), (0.9, True, True)]
)
def test_a_bent_gauge_is_warned_of_and_a_very_bent_one_refused(bow, warned, refused):
    solution, blocks = adjusted(bow=(bow, 0.0))
    args = (solution, blocks, [DIRECTION], [sighting()])
    assert any("bent" in w for w in gauge_warnings(*args)) == warned
    assert (bent_gauge(*args) is not None) == refused


def test_a_gauge_seen_straight_along_a_part_only():
    solution, blocks = adjusted()
    warnings = gauge_warnings(solution, blocks, [DIRECTION], [sighting(points=14)])
    assert "42 of 93 mm only" in warnings[0]


@pytest.mark.parametrize(("stated", "seen"), [("flat", "nipple"), ("nipple", "flat")])
def test_a_tip_other_than_stated(stated, seen):
    gauge = StatedGauge(Reading(100.0, 0.03), stated)
    refusal = wrong_tip([gauge], [sighting(seen)])
    assert f'tip = "{seen}"' in refusal.remedy
    assert wrong_tip([gauge], [sighting(stated)]) is None


def test_what_does_not_rest_on_the_end_stays():
    figures = {
        "flange_diameter": make_figure(47.0),
        **{name: make_figure(2.0) for name in FIGURES_ON["gauge_end"]},
    }
    assert set(without_end(figures)) == {"flange_diameter"}


def print_of(scale, readings, u=1e-3):
    """A solution for a print of ``scale`` (x, y) with readings of its scales, and the stated target."""
    own = scene(count=PHOTOS, seed=3)
    board = type(own.board)(own.board.saddles * np.array(scale))
    problem = sheet(type(own)(board, own.views, own.heights), bars=readings, u=u)
    for block in problem.blocks:
        object.__setattr__(block, "nominal", block.nominal / np.array(scale))
    bars = [Reading(120.0 * r, 120.0 * u) for r in readings]
    return problem.solve(), StatedTarget("a4", *bars)


def test_the_photos_alone_show_the_ratio_of_the_prints_scales():
    solution, target = print_of((1.006, 0.998), (0.998, 1.006))
    ratio = seen_scale_ratio(solution, target)
    assert abs(ratio.value - 1.006 / 0.998) < 3 * ratio.u
    assert ratio.u < 5e-4


@pytest.mark.parametrize(
    ("scale", "readings", "word"),
    [
        ((1.006, 0.998), (0.998, 1.006), "swapped"),
        ((1.0, 1.0), (1.018, 1.0), "differ by +1.80 %"),
        ((1.0, 1.0), (0.9, 0.9), "-10 % off"),
    ],
)
def test_wrong_readings_are_refused(scale, readings, word):
    trouble = sheet_trouble(*print_of(scale, readings), SIZE)
    assert not isinstance(trouble, list)
    assert word in trouble.reason
    assert trouble.about == "target.bars"


def test_right_readings_of_a_flat_sheet_are_silent():
    assert sheet_trouble(*print_of((1.006, 0.998), (1.006, 0.998)), SIZE) == []


@pytest.mark.parametrize(("bend_mm", "said"), [(0.3, None), (1.0, NOT_FLAT), (2.5, BADLY_CURLED)])
def test_a_bowed_sheet_is_noticed(bend_mm, said):
    problem = sheet(scene(count=PHOTOS, seed=3, bend_mm=bend_mm))
    trouble = sheet_trouble(problem.solve(), StatedTarget(), SIZE)
    assert len(trouble) == (said is not None)
    assert all(warning.startswith(said) for warning in trouble)


def test_cut_out_pictures_are_noticed():
    solution = sheet(scene(count=PHOTOS)).solve()
    off = (SIZE[0] + 700, SIZE[1])  # as if 350 columns had been cut off on the left
    assert any("cut out" in warning for warning in sheet_trouble(solution, StatedTarget(), off))


@pytest.mark.parametrize("zoom", [0.08, -0.06])
def test_the_sheet_alone_tells_a_zoomed_photo(zoom):
    own = scene(count=PHOTOS, seed=3)
    assert zoomed_photos(sheet(own).solve(), PHOTOS, FOCAL_DEPARTURE) is None
    own.views[ODD].own[0] += zoom
    odd = zoomed_photos(sheet(own).solve(), PHOTOS, FOCAL_DEPARTURE)
    assert odd.photos == (ODD,)


@pytest.mark.parametrize("zoom", [0.03, -0.03])
def test_sheet_and_hub_tell_a_slightly_zoomed_photo(zoom):
    odd = zoomed_photos(adjusted(zoom=zoom)[0], PHOTOS, FOCAL_DEPARTURE)
    assert odd.photos == (ODD,)


@pytest.mark.parametrize("breathing", [0.0, 0.004, -0.004])
def test_autofocus_is_no_zoom(breathing):
    assert zoomed_photos(adjusted(zoom=breathing)[0], PHOTOS, FOCAL_DEPARTURE) is None


HUB = StatedWheel(over_locknut=Reading(130.0, 0.05))


def side(block=0.0):
    return StatedSide(
        "drive",
        (Path("a.jpg"),),
        (StatedGauge(Reading(100.0, 0.03)),),
        centre_to_flange=Reading(20.0, 0.2),
        block_thickness=block,
    )


@pytest.mark.parametrize(
    ("block", "height", "word"),
    [
        (0.0, 85.2, None),
        (10.0, 95.2, None),
        (0.0, 95.2, "10.2 mm higher"),
        (10.0, 85.2, "stated block"),
        (0.0, 60.0, "which side is up"),
    ],
)
def test_a_forgotten_block_is_told_by_the_height(block, height, word):
    warnings = unexpected_height(side(block), HUB, make_figure(height, 0.2))
    assert (word is None and not warnings) or word in warnings[0]


def test_an_unlikely_gauge_length():
    assert unusual_offset(side(), make_figure(2.0)) == []
    assert "100.0 mm" in unusual_offset(side(), make_figure(9.0))[0]
    assert gauge_length_trouble(100.0, 93.0) is None
    assert "sticks out" in gauge_length_trouble(90.0, 93.0).reason


def test_two_gauges_that_cannot_both_be_right_are_refused():
    assert gauges_disagree([2.1]) is None
    assert gauges_disagree([0.9, 3.1]) is None
    trouble = gauges_disagree([4.9, 11.6])
    assert "6.7 mm apart" in trouble.sentence()


def test_an_adjustment_that_does_not_settle_is_refused():
    """What did not settle has no covariance to rest on, however small its residuals are."""
    unsettled = SimpleNamespace(converged=False)
    assert sheet_trouble(unsettled, StatedTarget(), (4000, 3000)) is UNSETTLED
