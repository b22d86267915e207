"""How far a wavy sheet's mean plane lies above the table that the hub stands on.

Heights count from the mean plane of the target's corners. A sheet that is not flat rests on the table in its
lowest places, and cannot sink into it: its mean plane lies above the table, and the hub, which presses the
sheet down where it stands, seems too low.
"""

from __future__ import annotations

import numpy as np

from hubsight.estimate.problem import Solution
from hubsight.model.arrays import Array
from hubsight.model.stated import Reading
from hubsight.target.sheet import PAPER_HEIGHT_PRIOR_MM

LIFT_PER_WAVE = (2.0, 0.35)
"""Mean height above the table over the waves' standard deviation, and its relative uncertainty, 1; raising
the first lifts the sheet (simulated: 1.4 for a sine that touches the table, 2.4 for long waves, of which the
mean plane takes up part)."""
SEEN_SHARE = 0.5
"""Share of its prior below which a corner's height is known by the photos; raising it counts more corners."""
NEIGHBOURS_MM = 12.5
"""Distance within which corners share their wave but not their errors, mm: one square."""


def sheet_lift(solution: Solution, corners: Array) -> Reading:
    """Return how far the sheet's mean plane lies above the table, mm.

    Parameters
    ----------
    solution
        An adjustment with the heights of the paper.
    corners
        (M, 2) nominal places of the target's corners, to which these heights belong, mm.

    Returns
    -------
    Reading
        0 of a flat sheet, and where photos do not show the corners' heights.
    """
    where = solution.layout["paper"]
    seen = np.sqrt(np.diag(solution.covariance)[where]) < SEEN_SHARE * PAPER_HEIGHT_PRIOR_MM
    apart = np.hypot(*(corners[:, None] - corners[None]).transpose(2, 0, 1))
    first, second = np.nonzero(np.triu(apart < NEIGHBOURS_MM, 1) & seen[:, None] & seen)
    if len(first) == 0:
        return Reading(0.0, 0.0)
    height = solution["paper"]
    wave = np.sqrt(max(float(np.mean(height[first] * height[second])), 0.0))
    return Reading(LIFT_PER_WAVE[0] * wave, LIFT_PER_WAVE[0] * LIFT_PER_WAVE[1] * wave)
