"""Directions of straight-pull bores on patterned rims against a drawing of the wheel.

The drawing knows no formula: it puts the holes of both sides on a circle, a boss amid two neighbours of one
side, draws lines from the crossing points to holes, counts the spokes that each crosses, and measures angles.
"""

from __future__ import annotations

import numpy as np
import pytest

from hubsight.model.stated import StatedWheel
from hubsight.wheel.rows import bore_directions, first_hole_patterns, possible_rows

R, RADIUS, BOSSES = 290.0, 22.6, 8


def spot(radius, degrees):
    return radius * np.array([np.cos(np.radians(degrees)), np.sin(np.radians(degrees))])


def crosses(a, b):
    """Whether two lines cross between their ends."""
    (p, q), (s, t) = a, b

    def side(u, v, w):
        return (v[0] - u[0]) * (w[1] - u[1]) - (v[1] - u[1]) * (w[0] - u[0])

    return side(p, q, s) * side(p, q, t) < -1e-6 and side(s, t, p) * side(s, t, q) < -1e-6


def drawn(letters, first):
    """Return by crosses the angles that the spokes of a drawn side make with their boss' outward line."""
    spokes = {"DN": 4, "DND": 3, "DDNN": 4}[letters] * BOSSES
    row = [k * 360.0 / spokes for k in range(spokes) if letters[k % len(letters)] == "D"]
    own = np.array([*row, *(a + 360.0 for a in row), *(a + 720.0 for a in row)])
    found = {}
    for skip in range(4):
        lines, angles = [], []
        for boss in range(BOSSES):
            before = first + 2 * boss + len(row) // 2
            middle = (own[before] + own[before + 1]) / 2
            for hole in (own[before + 1 + skip], own[before - skip]):
                start, end = spot(RADIUS, middle), spot(R, hole)
                lines.append((start, end))
                out = start / np.linalg.norm(start)
                along = (end - start) / np.linalg.norm(end - start)
                angles.append(np.degrees(np.arccos(out @ along)))
        crossed = {sum(crosses(line, other) for other in lines) for line in lines}
        assert len(crossed) == 1
        assert np.ptp(angles) < 1e-9
        found[crossed.pop()] = angles[0]
    return found


@pytest.mark.parametrize(("letters", "first"), [("DN", 0), ("DND", 0), ("DND", 1), ("DDNN", 0), ("DDNN", 1)])
def test_bores_point_where_the_drawn_spokes_run(letters, first):
    spokes = {"DN": 32, "DND": 24, "DDNN": 32}[letters]
    wheel = StatedWheel(spokes=spokes, rim_holes=first_hole_patterns(letters, spokes))
    rows = [row for row in possible_rows(wheel, BOSSES) if row.name == "stated"]
    directions = bore_directions(rows, BOSSES, 2 * RADIUS, 2 * R)
    for crossed, angle in drawn(letters, first).items():
        (own,) = [d for d in directions if (d.first, d.crosses) == (first, crossed)]
        assert [beta for beta, _ in own.betas] == pytest.approx([angle], abs=1e-9)


def test_the_usual_rows_are_those_that_were_drawn():
    directions = bore_directions(possible_rows(StatedWheel(), BOSSES), BOSSES, 2 * RADIUS, 2 * R)
    names = {"even": "DN", "two_to_one": "DND", "paired_holes": "DDNN"}
    for name, letters in names.items():
        for first in range(1 if letters == "DN" else 2):
            angle = drawn(letters, first)[3]
            own = [d for d in directions if (d.row, d.first, d.crosses) == (name, first, 3)]
            assert own[0].betas[0][0] == pytest.approx(angle, abs=1e-9)
