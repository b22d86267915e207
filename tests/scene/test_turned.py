"""Turned edges and what hides them, against rays cast at triangles: another way to the same bodies."""

from __future__ import annotations

import numpy as np
import pytest

from hub_pictures import views
from hubsight.scene.turned import Circle, HubAxis, hidden

SLOPE = np.array([0.006, -0.004])
AXIS = HubAxis(np.array([-48.0, 2.0]), 90.0, SLOPE)
CAP = Circle(AXIS.at(128.0), 128.0, 9.5, SLOPE)
AROUND = np.radians(np.arange(0.0, 360.0, 5.0))


def cylinder(top, length, sides=720):
    """Triangles (T, 3, 3) of a closed cylinder square to the leaning axis, below a circle."""
    down = -length * np.append(top.slope, 1.0) / np.linalg.norm(np.append(top.slope, 1.0))
    a = np.linspace(0, 2 * np.pi, sides, endpoint=False)
    upper = top.points(a)
    lower, after = upper + down, np.roll(upper, -1, axis=0)
    centre = np.broadcast_to(np.append(top.centre, top.height), upper.shape)
    return np.concatenate(
        [
            np.stack([centre, upper, after], 1),
            np.stack([upper, lower, after], 1),
            np.stack([after, lower, after + down], 1),
        ]
    )


def blocked(eye, points, triangles):
    """Whether a triangle lies between each point and the eye (Moeller and Trumbore 1997)."""
    first, ab, ac = triangles[:, 0], triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    out = []
    for point in points:
        ray = eye - point
        p = np.cross(ray, ac)
        det = np.sum(ab * p, 1)
        det = np.where(np.abs(det) < 1e-12, np.nan, det)
        to = point - first
        u = np.sum(to * p, 1) / det
        q = np.cross(to, ab)
        v, t = (q @ ray) / det, np.sum(ac * q, 1) / det
        out.append(np.any((u >= 0) & (v >= 0) & (u + v <= 1) & (t > 1e-4) & (t < 1)))
    return np.array(out)


@pytest.mark.parametrize("view", views())
@pytest.mark.parametrize(("radius", "below"), [(9.8, 3.0), (10.5, 6.0), (13.0, 8.0), (20.0, 30.0)])
def test_a_shoulder_hides_behind_the_end_that_stands_on_it(view, radius, below):
    shoulder = Circle(AXIS.at(128.0 - below), 128.0 - below, radius, SLOPE)
    points = shoulder.points(AROUND)
    seen = ~hidden(view.position, points, [CAP])
    cast = ~blocked(view.position, points, cylinder(CAP, below - 0.01))
    # One point on either side of the shadow may be decided by a hair's breadth.
    assert (seen != cast).sum() <= 2
    assert seen.any()


def test_an_oblique_photo_loses_part_of_a_shoulder_and_none_of_the_end():
    eye = views()[1].position
    shoulder = Circle(AXIS.at(122.0), 122.0, 9.8, SLOPE)
    share = hidden(eye, shoulder.points(AROUND), [CAP]).mean()
    assert 0.2 < share < 0.7
    assert not hidden(eye, CAP.points(AROUND), [shoulder]).any()


def test_a_turned_edge_lies_square_to_the_leaning_axis():
    points = CAP.points(AROUND)
    middle = np.append(CAP.centre, CAP.height)
    np.testing.assert_allclose((points - middle) @ np.append(SLOPE, 1.0), 0.0, atol=1e-9)
    np.testing.assert_allclose(np.linalg.norm((points - middle)[:, :2], axis=1), 9.5)
    raised = CAP.raised(4.0)
    np.testing.assert_allclose(raised.centre, AXIS.at(132.0))
    assert (raised.height, raised.radius) == (132.0, 9.5)
