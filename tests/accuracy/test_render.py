"""The rendering of hubs where no renderer is needed: solids, truth, chance, optics, a phone's picture."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from bench.corpus import asymmetric_boss, true_figures
from scipy.special import ndtr

for needed in ("manifold3d", "trimesh", "rtree", "piexif"):
    pytest.importorskip(needed, reason=f"{needed} is missing: pip install --group render")

import trimesh  # noqa: E402
from render import draw_lifelike, draw_random, solid  # noqa: E402
from render.bores import axes, rim_hole  # noqa: E402
from render.build import build  # noqa: E402
from render.faults import faults  # noqa: E402
from render.hub import SIDES, SIGNS, PairedFlange, RadialFlange  # noqa: E402
from render.optics import distort  # noqa: E402
from render.phone import picture, through_lens  # noqa: E402
from render.plan import plan  # noqa: E402
from render.readings import readings  # noqa: E402
from render.rest import Gauge, at_rest, rigid, turn  # noqa: E402
from render.sensor import develop  # noqa: E402
from render.sheet import Wave, saddles, wave_height  # noqa: E402
from render.truth import design_truth, photo_truth, plain, set_truth, whole_truth  # noqa: E402

COARSE_MM = 0.5
"""Grid of the flanges built here; bores are cut exactly whatever it is."""

PAIRED, RADIAL, TWO_TO_ONE, LYING = "random 3", "random 9", "lifelike 2101", "lifelike 2103"


def design_of(name):
    kind, number = name.split()
    return (draw_random if kind == "random" else draw_lifelike).design(int(number))


@pytest.fixture(scope="module")
def made():
    """Designs with their hubs, built once each on a coarse grid."""
    known = {}
    assert isinstance(design_of(RADIAL).hub.flanges["ds"], RadialFlange)

    def make(name):
        if name not in known:
            design = design_of(name)
            known[name] = design, build(design.hub)
        return known[name]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(solid, "VOXEL_MM", COARSE_MM)
        yield make


def hits(mesh, start, along):
    """Distances at which a ray meets a mesh: trimesh's own ray cast."""
    points, _, _ = mesh.ray.intersects_location([start], [along])
    return np.sort((points.reshape(-1, 3) - start) @ along)


def around(along):
    """Eight unit vectors square to a direction."""
    x = np.cross(along, [0.3, -0.5, 0.8])
    x /= np.linalg.norm(x)
    angles = np.radians(np.arange(0, 360, 45))
    return np.cos(angles)[:, None] * x + np.sin(angles)[:, None] * np.cross(along, x)


# ---------- bores, against the ray cast of trimesh ----------


@pytest.mark.parametrize("name", [PAIRED, RADIAL])
def test_bores_leave_the_undrilled_metal_where_truth_says(made, name):
    _, built = made(name)
    for side in built.sides.values():
        mesh = trimesh.Trimesh(side.v, side.f, process=False)
        for bore in side.bores[:4]:
            axis = bore.axis
            ahead = hits(mesh, axis.through - 0.3 * axis.along, axis.along) - 0.3
            behind = hits(mesh, axis.through - 0.4 * axis.along, -axis.along) + 0.4
            assert ahead.min() == pytest.approx(bore.exit_from_crossing, abs=1e-3)
            assert behind.min() == pytest.approx(bore.rear_from_crossing, abs=1e-3)


@pytest.mark.parametrize("name", [PAIRED, RADIAL])
def test_the_head_seats_where_truth_says(made, name):
    design, built = made(name)
    for side, flange in design.hub.flanges.items():
        part = next(part for part in built.parts if part.name == f"flange_{side}")
        mesh = trimesh.Trimesh(part.mesh.v, part.mesh.f, process=False)
        between = (flange.bore + flange.counterbore) / 4
        for bore in built.sides[side].bores[:4]:
            axis = bore.axis
            seen = []
            for out in around(axis.along):
                met = hits(mesh, axis.seat - 0.6 * axis.along + between * out, axis.along) - 0.6
                seen += [met[0]] if len(met) and abs(met[0]) < 0.2 else []
            # where a slot or the other bore cuts the seat, a ray meets something else
            assert sum(abs(depth) < 1e-3 for depth in seen) >= 3
            free = hits(mesh, axis.seat - 0.2 * axis.along, axis.along)
            length = np.linalg.norm(bore.exit - axis.seat)
            assert not np.any(free < length + 0.5), "something stands in the bore"


