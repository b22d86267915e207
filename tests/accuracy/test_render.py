"""The rendering of hubs where no renderer is needed: solids, spokes, chance, rest, what is stated."""

from dataclasses import replace

import numpy as np
import pytest
from bench.corpus import asymmetric_boss, true_figures

for needed in ("manifold3d", "trimesh", "rtree", "piexif"):
    pytest.importorskip(needed, reason=f"{needed} is missing: pip install --group render")

import trimesh  # noqa: E402
from render import draw_lifelike, draw_random, solid  # noqa: E402
from render.bores import axes, rim_hole  # noqa: E402
from render.build import build  # noqa: E402
from render.design import Slip  # noqa: E402
from render.faults import faults  # noqa: E402
from render.hub import SIDES, SIGNS, PairedFlange, RadialFlange  # noqa: E402
from render.mesh import frame_to  # noqa: E402
from render.plan import plan  # noqa: E402
from render.readings import readings  # noqa: E402
from render.rest import Gauge, at_rest, gauge_parts, laid, rigid, turn  # noqa: E402
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


@pytest.mark.parametrize("name", [PAIRED, RADIAL, TWO_TO_ONE])
def test_bores_lean_towards_the_rim_and_lie_apart_along_the_axis(name):
    hub = design_of(name).hub
    for side, flange in hub.flanges.items():
        lines = axes(flange, SIGNS[side], hub.centre_to_flange[side], hub.erd, hub.crosses)
        for line in lines:
            inwards = -SIGNS[side] * line.along[2]
            assert np.degrees(np.arcsin(inwards)) == pytest.approx(flange.tilt_deg)
        if isinstance(flange, PairedFlange):
            ccw, cw = lines[:2]
            assert np.cross(ccw.crossing, ccw.along)[2] > 0
            assert ccw.through[2] - cw.through[2] == pytest.approx(2 * flange.hand * flange.half_gap)


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
    rim = line.seat + gauge.head_diameter / 2 * around(line.along)
    reached = ((rim - bore.axis.seat) @ bore.axis.along).max()
    assert reached == pytest.approx(0.0, abs=0.3 * np.radians(line.play_deg)), "the head leaves its seat"
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
            angle, azimuth = design.life.lean[photo_set.name]
            up = photo_set.standing.up
            assert np.degrees(np.arccos(up[2])) == pytest.approx(angle, abs=1e-6)
            assert np.degrees(np.arctan2(up[1], up[0])) % 360 == pytest.approx(azimuth, abs=1e-6)


@pytest.mark.parametrize("tip", ["flat", "nipple"])
def test_a_gauge_on_the_sheet_rests_on_its_head_and_its_end(tip):
    gauge = Gauge(99.5, 2.0, 4.4, tip)
    lay = laid(gauge, 35.0, (10.0, -20.0))
    frame = frame_to(lay.seat, lay.along)
    points = np.concatenate([part.mesh.v for part in gauge_parts(gauge)])
    height = (points @ frame[:3, :3].T + frame[:3, 3])[:, 2]
    far = points[:, 2] > gauge.length / 2
    assert height.min() == pytest.approx(0.0, abs=1e-9)
    assert max(height[far].min(), height[~far].min()) < 0.03
    assert np.linalg.norm(lay.tip - lay.seat) == pytest.approx(gauge.length)


# ---------- the files ----------


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


def test_readings_are_near_the_truth(made):
    design, built = made(PAIRED)
    sets = plan(replace(design, slip=None), built)
    stated = readings(replace(design, slip=None), built, sets)
    true = plain(whole_truth(design, built, None, {s.name: set_truth(design, s) for s in sets}))
    assert stated["old"] == pytest.approx(design.hub.over_locknut, abs=0.051)
    for side, said in stated["sides"].items():
        hub, placed = true["hub"]["sides"][side], true["sets"][side]
        wire = placed["gauges"][0]
        assert said["d"] == pytest.approx(hub["d"], abs=0.351)
        assert said["W"] == pytest.approx(np.mean(list(hub["W"].values())), abs=0.106)
        assert said["flange_mid_height"] == pytest.approx(placed["flange_mid_z"], abs=0.251)
        assert said["protrusion"][0] == pytest.approx(wire["protrusion"], abs=0.156)
        assert said["gauge_height_at_end"] == pytest.approx(wire["tip_target"][2], abs=0.351)
        assert said["gauge_height_at_boss"] == pytest.approx(wire["exit_target"][2], abs=0.351)


@pytest.mark.parametrize(("kind", "off"), [("half_width", None), ("off_by_1", 1.0)])
def test_a_slip_is_in_one_reading_and_nowhere_else(made, kind, off):
    design, built = made(PAIRED)
    right = readings(replace(design, slip=None), built, plan(design, built))
    wrong = readings(replace(design, slip=Slip(kind, "nds")), built, plan(design, built))
    width, slipped = right["sides"]["nds"].pop("W"), wrong["sides"]["nds"].pop("W")
    assert right == wrong
    assert abs(slipped - width) == pytest.approx(off if off else width / 2, abs=0.006)


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
