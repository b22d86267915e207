"""What each photo, and each boss, says of places that are shifted by a known distance in one photo.

Cameras, gauge and bosses are known; the adjustment stays where it is, and only what is seen moves.
"""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from hubsight.camera.observe import view_in
from hubsight.measure.agreement import agreements, mm_per_px
from hubsight.model.stated import Reading
from hubsight.scene.bosses import PatternBlock, boss_points
from hubsight.scene.gauge import GaugeAxisBlock, GaugeEndBlock
from hubsight.see.bosses.shape import BossByPhoto
from hubsight.target.sheet import sheet_problem, uncalibrated
from scenes import CAMERA, SIZE, scene

COUNT, PHOTOS, ODD = 6, 4, 2
PATTERN = np.array([-48.0, 2.0, 92.0, 0.0, 0.0, 23.5, 0.3])
DIRECTION = np.array([0.99, 0.12, -0.04]) / np.linalg.norm([0.99, 0.12, -0.04])
END = np.array([47.0, 30.0, 86.0])
BACK = np.arange(1.5, 93.0, 3.0)
LEFT = np.array([-DIRECTION[1], DIRECTION[0], 0.0]) / np.hypot(*DIRECTION[:2])
FILES = tuple(f"{k}.jpg" for k in range(PHOTOS))
ANGLES = PATTERN[6] + 2 * np.pi * np.arange(COUNT) / COUNT
MISFIT_MM = 0.02
"""How well the adjustment, with its prior of the camera, finds the places again."""


@pytest.fixture(scope="module")
def solution():
    """An adjustment of sheet, gauge and bosses that are seen without noise."""
    own = scene(count=PHOTOS, seed=3, distance=400.0)
    prior = uncalibrated(*SIZE, Reading(CAMERA[0], 1e-4 * CAMERA[0]))
    scale = (Reading(1.0, 1e-5), Reading(1.0, 1e-5))
    problem = sheet_problem(own.board_set(1e-4, seed=5).sightings, prior, scale, max(SIZE))
    problem.add("gauge0", np.concatenate([END, np.zeros(2)]))
    problem.add("pattern", PATTERN)
    for k, view in enumerate(own.views):
        problem.blocks.extend(blocks_of(k, view))
    return problem.solve()