@pytest.mark.parametrize("name", [PAIRED, RADIAL])
def test_the_bore_is_as_wide_as_truth_says(made, name):
    design, built = made(name)
    for side, flange in design.hub.flanges.items():
        part = next(part for part in built.parts if part.name == f"flange_{side}")
        mesh = trimesh.Trimesh(part.mesh.v, part.mesh.f, process=False)
        axis = built.sides[side].bores[0].axis
        walls = [hits(mesh, axis.seat + 0.6 * axis.along, out) for out in around(axis.along)]
        near = [wall[0] for wall in walls if len(wall) and wall[0] < flange.bore * 0.503]
        assert len(near) >= 3  # a slot's corners lie farther out
        assert np.allclose(near, flange.bore / 2, atol=0.005)


# ---------- spokes ----------


@pytest.mark.parametrize("name", [PAIRED, RADIAL, TWO_TO_ONE])
def test_spoke_lengths_are_from_seat_to_rim_hole(made, name):
    design, built = made(name)
    true = plain(whole_truth(design, built, None, {}))
    for side in true["hub"]["sides"].values():
        for bore in side["bores"]:
            hole, seat = np.array(bore["rim_hole"]), np.array(bore["seat"])
            assert np.hypot(*hole[:2]) == pytest.approx(design.hub.erd / 2, abs=1e-5)
            assert bore["length"] == pytest.approx(np.linalg.norm(hole - seat), abs=1e-5)
            sideways = np.array([-bore["u"][1], bore["u"][0]])
            assert abs(sideways @ (hole[:2] - seat[:2])) < 1e-3, "the bore does not point at its rim hole"
            assert abs(sideways @ (np.array(bore["C"][:2]) - seat[:2])) < 1e-3
        mean = np.mean([bore["length"] for bore in side["bores"]])
        assert side["spoke_length_mean"] == pytest.approx(mean, abs=1e-3)


@pytest.mark.parametrize("name", [PAIRED, RADIAL])
def test_spoke_lengths_agree_with_the_formula_of_the_trade(name):
    """Law of cosines from crossing point to rim hole, plus the offset: common practice, no source."""
    hub = design_of(name).hub
    flat = {side: replace(flange, tilt_deg=0.0) for side, flange in hub.flanges.items()}
    hub = replace(hub, flanges=flat, rim_offset=0.0)
    for side in SIDES:
        flange, width = hub.flanges[side], hub.centre_to_flange[side]
        if isinstance(flange, PairedFlange):
            flange = replace(flange, half_gap=0.0)
        d = flange.diameter if isinstance(flange, PairedFlange) else flange.outside
        for axis in axes(flange, SIGNS[side], width, hub.erd, hub.crosses):
            alpha = np.radians((hub.crosses + 0.5) * 180 / flange.count) if axis.turn else 0.0
            across = hub.erd**2 / 4 + d**2 / 4 - hub.erd * d / 2 * np.cos(alpha)
            expected = np.sqrt(across + width**2) + flange.offset
            length = np.linalg.norm(rim_hole(hub, axis) - axis.seat)
            assert length == pytest.approx(expected, abs=0.03)


