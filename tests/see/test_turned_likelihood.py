"""The edge likelihood: where there is no edge, on printed edges whose place is known, and on turned ends."""

from __future__ import annotations

import numpy as np
import pytest

from hub_pictures import Picture, circle, rod, views
from hubsight.camera import View
from hubsight.measure.agreement import Says, agreement, contradicts
from hubsight.scene.turned import Circle, HubAxis, hidden
from hubsight.see.ribbon import SRGB_TO_LINEAR, linear_light
from hubsight.see.turned.edge_points import EdgePoints, edge_points
from hubsight.see.turned.end_face import end_face, see_end_face
from hubsight.see.turned.likelihood import CIRCLES, MIDDLES, SECTORS, Evidence, support
from hubsight.see.turned.rings import OwnHeights, Ring, find_rings, fit_circle, ring_height
from hubsight.target.geometry import target_geometry
from scenes import look_at
from sheet_pictures import drawing, photograph

CENTRE = np.array([-48.0, 2.0])
AXIS = HubAxis(CENTRE, 90.0, np.zeros(2))
UP = np.array([0.0, 0.0, 1.0])
HEIGHTS, RADIUS = (93.0, 150.0), 14.0
FINE_PX_PER_MM = 4.0
"""From which the blur does not reach from a square's edge to its marker, 1.5 mm away."""


@pytest.fixture(scope="module")
def cameras():
    return views()


def turned(picture, top, length, radius, lights):
    side, face = lights
    at = np.append(CENTRE, top)
    picture.fill(rod(at, UP, length, 2 * radius, rounding=0.0), side)
    picture.fill(circle(at, UP, radius), face)


def restless(view, generator):
    """A picture full of spots of all sizes and tones, with no circle about the axis."""
    picture = Picture(view)
    for _ in range(400):
        at = np.append(CENTRE + generator.uniform(-25, 25, 2), generator.uniform(90, 150))
        size = generator.uniform(0.3, 3.0)
        picture.fill(at + generator.normal(0, size, (8, 3)), generator.uniform(0.02, 0.8))
    return picture.developed(seed=int(generator.integers(1000)))


@pytest.fixture(scope="module")
def nothing(cameras):
    """Evidence on circles of all sizes and heights, where none is."""
    generator = np.random.default_rng(3)
    photos = [edge_points(restless(v, generator), v, AXIS, HEIGHTS, RADIUS) for v in cameras]
    circles = [
        Circle(CENTRE + generator.normal(0, 0.1, 2), float(h), float(r), np.zeros(2))
        for h, r in zip(generator.uniform(95, 148, 150), generator.uniform(3, 13, 150), strict=True)
    ]
    return [support(photos, circle) for circle in circles]


def test_a_likelihood_ratio_is_one_in_the_mean_where_no_edge_is(nothing):
    """The mean of p(x | edge) / p(x | none) over what is seen where none is can be at most 1 (Good 1979,
    after Turing; from memory)."""
    ratios = np.exp(np.concatenate([evidence.ratios.ravel() for evidence in nothing]))
    assert ratios.mean() < 1.05


def test_strong_evidence_is_as_rare_as_it_says_where_no_edge_is(nothing):
    """So a log-likelihood ratio above c happens by chance in at most exp(-c) (Markov's inequality)."""
    by_photo = np.concatenate([evidence.by_photo for evidence in nothing])
    for c in (0.5, 1.0, 2.0, 3.0):
        assert (by_photo > c).mean() <= np.exp(-c)
    assert max(evidence.log_odds for evidence in nothing) < 0


@pytest.mark.parametrize(("azimuth", "tilt"), [(0, 0), (40, 28), (-130, 20)])
def test_printed_edges_lie_between_the_sheet_s_own_corners(azimuth, tilt):
    """Squares of the printed target meet along the line between two corners, whose places are exact."""
    camera = np.array([1800.0, 1203.3, 897.6, 0, 0, 0, 0, 0])
    view = View(camera, np.concatenate([np.zeros(3), look_at(azimuth, tilt, 345, 3)]))
    light = photograph(view, (2400, 1800), page=(255 * linear_light(drawing())).astype(np.uint8), blur_px=0.8)
    grey = np.searchsorted(SRGB_TO_LINEAR, light / 255.0).astype(np.uint8)
    corners = target_geometry("a4").saddles
    off = []
    for start in corners[:20]:
        for end in corners[np.isclose(np.linalg.norm(corners - start, axis=1), 12.0)]:
            along = (end - start) / 12.0
            axis = HubAxis((start + end) / 2, 0.0, np.zeros(2))
            points = edge_points(grey, view, axis, (0.0, 0.1), 8.0)
            seen = points.at(0.0) - start
            across = seen @ np.array([-along[1], along[0]])
            on = (np.abs(across) < 0.4) & (np.abs(seen @ along - 6.0) < 3.0)
            if np.median(points.px_per_mm[on]) > FINE_PX_PER_MM:
                towards_light = np.sign(np.median(points.across[on] @ np.array([-along[1], along[0]])))
                off.append(towards_light * np.median(across[on]))
    assert len(off) > 20
    assert abs(np.mean(off)) < 0.01
    assert np.std(off) < 0.02


