"""How far a sheet's mean plane lies above the table that the hub stands on.

Heights count from the mean plane of the target's corners. A sheet that waves, or of which an edge curls up,
lies on the table in its lowest places and cannot sink into it: its mean plane lies above the table, and the
hub, which presses the sheet down where it stands, seems too low. Photos show the corners' heights to a
hundredth of a millimetre, so the table is the highest plane with no corner below it, as high as can be under
the hub.
"""

from __future__ import annotations

import numpy as np
from scipy.optimize import linprog

from hubsight.estimate.problem import Solution
from hubsight.estimate.robust import spread
from hubsight.model.arrays import Array
from hubsight.model.stated import Reading
from hubsight.target.sheet import PAPER_HEIGHT_PRIOR_MM

SEEN_SHARE = 0.5
"""Share of its prior below which a corner's height is known by the photos; raising it counts more corners."""
NEIGHBOURS_MM = 12.5
"""Distance of a corner's neighbours, with which it shares the paper's height but no error, mm: one square."""
CLOSE = 0.05
"""Weight of the whole sheet beside the place of the hub where the table is sought; raising it takes a plane
that lies closer to the sheet elsewhere."""
ALONE = 2
"""Corners within that distance, itself among them, up to which a corner has no neighbour on one side."""
LEAST_CORNERS = 12
"""Corners from which the table is known; raising it takes more sheets for flat."""
NOISE_LOW, NOISE_SQUARE = 2.3, 0.6
"""Depth of that plane below flat paper through errors of the corners, over their scatter about their
neighbours, and variance of the lower half above it over that scatter's square (simulated for a ring of 70
corners)."""
HOVERS = 1.5
"""Height above the table of a sheet's lower half, over the scatter of its corners' heights: what hardly
touches the table anywhere lies higher than its lowest corners say; raising it lifts waving sheets (simulated:
0 of a sheet with one curled edge, 1 to 3 of long waves)."""
LIFT_U_SHARE = 0.25
"""Relative standard uncertainty of the lift, besides that; raising it widens the heights on sheets that are
not flat (simulated)."""


def sheet_lift(solution: Solution, corners: Array, hub: Array) -> Reading:
    """Return how far the sheet's mean plane lies above the table where the hub stands, mm.

    Parameters
    ----------
    solution
        An adjustment with the heights of the paper.
    corners
        (M, 2) nominal places of the target's corners, to which these heights belong, mm.
    hub
        (2,) where the hub stands, mm.

    Returns
    -------
    Reading
        0 of a flat sheet, and where photos do not show the corners' heights.
    """
    where = solution.layout["paper"]
    seen = np.sqrt(np.diag(solution.covariance)[where]) < SEEN_SHARE * PAPER_HEIGHT_PRIOR_MM
    corners, heights = corners[seen], solution["paper"][seen]
    near = np.linalg.norm(corners[:, None] - corners, axis=2) < NEIGHBOURS_MM
    inner = np.flatnonzero(near.sum(1) > ALONE)
    if len(inner) < LEAST_CORNERS:
        return Reading(0.0, 0.0)
    # One corner misread is no wave.
    calm = np.array([np.median(heights[near[k]]) for k in inner])
    scatter, design = spread(heights[inner] - calm), np.column_stack([np.ones(len(inner)), corners[inner]])
    under = np.array([1.0, *hub])
    # As high as can be under the hub; of planes alike there, the one that lies closest to the sheet.
    highest = under + CLOSE * design.mean(0)
    table = linprog(-highest, A_ub=design, b_ub=calm, bounds=(None, None)).x
    if table is None:
        return Reading(0.0, 0.0)
    lower = np.sort(calm - design @ table)[: len(inner) // 2]
    hovers = HOVERS * max(float(np.var(lower)) - NOISE_SQUARE * scatter**2, 0.0) ** 0.5
    lift = max(-float(under @ table) - NOISE_LOW * scatter, 0.0) + hovers
    return Reading(lift, float(np.hypot(hovers, LIFT_U_SHARE * lift)))