def test_each_spoke_of_two_to_one_lacing_leads_to_a_hole_of_its_side(made):
    design, built = made(TWO_TO_ONE)
    true = plain(whole_truth(design, built, None, {}))["hub"]
    taken = []
    for side, letter in (("ds", "D"), ("nds", "N")):
        for bore in true["sides"][side]["bores"]:
            angle = np.radians(true["rim"]["hole_0_deg"] + 360 / 24 * bore["hole"])
            there = design.hub.erd / 2 * np.array([np.cos(angle), np.sin(angle)])
            assert np.allclose(bore["rim_hole"][:2], there, atol=1e-3)
            assert "DND"[bore["hole"] % 3] == letter
            taken.append(bore["hole"])
    assert sorted(taken) == list(range(24))


# ---------- chance ----------


@pytest.mark.parametrize("name", [PAIRED, TWO_TO_ONE])
def test_a_seed_gives_the_same_hub_photos_and_readings(made, name):
    design, built = made(name)
    again = design_of(name)
    assert again == design
    first, second = (plan(each, built) for each in (design, again))
    stated = [plain([set_truth(design, s) for s in sets]) for sets in (first, second)]
    assert stated[0] == stated[1]
    for one, other in zip(first, second, strict=True):
        assert [shot.tags for shot in one.shots] == [shot.tags for shot in other.shots]
        assert all(
            np.array_equal(a.view.translation, b.view.translation)
            for a, b in zip(one.shots, other.shots, strict=True)
        )
    assert readings(design, built, first) == readings(again, built, second)


def test_another_seed_gives_another_hub():
    designs = [draw_random.design(seed) for seed in (3, 4, 5)]
    assert len({design.hub.erd for design in designs}) == 3
    assert len({design.phone.f for design in designs}) == 3


def test_only_numbers_with_a_design_are_taken():
    for number in (0, 10000):
        with pytest.raises(ValueError, match="1 to 9999"):
            draw_random.design(number)
        with pytest.raises(ValueError, match="1 to 9999"):
            draw_lifelike.design(number)


# ---------- what is possible ----------


def clear(hub):
    """Plain arithmetic on a design's sizes, apart from `faults`: what is wrong, in words."""
    wrong = []
    for side in SIDES:
        flange, width = hub.flanges[side], hub.centre_to_flange[side]
        if not width + flange.collar[-1][0] < hub.half:
            wrong.append("flange beyond the end face")
        if not flange.bore < flange.counterbore or not hub.head_diameter < flange.counterbore + 0.2:
            wrong.append("head wider than its bore")
        if isinstance(flange, RadialFlange) and not 0 < flange.offset < flange.wall:
            wrong.append("seat outside the wall")
        if isinstance(flange, PairedFlange):
            if not flange.root < flange.diameter / 2 < flange.root + 5:
                wrong.append("crossing point far from the root")
            if not 2 * flange.half_gap + flange.counterbore < flange.boss.thickness:
                wrong.append("heads wider than the boss is thick")
            if not flange.count * min(flange.boss.half_width) * 2 < np.pi * flange.diameter:
                wrong.append("bosses all round")
    return wrong


def test_no_design_of_fifty_seeds_is_impossible():
    designs = [draw_random.design(seed) for seed in range(301, 326)]
    designs += [draw_lifelike.design(number) for number in range(3001, 3026)]
    for design in designs:
        assert clear(design.hub) == [], design.name
        assert faults(design.hub) == [], design.name
    assert {form.split(", ")[1] for form in (design.note for design in designs)} == {"paired", "radial"}


def test_what_cannot_be_made_is_found():
    hub = design_of(PAIRED).hub
    drive = hub.flanges["ds"]

    def with_drive(**changes):
        return replace(hub, flanges={**hub.flanges, "ds": replace(drive, **changes)})

    assert "no room to the end face" in faults(replace(hub, over_locknut=60.0))
    assert "seat outside the boss" in faults(with_drive(offset=9.0))
    assert "bore breaks out" in faults(with_drive(bore=9.0))
    assert "bosses meet" in faults(with_drive(count=24))
    assert "does not lie on its flanges" in faults(replace(hub, cap_diameter=150.0))


# ---------- how things lie ----------