def hub(view, *, top=128.0, painted=None, seed=0):
    """A hub's end: a shoulder, and a cap with its bore; ``painted`` ends the cap lower."""
    picture = Picture(view)
    turned(picture, 112.0, 112.0, 15.0, (0.2, 0.35))
    turned(picture, 119.0, 7.0, 11.5, (0.25, 0.4))
    end = top if painted is None else painted
    turned(picture, end, end - 119.0, 9.0, (0.15, 0.5))
    picture.fill(circle(np.append(CENTRE, end), UP, 6.0), 0.02)
    return picture.developed(seed=seed)


def test_a_strong_shoulder_is_not_the_end(cameras):
    face = see_end_face([hub(v, seed=k) for k, v in enumerate(cameras)], cameras, AXIS)
    assert face.rings[0].height == pytest.approx(128.0, abs=0.12)
    assert face.rival is None
    assert np.all(np.abs(face.own.above) < 4 * face.own.u)


def test_a_streak_in_one_photo_is_no_end(cameras):
    """A bright ring that only one photo shows, where a higher end would be."""
    pictures = [hub(v, seed=k) for k, v in enumerate(cameras)]
    picture = Picture(cameras[1])
    turned(picture, 128.0, 128.0, 9.0, (0.15, 0.5))
    at = np.append(CENTRE, 134.0)
    picture.fill(circle(at, UP, 8.0), 0.75)
    picture.fill(circle(at, UP, 7.6), 0.5)
    pictures[1] = picture.developed(seed=1)
    face = see_end_face(pictures, cameras, AXIS)
    assert face.rings[0].height == pytest.approx(128.0, abs=0.2)


def test_two_photos_that_show_another_end_contradict_the_others(cameras):
    painted = [None, None, 124.0, 124.0]
    pictures = [hub(v, painted=p, seed=k) for k, (v, p) in enumerate(zip(cameras, painted, strict=True))]
    face = see_end_face(pictures, cameras, AXIS)
    says = [
        Says(float(a), k, weight=float((0.1 / u) ** 2))
        for k, (a, u) in enumerate(zip(face.own.above, face.own.u, strict=True))
        if np.isfinite(a)
    ]
    assert contradicts(agreement("end_face", says, files=[f"{k}.jpg" for k in range(4)]))


def ring(height, *by_photo, radius=9.0):
    """A ring of which photos say this much."""
    ratios = np.repeat(np.array(by_photo)[:, None] * 2 / SECTORS, SECTORS, axis=1)
    return Ring(CENTRE, height, radius, np.zeros(2), evidence=Evidence(ratios), pixels=())


def test_evidence_is_half_of_what_its_sectors_add_up_to():
    one = ring(120.0, 3.0, 5.0).evidence
    np.testing.assert_allclose(one.by_photo, [3.0, 5.0])
    assert one.log_odds == pytest.approx(8.0 - np.log(CIRCLES))
    # Of two photos the better one counts as much as the other; of four it is left out.
    assert one.probability == pytest.approx(1 / (1 + CIRCLES * np.exp(-6.0)))
    four = ring(120.0, 3.0, 9.0, 1.0, 2.0).evidence
    assert four.probability == pytest.approx(1 / (1 + CIRCLES * np.exp(-6.0)))