def blocks_of(k, view, *, end=0.0, aside=None, bosses=None, boss_px=0.4):
    """What a photo shows: ``end`` mm along the gauge, ``aside`` (N,) across, ``bosses`` (M,) to the left."""
    wire = END - BACK[:, None] * DIRECTION
    straight = view.project(wire)
    tangent = (straight[0] - straight[-1]) / np.linalg.norm(straight[0] - straight[-1])
    normals = np.tile([-tangent[1], tangent[0]], (len(BACK), 1))
    seen = view.project(wire + (0.0 if aside is None else aside[:, None]) * LEFT)
    sigma = np.where(np.arange(len(BACK)) < len(BACK) // 2, 0.25, 0.5)
    points, _ = boss_points(PATTERN, np.arange(COUNT), COUNT)
    left = np.column_stack([-np.sin(ANGLES), np.cos(ANGLES), np.zeros(COUNT)])
    places = view.project(points + (0.0 if bosses is None else bosses[:, None]) * left)
    args = (k, "gauge0", DIRECTION)
    return [
        GaugeAxisBlock(*args, BACK, seen, normals, sigma),
        GaugeEndBlock(*args, view.project((END + end * DIRECTION)[None])[0], tangent, np.zeros(3), 0.3),
        PatternBlock(k, np.arange(COUNT), COUNT, places, np.broadcast_to(boss_px, COUNT).astype(float)),
    ]


def opinions(solution, spoilt, by_photo=None):
    """Return the opinions on each feature; ``spoilt`` says per photo what it shows otherwise."""
    views = [view_in(solution, k) for k in range(PHOTOS)]
    blocks = [block for k, view in enumerate(views) for block in blocks_of(k, view, **spoilt.get(k, {}))]
    seen = SimpleNamespace(
        solution=solution,
        adjusted=SimpleNamespace(hub_blocks=blocks),
        gauges=(SimpleNamespace(odds=None),),
        mouths=(),
        bosses=SimpleNamespace(by_photo=by_photo),
        ends=SimpleNamespace(end_face=None),
        marked_ends=SimpleNamespace(end_face=None),
        files=FILES,
    )
    return {(one.feature, one.opinions[0].boss is None): one for one in agreements(seen)}


def values(agreement):
    return np.array([one.value for one in agreement.opinions])


def others(array):
    return np.delete(array, ODD)


@pytest.mark.parametrize("beyond", [0.4, -0.3])
def test_a_photo_that_shows_the_end_farther_out_says_so_in_millimetres(solution, beyond):
    """Nearly level under a lens nearly above: the shift along the gauge is hardly foreshortened."""
    said = values(opinions(solution, {ODD: {"end": beyond}})["gauge_end", True])
    assert said[ODD] == pytest.approx(beyond, abs=0.06)
    assert np.abs(others(said)).max() < MISFIT_MM


@pytest.mark.parametrize("aside", [0.2, -0.1])
def test_a_photo_that_shows_the_wire_aside_says_so_to_that_side(solution, aside):
    said = values(opinions(solution, {ODD: {"aside": np.full(len(BACK), aside)}})["gauge_axis", True])
    view = view_in(solution, ODD)
    tangent, shift = (
        view.project(np.array([END + s, END]))[0] - view.project(END[None])[0] for s in (DIRECTION, LEFT)
    )
    to_the_normal = np.sign(tangent[0] * shift[1] - tangent[1] * shift[0])
    assert said[ODD] == pytest.approx(aside * to_the_normal, abs=0.03)
    assert np.abs(others(said)).max() < MISFIT_MM


def test_places_of_the_wire_that_are_seen_well_count_more(solution):
    """The half near the end, seen twice as well, counts four times: 4/5 of its 0.2 mm."""
    near = np.where(np.arange(len(BACK)) < len(BACK) // 2, 0.2, 0.0)
    said = values(opinions(solution, {ODD: {"aside": near}})["gauge_axis", True])
    share = 4 * (len(BACK) // 2) / (4 * (len(BACK) // 2) + len(BACK) - len(BACK) // 2)
    assert abs(said[ODD]) == pytest.approx(0.2 * share, rel=0.15)


@pytest.mark.parametrize("turn", [0.01, -0.006])
def test_a_photo_that_shows_the_bosses_turned_says_so_at_their_radius(solution, turn):
    spoilt = {ODD: {"bosses": np.full(COUNT, turn * PATTERN[5])}}
    said = values(opinions(solution, spoilt)["bosses", True])
    assert said[ODD] == pytest.approx(turn * PATTERN[5], abs=MISFIT_MM)
    assert np.abs(others(said)).max() < MISFIT_MM


def test_a_boss_that_all_photos_show_aside_speaks_for_itself(solution):
    aside = np.where(np.arange(COUNT) == 4, 0.3, 0.0)
    said = values(opinions(solution, {k: {"bosses": aside} for k in range(PHOTOS)})["bosses", False])
    assert said == pytest.approx(aside, abs=MISFIT_MM)


def test_photos_that_show_a_boss_well_count_more(solution):
    """Three photos at 0.4 px show it in place, one at 0.2 px aside: 4 of 7 parts."""
    spoilt = {ODD: {"bosses": np.full(COUNT, 0.35), "boss_px": 0.2}}
    said = values(opinions(solution, spoilt)["bosses", False])
    assert said == pytest.approx(np.full(COUNT, 0.35 * 4 / 7), abs=MISFIT_MM)


def test_bosses_that_a_photo_shows_well_count_more_in_what_it_says(solution):
    aside, px = np.where(np.arange(COUNT) == 1, 0.3, 0.0), np.where(np.arange(COUNT) == 1, 0.2, 0.4)
    said = values(opinions(solution, {ODD: {"bosses": aside, "boss_px": px}})["bosses", True])
    assert said[ODD] == pytest.approx(0.3 * 4 / (4 + COUNT - 1), abs=MISFIT_MM)


def test_what_photos_show_of_the_mean_boss_counts_from_their_median(solution):
    by_photo = BossByPhoto(
        mirror=np.array([0.001, 0.001, 0.011, 0.001]),
        left=np.array([4.2, 4.2, 4.5, np.nan]),
        right=np.array([4.1, 4.1, 3.9, 4.1]),
    )
    said = opinions(solution, {}, by_photo)
    assert values(said["boss_centreline", True]) == pytest.approx([0, 0, 0.01 * PATTERN[5], 0], abs=1e-3)
    assert values(said["boss_left_face", True]) == pytest.approx([0.0, 0.0, 0.3])
    assert values(said["boss_right_face", True]) == pytest.approx([0.0, 0.0, -0.2, 0.0])
    assert [o.photo for o in said["boss_left_face", True].opinions] == list(FILES[:3])


def test_a_pixel_is_as_large_as_the_distance_over_the_focal_length(solution):
    view = view_in(solution, 0)
    across = view.rotation[0]
    px = np.linalg.norm(view.project((END + across)[None])[0] - view.project(END[None])[0])
    assert mm_per_px(view, END) == pytest.approx(1.0 / px, rel=0.02)