@pytest.mark.parametrize("drop", [-1.0, 0.05, 0.8, 1.8])
def test_a_wire_at_rest_stays_within_its_play(made, drop):
    _, built = made(PAIRED)
    bore, play = built.sides["ds"].bores[0], 0.3
    gauge = Gauge(100.0, 2.0, 4.4, "flat")
    matrix = rigid(turn("z", 20.0), [0, 0, 70])
    line = at_rest(bore, matrix, gauge, play=play, drop=drop, aside=(0.5, -0.5))
    depth = np.linalg.norm(bore.exit - bore.axis.seat)
    for distance in (0.0, depth):
        point = line.seat + distance * line.along
        off = point - bore.axis.seat
        off -= bore.axis.along * (off @ bore.axis.along)
        assert np.linalg.norm(off) <= play / 2 + 0.01
    end, straight = line.seat + 100 * line.along, bore.axis.seat + 100 * bore.axis.along
    reachable = play * 100 / depth
    if abs(drop) < reachable - play:
        assert straight[2] - end[2] == pytest.approx(drop, abs=0.02 + 0.01 * abs(drop))


def test_a_standing_hub_touches_sheet_or_block_and_a_lying_one_its_flanges(made):
    design, built = made(LYING)
    for photo_set in plan(design, built):
        matrix = photo_set.hub_to_target
        lowest = {
            part.name: (part.mesh.v @ matrix[:3, :3].T + matrix[:3, 3])[:, 2].min() for part in built.parts
        }
        if photo_set.name == "side":
            assert min(lowest.values()) == pytest.approx(0.0, abs=1e-9)
            assert max(lowest["flange_ds"], lowest["flange_nds"]) < 0.02
        else:
            standing = [z for part, z in lowest.items() if not part.startswith(("axle", "tube"))]
            assert min(standing) == pytest.approx(design.hub.block, abs=1e-9)


def test_paper_is_level_under_the_hub_and_in_the_middle():
    wave = Wave(0.5, ((0.03, 0.05, 1.0, 0.5), (-0.02, 0.04, 2.0, 0.5)))
    assert np.all(wave_height([-50.0, 0.0, -60.0], [0.0, 0.0, 30.0], wave) == 0)
    height = wave_height(*saddles()[0].T, wave)
    assert 0.05 < height.max() <= 0.5
    assert height.min() >= 0


# ---------- optics, against OpenCV ----------


def test_projection_agrees_with_opencv(made):
    design, built = made(PAIRED)
    view = plan(design, built)[0].shots[1].view
    assert any(view.distortion)
    points = np.random.default_rng(0).uniform([-140, -100, 0], [140, 100, 90], (200, 3))
    matrix = np.array([[view.fx, 0, view.cx], [0, view.fy, view.cy], [0, 0, 1]])
    rotation, _ = cv2.Rodrigues(view.rotation)
    expected, _ = cv2.projectPoints(points, rotation, view.translation, matrix, np.array(view.distortion))
    assert np.allclose(view.project(points), expected.reshape(-1, 2), atol=1e-6)


def test_no_distortion_leaves_points_alone():
    points = np.array([[0.1, -0.2], [0.3, 0.4]])
    assert np.array_equal(distort(points, (0, 0, 0, 0, 0)), points)


def test_truth_of_a_photo_is_projected_from_its_points(made):
    design, built = made(LYING)
    for photo_set in plan(design, built):
        shot = photo_set.shots[0]
        true = photo_truth(
            design, built, photo_set, 0, wave=None, hidden=lambda _, points: np.zeros(len(points), bool)
        )
        for points in true["points"].values():
            xyz = np.array([point["xyz"] for point in points])
            px = np.array([point["px"] for point in points])
            assert np.allclose(shot.view.project(xyz), px, atol=0.01)
        needed = "lump_C_nds" if photo_set.name == "side" else "gauge_tip"
        assert needed in true["points"]


# ---------- a phone's picture ----------