def test_what_photos_say_together_follows_from_what_each_says():
    """By hand: 0.1, 0.1 and 0.2 mm weigh 100, 100 and 25; 225 together are 1 / 15 mm."""
    agree = OwnHeights(np.array([0.0, 0.0, 0.0, np.nan]), np.array([0.1, 0.1, 0.2, np.inf]))
    assert agree.u_together == pytest.approx(1 / 15)
    apart = OwnHeights(np.array([0.0, 0.3, 0.0, np.nan]), np.array([0.1, 0.1, 0.2, np.inf]))
    mean = 100 * 0.3 / 225
    chi2 = (100 * mean**2 + 100 * (0.3 - mean) ** 2 + 25 * mean**2) / 2
    assert apart.u_together == pytest.approx(np.sqrt(chi2) / 15)
    assert agree.only_photos([0, 3]).u_together == pytest.approx(0.1)


def test_the_highest_edge_that_is_there_is_the_end():
    clear, shoulder = ring(128.0, 9, 9, 9, 9), ring(119.0, 20, 20, 20, 20)
    assert end_face([shoulder, clear]).rings[0] is clear
    one_photo = ring(135.0, 40, -2, -2, -2)
    assert end_face([shoulder, clear, one_photo]).rings[0] is clear


def test_a_runner_up_keeps_its_probability():
    """By hand: the upper one is there with p, so it is the end with p, and the lower one with 1 - p."""
    upper, lower = ring(130.0, 4.4, 4.3, 4.0, 9.0), ring(124.0, 20, 20, 20, 20)
    p = upper.evidence.probability
    assert 0.5 < p < 0.999
    face = end_face([upper, lower])
    assert face.rings[0] is upper
    assert face.rival.above == pytest.approx(-6.0)
    assert face.rival.probability == pytest.approx(1 - p, rel=1e-3)


LEANING = np.array([0.05, -0.03])
"""Far more than a hub leans, so that a sign shows."""
ALL_ROUND = np.radians(np.arange(0.0, 360.0, 2.0))


def exact(view, circle):
    """The edge points of a circle and nothing else."""
    points = circle.points(ALL_ROUND)
    pixels = view.project(points)
    ray = view.rays(pixels)
    outward = np.stack([np.cos(ALL_ROUND), np.sin(ALL_ROUND)], -1)
    scale = np.full(len(pixels), 60 / np.pi / circle.radius)
    return EdgePoints(pixels, view.position, ray[:, :2] / ray[:, 2:], outward, scale)


@pytest.fixture
def leaning():
    axis = HubAxis(CENTRE, 90.0, LEANING)
    return axis, Circle(axis.at(128.0), 128.0, 9.0, LEANING)


def test_a_leaning_edge_is_fitted_where_it_is(cameras, leaning):
    axis, circle = leaning
    photos = [exact(view, circle) for view in cameras]
    start = Circle(axis.at(128.2), 128.2, 8.85, LEANING)
    found = fit_circle(photos, start, axis, 0.1)
    assert (found.height, found.radius) == pytest.approx((128.0, 9.0), abs=0.01)
    np.testing.assert_allclose(found.centre, circle.centre, atol=0.01)


def test_a_leaning_edge_has_its_height_whatever_the_cameras(cameras, leaning):
    _, circle = leaning
    pixels = tuple(view.project(circle.points(ALL_ROUND)) for view in cameras)
    near = Ring(circle.centre + 0.2, 128.3, 8.9, LEANING, evidence=Evidence(np.zeros((4, 1))), pixels=pixels)
    assert ring_height(cameras, near) == pytest.approx(128.0, abs=1e-3)


def test_sectors_behind_what_stands_on_a_part_say_nothing(cameras, leaning):
    axis, _ = leaning
    shoulder, cap = (Circle(axis.at(h), h, r, LEANING) for h, r in ((120.0, 10.5), (128.0, 9.0)))
    photos = [exact(view, shoulder) for view in cameras]
    free, behind = support(photos, shoulder).ratios, support(photos, shoulder, [cap]).ratios
    hides = np.array([hidden(view.position, shoulder.points(MIDDLES), [cap]) for view in cameras])
    assert 0.1 < hides.mean() < 0.6
    np.testing.assert_array_equal(behind[hides], 0.0)
    np.testing.assert_array_equal(behind[~hides], free[~hides])
    assert free.min() > 1.0, "seen all round"


def test_a_point_speaks_for_one_edge_only(cameras):
    photos = [edge_points(hub(view, seed=k), view, AXIS, HEIGHTS, RADIUS) for k, view in enumerate(cameras)]
    rings = find_rings(photos, AXIS, HEIGHTS, (2.5, 13.5))
    assert len(rings) > 2
    for photo in range(len(cameras)):
        points = [tuple(p) for ring in rings for p in ring.pixels[photo].tolist()]
        assert len(points) == len(set(points))
