"""Where a bright cylinder stops mirroring the field: checked by sending the ray on from there."""

from __future__ import annotations

import numpy as np
import pytest

from hubsight.see.lying.frame import frame_between
from hubsight.see.lying.mirror import mirror_ends

WHITE = (111.0, 69.0)
AXIS = frame_between(np.array([-60.0, -4.0, 26.0]), np.array([60.0, 8.0, 31.0]))


@pytest.mark.parametrize("eye", [(5.0, -3.0, 340.0), (30.0, 170.0, 310.0), (-60.0, -150.0, 320.0)])
@pytest.mark.parametrize("radius", [8.0, 15.0])
def test_the_line_of_sight_is_mirrored_to_the_fields_edge(eye, radius) -> None:
    # Law of reflection (any textbook of optics): r = d - 2 (d . n) n.
    for side, angle in zip((1, -1), mirror_ends(AXIS, np.array(eye), WHITE, 20.0, radius), strict=True):
        normal = np.sin(angle) * AXIS.left + np.cos(angle) * AXIS.up
        point = AXIS.at(20.0) + radius * normal
        sight = point - np.array(eye)
        mirrored = sight - 2 * (sight @ normal) * normal
        # Square to the axis only: along it the cylinder is straight, and so is the field's edge nearly.
        across = (point - AXIS.at(20.0)) @ AXIS.left, (mirrored @ AXIS.left) / (mirrored @ AXIS.up)
        height = AXIS.at(20.0)[2] + (point - AXIS.at(20.0)) @ AXIS.up
        landed = AXIS.at(20.0)[1] + (across[0] - height * across[1]) * AXIS.left[1]
        assert landed == pytest.approx(side * WHITE[1], abs=1.5)


def test_a_tilted_camera_sees_both_ends_turned_half_as_far_as_outlines() -> None:
    above = mirror_ends(AXIS, np.array([0.0, 2.0, 340.0]), WHITE, 0.0, 9.0)
    eye = np.array([0.0, 150.0, 300.0])
    tilted = mirror_ends(AXIS, eye, WHITE, 0.0, 9.0)
    turned = AXIS.towards(eye)[0] - AXIS.towards(np.array([0.0, 2.0, 340.0]))[0]
    assert sum(tilted) - sum(above) == pytest.approx(turned, rel=0.15)