SIZE, BAR, BAR_AT, BLUR = (480, 640), 21.4, 300.3, 1.2
"""Rows and columns; width, middle and edges' blur of an upright dark bar, px."""


def bar_picture(middle=BAR_AT):
    """A dark bar on paper, blurred alike on both sides, so that no tone curve moves its middle."""
    columns = np.arange(SIZE[1])
    dark = ndtr((columns - middle + BAR / 2) / BLUR) - ndtr((columns - middle - BAR / 2) / BLUR)
    row = 0.8 * (1 - dark) + 0.04 * dark
    return np.repeat(np.repeat(row[None, :, None], SIZE[0], 0), 3, 2).astype(np.float32)


def bar_middle(rgb, channel, rows=slice(220, 260)):
    """Middle between the bar's two edges at half height, px."""
    row = rgb[rows, :, channel].astype(float).mean(0)
    half = (row.min() + np.median(row)) / 2
    dark = np.flatnonzero(row < half)
    first, last = dark[0], dark[-1]
    left = first - (half - row[first]) / (row[first - 1] - row[first])
    right = last + (half - row[last]) / (row[last + 1] - row[last])
    return (left + right) / 2


@pytest.fixture
def processing():
    """A phone's processing without much noise."""
    return replace(design_of(LYING).phone.processing, full_well=60000.0, read_noise=2.0)


def test_a_phone_keeps_the_place_of_an_edge(processing):
    assert bar_middle(picture(bar_picture(), processing, seed=1), 1) == pytest.approx(BAR_AT, abs=0.05)


def test_motion_keeps_the_place_of_an_edge(processing):
    rgb = picture(bar_picture(), processing, seed=1, motion=(5.0, 20.0))
    assert bar_middle(rgb, 1) == pytest.approx(BAR_AT, abs=0.05)


def test_a_plain_camera_keeps_the_place_of_an_edge():
    processing = replace(design_of(PAIRED).phone.processing, full_well=60000.0)
    assert bar_middle(develop(bar_picture(), 0.8, processing, seed=1), 1) == pytest.approx(BAR_AT, abs=0.05)


def test_red_and_blue_part_towards_the_edge_of_the_picture(processing):
    """They part by `lateral` in the corners; the bar's middle is about two thirds of the way out."""
    apart = replace(processing, lateral=3.0, lateral_cubic=0.0, vignette=0.0)
    at = 590.0
    rgb = through_lens(bar_picture(at), apart, divisor=1)
    reach = np.hypot(*SIZE) / 2
    red, green, blue = (bar_middle(rgb, channel) for channel in range(3))
    assert green == pytest.approx(at, abs=0.01)
    assert blue - red == pytest.approx(3.0 * (at - (SIZE[1] - 1) / 2) / reach, abs=0.05)


# ---------- the files ----------


def test_the_benchmark_reads_what_is_stated_here(made):
    design, built = made(LYING)
    sets = plan(design, built)
    true = plain(whole_truth(design, built, None, {s.name: set_truth(design, s) for s in sets}))
    for side in SIDES:
        figures, flange = true_figures(true, side), design.hub.flanges[side]
        assert figures["spoke_offset"] == pytest.approx(flange.offset)
        assert figures["flange_diameter"] == pytest.approx(flange.diameter)
        assert figures["centre_to_flange"] == pytest.approx(design.hub.centre_to_flange[side])
        # the reach along the wire as it lies is the gauge less the offset, but for its play
        assert figures["reach"] == pytest.approx(design.life.gauge_length - flange.offset, abs=0.25)
    assert true["design"]["erd"] == design.hub.erd
    assert not asymmetric_boss(true["design"]["flange"]["lump"])


def test_lopsided_bosses_are_stated_as_such():
    number = next(n for n in range(2002, 2100, 4) if draw_lifelike.design(n).life.moved == "bore")
    assert asymmetric_boss(plain(design_truth(draw_lifelike.design(number)))["flange"]["lump"])
